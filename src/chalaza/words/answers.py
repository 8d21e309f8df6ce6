"""The four answers in words: one sentence each, then its figures with what was wanted."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza.values.answers import Assessment, SpellSeen
from chalaza.values.estimate import Band, Estimate, Figure
from chalaza.words import numbers
from chalaza.words.advice import spoken
from chalaza.words.events import SPELLS
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

#: The four questions in the order they are answered, each as it is asked.
ASKED: Mapping[str, str] = MappingProxyType(
    {
        "warmth": mark("Are the embryos as warm as they should be?"),
        "water": mark("Are the eggs losing the right amount of water?"),
        "clock": mark("How far on are they, and when will they hatch?"),
        "count": mark("How many are alive, how many will hatch?"),
    }
)

#: Code of advice -> the sentence that answers the question; the first code of a question found among the advice speaks.
HEADLINES: Mapping[str, str] = MappingProxyType(
    {
        "warmth.right": mark("As warm as wanted, as far as can be told: shells at {shell} over the last 24 hours."),
        "warmth.leave": mark("Close to what is wanted: shells at {shell} over the last 24 hours."),
        "warmth.leave_unchecked": mark("Close, by an unchecked probe: shells at {shell} over the last 24 hours."),
        "warmth.check_first": mark("Off, by an unchecked probe: shells at {shell} over the last 24 hours."),
        "warmth.step_down": mark("A little too warm: shells at {shell} over the last 24 hours."),
        "warmth.step_up": mark("A little too cool: shells at {shell} over the last 24 hours."),
        "warmth.warming_up": mark("Still warming up: shells at {latest} now."),
        "warmth.still_high": mark("Too hot over the eggs: shells at {latest} now."),
        "warmth.too_hot": mark("Far too hot: shells at {latest} now."),
        "warmth.too_cold": mark("Far too cold: shells at {latest} now."),
        "warmth": mark("The shells were at {whole} on average."),
        "water.start_and_weigh": mark("Not to be told before a second weighing: {loss} by lockdown, by the kind alone."),
        "water.weigh_first": mark("Not to be told before a second weighing: {loss} by lockdown, by the kind alone."),
        "water.weigh_now": mark("Not to be told before a second weighing: {loss} by lockdown, by the kind alone."),
        "water.weigh_rest": mark("Not yet known well enough: {loss} by lockdown."),
        "water.right": mark("Drying as they should: {loss} by lockdown."),
        "water.raise": mark("Drying too fast: {loss} by lockdown if nothing changes."),
        "water.lower": mark("Drying too slowly: {loss} by lockdown if nothing changes."),
        "water.not_all": mark("Off the band: {loss} by lockdown if nothing changes. Part of it cannot be won back."),
        "water.lockdown_right": mark("Dried as wanted: {loss} by lockdown."),
        "water.lockdown_past": mark("Off the band: {loss} by lockdown. It cannot be won back."),
        "water": mark("{loss} by lockdown."),
        "clock.overdue": mark("No young has been noted; half of them were expected {half}."),
        "clock.over": mark("The hatch is over; half of the young were out {half}."),
        "clock.wait": mark("The hatch is near: half of the young out {half}."),
        "clock.expect": mark("Half of the young will be out {half}."),
        "clock": mark("Half of the young will be out {half}."),
        "count.short": mark("{young} young of {set} eggs are likely; {wanted} were wanted."),
        "count.out": mark("{out} young are out, of {set} eggs set."),
        "count": mark("{young} young of {set} eggs are likely."),
    }
)  # fmt: skip

_WANTED = mark("{band} wanted")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One figure of an answer in words. `of` and `wanted` are what a drawing needs; `least`: the band has no upper edge."""

    label: str
    figure: str
    wanted: str = ""
    of: Estimate | None = None
    band: Band | None = None
    least: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered:
    """One question answered: its sentence and its figures."""

    question: str
    asked: str
    sentence: str
    lines: tuple[Line, ...]


def answered(voice: Voice, a: Assessment) -> tuple[Answered, ...]:
    """The four answers of an assessment in words."""
    lines = {"warmth": _warmth, "water": _water, "clock": _clock, "count": _count}
    return tuple(
        Answered(
            question=question,
            asked=voice.say(asked),
            sentence=headline(voice, a, question),
            lines=tuple(lines[question](voice, a)),
        )
        for question, asked in ASKED.items()
    )


def headline(voice: Voice, a: Assessment, question: str) -> str:
    """The sentence that answers `question`, one of `ASKED`."""
    codes = [one.code for one in a.advice if one.code.startswith(f"{question}.")]
    code = next((one for one in codes if one in HEADLINES), question)
    if question == "count" and a.count.out and a.count.alive.high < 0.5:
        code = "count.out"
    figures: Mapping[str, tuple[str, Figure]] = {
        "shell": ("temperature", a.warmth.shell_now),
        "latest": ("temperature", a.warmth.shell_latest),
        "whole": ("temperature", a.warmth.shell),
        "loss": ("loss", a.water.loss_at_lockdown),
        "half": ("moment", a.clock.half_hatched),
        "young": ("count", a.count.expected_young),
        "set": ("count", a.count.set),
        "out": ("count", a.count.out),
        "wanted": ("count", a.count.wanted_young or 0),
    }
    return voice.say(HEADLINES[code], {name: spoken(voice, *figure) for name, figure in figures.items()})


