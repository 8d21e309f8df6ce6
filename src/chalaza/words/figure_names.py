"""What every figure of an assessment is called and how it is spoken, by its place in the answers.

A figure is named by its path, `water.loss_at_lockdown` or `water.eggs.3.loss_now`; a place in a row is `*` in the table.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from re import sub
from types import MappingProxyType

from chalaza.values.answers import Assessment
from chalaza.values.estimate import Estimate, Figure
from chalaza.words import numbers
from chalaza.words.advice import spoken
from chalaza.words.language import mark
from chalaza.words.numbers import NB, Voice

#: The answers, in which figures have a place of their own.
ANSWERS = ("warmth", "water", "clock", "count")


@dataclass(frozen=True, slots=True)
class Name:
    """The words for a figure, and its style (one of `advice.spoken`; empty: as it is, with its unit)."""

    words: str
    style: str


FIGURES: Mapping[str, Name] = MappingProxyType(
    {
        "warmth.reading": Name(mark("reading of the probe, since setting"), "temperature"),
        "warmth.air": Name(mark("air about the eggs, since setting"), "temperature"),
        "warmth.shell": Name(mark("shells, since setting"), "temperature"),
        "warmth.centre": Name(mark("middle of the eggs, since setting"), "temperature"),
        "warmth.shell_now": Name(mark("shells, last 24 hours"), "temperature"),
        "warmth.shell_latest": Name(mark("shells, last hour"), "temperature"),
        "warmth.reading_latest": Name(mark("reading of the probe, last hour"), "temperature"),
        "warmth.limit_reading": Name(mark("reading at which lasting heat begins"), "temperature"),
        "warmth.doses.*.above": Name(mark("heat in a third of the term"), "dose"),
        "warmth.doses.*.below": Name(mark("cold in a third of the term"), "dose"),
        "warmth.spells.*.start": Name(mark("beginning of a spell"), "moment"),
        "warmth.spells.*.air": Name(mark("air at the worst of a spell"), "temperature"),
        "warmth.spells.*.shell": Name(mark("shells at the worst of a spell"), "temperature"),
        "warmth.spells.*.dose": Name(mark("dose of a spell"), "dose"),
        "warmth.odds.*.survival": Name(mark("embryos that live on after a spell"), "share"),
        "warmth.delay_h": Name(mark("delay by the warmth they had"), "lag"),
        "warmth.drift": Name(mark("move of the daily mean"), "change"),
        "warmth.swing": Name(mark("how far the box follows its room"), "follows"),
        "water.loss_now": Name(mark("weight lost so far"), "loss"),
        "water.loss_at_lockdown": Name(mark("weight lost by lockdown"), "loss"),
        "water.due": Name(mark("moment the wanted loss belongs to"), "moment"),
        "water.rh_now": Name(mark("humidity on the display"), "humidity"),
        "water.rh_to_run": Name(mark("humidity to run on this display"), "humidity"),
        "water.rh_true": Name(mark("true humidity about the eggs"), "humidity"),
        "water.best_rh": Name(mark("best humidity that is left"), "humidity"),
        "water.loss_at_best": Name(mark("weight lost by lockdown at the best humidity"), "loss"),
        "water.conductance": Name(mark("vapour let through by the shells"), ""),
        "water.spread": Name(mark("how much the shells differ among themselves"), "share"),
        "water.eggs.*.loss_now": Name(mark("weight this egg lost so far"), "loss"),
        "water.eggs.*.loss_at_lockdown": Name(mark("weight this egg will have lost by lockdown"), "loss"),
        "clock.age_d": Name(mark("age by their warmth"), "days"),
        "clock.behind_h": Name(mark("behind or ahead of the calendar"), "lag"),
        "clock.stop_turning": Name(mark("moment to stop turning"), "moment"),
        "clock.internal_pip": Name(mark("first beak in an air cell"), "moment"),
        "clock.first_pip": Name(mark("first pip"), "moment"),
        "clock.half_hatched": Name(mark("half of them out"), "moment"),
        "clock.last_hatch": Name(mark("last out"), "moment"),
        "count.fertile": Name(mark("fertile eggs"), "count"),
        "count.alive": Name(mark("alive now"), "count"),
        "count.expected_young": Name(mark("young to expect"), "count"),
        "count.fertility": Name(mark("share that is fertile"), "share"),
        "count.stages.survival_early": Name(mark("share that lives through the first days"), "share"),
        "count.stages.survival_middle": Name(mark("share that lives through the middle"), "share"),
        "count.stages.survival_late": Name(mark("share that lives from then to the hatch"), "share"),
    }
)  # fmt: skip


def every(a: Assessment) -> dict[str, Estimate]:
    """Every figure of the answers by its path."""
    found: dict[str, Estimate] = {}
    for answer in ANSWERS:
        found.update(_walk(getattr(a, answer), answer))
    return found


def _walk(value: object, path: str) -> Iterator[tuple[str, Estimate]]:
    if isinstance(value, Estimate):
        yield path, value
    elif isinstance(value, Mapping):
        for key, one in value.items():
            yield from _walk(one, f"{path}.{key}")
    elif isinstance(value, tuple):
        for i, one in enumerate(value):
            yield from _walk(one, f"{path}.{i}")
    elif is_dataclass(value):
        for one in fields(value):
            yield from _walk(getattr(value, one.name), f"{path}.{one.name}")


def paths(a: Assessment) -> Mapping[int, str]:
    """Identity of a figure -> its path: for what is made from the very figures of this assessment."""
    return {id(one): path for path, one in every(a).items()}


def path_of(a: Assessment, figure: Figure) -> str:
    """The path of the first figure of the answers that says the same; empty where none does."""
    return next((path for path, one in every(a).items() if one == figure), "")


def name_of(path: str) -> Name:
    """What a figure is called. Raises `KeyError` for a path without a name (our bug)."""
    return FIGURES[sub(r"\.\d+(?=\.|$)", ".*", path)]


def said(voice: Voice, path: str, figure: Estimate) -> str:
    """A figure as it is read, with its unit and its 90 % range."""
    style = name_of(path).style
    if style:
        return spoken(voice, style, figure)
    value, low, high = (numbers.number(one, 2) for one in (figure.value, figure.low, figure.high))
    return f"{value}{NB}{figure.unit}{NB}({numbers.joined(low, high)})"
