"""The demonstration as a notebook of its own: invented batches whose probes go on telling for two days.

Its folder carries a mark. A folder without the mark is a keeper's own and is never touched.
"""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

from django.conf import settings

from chalaza import __version__
from chalaza.errors import ChalazaError
from chalaza.records import acts, answers, folder, home
from chalaza.records import models as m
from chalaza.scenario import demo
from chalaza.values.evidence import Evidence

AHEAD_H = 48.0
#: Made anew after so long, before the probes fall silent.
STALE_S = 20 * 3600
_DAY_S = 86_400
#: Days after setting whose forecast the notebook remembers.
_REMEMBERED_D = (0.02, 3.0, 7.02, 12.0)


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


def fill(now: int, seed: int = 20) -> None:
    """Put the batches into the empty notebook, with the forecasts of earlier days and the answers of now.

    Raises `ChalazaError` where a batch is there already, or where this is no demonstration.
    """
    if not (Path(settings.HOME) / home.INVENTED).exists() or m.Batch.objects.exists():
        raise ChalazaError("the demonstration goes into an empty notebook of its own")
    keeper = m.Keeper.objects.the_one()
    keeper.zone = demo.ZONE
    acts.act(keeper, "begin", save=[keeper])
    for name, evidence in demo.batches(now, seed, AHEAD_H).items():
        one = _until(evidence, now)
        folder.bring(keeper, one, None, name=name, rename=True)
        for day in _REMEMBERED_D:
            at = one.batch.set_at + int(day * _DAY_S)
            if at < now - _DAY_S:
                answers.remember(one.batch.uid, at)
        answers.of(one.batch.uid, now)


def _until(evidence: Evidence, now: int) -> Evidence:
    """The evidence without what the keeper will only see later."""
    kept: dict[str, Any] = {
        part: tuple(row for row in getattr(evidence, part) if row.at <= now)
        for part in ("weighings", "air_cells", "candlings", "hatches", "breakouts", "notes", "events")
    }
    return replace(evidence, **kept)
