"""Care of the eggs by the plan of their kind: turning, cooling, lockdown, and the heat that waits for the young."""

from chalaza.decide.job import DAY_S, HOUR_S, Day, Job, says
from chalaza.facts import members, table
from chalaza.facts.limits import limit
from chalaza.values.advice import Advice, Level
from chalaza.values.evidence import EventSort

#: More turns a day than this are a machine's: the common job list asks for 5 to 8 by hand. Common practice.
_HAND_MOST = 8
#: Eggs left lying for their first days die early more often, so the word to begin is kept up for these. [d] elibol-brake-2004
_BEGIN_D, _BEGIN_UNTIL_D = 1.0, 3.0
#: Water noted this long before lockdown counts for it. [h]; judgement.
_WATER_H = 24.0


def turning(day: Day) -> list[Job]:
    """Turning by hand, a line a day; else one word at the beginning. None once it was stopped or is to be."""
    if not day.running or day.stopped is not None or day.a.clock.seen:
        return []
    turns = day.batch.turns_per_d
    if turns is None or not 1 <= round(turns) <= _HAND_MOST:
        return _begin(day)
    return [
        _by_hand(day, number, round(turns))
        for number in (day.number, day.number + 1)
        if number >= 1 and day.begins(number) < day.lockdown and day.now < day.lockdown
    ]


def _begin(day: Day) -> list[Job]:
    due, until = day.at(_BEGIN_D), day.at(_BEGIN_UNTIL_D)
    if day.now >= until:
        return []
    least, most = _hand_turns()
    said = says("job.turn_first", Level.ACT, "vt-science", least=least, most=most, stop=day.a.clock.stop_turning)
    return [day.job("turn_first", 1, said, due, until=until, done_at=day.tick("turn_first", 1))]


def _hand_turns() -> tuple[int, int]:
    """Turns a day that are advised by hand, from and to."""
    row = next(row for row in table("advice_ranges") if row["matter"] == "turns" and row["subject"] == "any")
    return round(float(row["low"])), round(float(row["high"]))


def _by_hand(day: Day, number: int, planned: int) -> Job:
    least, _ = _hand_turns()
    turns = max(planned + 1 - planned % 2, least)
    stop = day.a.clock.stop_turning
    said = (
        says("job.turn", Level.ACT, "vt-science", turns=turns, stop=stop)
        if turns == planned
        else says("job.turn_odd", Level.ACT, "vt-science", turns=turns, planned=planned, least=least, stop=stop)
    )
    due = min(day.evening(number), day.lockdown)
    return day.job("turn", number, said, due, until=day.begins(number + 1), done_at=day.tick("turn", number))


def cooling(day: Day) -> list[Job]:
    """Cooling or misting of waterfowl, a line a day from the day printed for the kind until lockdown."""
    first = limit("cool_from", day.bird.key)
    if not day.running or first is None or day.a.clock.seen:
        return []
    note = _cooling_note(day.bird.key)
    said = says("job.cool", Level.WATCH, first.source, day=first.value, note=note)
    return [
        _cooled(day, number, said)
        for number in (day.number, day.number + 1)
        if day.at(first.value) < day.begins(number + 1) and day.begins(number) < day.lockdown and day.now < day.lockdown
    ]


def _cooled(day: Day, number: int, said: Advice) -> Job:
    begins, ends = day.begins(number), day.begins(number + 1)
    seen = day.first_event(EventSort.COOLED, EventSort.MISTED, since=begins)
    done = seen if seen is not None and seen < ends else day.tick("cool", number)
    due = min(day.evening(number), day.lockdown)
    return day.job("cool", number, said, due, until=ends, form="event:cooled", done_at=done)


def _cooling_note(kind: str) -> str:
    """What the table says of cooling this kind."""
    rows = [row for row in table("kind_notes") if row["topic"] == "cooling" and kind in members(row["subject"])]
    return min(rows, key=lambda row: members(row["subject"])[kind])["text"]


def lockdown(day: Day) -> list[Job]:
    """Turning stopped and the air made wetter, at the hour the eggs are old enough."""
    if not day.running:
        return []
    return [*_stop(day), *_wetter(day)]


def _stop(day: Day) -> list[Job]:
    c = day.a.clock
    if day.stopped is None and c.seen:
        return []
    level = Level.NOW if day.advised("clock.stop_turning_now") else Level.ACT
    said = says("job.lockdown", level, "elibol-brake-2006", stop=c.stop_turning, pip=c.internal_pip)
    done = day.stopped if day.stopped is not None else day.tick("lockdown", 1)
    return [
        day.job("lockdown", 1, said, day.lockdown, until=c.internal_pip.low, form="event:turning_stopped", done_at=done)
    ]


def _wetter(day: Day) -> list[Job]:
    """Asked for until half of the young are expected out, or until the display shows it."""
    band, shown, due = day.bird.rh_hatching, day.a.water.rh_now, day.lockdown
    until = int(day.a.clock.half_hatched.value)
    noted = day.first_event(EventSort.WATER, since=due - _WATER_H * HOUR_S)
    done = noted if noted is not None else day.tick("wetter", 1)
    shows = not day.a.water.planned and shown.value >= band.low
    if done is None and (day.now >= until or (shows and day.now >= due)):
        return []
    said = says("job.wetter", Level.ACT, band.source, low=band.low, high=band.high, rh_now=shown)
    return [day.job("wetter", 1, said, due, until=until, form="event:water", done_at=done)]


def heat(day: Day) -> list[Job]:
    """The heat for the young runs before they come; young that hatch helpless need a skilled hand instead."""
    half = day.a.clock.half_hatched
    ahead = limit("heat_ahead", day.bird.key)
    done = day.tick("heat", 1)
    if not day.running or (day.out and done is None):
        return []
    if ahead is None:
        said = says("job.hand_feeder", Level.WATCH, "practice", half=half)
        return [day.job("heat", 1, said, half.value - 2.0 * DAY_S, until=half.value, done_at=done)]
    said = says("job.heat", Level.ACT, ahead.source, half=half, ahead=ahead.value)
    return [day.job("heat", 1, said, half.value - ahead.value * HOUR_S, until=half.value, done_at=done)]
