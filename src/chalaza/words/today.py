"""The home page in words: what day it is, how much is asked, what comes first, and the margin beside each job."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from chalaza.decide.job import Job, When
from chalaza.facts import days
from chalaza.values.advice import Level
from chalaza.words import numbers
from chalaza.words.jobs import say
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

__all__ = ["Headline", "greeting", "heading", "headline", "hour", "say", "work"]

WEEKDAYS = tuple(
    map(mark, ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"))
)  # fmt: skip
#: From which hour of the clock a part of the day goes; before the first of them it is still night.
_PARTS = (
    (5, mark("{weekday} morning")),
    (12, mark("{weekday} afternoon")),
    (17, mark("{weekday} evening")),
    (22, mark("{weekday}, late")),
)
_NIGHT = mark("{weekday}, before dawn")
#: From this hour on what is for today is for tonight.
_EVENING = 17


@dataclass(frozen=True, slots=True, kw_only=True)
class Headline:
    """The head of the home page: its title, and whole sentences beneath it."""

    title: str
    sentences: tuple[str, ...]


def greeting(voice: Voice, now: int) -> str:
    """The day and its part: `Friday evening`. `voice.zone` says whose clock it is."""
    clock = days.clock_h(voice.zone, now)
    text = next((words for begins, words in reversed(_PARTS) if clock >= begins), _NIGHT)
    return voice.say(text, {"weekday": _weekday(voice, now)})


def _weekday(voice: Voice, at: float) -> str:
    return voice.say(WEEKDAYS[days.weekday(voice.zone, at)])


def _tonight(voice: Voice, now: int) -> bool:
    return days.clock_h(voice.zone, now) >= _EVENING


def headline(voice: Voice, jobs: Sequence[Job], now: int, batches: Mapping[str, tuple[str, Voice]]) -> Headline:
    """The head of the home page. `jobs` in order (`merge`); `batches`: uid -> name, and the voice of the batch."""
    title = greeting(voice, now)
    if not batches:
        return Headline(title=title, sentences=(voice.say(mark("No batch is running.")),))
    asked = [one for one in jobs if not one.done and not one.leaves]
    today = [one for one in asked if one.when in (When.NOW, When.TODAY)]
    alone = sum(one.leaves and one.when is When.TODAY for one in jobs)
    said = [_how_many(voice, len(today), _tonight(voice, now))]
    if alone:
        said.append(_counted(voice, _ALONE, alone))
    if today:
        said += _first(voice, today, batches)
    else:
        said += _next(voice, asked, now)
    return Headline(title=title, sentences=tuple(said))


_TONIGHT = Plural(mark("One job tonight."), mark("{n} jobs tonight."), by="n")
_TODAY = Plural(mark("One job today."), mark("{n} jobs today."), by="n")
_ALONE = Plural(mark("One thing is best left alone."), mark("{n} things are best left alone."), by="n")
_TOMORROW = Plural(mark("One job tomorrow."), mark("{n} jobs tomorrow."), by="n")
_URGENT = Plural(mark("One of them cannot wait."), mark("{n} of them cannot wait."), by="n")
_ALL_URGENT = Plural(mark("It cannot wait."), mark("None of them can wait."), by="n")


def _counted(voice: Voice, text: Plural, n: int) -> str:
    return voice.say(text, {"n": str(n)}, n)


def _how_many(voice: Voice, n: int, tonight: bool) -> str:
    if n:
        return _counted(voice, _TONIGHT if tonight else _TODAY, n)
    return voice.say(mark("Nothing more to do tonight.") if tonight else mark("Nothing more to do today."))


def _first(voice: Voice, today: Sequence[Job], batches: Mapping[str, tuple[str, Voice]]) -> list[str]:
    """What cannot wait, and whose job comes first, where there is more than one batch to choose from."""
    urgent = sum(one.level is Level.NOW for one in today)
    text = _ALL_URGENT if urgent == len(today) else _URGENT
    said = [_counted(voice, text, urgent)] if urgent else []
    first = today[0]
    if first.level < Level.ACT or len({one.batch for one in today}) < 2 or first.batch not in batches:
        return said
    name, own = batches[first.batch]
    return [*said, voice.say(mark("First: {batch}."), {"batch": name}), say(own, first).what]


def _next(voice: Voice, asked: Iterable[Job], now: int) -> list[str]:
    """What comes next, where nothing is left for today."""
    later = [one for one in asked if one.when in (When.TOMORROW, When.LATER)]
    tomorrow = sum(one.when is When.TOMORROW for one in later)
    if tomorrow:
        return [_counted(voice, _TOMORROW, tomorrow)]
    if not later:
        return []
    due = min(one.due for one in later)
    return [voice.say(mark("The next job is on {date}."), {"date": numbers.date(voice, max(due, now))})]


def heading(voice: Voice, when: When, now: int) -> str:
    """The heading over the jobs of one part: `Tonight`, `Tomorrow, Saturday`."""
    match when:
        case When.TOMORROW:
            after = days.begins(voice.zone, days.day(voice.zone, now) + 1)
            return voice.say(mark("Tomorrow, {weekday}"), {"weekday": _weekday(voice, after)})
        case When.LATER:
            return voice.say(mark("Later"))
        case _:
            return voice.say(mark("Tonight") if _tonight(voice, now) else mark("Today"))


def hour(voice: Voice, job: Job, now: int) -> str:
    """What stands in the margin beside a job: `now`, `by 03:00`, `since Wed 15 April`, `all night`, `today`."""
    if job.when is When.NOW:
        return voice.say(mark("now"))
    tonight = _tonight(voice, now)
    if job.leaves:
        return voice.say(mark("all night") if tonight else mark("all day"))
    if job.when is When.LATER:
        return numbers.date(voice, job.due)
    start = days.begins(voice.zone, days.day(voice.zone, now))
    if job.due < start:
        return voice.say(mark("since {date}"), {"date": numbers.date(voice, job.due)})
    if job.hourless:
        if job.when is When.TOMORROW:
            return voice.say(mark("in the day"))
        return voice.say(mark("tonight") if tonight else mark("today"))
    clock = {"clock": numbers.clock(voice, job.due)}
    return voice.say(mark("since {clock}") if job.due < now else mark("by {clock}"), clock)


def work(voice: Voice, job: Job) -> str:
    """The work a job takes: `18 min`; nothing where it is not known."""
    return "" if job.minutes is None else numbers.quantity(voice, max(1, round(job.minutes)), "minutes")
