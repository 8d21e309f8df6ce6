"""Every part that pages are made of, on one page: the same parts, tags and drawings, with invented content."""

from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from chalaza import charts, facts
from chalaza import quantities as q
from chalaza.assess import prior_beliefs, read, understand
from chalaza.charts import calendar, happenings, lamp, tokens
from chalaza.charts import reach as reaching
from chalaza.charts import term as strip
from chalaza.inference.understanding import Understanding
from chalaza.pages.answered import Advised, Shown, minis, shown
from chalaza.pages.batch import NARROW, WIDE, Offered, TermShown
from chalaza.pages.chart import Page as ChartPage
from chalaza.pages.chart import Window
from chalaza.pages.forms import Choice, Form, Measure, Moment, Pick, Words
from chalaza.pages.home import BatchShown, JobShown
from chalaza.pages.keeper import Asked
from chalaza.pages.links import Link
from chalaza.pages.undo import Bar
from chalaza.scenario import demo
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Band, Basis, Estimate
from chalaza.values.evidence import Airflow, Evidence
from chalaza.words import begin, glance
from chalaza.words.cautions import cautions
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

HERE = "/patterns/"
#: A Friday evening in April; the scenario is invented. [seconds UTC]
NOW = 1_776_444_000
_BASIS = Basis(method="water")


