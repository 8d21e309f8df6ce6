"""The four answers as pages show them: figure in parts, its reach against what was wanted, advice, where it comes from."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from django.utils.safestring import SafeString, mark_safe

from chalaza import charts
from chalaza.charts import reach as drawings
from chalaza.pages import links
from chalaza.values.advice import Advice, Level
from chalaza.values.answers import Assessment
from chalaza.words import advice as advice_words
from chalaza.words import basis as basis_words
from chalaza.words import figure_names, glance
from chalaza.words.answers import Answered, answered
from chalaza.words.basis import Explained
from chalaza.words.cautions import cautions
from chalaza.words.events import QUESTIONS
from chalaza.words.glance import Glance
from chalaza.words.numbers import NB, Voice

#: How a level is named in the style sheets.
CSS: Mapping[Level, str] = MappingProxyType(
    {Level.GOOD: "good", Level.WATCH: "watch", Level.ACT: "act", Level.NOW: "urgent"}
)
#: The drawings of each answer, in order.
DRAWINGS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"warmth": ("warmth",), "water": ("water",), "clock": ("clock",), "count": ("eggs", "count")}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mini:
    """An answer in one cell: its figure with its range, a small reach, a few words, where the figure comes from."""

    question: str
    word: str
    value: str
    range: str
    reach: SafeString
    note: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Advised:
    """Advice as a page shows it."""

    level: int
    css: str
    word: str
    what: str
    do: str
    because: str
    cautions: tuple[str, ...]
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One more figure of an answer; `why` is empty for what is counted and not estimated."""

    label: str
    figure: str
    wanted: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A drawing that is fetched once the page is there."""

    name: str
    href: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """One answer as the page of the batch shows it."""

    question: str
    word: str
    asked: str
    sentence: str
    level: int
    css: str
    main: Glance
    reach: SafeString
    why: str
    advice: tuple[Advised, ...]
    lines: tuple[Line, ...]
    basis: Explained
    drawings: tuple[Drawn, ...]


def minis(voice: Voice, a: Assessment) -> tuple[Mini, ...]:
    """The four answers of a batch for the page of the day; `voice` is that of the batch."""
    told = answered(voice, a)
    paths = figure_names.paths(a)
    return tuple(_mini(voice, a, one, paths) for one in glance.glances(voice, a, told))


def _mini(voice: Voice, a: Assessment, one: Glance, paths: Mapping[int, str]) -> Mini:
    unit = f"{NB}{one.parts.unit}" if one.parts.unit else ""
    return Mini(
        question=one.question, word=one.word, value=_breakable(one, f"{one.parts.value}{unit}"), range=one.parts.range,
        reach=reach(voice, one, mini=True), note=one.note, why=links.why(a.batch, paths[id(one.figure)]),
    )  # fmt: skip


def _breakable(one: Glance, text: str) -> str:
    """A moment may be broken after its day where a cell is narrow; a figure is not parted from its unit."""
    return text.replace(f",{NB}", ", ") if one.question == "clock" else text


def reach(voice: Voice, one: Glance, *, mini: bool = False) -> SafeString:
    """The reach of a figure; nothing where nothing is wanted of it."""
    if one.band is None:
        return SafeString("")
    labels = drawings.Labels(
        low=one.parts.low or one.parts.value, high=one.parts.high or one.parts.value, band_low=one.band_low,
        band_high=one.band_high, word=one.band_word, value=one.parts.value,
    )  # fmt: skip
    say: charts.Say = voice.language.gettext
    return mark_safe(drawings.reach(one.figure, one.band, labels=labels, mini=mini, at_least=one.least, say=say))


def advised(voice: Voice, batch: str, one: Advice, said: advice_words.Said) -> Advised:
    """Advice in words, with its cautions; `said` are its sentences."""
    return Advised(
        level=int(one.level), css=CSS[one.level], word=voice.say(glance.LEVELS[one.level]), what=said.what, do=said.do,
        because=said.because, cautions=cautions(voice, said.cautions), why=links.why_said(batch, one.code),
    )  # fmt: skip


def shown(voice: Voice, a: Assessment) -> tuple[Shown, ...]:
    """The four answers, the most urgent first; `voice` is that of the batch."""
    told = answered(voice, a)
    paths = figure_names.paths(a)
    found = [_shown(voice, a, *pair, paths) for pair in zip(told, glance.glances(voice, a, told), strict=True)]
    return tuple(sorted(found, key=lambda one: -one.level))


def _shown(voice: Voice, a: Assessment, told: Answered, main: Glance, paths: Mapping[int, str]) -> Shown:
    question = told.question
    level = glance.urgency(a.advice, question)
    advice = [one for one in a.advice if one.code.startswith(f"{question}.")]
    lines = [
        Line(
            label=one.label, figure=one.figure, wanted=one.wanted,
            why=links.why(a.batch, paths[id(one.of)]) if one.of is not None else "",
        )
        for one in told.lines
        if one.of is not main.figure
    ]  # fmt: skip
    return Shown(
        question=question, word=voice.say(QUESTIONS[question]), asked=told.asked, sentence=told.sentence, level=int(level),
        css=CSS[level], main=main, reach=reach(voice, main), why=links.why(a.batch, paths[id(main.figure)]),
        advice=tuple(advised(voice, a.batch, one, advice_words.say(voice, one)) for one in advice), lines=tuple(lines),
        basis=basis_words.explain(voice, main.figure.basis),
        drawings=tuple(Drawn(name=one, href=links.batch(a.batch, f"chart/{one}/")) for one in DRAWINGS[question]),
    )  # fmt: skip
