"""The demonstration put into the notebook of a test, act by act."""

from collections.abc import Iterable
from typing import Any

from chalaza.records import acts, series
from chalaza.records import models as m
from chalaza.records.rows import record_of
from chalaza.scenario import demo
from chalaza.values.evidence import Evidence

#: A Friday evening in April, in the zone of the demonstration.
NOW = 1_776_444_000


def put(evidence: Evidence, now: int = NOW) -> m.Batch:
    """Records of one batch of the demonstration, with its readings; the batch."""
    keeper, setting = m.Keeper.objects.the_one(), evidence.setting
    place = record_of(setting.place)
    batch = record_of(evidence.batch)
    save: list[Any] = [place, *_records(setting.machines, place_id=place.uid), *_records(setting.probes)]
    save += [record_of(one, **({} if one.machine else {"place_id": place.uid})) for one in setting.mounts]
    save += [batch, *_records(evidence.stays)]
    for lot in evidence.lots:
        parents = m.Parents.objects.filter(name=lot.parents).first() or m.Parents(name=lot.parents)
        save += [parents, record_of(lot, parents_id=parents.uid, batch_id=batch.uid)]
    for rows in (
        evidence.eggs,
        evidence.weighings,
        evidence.hatches,
        evidence.breakouts,
        evidence.notes,
        evidence.events,
    ):
        save += _records(rows, batch_id=batch.uid)
    for rows in (evidence.air_cells, evidence.candlings, setting.events, setting.checks):
        save += _records(rows)
    acts.act(keeper, "import", save=save, subject=batch.name)
    source = m.Source(sort="folder", name=batch.name, at=now)
    acts.act(keeper, "import", save=[source], subject=batch.name)
    series.insert(source, setting.series)
    return batch


def _records(rows: Iterable[Any], **extra: Any) -> list[Any]:
    return [record_of(one, **extra) for one in rows]


def put_all(now: int = NOW) -> dict[str, m.Batch]:
    """All batches of the demonstration by name of their folder."""
    return {name: put(one, now) for name, one in demo.batches(now).items()}
