"""Which batches a change reaches: those whose evidence rests on the changed row. When in doubt, all."""

from collections.abc import Iterable

from django.db import models
from django.db.models import Q

from chalaza.records import models as m

#: What belongs to a keeper, a device or the ledger reaches no batch; nor does a file that only waits.
_NONE = (
    m.Keeper, m.Device, m.Code, m.Done, m.Work, m.Answer, m.Forecast, m.Act, m.Change, m.Upload, m.Recipe,
)  # fmt: skip


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
    if isinstance(record, (m.Machine, m.Event)):
        uid = record.uid if isinstance(record, m.Machine) else record.machine_id
        return _some(Q(stays__machine__uid=uid))
    return set(m.Batch.objects.values_list("uid", flat=True))


def _some(of: Q) -> set[str]:
    return set(m.Batch.objects.filter(of).values_list("uid", flat=True))
