"""Static files: the package's own folder, served under a hash of its contents, so that browsers keep them for good."""

import hashlib
from functools import cache
from pathlib import Path

import django_htmx

_OWN = Path(__file__).parent / "static"
_HTMX = Path(django_htmx.__file__).parent / "static" / "django_htmx"
#: Folders by the prefix they are served under.
FOLDERS = {"": _OWN, "htmx/": _HTMX}


@cache
def digest() -> str:
    """A short hash of every file served."""
    found = hashlib.sha256()
    for prefix, folder in FOLDERS.items():
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                found.update(f"{prefix}{path.relative_to(folder)}".encode())
                found.update(path.read_bytes())
    return found.hexdigest()[:12]


def address(name: str) -> str:
    """Where a file is served: `base.css`, `htmx/htmx-2.min.js`."""
    return f"/static/{digest()}/{name}"
