"""A batch at a glance: how far on it is, and of each answer its one figure in parts, against what was wanted.

The parts of a figure are for pages that set value, unit and range apart; whole sentences stay with `answers`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from math import ceil, floor
from types import MappingProxyType
from zoneinfo import ZoneInfo

from chalaza.values.advice import Advice, Level
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Band, Estimate
from chalaza.words import numbers
from chalaza.words.answers import Answered
from chalaza.words.events import QUESTIONS
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import NB, Preference, Voice

DAY_S = 86_400
#: How the main figure of each answer is shown; "moment" is told as one.
STYLES: Mapping[str, str] = MappingProxyType(
    {"warmth": "temperature", "water": "loss", "clock": "moment", "count": "count"}
)
#: The level as the beginning of advice.
LEVELS: Mapping[Level, str] = MappingProxyType(
    {Level.GOOD: mark("Good."), Level.WATCH: mark("Watch."), Level.ACT: mark("Act."), Level.NOW: mark("Now.")}
)
#: Code of advice -> what a glance says of its answer; the first code found among the advice speaks.
NOTES: Mapping[str, str] = MappingProxyType(
    {
        "warmth.right": mark("as wanted"),
        "warmth.leave": mark("close to what is wanted"),
        "warmth.leave_unchecked": mark("probe unchecked"),
        "warmth.check_first": mark("off, probe unchecked"),
        "warmth.step_down": mark("a little too warm"),
        "warmth.step_up": mark("a little too cool"),
        "warmth.warming_up": mark("still warming up"),
        "warmth.too_hot": mark("far too hot"),
        "warmth.still_high": mark("too hot for still air"),
        "warmth.too_cold": mark("far too cold"),
        "water.start_and_weigh": mark("by the kind alone"),
        "water.weigh_first": mark("by the kind alone"),
        "water.weigh_now": mark("by the kind alone"),
        "water.weigh_rest": mark("known too loosely"),
        "water.right": mark("drying as it should"),
        "water.raise": mark("drying too fast"),
        "water.lower": mark("drying too slowly"),
        "water.not_all": mark("part cannot be won back"),
        "water.lockdown_right": mark("dried as wanted"),
        "water.lockdown_past": mark("off the band"),
        "clock.overdue": mark("no young noted yet"),
        "clock.over": mark("the hatch is over"),
        "clock.wait": mark("the hatch is near"),
    }
)
_HOUR_S = 3_600


@dataclass(frozen=True, slots=True, kw_only=True)
class Parts:
    """A figure taken apart: `13.6`, `%`, `12.9–14.3`, and the same in the other system where the keeper reads both.

    `low` and `high`: the ends of the range alone, empty where it has no width.
    """

    value: str
    unit: str
    range: str
    other: str = ""
    low: str = ""
    high: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """The main figure of an answer. `band` is what was wanted (`least`: it has no upper edge), its edges in words."""

    question: str
    word: str
    label: str
    parts: Parts
    figure: Estimate
    band: Band | None
    band_low: str
    band_high: str
    band_word: str
    wanted: str
    least: bool
    note: str


def parts(voice: Voice, figure: Estimate, style: str) -> Parts:
    """A figure taken apart; `style` is one of `numbers.STYLES`, or "moment"."""
    if style == "moment":
        return _moment_parts(voice, figure)
    leading = replace(voice, units=_leading(voice))
    text = numbers.quantity(leading, figure, style)
    shown, bracket, rest = text.partition(f"{NB}(")
    value, _, unit = shown.partition(NB)
    ways = numbers.STYLES[style].ways(voice.units)
    others = [numbers.with_unit(numbers.STYLES[style], way, figure.value, way.decimals) for way in ways[1:]]
    ends = _ends(leading, figure, style) if bracket else ("", "")
    return Parts(value=value, unit=unit, range=rest[:-1], other="".join(others), low=ends[0], high=ends[1])


def _leading(voice: Voice) -> Preference:
    return Preference.METRIC if voice.units is Preference.BOTH else voice.units


def _ends(leading: Voice, figure: Estimate, style: str) -> tuple[str, str]:
    """The ends of the range, each as the range shows it."""
    low, high = (replace(figure, value=one, low=figure.low, high=figure.high) for one in (figure.low, figure.high))
    first, last = (numbers.quantity(leading, one, style).partition(NB)[0] for one in (low, high))
    return first, last


def _moment_parts(voice: Voice, figure: Estimate) -> Parts:
    text = numbers.moment_range(voice, figure)
    step = _HOUR_S if figure.high - figure.low > 6.0 * _HOUR_S else 600
    value = numbers.moment(voice, figure.value, step_s=step)
    if figure.high - figure.low < 60.0:
        return Parts(value=text, unit="", range="")
    low, high = (_short(voice, each, step) for each in (figure.low, figure.high))
    symmetric = f"±{NB}" in text
    span = text.partition(f"{NB}(")[2][:-1] if symmetric else numbers.joined(low, high)
    return Parts(value=value, unit="", range=span, low=low, high=high)


def _short(voice: Voice, at: float, step_s: int = _HOUR_S) -> str:
    """A moment as short as it can be told: `Wed 22, 14:00`."""
    local = datetime.fromtimestamp(round(at / step_s) * step_s, ZoneInfo(voice.zone))
    weekday = voice.say(numbers.WEEKDAYS[local.weekday()])
    holes = {"weekday": weekday, "day": str(local.day), "clock": f"{local:%H:%M}"}
    return voice.say(mark("{weekday} {day}, {clock}"), holes).replace(" ", NB)


def glances(voice: Voice, a: Assessment, answers: tuple[Answered, ...]) -> tuple[Glance, ...]:
    """The four answers at a glance. `answers` are those of `words.answers.answered` in the same voice."""
    return tuple(_glance(voice, a, one) for one in answers)


def _glance(voice: Voice, a: Assessment, answer: Answered) -> Glance:
    question = answer.question
    line = next((one for one in answer.lines if one.band is not None), answer.lines[-1])
    figure, band, style = line.of, line.band, STYLES[question]
    if figure is None:  # the last line of the count has its figure; others have a band
        raise TypeError(f"no figure in the answer about {question}")
    low, high = ("", "") if band is None else _edges(voice, band, style)
    return Glance(
        question=question, word=voice.say(QUESTIONS[question]), label=line.label, parts=_counted(voice, figure, question),
        figure=figure, band=band, band_low=low, band_high=high, band_word=voice.say(_band_word(question)),
        wanted=line.wanted, least=line.least, note=note(voice, a, question),
    )  # fmt: skip


def _counted(voice: Voice, figure: Estimate, question: str) -> Parts:
    found = parts(voice, figure, STYLES[question])
    return replace(found, unit=voice.say(mark("young"))) if question == "count" else found


def _band_word(question: str) -> str:
    return {"clock": mark("usual"), "count": mark("asked for")}.get(question, mark("wanted"))


def _edges(voice: Voice, band: Band, style: str) -> tuple[str, str]:
    if style == "moment":
        return _short(voice, band.low), _short(voice, band.high)
    shown, way = numbers.STYLES[style], numbers.STYLES[style].ways(_leading(voice))[0]
    low, high = (numbers.number(numbers.converted(one, shown, way), way.decimals) for one in (band.low, band.high))
    return low, high


def note(voice: Voice, a: Assessment, question: str) -> str:
    """A few words on an answer, beside its figure."""
    code = next((one.code for one in a.advice if one.code in NOTES and one.code.startswith(f"{question}.")), "")
    if code:
        return voice.say(NOTES[code])
    if question == "clock":
        return _lag(voice, a.clock.behind_h)
    if question == "count":
        return _young(voice, a)
    return ""


def _lag(voice: Voice, behind: Estimate) -> str:
    """Behind or ahead of the calendar, where the range tells which."""
    if behind.low <= 0.0 <= behind.high:
        return voice.say(mark("on the calendar, as far as told"))
    ends = sorted((abs(behind.low), abs(behind.high)))
    hours = {"hours": numbers.ranged(voice, abs(behind.value), ends[0], ends[1], "hours")}
    return voice.say(
        mark("{hours} ahead of the calendar") if behind.value < 0 else mark("{hours} behind the calendar"), hours
    )


def _young(voice: Voice, a: Assessment) -> str:
    holes = {"out": str(a.count.out), "set": str(a.count.set), "wanted": str(a.count.wanted_young)}
    if a.count.out:
        return voice.say(mark("{out} out, of {set} set"), holes)
    if a.count.wanted_young is not None:
        return voice.say(mark("you asked for {wanted}"), holes)
    return voice.say(mark("of {set} set"), holes)


def over(a: Assessment) -> bool:
    """Whether the window of the hatch has ended."""
    return a.as_of > a.clock.last_hatch.high


_AHEAD = Plural(mark("to be set within a day"), mark("to be set in {n} days"), by="n")


def day_of(voice: Voice, set_at: int, at: float, term_d: float) -> str:
    """How far on a batch is: `day 7 (of 21)`, or in how many days it is to be set.

    The first 24 hours are day 0; date and hour stand beside it.
    """
    if at < set_at:
        ahead = ceil((set_at - at) / DAY_S)
        return voice.say(_AHEAD, {"n": str(ahead)}, ahead)
    holes = {"day": str(floor((at - set_at) / DAY_S)), "term": numbers.number(term_d, 0)}
    return voice.say(mark("day {day} (of {term})"), holes)


def urgency(advice: tuple[Advice, ...], question: str) -> Level:
    """How much an answer asks: the highest level of its advice."""
    return max((one.level for one in advice if one.code.startswith(f"{question}.")), default=Level.GOOD)
