"""Weighing and candling over the term: which sessions there are, which one is due, and what was done of it.

Sessions are numbered by the plan of the kind, so that the number of one does not depend on what was done of another. A
session begins to count somewhat before it is due and is asked for until the next one is: one look may make good what
was missed and spare what comes next.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from math import inf

from chalaza.decide.job import DAY_S, Day, Job, earliest, says
from chalaza.decide.measure import MINUTES
from chalaza.facts.limits import limit
from chalaza.values.advice import Level
from chalaza.values.evidence import AirCellMark, Candling, Weighing

#: Rows from this long before a session is due count for it. [d]; the same as where the look under the lamp is advised.
_EARLY_D = 2.0
#: Weighing goes on week by week; the last one, at lockdown, does without one this shortly before. [d]; common practice.
_WEEK_D, _APART_D = 7.0, 3.0
#: A tray was looked at if so large a share of the eggs was; so many eggs make a weighing. Judgement.
_SHARE, _FEW = 0.5, 3
#: The term of the kind for which the days of the first weighing are printed. [d]
_HEN_D = 21.0


@dataclass(frozen=True, slots=True)
class Session:
    """One session: its number, when it is due, and the stretch in which rows count for it."""

    number: int
    due: int
    begins: float
    ends: int
    last: bool


def sessions(dues: Iterable[int], lid_shut: int) -> tuple[Session, ...]:
    """The sessions that are due at these moments; the last ends when the lid is shut. One that would fall behind the
    last is left out, and the others keep their numbers."""
    *early, last = enumerate(dues, start=1)
    kept = [*((number, due) for number, due in early if due < last[1] - DAY_S), last]
    begins = [after - min(_EARLY_D * DAY_S, (after - before) / 2) for (_, before), (_, after) in pairwise(kept)]
    ends = [*(due for _, due in kept[1:]), max(lid_shut, last[1])]
    return tuple(
        Session(number, due, since, until, number == last[0])
        for (number, due), since, until in zip(kept, [-inf, *begins], ends, strict=True)
    )


def _one_line(day: Day, found: tuple[Session, ...], jobs: list[Job]) -> list[Job]:
    """The jobs of sessions not yet past. Where doing one thing would settle two of them, only one asks for it: the later
    one on its own day, before that the one that was missed."""
    dropped = {
        missed.key if after.due < day.end else after.key
        for missed, (after, session) in zip(jobs, zip(jobs[1:], found[1:], strict=True), strict=False)
        if not missed.done and not after.done and (after.due < day.end or day.now >= session.begins)
    }
    kept = zip(jobs, found, strict=True)
    return [job for job, one in kept if job.key not in dropped and (job.done or day.now < one.ends)]


# weighing -------------------------------------------------------------------------------------------------------------


def weighing_days(day: Day) -> tuple[int, ...]:
    """When to weigh: at setting, after a quarter of the term, then weekly, and a last time at lockdown."""
    first = limit("weigh_first_from", day.bird.key)
    scale = day.bird.term_d.typical / _HEN_D
    days = [0.0, (first.value if first else 5.0) * scale]
    while days[-1] + _WEEK_D <= day.bird.loss_target.day_d - _APART_D:
        days.append(days[-1] + _WEEK_D)
    return (*(day.at(one) for one in days), day.lockdown)


def weighings(day: Day) -> list[Job]:
    """The weighing sessions that are still to come, open, or were done."""
    if not day.running:
        return []
    rows: list[Weighing | AirCellMark] = sorted((*day.weighings, *day.air_cells), key=lambda row: row.at)
    found = sessions(weighing_days(day), day.lid_shut)
    jobs = [_weighing(day, one, [row for row in rows if one.begins <= row.at < one.ends]) for one in found]
    return _one_line(day, found, jobs)


def _weighing(day: Day, session: Session, rows: list[Weighing | AirCellMark]) -> Job:
    water, n = day.a.water, max(day.left, 1)
    loss, low, high = water.loss_at_lockdown, water.wanted.low, water.wanted.high
    source = water.wanted.source
    form = "mark" if day.air_cells and not day.weighings else "weigh"
    if form == "mark":
        said = says("job.mark", Level.WATCH, source, n=n, loss=loss, low=low, high=high)
    elif session.number == 1:
        said = says("job.weigh_first", Level.WATCH, source, n=n, loss=loss)
    else:
        code = "job.weigh_last" if session.last else "job.weigh"
        said = says(code, Level.WATCH, source, n=n, loss=loss, low=low, high=high)
    done = _measured(day, rows)
    return day.job(
        "weigh",
        session.number,
        said,
        session.due,
        until=session.ends,
        minutes=MINUTES["weigh_all"] * n / 12.0,
        form=form,
        done_at=earliest(done, day.tick("weigh", session.number)),
    )


def _measured(day: Day, rows: Iterable[Weighing | AirCellMark]) -> int | None:
    """When enough eggs were weighed or marked, each counted once; `rows` in order of time."""
    names: set[str] = set()
    for row in rows:
        names |= {row.egg} if isinstance(row, AirCellMark) else set(row.eggs.split())
        if "all" in names or sum(day.sizes.get(name, 0) for name in names) >= min(_FEW, max(day.set, 1)):
            return row.at
    return None


# candling -------------------------------------------------------------------------------------------------------------


def candlings(day: Day) -> list[Job]:
    """The looks under the lamp of the plan; the last one goes with lockdown."""
    if not day.running:
        return []
    dues = (*(day.at(one) for one in day.bird.candle_d[:-1]), day.lockdown)
    found = sessions(dues, day.lid_shut)
    rows = sorted(day.candlings, key=lambda row: row.at)
    jobs = [_look(day, one, [row for row in rows if one.begins <= row.at < one.ends]) for one in found]
    return _one_line(day, found, jobs)


def _look(day: Day, session: Session, rows: list[Candling]) -> Job:
    c, n = day.a.count, max(day.left, 1)
    if session.last:
        first = day.a.clock.first_pip
        said = says("job.candle_last", Level.WATCH, "practice", n=n, alive=c.alive, set=c.set, first=first)
    else:
        age = day.bird.candle_d[session.number - 1]
        said = says(
            "job.candle", Level.WATCH, "practice", n=n, day=age, alive=c.alive, set=c.set, young=c.expected_young
        )
    return day.job(
        "candle",
        session.number,
        said,
        session.due,
        until=session.ends,
        minutes=candling_minutes(n),
        form="candle",
        done_at=earliest(looked_at(day, rows), day.tick("candle", session.number)),
    )


def candling_minutes(n: int) -> float:
    """Minutes to candle `n` eggs."""
    return MINUTES["candle"] * n / 12.0


def looked_at(day: Day, rows: Iterable[Candling]) -> int | None:
    """When half of the eggs still in had been looked at; None where it was fewer. `rows` in order of time."""
    seen: dict[str, int] = {}
    for row in rows:
        seen[row.egg] = min(seen.get(row.egg, 0) + row.count, day.sizes.get(row.egg, 1))
        if sum(seen.values()) >= _SHARE * max(day.left, 1):
            return row.at
    return None


def again(day: Day, planned: Iterable[Job]) -> list[Job]:
    """Looks beside the plan: eggs that could not be told, and eggs that were too hot or too cold for a while.

    Neither is asked for where a look of the plan falls into the same days.
    """
    if not day.running or day.now >= day.lid_shut:
        return []
    looks = [one for one in planned if not one.done and one.form == "candle"]
    found = [*_unsure(day), *_after_spells(day)]
    return [
        one
        for one in found
        if one.done or not any(look.due <= max(one.until or one.due, day.end_of_tomorrow) for look in looks)
    ]


def _unsure(day: Day) -> list[Job]:
    said, last = day.advised("count.leave_unsure"), day.a.count.last_look_d
    if said is None or last is None:
        return []
    number = day.a.count.looks
    return [
        day.job(
            "again",
            number,
            said,
            day.at(last + 2.0),
            until=day.at(last + 4.0),
            minutes=candling_minutes(int(said.figures["n"])) if isinstance(said.figures["n"], int) else None,
            form="candle",
            done_at=day.tick("again", number),
        )
    ]


def _after_spells(day: Day) -> list[Job]:
    """A look some days after the latest spell of each sort for which the tables give odds."""
    out = []
    for one in day.a.warmth.odds:
        sort = "cold" if one.candle_after_d[0] > 2.0 else "warm"
        spells = [spell for spell in day.a.warmth.spells if spell.sort == sort]
        if not spells:
            continue
        spell = max(spells, key=lambda each: each.start.value)
        ended = spell.start.value + spell.length_h * 3600.0
        first, last = (ended + after * DAY_S for after in one.candle_after_d)
        number = int((spell.start.value - day.batch.set_at) // DAY_S)
        n = max(day.left, 1)
        said = says("job.candle_spell", Level.WATCH, "judgement", n=n, survival=one.survival, start=spell.start.value)
        rows = sorted(day.candlings, key=lambda row: row.at)
        seen = looked_at(day, [row for row in rows if row.at >= first - DAY_S / 2])
        out.append(
            day.job(
                f"spell-{sort}", number, said, first, until=last, minutes=candling_minutes(n), form="candle",
                done_at=earliest(seen, day.tick(f"spell-{sort}", number)),
            )
        )  # fmt: skip
    return out
