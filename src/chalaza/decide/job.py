"""A job of the day, and the day it is asked on: what the modules that find jobs share.

A job is derived, never stored; only its tick is. Its `key` names batch, what and number, and keeps them when the
forecast moves. Jobs that are asked for again every day are numbered by the day since setting.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from math import inf

from chalaza.facts import Kind, days
from chalaza.values.advice import Advice, Level
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Figure, figures
from chalaza.values.evidence import (
    AirCellMark,
    Batch,
    Breakout,
    Candling,
    Egg,
    Event,
    EventSort,
    Hatch,
    HatchStage,
    Stay,
    Weighing,
)

DAY_S, HOUR_S = 86400, 3600
#: Hour of the local clock by which a job without an hour of its own is due. Judgement.
EVENING = 20
#: Closing jobs are asked for so long after the end of the hatch, then the batch is left in peace. [d]; judgement.
CLOSING_D = 14.0
#: What asks for nothing but to leave it alone; such a line is not ticked.
LEAVES = frozenset({"leave", "lid"})
#: What is due on a day and not at an hour.
HOURLESS = frozenset(
    {"turn", "cool", "pips", "dial", "humidity", "height", "room", "odd", "weigh_rest", "check", *LEAVES}
)


class When(StrEnum):
    """When a job is asked for, by the days of the keeper's calendar."""

    NOW = "now"
    TODAY = "today"
    TOMORROW = "tomorrow"
    LATER = "later"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One job of a batch. Moments are seconds UTC.

    `due`: when it should be done; `until`: when it is too late, if there is such a moment; `minutes`: the work it takes,
    where known; `form`: the entry that serves it ("weigh", "candle", "mark", "hatch", "open", "event:<sort>",
    "check:<sort>", "mount", or none); `done_at`: when it was ticked, or when a record showed it done.
    """

    key: str
    batch: str
    code: str
    level: Level
    due: int
    advice: Advice
    when: When
    until: int | None = None
    minutes: float | None = None
    form: str = ""
    done_at: int | None = None

    @property
    def done(self) -> bool:
        """Whether it is ticked, or shown done by a record."""
        return self.done_at is not None

    @property
    def what(self) -> str:
        """What it is about: the middle of its key."""
        return self.key.rsplit("/", 2)[1]

    @property
    def leaves(self) -> bool:
        """Whether it asks to leave something alone, and so has no tick."""
        return self.what in LEAVES

    @property
    def hourless(self) -> bool:
        """Whether it is for the day and not for an hour of it."""
        return self.what in HOURLESS


@dataclass(frozen=True, kw_only=True)
class Day:
    """One batch as of `now`, with the local day about it. Rows of later than `now` are not in it."""

    a: Assessment
    bird: Kind
    batch: Batch
    eggs: tuple[Egg, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    air_cells: tuple[AirCellMark, ...] = ()
    candlings: tuple[Candling, ...] = ()
    hatches: tuple[Hatch, ...] = ()
    breakouts: tuple[Breakout, ...] = ()
    stays: tuple[Stay, ...] = ()
    events: tuple[Event, ...] = ()
    ticks: Mapping[str, int]
    now: int
    zone: str

    # the calendar -----------------------------------------------------------------------------------------------------

    @cached_property
    def number(self) -> int:
        """Local days since the day of setting."""
        return days.day(self.zone, self.now) - self._set_day

    @cached_property
    def _set_day(self) -> int:
        return days.day(self.zone, self.batch.set_at)

    def begins(self, number: int) -> int:
        """The first moment of the local day of that number since setting."""
        return days.begins(self.zone, self._set_day + number)

    @cached_property
    def start(self) -> int:
        """The first moment of today."""
        return self.begins(self.number)

    @cached_property
    def end(self) -> int:
        """The first moment of tomorrow."""
        return self.begins(self.number + 1)

    @cached_property
    def end_of_tomorrow(self) -> int:
        """The first moment of the day after tomorrow."""
        return self.begins(self.number + 2)

    def evening(self, number: int) -> int:
        """The evening of a local day since setting; of the day of setting never before the setting."""
        return max(days.at_clock(self.zone, self._set_day + number, EVENING), self.batch.set_at)

    def evening_after(self, at: float) -> int:
        """The evening of the local day of a moment, or the moment itself where it is later."""
        return max(int(at), days.at_clock(self.zone, days.day(self.zone, at), EVENING))

    @cached_property
    def tonight(self) -> int:
        """This evening, or now where it is later."""
        return self.evening_after(self.now)

    def at(self, age_d: float) -> int:
        """The moment of an age since setting in days of 24 hours."""
        return self.batch.set_at + round(age_d * DAY_S)

    # where the batch stands -------------------------------------------------------------------------------------------

    @cached_property
    def over(self) -> bool:
        """Whether the hatch window has ended."""
        return self.now > self.a.clock.last_hatch.high

    @cached_property
    def out(self) -> tuple[Hatch, ...]:
        """The looks at which young were seen out, in order of time."""
        seen = (one for one in self.hatches if one.stage is HatchStage.OUT and one.count > 0)
        return tuple(sorted(seen, key=lambda one: (one.at, one.uid)))

    @cached_property
    def left(self) -> int:
        """Eggs still in the box: set, less taken out, hatched and opened."""
        taken: dict[str, int] = {}
        nameless = 0
        gone: list[Hatch | Breakout] = [*self.out, *self.breakouts]
        for one in gone:
            if one.egg is None:
                nameless += one.count
            else:
                taken[one.egg] = taken.get(one.egg, 0) + one.count
        total = 0
        for egg in self.eggs:
            removed = egg.removed_at is not None and egg.removed_at <= self.now
            total += 0 if removed else max(egg.count - taken.get(egg.uid, 0), 0)
        return max(total - nameless, 0)

    @cached_property
    def ended(self) -> int | None:
        """When the batch left its last machine; None while it is in one."""
        ends = [one.end for one in self.stays if one.start <= self.now]
        known = [end for end in ends if end is not None and end <= self.now]
        return max(known) if ends and len(known) == len(ends) else None

    @cached_property
    def running(self) -> bool:
        """Whether there are eggs in the box and young to come of them."""
        return not self.over and self.left > 0 and self.ended is None

    @cached_property
    def stopped(self) -> int | None:
        """When turning was stopped."""
        return self.first_event(EventSort.TURNING_STOPPED)

    @cached_property
    def lockdown(self) -> int:
        """When the batch goes into lockdown: when turning should stop, or when it was stopped about then.

        The day is soft. The advice to stop begins at the early edge of its forecast; where that comes by tomorrow, it is
        the evening of the day on which it comes.
        """
        c = self.a.clock
        soft = min(c.stop_turning.low, c.internal_pip.low)
        if self.stopped is not None and self.stopped > soft - DAY_S:
            return self.stopped
        due = int(c.stop_turning.value)
        return due if soft >= self.end_of_tomorrow else min(due, self.evening_after(soft))

    @cached_property
    def lid_shut(self) -> int:
        """From when the lid is not lifted: the first pip may be through the shell."""
        return int(self.a.clock.first_pip.low)

    @cached_property
    def sizes(self) -> Mapping[str, int]:
        """Eggs in each row: 1, or the size of the group."""
        return {egg.uid: egg.count for egg in self.eggs}

    @cached_property
    def set(self) -> int:
        """Eggs that were set."""
        return sum(self.sizes.values())

    def first_event(self, *sorts: EventSort, since: float = -inf) -> int | None:
        """When the first event of these sorts since a moment was; None where none is noted."""
        return min((one.at for one in self.events if one.sort in sorts and one.at >= since), default=None)

    def advised(self, code: str) -> Advice | None:
        """The advice of that code, if it is given."""
        return next((one for one in self.a.advice if one.code == code), None)

    # jobs -------------------------------------------------------------------------------------------------------------

    def key(self, what: str, number: int) -> str:
        """The lasting name of a job."""
        return f"{self.batch.uid}/{what}/{number}"

    def tick(self, what: str, number: int) -> int | None:
        """When that job was ticked."""
        return self._past(self.ticks.get(self.key(what, number)))

    def tick_within(self, what: str, hours: float) -> int | None:
        """When a job of that sort was last ticked, if no longer ago than `hours`, whatever its number."""
        stem = f"{self.batch.uid}/{what}/"
        found = [at for key, at in self.ticks.items() if key.startswith(stem) and self._past(at) is not None]
        latest = max(found, default=None)
        return latest if latest is not None and latest > self.now - hours * HOUR_S else None

    def _past(self, at: int | None) -> int | None:
        return at if at is not None and at <= self.now else None

    def job(
        self,
        what: str,
        number: int,
        advice: Advice,
        due: float,
        *,
        until: float | None = None,
        minutes: float | None = None,
        form: str = "",
        done_at: int | None = None,
    ) -> Job:
        """The job of that name."""
        moment = int(due)
        return Job(
            key=self.key(what, number), batch=self.batch.uid, code=advice.code, level=advice.level, due=moment,
            until=None if until is None else int(until), minutes=minutes, advice=advice, form=form, done_at=done_at,
            when=self._when(moment, advice.level, done_at),
        )  # fmt: skip

    def _when(self, due: int, level: Level, done_at: int | None) -> When:
        if level is Level.NOW and done_at is None:
            return When.NOW
        if due < self.end or done_at is not None:
            return When.TODAY
        return When.TOMORROW if due < self.end_of_tomorrow else When.LATER


def says(code: str, level: Level, source: str, **items: Figure) -> Advice:
    """What a job says of itself: the code of its sentences, how much it asks, and their figures."""
    return Advice(code, level, figures(**items), source)


def earliest(*moments: int | None) -> int | None:
    """The first of some moments; None where there is none."""
    return min((one for one in moments if one is not None), default=None)