def _line(voice: Voice, label: str, style: str, figure: Figure, band: Band | None = None, wanted: str = "") -> Line:
    estimate = figure if isinstance(figure, Estimate) else None
    return Line(label=voice.say(label), figure=spoken(voice, style, figure), wanted=wanted, of=estimate, band=band)


def _warmth(voice: Voice, a: Assessment) -> list[Line]:
    w = a.warmth
    wanted = voice.say(_WANTED, {"band": numbers.band_of(voice, w.wanted_now, "temperature")})
    out = [
        _line(voice, mark("shells, last 24 h"), "temperature", w.shell_now, w.wanted_now, wanted),
        _line(voice, mark("shells, since setting"), "temperature", w.shell),
        _line(voice, mark("air, since setting"), "temperature", w.air),
        _line(voice, mark("reading, last hour"), "temperature", w.reading_latest),
        _line(voice, mark("reading, since setting"), "temperature", w.reading),
    ]  # fmt: skip
    for one in w.doses:
        for label, dose in ((mark("heat, {third} third"), one.above), (mark("cold, {third} third"), one.below)):
            if dose.value >= 1.0:
                words = voice.say(label, {"third": voice.say(_THIRDS[one.stage])})
                out.append(Line(label=words, figure=spoken(voice, "dose", dose), of=dose))
    out += [_spell(voice, one) for one in sorted(w.spells, key=lambda one: one.start.value)[-_SPELLS_SHOWN:]]
    if w.set_aside:
        n = sum(count for reasons in w.set_aside.values() for count in reasons.values())
        if n:
            out.append(_line(voice, mark("readings set aside"), "count", n))
    return out


#: Spells shown: the latest ones.
_SPELLS_SHOWN = 4


def _spell(voice: Voice, one: SpellSeen) -> Line:
    holes = {
        "start": numbers.moment(voice, one.start.value, step_s=600),
        "length": spoken(voice, "hours", one.length_h),
        "shell": spoken(voice, "temperature", one.shell),
    }
    return Line(
        label=voice.say(SPELLS[one.sort]), figure=voice.say(mark("{start}, {length}: shells at {shell}"), holes)
    )


_THIRDS: Mapping[str, str] = MappingProxyType({"first": mark("first"), "middle": mark("middle"), "last": mark("last")})


def _water(voice: Voice, a: Assessment) -> list[Line]:
    w = a.water
    wanted = voice.say(_WANTED, {"band": numbers.band_of(voice, w.wanted, "loss")})
    out = [
        _line(voice, mark("lost so far"), "loss", w.loss_now),
        _line(voice, mark("lost by lockdown"), "loss", w.loss_at_lockdown, w.wanted, wanted),
    ]  # fmt: skip
    if w.reachable == "past":
        return out
    out.append(
        _line(voice, mark("planned humidity") if w.planned else mark("humidity shown now"), "humidity", w.rh_now)
    )
    if w.reachable == "yes":
        goal = voice.say(mark("humidity for {loss}"), {"loss": spoken(voice, "loss", w.wanted.typical)})
        return [*out, Line(label=goal, figure=spoken(voice, "humidity", w.rh_to_run), of=w.rh_to_run)]
    return [*out, _line(voice, mark("best humidity left"), "humidity", w.best_rh)]


def _clock(voice: Voice, a: Assessment) -> list[Line]:
    c = a.clock
    ends = [numbers.moment(voice, each, step_s=numbers.HOUR_S) for each in (c.usual.low, c.usual.high)]
    usual = voice.say(mark("usual {low} to {high}"), {"low": ends[0], "high": ends[1]})
    lines = [_line(voice, mark("age by their warmth"), "days", c.age_d)]
    if a.as_of < c.last_hatch.value:
        lines.append(_line(voice, mark("stop turning"), "moment", c.stop_turning))
    return [
        *lines,
        _line(voice, mark("first pip"), "moment", c.first_pip),
        _line(voice, mark("half of them out"), "moment", c.half_hatched, c.usual, usual),
        _line(voice, mark("last out"), "moment", c.last_hatch),
    ]


def _count(voice: Voice, a: Assessment) -> list[Line]:
    c = a.count
    out = [
        _line(voice, mark("fertile, as far as told"), "count", c.fertile),
        _line(voice, mark("alive now"), "count", c.alive),
    ]
    if c.out:
        out.append(_line(voice, mark("out already"), "count", c.out))
    band, text = None, ""
    if c.wanted_young is not None:
        band = Band(low=float(c.wanted_young), typical=float(c.wanted_young), high=float(c.set), unit="young")
        text = voice.say(mark("at least {wanted} wanted"), {"wanted": numbers.number(c.wanted_young, 0)})
    young = _line(voice, mark("young to expect"), "count", c.expected_young, band, text)
    return [*out, Line(label=young.label, figure=young.figure, wanted=text, of=young.of, band=band, least=True)]
