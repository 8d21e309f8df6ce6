"""`evidence(batch)`: all that an assessment looks at, gathered by the stays of the batch."""

from collections.abc import Iterable
from types import MappingProxyType
from typing import Any

from django.db import models
from django.db.models import Q

from chalaza.errors import EvidenceError
from chalaza.records import models as m
from chalaza.records import series
from chalaza.records.rows import row_of
from chalaza.values.evidence import Evidence, Series, Setting

DAY_S = 86_400
_END = 4_102_444_800
_TRIES = 5


def evidence(batch: str) -> Evidence:
    """The evidence of the batch of that uid: the same value as its open folder gives.

    The revision is read before and after and all is read again if it moved, so that nothing half-changed is seen.
    Raises `EvidenceError` for no such batch, or one that was never in a machine.
    """
    for _ in range(_TRIES):
        before = _revision(batch)
        found = _gathered(batch)
        if _revision(batch) == before:
            return found
    raise EvidenceError("the records of this batch kept changing while they were read: try again")


def _revision(batch: str) -> int:
    found = m.Batch.objects.filter(uid=batch).values_list("revision", flat=True).first()
    if found is None:
        raise EvidenceError(f"no batch {batch!r} in this notebook")
    return found


def _rows(found: Iterable[models.Model]) -> tuple[Any, ...]:
    return tuple(row_of(one) for one in found)


def _gathered(uid: str) -> Evidence:
    batch = m.Batch.objects.get(uid=uid)
    stays = list(m.Stay.objects.filter(batch__uid=uid))
    machines = list(m.Machine.objects.filter(uid__in={one.machine_id for one in stays}))
    if not machines:
        raise EvidenceError("no machine is known for this batch: say which one the eggs are in")
    place = m.Place.objects.get(uid=machines[0].place_id)
    start = min(one.start for one in stays) - DAY_S
    end = max(one.end if one.end is not None else _END for one in stays)
    boxes = [one.uid for one in machines]
    mounts = _mounts(boxes, place.uid, start, end)
    probes = list(m.Probe.objects.filter(uid__in={one.probe_id for one in mounts}))
    events = m.Event.objects.filter(Q(until=None) | Q(until__gte=start), machine__uid__in=boxes, at__lt=end)
    of_eggs = Q(egg__batch__uid=uid)
    return Evidence(
        setting=Setting(
            place=row_of(place), machines=_rows(machines), probes=_rows(probes), mounts=_rows(mounts),
            checks=_rows(m.ProbeCheck.objects.filter(probe__uid__in=[one.uid for one in probes])), events=_rows(events),
            series=MappingProxyType(_series([one.uid for one in probes], start, end)),
        ),
        batch=row_of(batch), stays=_rows(stays), lots=_rows(m.Lot.objects.filter(batch__uid=uid).select_related("parents")),
        eggs=_rows(m.Egg.objects.filter(batch__uid=uid)), weighings=_rows(m.Weighing.objects.filter(batch__uid=uid)),
        air_cells=_rows(m.AirCellMark.objects.filter(of_eggs)), candlings=_rows(m.Candling.objects.filter(of_eggs)),
        hatches=_rows(m.Hatch.objects.filter(batch__uid=uid)), breakouts=_rows(m.Breakout.objects.filter(batch__uid=uid)),
        notes=_rows(m.Note.objects.filter(batch__uid=uid)), events=_rows(m.Event.objects.filter(batch__uid=uid)),
    )  # fmt: skip


def _mounts(boxes: list[str], place: str, start: int, end: int) -> list["m.Mount"]:
    """Probes in these boxes, or in the room they stand in, at any time of the batch."""
    there = Q(machine__uid__in=boxes) | Q(place__uid=place)
    return list(m.Mount.objects.filter(there, Q(end=None) | Q(end__gt=start), start__lt=end))


def _series(probes: list[str], start: int, end: int) -> dict[str, Series]:
    found = {probe: series.read(probe, start, end).series for probe in probes}
    return {probe: one for probe, one in found.items() if len(one)}
