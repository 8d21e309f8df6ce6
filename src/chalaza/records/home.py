"""The data folder: where the notebook lies, and its secret. `CHALAZA_HOME` names another one."""

import os
import secrets
from pathlib import Path

from platformdirs import user_data_path

#: The variable that names the folder.
VARIABLE = "CHALAZA_HOME"
#: The file that marks the notebook of the demonstration; it tells when it was made.
INVENTED = "invented"


def folder() -> Path:
    """The data folder; it need not be there yet."""
    named = os.environ.get(VARIABLE)
    return Path(named).expanduser().absolute() if named else user_data_path("chalaza", appauthor=False)


def ready() -> Path:
    """The data folder, made if missing and readable by its owner alone. Raises `OSError` where it cannot be made."""
    place = folder()
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    return place


def secret() -> str:
    """The secret that signs cookies, drawn once and kept in the folder for its owner alone."""
    path = ready() / "secret"
    try:
        with open(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(48))
    except FileExistsError:
        pass
    return path.read_text(encoding="ascii").strip()
