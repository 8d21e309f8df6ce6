"""Jobs of the day in words: one template a code, as with advice; a job that is an advice is said as the advice is.

`do` is the line on the page, `because` the reason under it, and the cautions stand with the act.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from chalaza.decide.job import Job
from chalaza.errors import ChalazaError
from chalaza.values.advice import Advice
from chalaza.values.estimate import Figure
from chalaza.words import advice as advice_words
from chalaza.words import numbers
from chalaza.words.advice import BAND, Said, Template, spoken, told
from chalaza.words.language import Plural, mark
from chalaza.words.measures import CHECKS
from chalaza.words.numbers import Voice

_WEIGH = ("misting_weigh", "wash_hands")
_LAMP = ("wash_hands", "one_look")
_OPEN = ("wash_hands", "never_eat", "rotten_burst", "late_eggs", "dispatch")
_HEAT = ("heat_lamp", "cut_out")

_OWN: Mapping[str, Template] = MappingProxyType(
    {
        # turning --------------------------------------------------------------------------------------------------
        "job.turn_first": Template(
            mark("The eggs want turning from their second day on, until {stop}."),
            mark("Begin turning: start the turner, or turn by hand {least} or {most} times a day."),
            mark("Eggs that lie still in their first days die early more often. By hand an odd number, {least} or {most}: "
                 "so no side is down every night. Turning ends {stop}."),
        ),
        "job.turn": Template(
            mark("The eggs want turning {turns} times a day, until {stop}."),
            mark("Turn the eggs {turns} times."),
            mark("{turns} is odd, so no side is down every night. Turning ends {stop}."),
        ),
        "job.turn_odd": Template(
            mark("The eggs want turning {turns} times a day, until {stop}; {planned} are planned."),
            mark("Turn the eggs {turns} times today, instead of {planned}."),
            mark("By hand at least {least} turns a day are advised, and an odd number such as {turns}: so no side is down "
                 "every night. {planned} are planned. Turning ends {stop}."),
        ),
        "job.cool": Template(
            mark("Eggs of this kind are cooled or misted from {day} on."),
            mark("Cool the eggs or mist them lightly, as is usual for their kind."),
            mark("What is known of this kind: {note}"),
            ("misting_weigh", "mains_water"),
        ),
        # weighing -------------------------------------------------------------------------------------------------
        "job.weigh_first": Template(
            Plural(
                mark("{n} egg has no weight from its setting yet."),
                mark("{n} eggs have no weight from their setting yet."), by="n",
            ),
            Plural(mark("Weigh the egg."), mark("Weigh all {n} eggs."), by="n"),
            mark("Every loss is counted from this weight. By the kind alone {loss} will be lost by lockdown."),
            _WEIGH,
        ),
        "job.weigh": Template(
            mark("A weighing is due: {loss} will be lost by lockdown, as far as is known."),
            Plural(mark("Weigh the egg on the same scale."), mark("Weigh all {n} eggs on the same scale."), by="n"),
            mark("{loss} will be lost by lockdown, as far as is known. {band} is wanted."),
            _WEIGH,
        ),
        "job.weigh_last": Template(
            mark("The last weighing is due: {loss} will be lost by lockdown, as far as is known."),
            Plural(mark("Weigh the egg a last time."), mark("Weigh all {n} eggs while the tray is out."), by="n"),
            mark("{loss} will be lost by lockdown, as far as is known, and {band} is wanted. Then the lid stays shut."),
            _WEIGH,
        ),
        "job.mark": Template(
            mark("The air cells are to be marked: {loss} will be lost by lockdown, as far as is known."),
            Plural(mark("Mark the air cell of the egg."), mark("Mark the air cells of {n} eggs."), by="n"),
            mark("{loss} will be lost by lockdown, as far as is known. {band} is wanted."),
            ("wash_hands",),
        ),
        "job.odd_eggs": Template(
            Plural(
                mark("Egg {eggs} loses water unlike the others."),
                mark("{n} eggs lose water unlike the others: {eggs}."), by="n",
            ),
            Plural(
                mark("Weigh egg {eggs} again, and look for a crack under the lamp."),
                mark("Weigh these {n} eggs again, and look for cracks under the lamp: {eggs}."), by="n",
            ),
            mark("The oddest rate lies {z} spreads from the middle of the batch. 3.5 is usual at most."),
            _WEIGH,
        ),
        # candling -------------------------------------------------------------------------------------------------
        "job.candle": Template(
            mark("A look under the lamp is due: {alive} of {set} eggs are likely alive."),
            Plural(mark("Candle the egg."), mark("Candle the {n} eggs."), by="n"),
            mark("The day for it is {day}. {alive} of {set} are likely alive, and {young} likely to hatch."),
            _LAMP,
        ),
        "job.candle_last": Template(
            mark("The last look under the lamp is due: {alive} of {set} eggs are likely alive."),
            Plural(mark("Candle the egg a last time."), mark("Candle the {n} eggs a last time."), by="n"),
            mark("{alive} of {set} are likely alive. The first pip is expected {first}, and from then the lid stays shut."),
            _LAMP,
        ),
        "job.candle_spell": Template(
            mark("The eggs were too hot or too cold for a while, from {start}."),
            Plural(
                mark("Candle the egg, and keep it whatever it shows."),
                mark("Candle the {n} eggs, and keep them all."), by="n",
            ),
            mark("By the tables {survival} of those alive live on after such hours. Only the lamp can tell for these eggs."),
            _LAMP,
        ),
        # lockdown -------------------------------------------------------------------------------------------------
        "job.lockdown": Template(
            mark("The eggs are old enough to lie still: {stop}."),
            mark("Stop turning, and lay the eggs where they shall hatch."),
            mark("Turning ends {stop}. The first internal pip is expected {pip}."),
            ("wash_hands",),
        ),
        "job.wetter": Template(
            mark("From lockdown on the air is to be wetter: {band}."),
            mark("Add water until this display shows {band}."),
            mark("This display shows {rh_now}. {band} is wanted from lockdown to the hatch."),
            ("mains_water",),
        ),
        "job.heat": Template(
            mark("The young need a warm place: half of them are expected out {half}."),
            mark("Start the heat for the young, and let it run."),
            mark("Half of the young are expected out {half}. The heat should run {ahead} before."),
            (*_HEAT, "mains_water"),
        ),
        "job.hand_feeder": Template(
            mark("Young of this kind hatch helpless: half of them are expected out {half}."),
            mark("Have a skilled person ready to feed the young by hand."),
            mark("Half of the young are expected out {half}. They cannot feed themselves."),
            ("hand_fed",),
        ),
        # hatch ----------------------------------------------------------------------------------------------------
        "job.pips": Template(
            mark("The first pip is expected {first}."),
            mark("Look for pips without lifting the lid, and note what you see, or that there is none."),
            mark("First pip {first}. Last out {last}."),
            ("lid_shut",),
        ),
        "job.hatching": Template(
            mark("Of about {young} young {out} are out; the last is expected {last}."),
            mark("Note who is out, without lifting the lid."),
            mark("{out} are out, of about {young}. The last is expected {last}."),
            ("lid_shut", "help_hatch"),
        ),
        "job.young": Template(
            Plural(
                mark("{n} young is out, since {first} at the latest."),
                mark("{n} young are out, the first since {first} at the latest."), by="n",
            ),
            Plural(
                mark("Move the young under heat once it is dry, with water and feed."),
                mark("Move the {n} young under heat once they are dry, with water and feed."), by="n",
            ),
            mark("The first was seen out {first}. First water and feed are due within {within}, {most} at most."),
            ("wash_hands", "children", *_HEAT),
        ),
        "job.young_by_hand": Template(
            Plural(
                mark("{n} young is out, since {first} at the latest."),
                mark("{n} young are out, the first since {first} at the latest."), by="n",
            ),
            Plural(
                mark("See that a skilled person warms and feeds the young."),
                mark("See that a skilled person warms and feeds the {n} young."), by="n",
            ),
            mark("The first was seen out {first}. Young of this kind cannot feed themselves."),
            ("hand_fed", "wash_hands", "children"),
        ),
        # closing --------------------------------------------------------------------------------------------------
        "job.open": Template(
            mark("{n} of {set} eggs did not hatch."),
            Plural(
                mark("Candle the egg that is left. Open it if it shows no life, and note the stage."),
                mark("Candle the {n} eggs that are left. Open those without life, and note the stages."), by="n",
            ),
            mark("The last young was expected {last}. Only an opened egg tells when it stopped."),
            _OPEN,
        ),
        "job.clean": Template(
            mark("The batch is done with its box, since {since}."),
            mark("Unplug the box and clean it. Leave it dry and open."),
            mark("{out} of {set} eggs hatched. Nothing has been in there since {since}, and dirt comes off best at once."),
            ("mains_water", "fluff", "chlorine", "wash_hands"),
        ),
    }
)  # fmt: skip

#: What a check would narrow: the reason that stands under its line.
_NARROWS: Mapping[str, str] = MappingProxyType(
    {
        "hatch": mark("It would narrow the hatch forecast from {hatch_before} to {hatch_after}."),
        "loss": mark("It would narrow the loss by lockdown from {loss_before} to {loss_after}."),
        "young": mark("It would narrow the number of young from {young_before} to {young_after}."),
    }
)
_FORECAST: Mapping[str, str] = MappingProxyType(
    {
        "hatch": mark("The hatch forecast is known to {hatch_before}."),
        "loss": mark("The loss by lockdown is known to {loss_before}."),
        "young": mark("The number of young is known to {young_before}."),
    }
)


def _checks() -> dict[str, Template]:
    """A template for each check and each width it may narrow."""
    return {
        f"job.{code}.{width}": Template(_FORECAST[width], check.name, text, check.cautions)
        for code, check in CHECKS.items()
        for width, text in _NARROWS.items()
    }


JOBS: Mapping[str, Template] = MappingProxyType({**_OWN, **_checks()})

#: Name of a figure of `JOBS` -> how it is spoken: a style of `advice.spoken`, half a range (`half:<style>`), or a text of
#: the tables.
FIGURES: Mapping[str, str] = MappingProxyType(
    {
        "stop": "moment", "pip": "moment", "half": "moment", "first": "moment", "last": "moment", "start": "moment",
        "since": "moment", "least": "count", "most": "count", "turns": "count", "planned": "count", "n": "count",
        "set": "count", "out": "count", "alive": "count", "young": "count", "day": "day", "note": "table", "loss": "loss",
        "eggs": "text", "z": "times", "survival": "share", "rh_now": "humidity", "within": "hours", "ahead": "hours",
        "hatch_before": "half:hours", "hatch_after": "half:hours", "loss_before": "half:loss", "loss_after": "half:loss",
        "young_before": "half:young", "young_after": "half:young",
    }
)  # fmt: skip
#: Figures that one code speaks otherwise, and how the hole `band` (`low` and `high`) is spoken.
_OTHERWISE: Mapping[tuple[str, str], str] = MappingProxyType({("job.young", "most"): "hours"})
BANDS: Mapping[str, str] = MappingProxyType(
    {"job.weigh": "loss", "job.weigh_last": "loss", "job.mark": "loss", "job.wetter": "humidity"}
)


def say(voice: Voice, job: Job) -> Said:
    """A job in words; `voice` is that of its batch (`Voice.of`). Raises `ChalazaError` for a code without sentences."""
    if job.code in advice_words.TEMPLATES:
        return advice_words.say(voice, job.advice)
    if job.code not in JOBS:
        raise ChalazaError(f"no sentences for the job {job.code!r}")
    return told(voice, job.advice, JOBS[job.code], _holes(voice, job.advice))


def _holes(voice: Voice, advice: Advice) -> dict[str, str]:
    out = {
        name: _spoken(voice, _OTHERWISE.get((advice.code, name), FIGURES[name]), figure)
        for name, figure in advice.figures.items()
        if name not in BAND
    }
    if advice.code in BANDS:
        low, high = (float(advice.figures[name]) for name in BAND)  # type: ignore[arg-type]  # plain edges of a band
        out["band"] = numbers.band(voice, low, high, BANDS[advice.code])
    return out


def _spoken(voice: Voice, style: str, figure: Figure) -> str:
    kind, _, of = style.partition(":")
    own: Mapping[str, Callable[[], str]] = {
        "half": lambda: numbers.half_width(voice, float(figure), of),  # type: ignore[arg-type]  # a width, never text
        "table": lambda: voice.language.gettext(str(figure)),
    }
    return own[kind]() if kind in own else spoken(voice, style, figure)
