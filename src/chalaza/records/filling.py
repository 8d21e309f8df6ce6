"""The demonstration put into its notebook: invented batches whose probes go on telling for two days."""

from dataclasses import replace
from pathlib import Path
from typing import Any

from django.conf import settings

from chalaza.errors import ChalazaError
from chalaza.records import acts, answers, folder, home
from chalaza.records import models as m
from chalaza.scenario import demo
from chalaza.values.evidence import Evidence

AHEAD_H = 48.0
_DAY_S = 86_400
#: Days after setting whose forecast the notebook remembers.
_REMEMBERED_D = (0.02, 3.0, 7.02, 12.0)


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
