"""The demonstration as a notebook of its own: invented batches whose probes go on telling for two days.

Its folder carries a mark. A folder without the mark is a keeper's own and is never touched.
"""

import json
from pathlib import Path

from chalaza import __version__
from chalaza.errors import ChalazaError
from chalaza.records import home

#: Made anew after so long, before the probes fall silent.
STALE_S = 20 * 3600


def is_fresh(place: Path, now: int) -> bool:
    """Whether a demonstration of this version lies in `place` and is young enough."""
    try:
        made = json.loads((place / home.INVENTED).read_text(encoding="utf-8"))
        return bool(made["version"] == __version__ and 0 <= now - made["at"] < STALE_S and made["whole"])
    except (OSError, ValueError, KeyError, TypeError):
        return False


def clear(place: Path) -> None:
    """Take an earlier demonstration away, and mark the folder. Raises `ChalazaError` for a notebook without the mark."""
    if (place / "notebook.db").exists() and not (place / home.INVENTED).exists():
        raise ChalazaError(
            f"{place} holds a notebook that is no demonstration: it is left as it is; name another folder"
        )
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    for old in place.glob("notebook.db*"):
        old.unlink()
    mark(place, 0, whole=False)


def mark(place: Path, now: int, *, whole: bool) -> None:
    """Write the mark: when it was made, and whether all of it is there."""
    (place / home.INVENTED).write_text(
        json.dumps({"version": __version__, "at": now, "whole": whole}), encoding="utf-8"
    )