@dataclass(frozen=True, slots=True, kw_only=True)
class Colour:
    """A colour by its name: on light, in the dark, on paper, what it is for, and its contrast on light and in the dark."""

    name: str
    light: str
    dark: str
    paper: str
    use: str
    contrast: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """A drawing with what it shows."""

    says: str
    drawing: SafeString


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A batch in a list."""

    href: str
    name: str
    kind: str
    set: str
    stands: str
    young: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Day:
    """The part of a page of the day that waits for fresh answers."""

    fresh: str
    stale: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """All that is shown."""

    colours: tuple[Colour, ...]
    advice: tuple[Advised, ...]
    reaches: tuple[Case, ...]
    minis: tuple[Case, ...]
    answer: Shown
    term: TermShown
    batch: BatchShown
    rows: tuple[Row, ...]
    jobs: tuple[JobShown, ...]
    done: JobShown
    offers: tuple[Offered, ...]
    chart: ChartPage
    marks: tuple[Case, ...]
    expected: SafeString
    air_cell: SafeString
    cautions: tuple[str, ...]
    undone: Bar
    form: "Lines"
    taken: begin.Taken


class Lines(Form):
    """One field of each sort; what is wrong and what is asked is meant to be so."""

    tray = Measure(q.LOAD_G, label=mark("Weight of the tray with eggs"), help_text=mark("The empty tray is taken off."))
    rh = Measure(q.RH, label=mark("Humidity read"))
    kind = Pick(label=mark("Kind of bird"), choices=[("chicken", mark("Chicken")), ("duck", mark("Duck"))])
    at = Moment(label=mark("When"))
    log = forms.FileField(label=mark("File of a logger"), required=False)
    note = Words(label=mark("Note"), lines=3, required=False)
    remember = forms.BooleanField(label=mark("Remember this for the next time"), required=False)
    order = Pick(
        label=mark("Which way round is the date?"),
        choices=[("d", mark("01/04 is 1 April")), ("m", mark("01/04 is 4 January"))],
        widget=forms.RadioSelect,
    )
    mass = Measure(q.MASS_G, label=mark("Egg C2"))

    def clean(self) -> None:
        """Ask about the mass, as a session would."""
        choices = (Choice("53.1", "53.1", likely=True), Choice("", mark("Weigh again")))
        self.ask("mass", mark("35.1 g would be 42 % lost. Which is it?"), *choices, keep=True)


@require_safe
def patterns(request: Asked) -> HttpResponse:
    """The page of all parts."""
    return render(request, "patterns.html", {"page": page_of(request.voice)})


def page_of(voice: Voice) -> Page:
    """All parts, in a voice."""
    evidence = demo.batches(NOW)["speckled-hens"]
    u = understand(prior_beliefs(evidence.batch.kind), evidence, NOW)
    a = read(u, evidence)
    own = voice.of(evidence.setting.place.zone, a.set_at)
    say: charts.Say = own.language.gettext
    jobs = _jobs(own)
    return Page(
        colours=_colours(own), advice=_advice(own), reaches=_reaches(own), minis=_minis(say), answer=_answer(own, a),
        term=_term(own, a, evidence), batch=_batch(own, a), rows=_rows(own), jobs=jobs[:4], done=jobs[4], offers=_offers(own),
        chart=_chart(own, u, a), marks=_marks(own),
        expected=mark_safe(lamp.expect(15 / 21, charts.air_cell_usual("chicken", 15.0), say=say)),
        air_cell=mark_safe(charts.air_cell(u, a, next(iter(u.rows.units)), say=say)),
        cautions=cautions(own, ("wash_hands", "mains_water")), undone=_bar(own), form=_form(own),
        taken=begin.plans(own, facts.kind("chicken"), Airflow.FAN)[0],
    )  # fmt: skip


# Colours -----------------------------------------------------------------------------------------------------------


def luminance(colour: str) -> float:
    """Relative luminance of a colour like "#15252D". [1] Source: WCAG 2.2, "relative luminance"."""
    parts = [int(colour[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    """How far two colours stand apart, 1 to 21. [1] Source: WCAG 2.2, "contrast ratio"."""
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


#: What each colour is for, and on which it stands.
_USES = (
    ("paper", mark("the page"), ""),
    ("ink", mark("words, figures, the past"), "paper"),
    ("soft", mark("units, ranges, reasons"), "paper"),
    ("line", mark("what is to come; edges of things to press"), "paper"),
    ("hair", mark("decoration alone"), ""),
    ("leaf", mark("where one writes or presses; ink stands on it"), "ink"),
    ("want", mark("the wanted band; its edges carry the meaning"), "ink"),
    ("yolk", mark("now: a fill with ink on it, never a text colour"), "on-yolk"),
    ("on-yolk", mark("the ink on the yolk"), "yolk"),
    ("lit", mark("inside an egg, where light comes through"), "shade"),
    ("shade", mark("inside an egg, where it does not"), "lit"),
)


def _colours(voice: Voice) -> tuple[Colour, ...]:
    out = []
    for name, use, on in _USES:
        ratios = [f"{contrast(each[name], each[on]):.1f}" for each in (tokens.LIGHT, tokens.DARK)] if on else []
        out.append(
            Colour(name=name, light=tokens.LIGHT[name], dark=tokens.DARK[name], paper=tokens.PRINT[name],
                   use=voice.say(use), contrast=" / ".join(ratios))
        )  # fmt: skip
    return tuple(out)


# How much it asks, and the figure against what is wanted ------------------------------------------------------------

#: Level, what to do, because.
_ADVICE = (
    (0, mark("Leave the dial alone."), mark("36.9 °C is right for eggs that went in cold at 09:30.")),
    (1, mark("Read the humidity again tomorrow at 08:00."), mark("The new trough takes a night to settle; expect 55–63 %.")),
    (2, mark("Fill trough B tonight; leave two vents open."),
     mark("The eggs have lost 12.0 % (11.3–12.7) and 9.6–11.3 was wanted.")),
    (3, mark("Switch off at the wall, then lift the lid."),
     mark("The air has been 41.3 °C (41.0–41.6) for 25 minutes. The eggs reach 40 °C in about 20 minutes.")),
)  # fmt: skip
_CSS = ("good", "watch", "act", "urgent")


def _advice(voice: Voice) -> tuple[Advised, ...]:
    return tuple(
        Advised(level=level, css=_CSS[level], word=voice.say(list(glance.LEVELS.values())[level]), what="",
                do=voice.say(do), because=voice.say(because), cautions=(), why=HERE)
        for level, do, because in _ADVICE
    )  # fmt: skip


def _jobs(voice: Voice) -> tuple[JobShown, ...]:
    """A line of the day for each level, and one that is done. Their keys belong to no batch: nothing can be ticked here."""
    hours = (mark("all night"), mark("08:00"), mark("by 21:00"), mark("now"))
    form = Link(HERE, voice.say(mark("Enter the check")))
    lines = [
        JobShown(
            key="", uid="", batch=voice.say(mark("Speckled hens")), href=HERE, hour=voice.say(hours[one.level]),
            work=voice.say(mark("15 min")) if one.level == 1 else "", said=one, form=form if one.level == 1 else None,
            leaves=one.level == 0, now=one.level == 3, ticked=False,
        )
        for one in reversed(_advice(voice))
    ]  # fmt: skip
    return (*lines, replace(lines[1], ticked=True))


#: What it shows; value, low, high; whether the band has no upper edge.
_REACHES = (
    (mark("Inside: all solid."), (12.2, 11.5, 12.8), False),
    (mark("Partly outside: hollow where it leaves the band."), (13.6, 12.9, 14.3), False),
    (mark("Outside."), (14.1, 13.6, 14.6), False),
    (mark("Too unsure to say: wider than the band."), (12.0, 10.0, 14.0), False),
    (mark("Beyond the scale: an arrow and the range."), (17.6, 17.1, 18.2), False),
    (mark("At least so many: the band runs off the edge."), (12.5, 10.4, 13.6), True),
)
_BAND = Band(low=11.0, typical=12.0, high=13.0, unit="%")


def _estimate(value: float, low: float, high: float) -> Estimate:
    return Estimate(value, low, high, "%", _BASIS)


def _reaches(voice: Voice) -> tuple[Case, ...]:
    say: charts.Say = voice.language.gettext
    return tuple(
        Case(
            says=voice.say(text),
            drawing=mark_safe(reaching.reach(_estimate(*figures), _BAND, at_least=least, say=say)),
        )
        for text, figures, least in _REACHES
    )


def _minis(say: charts.Say) -> tuple[Case, ...]:
    return tuple(
        Case(says="", drawing=mark_safe(reaching.reach(_estimate(*figures), _BAND, mini=True, at_least=least, say=say)))
        for _, figures, least in _REACHES
    )


# A batch -----------------------------------------------------------------------------------------------------------


def _answer(voice: Voice, a: Assessment) -> Shown:
    """One answer; nothing in it is fetched or leads away."""
    one = next(each for each in shown(voice, a) if each.question == "water")
    lines = tuple(replace(each, why="") for each in one.lines)
    return replace(one, question="pattern-answer", why=HERE, lines=lines, drawings=())


def _term(voice: Voice, a: Assessment, evidence: Evidence) -> TermShown:
    rows = happenings.parts(evidence)
    narrow, wide = (
        strip.term(a, rows, width=width, zone=voice.zone, say=voice.language.gettext) for width in (NARROW, WIDE)
    )
    return TermShown(
        narrow=mark_safe(narrow.svg()), wide=mark_safe(wide.svg()), caption=wide.caption, head=wide.table.head(),
        rows=wide.table.text(),
    )  # fmt: skip


def _batch(voice: Voice, a: Assessment) -> BatchShown:
    drawn = (
        calendar.calendar([calendar.strip(a)], NOW, width, zone=voice.zone, say=voice.language.gettext)[0]
        for width in (350, 920)
    )
    narrow, wide = map(mark_safe, drawn)
    return BatchShown(
        uid="pattern", name=voice.say(mark("Speckled hens")), href=HERE, day=glance.day_of(voice, a.set_at, NOW, a.clock.term_d),
        as_of="18:40", problem="", narrow=narrow, wide=wide,
        minis=tuple(replace(one, why=HERE) for one in minis(voice, a)),
    )  # fmt: skip


def _rows(voice: Voice) -> tuple[Row, ...]:
    say = voice.say
    return (
        Row(href=HERE, name=say(mark("Speckled hens")), kind=say(mark("Chicken")), set=say(mark("Wed 1 April, 18:00")),
            stands=say(mark("day 16 (of 21)")), young=""),
        Row(href=HERE, name=say(mark("March quail")), kind=say(mark("Quail")), set=say(mark("Tue 31 March, 18:00")),
            stands=say(mark("over since Fri 17 April, 17:10")), young=say(mark("24 young"))),
    )  # fmt: skip


def _offers(voice: Voice) -> tuple[Offered, ...]:
    say = voice.say
    first = Offered(
        do=say(mark("Check probe P1 in ice water.")), how=say(mark("Crushed ice with a little water, stirred: 0 °C.")),
        time=say(mark("10 minutes.")), minutes=say(mark("10 min")), cautions=(),
        narrows=(say(mark("It would narrow the hatch forecast from ± 13 h to ± 9 h.")),),
        form=Link(HERE, say(mark("Enter the check"))),
    )  # fmt: skip
    other = Offered(
        do=say(mark("Weigh the 24 eggs.")), how="", time="", minutes=say(mark("6 min")), cautions=(), form=None,
        narrows=(say(mark("The loss from ± 0.7 to ± 0.4 %.")),),
    )  # fmt: skip
    return (first, other)


def _chart(voice: Voice, u: Understanding, a: Assessment) -> ChartPage:
    drawn = charts.charts(u, a, width=350, zone=voice.zone, say=voice.language.gettext, only=("water",))["water"]
    windows = (
        Window(href=HERE, label=voice.say(mark("a week")), here=False),
        Window(href=HERE, label=voice.say(mark("all")), here=True),
    )
    return ChartPage(
        batch="", back=HERE, name="pattern", title=voice.say(mark("Water so far")), label=drawn.label,
        svg=mark_safe(drawn.svg()), windows=windows, head=drawn.table.head(), rows=drawn.table.text(),
    )  # fmt: skip


def _marks(voice: Voice) -> tuple[Case, ...]:
    said = lamp.words(voice.language.gettext)
    return tuple(Case(says=said[name], drawing=mark_safe(lamp.mark(name))) for name in lamp.MARKS)


# Writing and taking back ---------------------------------------------------------------------------------------------


def _bar(voice: Voice) -> Bar:
    return Bar(href=HERE, said=voice.say(mark("C1 is stored: 52.7 g.")), word=voice.say(mark("Undo")), back=HERE)


def _form(voice: Voice) -> Lines:
    typed: dict[str, Any] = {
        "tray": "1642.5", "rh": "595", "kind": "duck", "at": "2026-04-17T18:40", "note": "", "order": "d", "mass": "35.1",
    }  # fmt: skip
    form = Lines(typed, voice=voice)
    form.is_valid()
    return form
