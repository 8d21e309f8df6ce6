"""All rows of some batches but their readings, in a fixed number of queries: what the pages of the day look at.

The same rows as the evidence of a batch holds, gathered by its stays; how many batches there are costs no query more.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Any

from django.db import models
from django.db.models import Q

from chalaza.records import models as m
from chalaza.records.gather import DAY_S
from chalaza.records.rows import MODELS, row_of
from chalaza.values import evidence as rows
from chalaza.values.fields import columns

_END = 4_102_444_800


@dataclass(frozen=True, slots=True, kw_only=True)
class Daybook:
    """The rows of one batch. `events` are those of the batch and of its machines; `machines`: uid -> name."""

    batch: rows.Batch
    machines: Mapping[str, str]
    stays: Sequence[rows.Stay] = ()
    eggs: Sequence[rows.Egg] = ()
    weighings: Sequence[rows.Weighing] = ()
    air_cells: Sequence[rows.AirCellMark] = ()
    candlings: Sequence[rows.Candling] = ()
    hatches: Sequence[rows.Hatch] = ()
    breakouts: Sequence[rows.Breakout] = ()
    events: Sequence[rows.Event] = ()

    def machine_at(self, at: int) -> str:
        """The name of the machine the batch was in at a moment, else of the last one before; empty where there is none."""
        began = [one for one in self.stays if one.start <= at] or list(self.stays[:1])
        return self.machines[max(began, key=lambda one: one.start).machine] if began else ""


def daybooks(batches: Sequence["m.Batch"]) -> dict[str, Daybook]:
    """The rows of each batch, by its uid."""
    uids = [one.uid for one in batches]
    stays, machines = _stays(uids)
    of_batch = Q(batch__uid__in=uids)
    eggs = _by_batch(rows.Egg, of_batch)
    home = {egg.uid: uid for uid, found in eggs.items() for egg in found}
    of_egg = Q(egg__batch__uid__in=uids)
    marks, looks = (_by_egg(kind, of_egg, home) for kind in (rows.AirCellMark, rows.Candling))
    weighings, hatches, opened = (_by_batch(kind, of_batch) for kind in (rows.Weighing, rows.Hatch, rows.Breakout))
    events = _events(uids, set(machines))
    return {
        one.uid: Daybook(
            batch=row_of(one), machines=machines, stays=stays[one.uid], eggs=eggs[one.uid],
            weighings=weighings[one.uid], air_cells=marks[one.uid], candlings=looks[one.uid], hatches=hatches[one.uid],
            breakouts=opened[one.uid], events=_of(events, one.uid, stays[one.uid]),
        )
        for one in batches
    }  # fmt: skip


def daybook(batch: "m.Batch") -> Daybook:
    """The rows of one batch."""
    return daybooks([batch])[batch.uid]


def _stays(uids: list[str]) -> tuple[dict[str, list[rows.Stay]], dict[str, str]]:
    stays: dict[str, list[rows.Stay]] = defaultdict(list)
    machines: dict[str, str] = {}
    for one in m.Stay.objects.filter(batch__uid__in=uids).select_related("machine"):
        stays[one.batch_id].append(row_of(one))
        machines[one.machine_id] = one.machine.name
    return stays, machines


@cache
def _fields(kind: type) -> tuple[tuple[str, ...], tuple[type | None, ...]]:
    """Columns of the model of a row in the order of the row, and what each value is turned into."""
    meta, names, turned = MODELS[kind]._meta, [], []
    for one in columns(kind):
        field = meta.get_field(one.name)
        names.append(str(field.attname if isinstance(field, models.ForeignKey) else one.name))
        turned.append(one.kind if issubclass(one.kind, StrEnum) else None)
    return tuple(names), tuple(turned)


def _rows(kind: type, which: Q, *more: str) -> Iterable[tuple[Any, tuple[Any, ...]]]:
    """Rows of a kind, made without a record between, each with the columns `more`; in the order of entry."""
    names, turned = _fields(kind)
    cut = len(more)
    for values in MODELS[kind]._default_manager.filter(which).order_by("id").values_list(*more, *names):
        given = [
            value if turn is None or value is None else turn(value)
            for value, turn in zip(values[cut:], turned, strict=True)
        ]
        yield kind(**dict(zip((one.name for one in columns(kind)), given, strict=True))), values[:cut]


def _by_batch(kind: type, which: Q) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = defaultdict(list)
    for row, (batch,) in _rows(kind, which, "batch_id"):
        found[batch].append(row)
    return found


def _by_egg(kind: type, which: Q, home: Mapping[str, str]) -> dict[str, list[Any]]:
    found: dict[str, list[Any]] = defaultdict(list)
    for row, _ in _rows(kind, which):
        if row.egg in home:
            found[home[row.egg]].append(row)
    return found


def _events(uids: list[str], machines: set[str]) -> list[tuple[rows.Event, str | None]]:
    which = Q(batch__uid__in=uids) | Q(machine__uid__in=machines)
    return [(row, batch) for row, (batch,) in _rows(rows.Event, which, "batch_id")]


def _of(events: list[tuple[rows.Event, str | None]], batch: str, stays: Sequence[rows.Stay]) -> tuple[rows.Event, ...]:
    """Events of a machine the batch was in, in its time, then those of the batch."""
    if not stays:
        return tuple(row for row, of in events if of == batch)
    start = min(one.start for one in stays) - DAY_S
    end = max(one.end if one.end is not None else _END for one in stays)
    boxes = {one.machine for one in stays}
    machine = [
        row for row, _ in events if row.machine in boxes and row.at < end and (row.until is None or row.until >= start)
    ]
    return (*machine, *(row for row, of in events if of == batch))
