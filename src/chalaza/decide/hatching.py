"""The hatch and what comes after it: looking for pips, moving the young, opening what is left, cleaning the box."""

from math import inf

from chalaza.decide.job import CLOSING_D, DAY_S, HOUR_S, Day, Job, earliest, says
from chalaza.decide.looks import candling_minutes, looked_at
from chalaza.facts.limits import limit
from chalaza.values.advice import Level
from chalaza.values.evidence import EventSort

#: Young out for so long that they have surely been moved, ticked or not. [h]; judgement.
_SURELY_MOVED_H = 96.0


def watch(day: Day) -> list[Job]:
    """While the hatch is on: look for pips once a day or oftener, and leave the lid shut."""
    if not day.running:
        return []
    begins, ends = day.lid_shut, day.a.clock.last_hatch.high
    numbers = [one for one in (day.number, day.number + 1) if begins < day.begins(one + 1) and day.begins(one) <= ends]
    return [*(_pips(day, one) for one in numbers), *_lid(day)]


def _pips(day: Day, number: int) -> Job:
    c, out = day.a.clock, sum(one.count for one in day.out)
    begins, ends = day.begins(number), day.begins(number + 1)
    if c.seen:
        young = day.a.count.expected_young
        said = says("job.hatching", Level.WATCH, c.usual.source, out=out, young=young, last=c.last_hatch)
    else:
        said = says("job.pips", Level.WATCH, c.usual.source, first=c.first_pip, last=c.last_hatch)
    seen = max((one.at for one in day.hatches if begins <= one.at < ends), default=None)
    done = seen if seen is not None else day.tick("pips", number)
    return day.job("pips", number, said, max(begins, day.lid_shut), until=ends, form="hatch", done_at=done)


def _lid(day: Day) -> list[Job]:
    """Not on a day on which young are to be lifted out."""
    said = day.advised("clock.wait")
    if said is None or any(not one.done and one.due < day.end for one in young(day)):
        return []
    return [day.job("lid", day.number, said, day.end - 1, until=day.end)]


# the young ------------------------------------------------------------------------------------------------------------


def young(day: Day) -> list[Job]:
    """The young out of the shell, lift by lift: who was seen out after one lift belongs to the next."""
    jobs: list[Job] = []
    since = -inf
    while lift := [one for one in day.out if one.at > since]:
        number, first = len(jobs) + 1, lift[0].at
        done = earliest(day.tick("young", number), _moved(day, first))
        if done is None and day.now > first + _SURELY_MOVED_H * HOUR_S:
            return jobs
        since = max(first, day.now if done is None else done)
        jobs.append(_lift(day, number, first, sum(one.count for one in lift if one.at <= since), done))
    return jobs


def _lift(day: Day, number: int, first: int, n: int, done: int | None) -> Job:
    within, latest = limit("feed_first", day.bird.key), limit("feed_latest", day.bird.key)
    if within is None or latest is None:
        said = says("job.young_by_hand", Level.ACT, "practice", n=n, first=first)
        return day.job("young", number, said, first, form="", done_at=done)
    due, until = (first + one.value * HOUR_S for one in (within, latest))
    level = Level.NOW if done is None and day.now >= until else Level.ACT
    said = says("job.young", level, within.source, n=n, first=first, within=within.value, most=latest.value)
    return day.job("young", number, said, due, until=until, done_at=done)


def _moved(day: Day, first: int) -> int | None:
    """When a record shows that young out since `first` were moved: a move, an egg opened since, or the box left."""
    opened = min((one.at for one in day.breakouts if one.at >= first), default=None)
    left = day.ended if day.ended is not None and day.ended >= first else None
    return earliest(day.first_event(EventSort.MOVED, since=first), opened, left)


# closing --------------------------------------------------------------------------------------------------------------


def closing(day: Day) -> list[Job]:
    """When the hatch window has ended or ends tomorrow: candle and open what is left; when the box is free: clean it."""
    if finished(day):
        return []
    last = _late(day)
    return [*last, *_open(day, last), *_clean(day)]


def finished(day: Day) -> bool:
    """Whether the batch is so long over that nothing is asked for it any more."""
    end = day.a.clock.last_hatch.high
    if day.ended is not None:
        end = min(end, day.ended) if day.ended < day.lid_shut else max(end, day.ended)
    return day.now > end + CLOSING_D * DAY_S


def _late(day: Day) -> list[Job]:
    """No young was seen and the window has ended: look before anything is given up."""
    said, end = day.advised("clock.overdue"), int(day.a.clock.last_hatch.high)
    if said is None or day.left == 0 or day.ended is not None:
        return []
    done = looked_at(day, [row for row in day.candlings if row.at >= end])
    done = done if done is not None else day.tick("late", 1)
    return [day.job("late", 1, said, end, minutes=candling_minutes(day.left), form="candle", done_at=done)]


def _open(day: Day, late: list[Job]) -> list[Job]:
    """Open the eggs that did not hatch; where no young was seen, only after they were looked at once more."""
    c = day.a.clock
    opened = max((one.at for one in day.breakouts), default=None)
    if day.ended is not None and day.ended < day.lid_shut:
        return []
    due = c.last_hatch.high
    if not c.seen and day.left:
        looked = next((one.done_at for one in late), None)
        if looked is None:
            return []
        due = float(looked)
    n = day.left if day.left else sum(one.count for one in day.breakouts)
    if n == 0:
        return []
    done = opened if day.left == 0 else day.tick("open", 1)
    said = says("job.open", Level.WATCH, "practice", n=n, set=day.set, last=c.last_hatch)
    return [day.job("open", 1, said, due, form="open", done_at=done)]


def _clean(day: Day) -> list[Job]:
    """The box is free once nothing is left in it, or what was left was opened, or the batch has left it."""
    if any(not one.done for one in young(day)):
        return []
    opened = day.tick("open", 1)
    if day.left and day.ended is None and opened is None:
        return []
    lasts = [*(one.at for one in day.out), *(one.at for one in day.breakouts)]
    lasts += [one.removed_at for one in day.eggs if one.removed_at is not None and one.removed_at <= day.now]
    lasts += [one for one in (opened, day.ended) if one is not None]
    since = max(lasts, default=day.batch.set_at)
    out = sum(one.count for one in day.out)
    said = says("job.clean", Level.WATCH, "practice", since=since, out=out, set=day.set)
    return [day.job("clean", 1, said, day.evening_after(since), done_at=day.tick("clean", 1))]
