"""Which batches a change reaches: those whose evidence rests on the changed row. When in doubt, all.

A notebook of many years has hundreds of ended batches, each with its lesson: what cannot touch them must not stir them.
"""

from collections.abc import Iterable, Iterator

from django.db import models
from django.db.models import Q

from chalaza.records import models as m

#: Beyond every moment that can be kept.
END = 4_102_444_801

#: What belongs to a keeper, a device or the ledger reaches no batch; nor does a file that only waits.
_NONE = (
    m.Keeper, m.Device, m.Code, m.Done, m.Work, m.Answer, m.Forecast, m.Act, m.Change, m.Upload, m.Recipe,
)  # fmt: skip
#: Evidence begins so long before a stay. [s]
_BEFORE_S = 86_400


def batches_of(records: Iterable[models.Model]) -> set[str]:
    """The uids of the batches that rest on any of these rows."""
    reached: set[str] = set()
    for one in records:
        reached |= _of(one)
    return reached


def _of(record: models.Model) -> set[str]:
    if isinstance(record, _NONE):
        return set()
    if isinstance(record, m.Batch):
        return {record.uid}
    if isinstance(record, (m.AirCellMark, m.Candling)):
        return _some(Q(eggs__uid=record.egg_id)) if record.egg_id else set()
    if isinstance(record, m.Stay):
        return {record.batch_id} | _some(Q(stays__uid=record.uid))
    batch = getattr(record, "batch_id", None)
    if batch:
        return {str(batch)}
    if isinstance(record, m.Lot):
        return _some(Q(lots__uid=record.uid))
    if isinstance(record, m.Parents):
        return _some(Q(lots__parents__uid=record.uid))
    if isinstance(record, m.Event):
        old = m.Event.objects.filter(uid=record.uid).exclude(machine=None)
        return {uid for one in (record, *old) for uid in _in_time(Q(machine=one.machine_id), one.at, one.until)}
    if isinstance(record, m.Machine):
        return _some(Q(stays__machine__uid=record.uid))
    if isinstance(record, m.Place):
        return _some(Q(stays__machine__place__uid=record.uid))
    if isinstance(record, (m.Probe, m.ProbeCheck, m.Mount)):
        return _of_probe(record.uid if isinstance(record, m.Probe) else str(record.probe_id), record)
    if isinstance(record, m.Source) and (spans := list(_spans(record))):
        return {uid for probe, first, last in spans for uid in _in_time(_near(probe), first, last)}
    return set(m.Batch.objects.values_list("uid", flat=True))


def _in_time(stays: Q, first: int, last: int | None) -> set[str]:
    """Batches that were once in such a place and whose evidence holds something between two moments.

    The evidence of a batch runs from a day before its first stay to the end of its last, in all places it was in.
    `last` None: ever after `first`.
    """
    near = m.Stay.objects.filter(stays).order_by("id").values_list("batch_id", flat=True)
    spans: dict[str, tuple[int, int]] = {}
    for batch, start, end in m.Stay.objects.filter(batch__in=list(near)).values_list("batch_id", "start", "end"):
        old = spans.get(str(batch), (start, start))
        spans[str(batch)] = min(old[0], start), max(old[1], END if end is None else end)
    return {uid for uid, (start, end) in spans.items() if end > first and (last is None or last >= start - _BEFORE_S)}


def _near(probe: str) -> Q:
    """Stays in a machine that a probe was ever in, or that stands in a room it was ever in."""
    mounts = m.Mount.objects.filter(probe_id=probe)
    rooms = mounts.exclude(place=None).values_list("place_id", flat=True)
    boxes = mounts.exclude(machine=None).values_list("machine_id", flat=True)
    return Q(machine__in=list(boxes)) | Q(machine__place__in=list(rooms))


def _of_probe(probe: str, record: models.Model) -> set[str]:
    """Batches that a probe tells about, by all its mounts and by this one."""
    near = _near(probe)
    if isinstance(record, m.Mount):
        near |= Q(machine=record.machine_id) if record.machine_id else Q(machine__place=record.place_id)
    return {str(uid) for uid in m.Stay.objects.filter(near).order_by("id").values_list("batch_id", flat=True)}


def _spans(source: "m.Source") -> Iterator[tuple[str, int, int]]:
    """Probe, first and last moment of what a source holds: as its report says, else of its chunks."""
    said = source.report.get("held")
    if said is not None:
        yield from ((one["probe"], one["first"], one["last"]) for one in said)
        return
    rows = m.Chunk.objects.filter(source_id=source.uid).values_list("probe_id").order_by("probe_id")
    for probe, first, last in rows.annotate(models.Min("first"), models.Max("last")):
        yield str(probe), first, last


def _some(of: Q) -> set[str]:
    return set(m.Batch.objects.filter(of).values_list("uid", flat=True))
