"""What to do today and tomorrow: the jobs of one batch from its assessment, its plan and its records; and their order.

Nothing is stored here. The same records give the same jobs, and a job keeps its key while the forecast moves, so that a
tick stays with what was ticked. What a record shows as done counts as done without a tick.
"""

from collections.abc import Collection, Iterable, Mapping
from types import MappingProxyType

from chalaza.decide import asks, care, hatching, looks
from chalaza.decide.job import Day, Job, When
from chalaza.facts import Kind
from chalaza.values.advice import Level
from chalaza.values.answers import Assessment
from chalaza.values.evidence import (
    AirCellMark,
    Batch,
    Breakout,
    Candling,
    Egg,
    Event,
    Hatch,
    Stay,
    Weighing,
)

__all__ = ["Job", "When", "merge", "today"]

_NO_TICKS: Mapping[str, int] = MappingProxyType({})
_SECTION = {When.NOW: 0, When.TODAY: 0, When.TOMORROW: 1, When.LATER: 2}


def today(
    a: Assessment,
    *,
    bird: Kind,
    batch: Batch,
    eggs: Iterable[Egg] = (),
    weighings: Iterable[Weighing] = (),
    air_cells: Iterable[AirCellMark] = (),
    candlings: Iterable[Candling] = (),
    hatches: Iterable[Hatch] = (),
    breakouts: Iterable[Breakout] = (),
    stays: Iterable[Stay] = (),
    events: Iterable[Event] = (),
    done: Mapping[str, int] = _NO_TICKS,
    silenced: Collection[tuple[str, str]] = (),
    now: int,
    zone: str,
    later: bool = False,
) -> tuple[Job, ...]:
    """The jobs of a batch for the rest of the local day (what is overdue among them) and for tomorrow, in order.

    `events`: those of the batch and of its machines. `done`: key of a job -> when it was ticked (seconds UTC); what was
    done is given on the day it was done, with `done_at`. `silenced`: pairs of a code and a batch that are not to be
    heard; what is for now is heard all the same. `zone`: whose days today and tomorrow are. `later`: give what comes
    after tomorrow as well. Rows and ticks of after `now` are not seen. Raises `EvidenceError` for no such zone.
    """
    day = Day(
        a=a, bird=bird, batch=batch, eggs=tuple(eggs), now=now, zone=zone, ticks=done,
        weighings=tuple(row for row in weighings if row.at <= now),
        air_cells=tuple(row for row in air_cells if row.at <= now),
        candlings=tuple(row for row in candlings if row.at <= now),
        hatches=tuple(row for row in hatches if row.at <= now),
        breakouts=tuple(row for row in breakouts if row.at <= now),
        stays=tuple(stays), events=tuple(row for row in events if row.at <= now),
    )  # fmt: skip
    quiet = set(silenced)
    return _in_order(
        one
        for one in _all(day)
        if _asked(day, one, later=later) and (one.level is Level.NOW or (one.code, batch.uid) not in quiet)
    )


def _all(day: Day) -> list[Job]:
    """Every job there is for the batch, done or to come."""
    if hatching.finished(day):
        return []
    planned = [*looks.weighings(day), *looks.candlings(day)]
    planned += looks.again(day, planned)
    begun = day.now >= day.batch.set_at  # before that nothing is in the box that could be too warm or left alone
    return [
        *(asks.asked(day, planned) if begun else []),
        *planned,
        *care.turning(day),
        *care.cooling(day),
        *care.lockdown(day),
        *care.heat(day),
        *asks.check(day, planned),
        *(asks.leave(day) if begun else []),
        *hatching.watch(day),
        *hatching.young(day),
        *hatching.closing(day),
    ]


def _asked(day: Day, job: Job, *, later: bool) -> bool:
    """Whether a job belongs to today or tomorrow; what was done, to the day it was done."""
    if job.done_at is not None:
        return day.start <= job.done_at
    return later or job.when is not When.LATER


def merge(batches: Iterable[Iterable[Job]]) -> tuple[Job, ...]:
    """The jobs of several batches as one list: today before tomorrow; now, act, watch, good; then by the hour."""
    return _in_order(job for jobs in batches for job in jobs)


def _in_order(jobs: Iterable[Job]) -> tuple[Job, ...]:
    return tuple(sorted(jobs, key=lambda one: (_SECTION[one.when], -one.level, one.due, one.key)))
