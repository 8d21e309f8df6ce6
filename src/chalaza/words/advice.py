"""What to do, in words: one template a code, its holes filled with the figures that `decide` gives.

`what` is the finding, `do` what is asked, `because` the reason. Every sentence is whole: none is joined from parts. What
the evidence cannot tell is not said: no probe is called wrong, no shell thin, no egg cracked, nobody at fault.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza.errors import ChalazaError
from chalaza.values.advice import Advice, Level
from chalaza.values.estimate import Estimate, Figure
from chalaza.words import numbers
from chalaza.words.language import Plural, Text, mark
from chalaza.words.numbers import Voice

#: Tally and word of each level; the tally is never without its word.
LEVELS: Mapping[Level, str] = MappingProxyType(
    {Level.GOOD: mark("good"), Level.WATCH: mark("watch"), Level.ACT: mark("act"), Level.NOW: mark("now")}
)


@dataclass(frozen=True, slots=True)
class Template:
    """The three sentences of a code, and the keys of the cautions that stand with the act."""

    what: Text
    do: Text
    because: Text
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """Advice in words."""

    code: str
    level: str
    what: str
    do: str
    because: str
    cautions: tuple[str, ...]


_WATER = ("mains_water",)
_LATE = ("late_eggs", "dispatch")

TEMPLATES: Mapping[str, Template] = MappingProxyType(
    {
        # warmth ---------------------------------------------------------------------------------------------------
        "warmth.right": Template(
            mark("The eggs are as warm as wanted, as far as can be told: shells at {shell}."),
            mark("Leave the dial alone."),
            mark("The shells were at {shell} over the last 24 hours. {band} is wanted."),
        ),
        "warmth.leave": Template(
            mark("The eggs are close to the warmth wanted: shells at {shell}."),
            mark("Leave the dial alone and look again tomorrow."),
            mark("The shells were at {shell} over the last 24 hours. That range still meets the {band} wanted."),
        ),
        "warmth.leave_unchecked": Template(
            mark("The eggs are close to the warmth wanted: shells at {shell}, by a probe nobody has checked."),
            mark("Leave the dial alone until the probe has been checked."),
            mark("The shells were at {shell} over the last 24 hours, by an unchecked probe. {band} is wanted."),
            ("ice_only",),
        ),
        "warmth.check_first": Template(
            mark("The shells were at {shell}, by a probe nobody has checked."),
            mark("Check the probe today. Leave the dial alone until then."),
            mark("The shells were at {shell} over the last 24 hours. {band} is wanted, and nobody has checked the probe."),
            ("ice_only",),
        ),
        "warmth.step_down": Template(
            mark("The eggs are a little too warm: shells at {shell}."),
            mark("Turn the set point down by {step}. Then wait 24 hours."),
            mark("The shells were at {shell} over the last 24 hours, by a checked probe. {band} is wanted."),
        ),
        "warmth.step_up": Template(
            mark("The eggs are a little too cool: shells at {shell}."),
            mark("Turn the set point up by {step}. Then wait 24 hours."),
            mark("The shells were at {shell} over the last 24 hours, by a checked probe. {band} is wanted."),
        ),
        "warmth.warming_up": Template(
            mark("The eggs are warming up: shells at {shell}."),
            mark("Leave the dial alone for the first 12 hours."),
            mark("Shells at {shell} are right for eggs that went in cold. {band} is wanted once they are warm."),
        ),
        "warmth.too_hot": Template(
            mark("The eggs are far too hot: shells at {shell}."),
            mark("Switch off at the wall, then lift the lid until the reading is below {limit}. Switch on again and stay with it."),
            mark("The probe shows {reading}, and the shells are at {shell}. Hours of it can kill."),
            ("heat_look",),
        ),
        "warmth.still_high": Template(
            mark("The air over the eggs is too hot for still air: {reading}."),
            mark("Turn the heat down in small steps until the egg tops read below {warn}."),
            mark("The probe shows {reading}, and {warn} at the egg tops is the most in still air. The shells were at {shell}."),
        ),
        "warmth.too_cold": Template(
            mark("The eggs are far too cold: shells at {shell}."),
            mark("See that the box has power and the lid is shut. Leave the eggs in."),
            mark("The probe shows {reading}, and the shells are at {shell}. At least {low} is wanted."),
            ("power_keep", "no_flame", "generator"),
        ),
        "warmth.tell_height": Template(
            mark("In still air the reading alone does not tell the warmth of the eggs: it was {reading}."),
            mark("Measure how high the probe hangs over the egg tops, and note it."),
            mark("Still air is layered. A reading of {reading} means shells at {shell} while the height is unknown."),
        ),
        "warmth.candle_after_spell": Template(
            mark("The eggs were too hot or too cold for some hours. Of those alive before, {survival} live on by the tables."),
            mark("Throw nothing away. Candle {first_d} to {last_d} days after it."),
            mark("By the tables {survival} of the embryos live on after such a spell. Only the lamp can tell for these eggs."),
            ("wash_hands", "one_look"),
        ),
        "warmth.candle_after_heat": Template(
            mark("The eggs were too hot for days. Of those alive before, {survival} live on by one study."),
            mark("Throw nothing away. Candle {first_d} to {last_d} days after it."),
            mark("In one study {survival} of the embryos lived on after such days. Only the lamp can tell for these eggs."),
            ("heat_look", "wash_hands"),
        ),
        "warmth.air_spike": Template(
            mark("The air was hot for a while, the eggs were not: shells at {shell}."),
            mark("Leave the dial alone. The spike of {start} is over."),
            mark("The air went to {air}, but the shells only to {shell}. An egg follows slowly."),
        ),
        "warmth.drifting": Template(
            mark("The daily mean is moving: {drift} so far."),
            mark("Look at the room, the sun and the vents before the dial."),
            mark("The daily mean has moved by {drift}, more than its usual scatter."),
        ),
        "warmth.gaps": Template(
            Plural(
                mark("The log has a gap of {hours}."), mark("The log has {gaps} gaps, {hours} together."), by="gaps"
            ),
            Plural(
                mark("Note what happened in that gap: no power, or only no log."),
                mark("Note what happened in those {gaps} gaps: no power, or only no log."),
                by="gaps",
            ),
            Plural(
                mark("For {hours} nothing is known of the warmth. The ranges are wider for it."),
                mark("For {hours} nothing is known of the warmth. The ranges are wider for it."),
                by="gaps",
            ),
        ),
        "warmth.no_log": Template(
            mark("There is no log of these eggs yet."),
            mark("Send a log, if a logger lies beside them."),
            mark("For {hours} the warmth is only known as it was planned. The ranges are wider for it."),
        ),
        # water ----------------------------------------------------------------------------------------------------
        "water.odd_egg": Template(
            mark("Egg {egg} loses water unlike the others: {loss} so far."),
            mark("Weigh egg {egg} again and look for a crack under the lamp."),
            mark("Egg {egg} has lost {loss}. Its rate lies {z} spreads from the middle of the batch, and 3.5 is usual at most."),
            ("wash_hands",),
        ),
        "water.left_out": Template(
            Plural(mark("{n} weighing was not used."), mark("{n} weighings were not used."), by="n"),
            Plural(
                mark("Look at that weighing: a wet egg, a tare above the weight, or more than the egg weighed before."),
                mark("Look at those {n} weighings: wet eggs, a tare above the weight, or more than they weighed before."),
                by="n",
            ),
            Plural(
                mark("{n} weighing cannot be true as it stands. The answer does without it."),
                mark("{n} weighings cannot be true as they stand. The answer does without them."),
                by="n",
            ),
            ("misting_weigh",),
        ),
        "water.lockdown_right": Template(
            mark("The eggs dried as wanted: {now} lost by lockdown."),
            mark("Leave it at that. Nothing about the loss of water is left to do."),
            mark("{loss} was lost by lockdown. {band} was wanted."),
        ),
        "water.lockdown_past": Template(
            mark("{now} was lost by lockdown, outside the band wanted."),
            mark("Leave it at that. It cannot be won back before the hatch."),
            mark("{loss} was lost by lockdown. {band} was wanted."),
        ),
        "water.start_and_weigh": Template(
            mark("Nobody can say yet how these eggs dry: about {now} so far, by the kind alone."),
            mark("Run about {rh} on the display. Weigh all eggs by {when}, before changing anything."),
            mark("By the kind alone {loss} will be lost by lockdown, and {band} is wanted. A second weighing narrows that most."),
            (*_WATER, "misting_weigh"),
        ),
        "water.weigh_first": Template(
            mark("Nobody can say yet how these eggs dry: about {now} so far, by the kind alone."),
            mark("Weigh all eggs today, and again some days later. Keep the water as it is; {rh} is usual."),
            mark("No egg was weighed by {when}. By the kind alone {loss} will be lost by lockdown, and {band} is wanted."),
            ("misting_weigh", "wash_hands"),
        ),
        "water.weigh_now": Template(
            mark("Nobody can say yet how these eggs dry: about {now} so far, by the kind alone."),
            mark("Weigh all eggs today. Keep the water as it is; {rh} is usual."),
            mark("A second weighing was due on {when}. By the kind alone {loss} will be lost by lockdown, and {band} is wanted."),
            ("misting_weigh", "wash_hands"),
        ),
        "water.weigh_rest": Template(
            mark("The eggs have lost {now} so far, known too loosely to act on."),
            mark("Weigh all eggs before changing the water."),
            mark("{loss} will be lost by lockdown and {band} is wanted. The humidity for that is {rh}: too wide to act on."),
            ("misting_weigh", "wash_hands"),
        ),
        "water.right": Template(
            mark("The eggs dry as they should: {now} lost so far."),
            mark("Leave the water and the vents as they are."),
            mark("At {rh_now} on this display {loss} will be lost by lockdown. {band} is wanted."),
        ),
        "water.raise": Template(
            mark("The eggs dry too fast: {now} lost so far."),
            mark("Add water surface until this display shows {rh}. It shows {rh_now} now."),
            mark("If nothing changes {loss} will be lost by lockdown. {band} is wanted."),
            _WATER,
        ),
        "water.lower": Template(
            mark("The eggs dry too slowly: {now} lost so far."),
            mark("Take water surface away until this display shows {rh}. It shows {rh_now} now."),
            mark("If nothing changes {loss} will be lost by lockdown. {band} is wanted."),
            _WATER,
        ),
        "water.not_all": Template(
            mark("{now} is lost so far, and part of it cannot be made good."),
            mark("Bring this display to {rh} and hold it. It shows {rh_now} now."),
            mark("Without it {loss} will be lost by lockdown, {best} with it. {band} is wanted; the rest cannot be won back."),
            _WATER,
        ),
        # clock ----------------------------------------------------------------------------------------------------
        "clock.stop_turning_now": Template(
            mark("The first beak may be in an air cell: {pip}."),
            mark("Stop turning."),
            mark("Turning was to end {stop}. The first internal pip is expected {pip}."),
        ),
        "clock.stop_turning": Template(
            mark("The eggs are old enough to lie still: {stop}."),
            mark("Stop turning today."),
            mark("Turning ends {stop}. That day is soft: before the first internal pip, {pip}, will do."),
        ),
        "clock.keep_turning": Template(
            mark("The eggs are still to be turned, until {stop}."),
            mark("Keep turning. Stop {stop}."),
            mark("That day is soft: before the first internal pip, {pip}, will do."),
        ),
        "clock.overdue": Template(
            mark("No young has been seen, and the last was expected {last}."),
            mark("Candle every egg before giving one up. Open none on lateness alone."),
            mark("Half were expected out {half} and the last {last}. None has been noted."),
            _LATE,
        ),
        "clock.over": Template(
            mark("The hatch is over: the last young was expected {last}."),
            mark("Candle what is left. Open what shows no life, and note the stage."),
            mark("The last young was expected {last}."),
            ("never_eat", "rotten_burst", *_LATE),
        ),
        "clock.wait": Template(
            mark("The hatch is near: half of the young out {half}."),
            mark("Keep the lid shut and wait."),
            mark("First pip {first}. Half out {half}. Last out {last}."),
            ("lid_shut", "help_hatch", "children"),
        ),
        "clock.expect": Template(
            mark("The eggs are {behind}."),
            mark("Be at home when they hatch: half of the young out {half}."),
            mark("By the warmth they had, the eggs are {behind}."),
        ),
        # count ----------------------------------------------------------------------------------------------------
        "count.candle": Template(
            mark("{alive} of {set} eggs are likely alive, and a look under the lamp is due."),
            mark("Candle the eggs. The day for it is {day}."),
            mark("{alive} of {set} are likely alive and {young} likely to hatch. A look tells which."),
            ("wash_hands", "one_look"),
        ),
        "count.leave_unsure": Template(
            Plural(mark("{n} egg cannot be told yet."), mark("{n} eggs cannot be told yet."), by="n"),
            Plural(
                mark("Leave egg {eggs} in. Look again in 2 to 4 days."),
                mark("Leave the {n} unsure eggs in, {eggs} among them. Look again in 2 to 4 days."),
                by="n",
            ),
            Plural(
                mark("One look cannot tell {n} egg. {young} of {set} are likely to hatch."),
                mark("One look cannot tell {n} eggs. {young} of {set} are likely to hatch."),
                by="n",
            ),
            ("one_look",),
        ),
        "count.short": Template(
            mark("Fewer young than the {wanted} wanted are likely: {young}."),
            mark("Plan for fewer than {wanted} young, or set more eggs."),
            mark("{young} of {set} eggs are likely to hatch. {wanted} were wanted."),
        ),
        "count.expect": Template(
            mark("{young} of {set} eggs are likely to hatch."),
            mark("Make room for {young} young."),
            mark("{young} of {set} eggs are likely to hatch."),
        ),
    }
)  # fmt: skip

#: Name of a figure -> style of `numbers.STYLES`; `moment`, `day`, `lag` and `text` are spoken in their own way.
FIGURES: Mapping[str, str] = MappingProxyType(
    {
        "shell": "temperature", "limit": "temperature", "reading": "temperature", "air": "temperature", "warn": "temperature",
        "step": "step",
        "drift": "change", "start": "moment", "survival": "share", "first_d": "count", "last_d": "count",
        "hours": "hours", "gaps": "count", "egg": "text", "eggs": "text", "loss": "loss", "now": "loss", "best": "loss",
        "z": "times", "n": "count", "rh": "humidity", "rh_now": "humidity", "when": "moment", "stop": "moment",
        "pip": "moment", "half": "moment", "last": "moment", "first": "moment", "behind": "lag", "day": "day",
        "alive": "count", "young": "count", "set": "count", "wanted": "count",
    }
)  # fmt: skip

#: Two figures that make one hole, `band`; each alone is a hole of its own. Their style goes by the subject of the code.
BAND = ("low", "high")
BAND_STYLE: Mapping[str, str] = MappingProxyType({"warmth": "temperature", "water": "loss"})


def spoken(voice: Voice, style: str, figure: Figure) -> str:
    """One figure in words, by its style."""
    own: Mapping[str, Callable[[], str]] = {
        "text": lambda: str(figure),
        "day": lambda: numbers.day(voice, _plain(figure)),
        "lag": lambda: numbers.lag(voice, figure),
        "moment": lambda: _when(voice, figure),
    }
    return own[style]() if style in own else numbers.quantity(voice, figure, style)


def _plain(figure: Figure) -> float:
    return figure.value if isinstance(figure, Estimate) else float(figure)


def _when(voice: Voice, figure: Figure) -> str:
    if isinstance(figure, Estimate):
        return numbers.moment_range(voice, figure)
    return numbers.moment(voice, float(figure))


def holes(voice: Voice, advice: Advice) -> dict[str, str]:
    """Every figure of the advice in words, by name of hole."""
    ends = {name: _plain(advice.figures[name]) for name in BAND if name in advice.figures}
    style = BAND_STYLE.get(advice.code.partition(".")[0], "")
    out = {name: spoken(voice, FIGURES[name], figure) for name, figure in advice.figures.items() if name not in ends}
    if len(ends) == len(BAND):
        return out | {"band": numbers.band(voice, ends["low"], ends["high"], style)}
    return out | {name: numbers.quantity(voice, value, style) for name, value in ends.items()}


def say(voice: Voice, advice: Advice) -> Said:
    """The advice in words. Raises `ChalazaError` for a code without sentences (our bug)."""
    if advice.code not in TEMPLATES:
        raise ChalazaError(f"no sentences for the code {advice.code!r}")
    return told(voice, advice, TEMPLATES[advice.code], holes(voice, advice))


def told(voice: Voice, advice: Advice, template: Template, filled: Mapping[str, str]) -> Said:
    """The advice in the sentences of `template`, its holes filled; a figure of the advice chooses the form of a plural."""

    def sentence(text: Text) -> str:
        n = round(_plain(advice.figures[text.by])) if isinstance(text, Plural) else 1
        return voice.say(text, filled, n)

    return Said(
        code=advice.code,
        level=voice.say(LEVELS[advice.level]),
        what=sentence(template.what),
        do=sentence(template.do),
        because=sentence(template.because),
        cautions=template.cautions,
    )
