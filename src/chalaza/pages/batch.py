"""The page of one batch: the term as a strip, the four answers in the order of urgency, what to measure next."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from chalaza import facts
from chalaza.charts import term as strip
from chalaza.charts.table import Table
from chalaza.errors import BalanceError, ChalazaError
from chalaza.pages import links
from chalaza.pages.answered import Shown, shown
from chalaza.pages.keeper import Asked
from chalaza.pages.links import Link
from chalaza.records import answers
from chalaza.records import models as m
from chalaza.records.answers import Answered
from chalaza.records.codec import built
from chalaza.records.daybook import Daybook, daybook
from chalaza.values.answers import Assessment, Offer
from chalaza.values.estimate import Estimate
from chalaza.words import glance, measures, numbers
from chalaza.words.cautions import ALWAYS, caution, cautions
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

#: Widths of the strip of the term: of a phone, of a desk. [px]
NARROW, WIDE = strip.WIDTHS


@dataclass(frozen=True, slots=True, kw_only=True)
class TermShown:
    """The strip of the term, twice: for a phone and for a desk; its marks explained, and the same as a table."""

    narrow: SafeString
    wide: SafeString
    caption: tuple[str, ...]
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """A check that can be done now."""

    do: str
    how: str
    time: str
    minutes: str
    narrows: tuple[str, ...]
    cautions: tuple[str, ...]
    form: Link | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The page of a batch. `problem`: why it cannot be assessed; then there are no answers."""

    uid: str
    name: str
    where: str
    when: str
    as_of: str
    finished: str
    problem: str
    lead: tuple[str, ...]
    carried: bool
    term: TermShown | None
    answers: tuple[Shown, ...]
    offers: tuple[Offered, ...]
    forms: tuple[Link, ...]
    remedies: tuple[Link, ...]
    finish: str
    more: tuple[Link, ...]
    caution: str


def batch_or_404(uid: str) -> "m.Batch":
    """The batch of that name. Raises `Http404` for no such batch."""
    found = None if "\x00" in uid else m.Batch.objects.filter(uid=uid).first()
    if found is None:
        raise Http404(f"no batch {uid!r}")
    return found


def voice_of(request: Asked, one: "m.Batch") -> Voice:
    """The keeper's voice for a batch: in its zone, counting from its setting."""
    return request.voice.of(one.zone, one.set_at)


def refused(voice: Voice, wrong: ChalazaError) -> str:
    """The text of an error in the reader's language; it has no holes, whatever a keeper typed into it."""
    return voice.say(str(wrong).replace("{", "{{").replace("}", "}}"))


@require_safe
def batch(request: Asked, uid: str) -> HttpResponse:
    """The page of a batch."""
    one = batch_or_404(uid)
    voice = voice_of(request, one)
    context = {"page": page_of(voice, one, request.now), "voice": voice, "place": "batches"}
    return render(request, "batch.html", context)


def page_of(voice: Voice, one: "m.Batch", now: int) -> Page:
    """What the page shows at `now`."""
    book = daybook(one)
    try:
        found: Answered | None = answers.of(one.uid, now)
        problem = ""
    except BalanceError:
        raise  # our fault, to be seen as one
    except ChalazaError as wrong:
        found, problem = None, refused(voice, wrong)
    a = None if found is None else found.assessment
    told = () if a is None else shown(voice, a)
    if one.finished_at is not None:  # nothing is left to do about it
        told = tuple(replace(each, advice=()) for each in told)
    return Page(
        uid=one.uid, name=one.name or one.uid, where=_where(voice, one, book, a, now), when=_when(voice, one, a, now),
        as_of="" if a is None else numbers.moment(voice, a.as_of),
        finished="" if one.finished_at is None else numbers.moment(voice, one.finished_at),
        problem=problem, lead=_lead(told), carried=bool(one.carried), term=None if a is None else _term(voice, a, book),
        answers=told, offers=() if a is None or one.finished_at is not None else _offers(voice, a),
        forms=_forms(voice, one), remedies=_remedies(voice, one) if problem else (),
        finish=links.batch(one.uid, "finish/"), more=_more(voice, one), caution=caution(voice, ALWAYS),
    )  # fmt: skip


_LEFT = Plural(
    mark("{kind}: {left} of {set} egg, in {machine}."), mark("{kind}: {left} of {set} eggs, in {machine}."), "n"
)
_SET = Plural(mark("{kind}: {set} egg set."), mark("{kind}: {set} eggs set."), "n")


def _where(voice: Voice, one: "m.Batch", book: Daybook, a: Assessment | None, now: int) -> str:
    """What eggs, how many are left, and in which machine."""
    total = sum(egg.count for egg in book.eggs)
    holes = {"set": str(total), "kind": kind_of(voice, one.kind), "machine": book.machine_at(now)}
    if a is None or one.finished_at is not None or not holes["machine"]:
        return voice.say(_SET, holes, total)
    left = sum(egg.count for egg in a.count.eggs)
    return voice.say(_LEFT, holes | {"left": str(left)}, total)


def kind_of(voice: Voice, key: str) -> str:
    """The name of a kind of bird, or what was written for it."""
    try:
        return voice.language.gettext(facts.kind(key).name)
    except ChalazaError:
        return key


def _when(voice: Voice, one: "m.Batch", a: Assessment | None, now: int) -> str:
    """When it was set, which day it is, and how days are counted."""
    holes = {"set": numbers.moment(voice, one.set_at), "now": numbers.moment(voice, now)}
    if a is None:
        return voice.say(mark("Set {set}."), holes)
    if one.finished_at is not None:
        end = {"end": numbers.moment(voice, one.finished_at)}
        return voice.say(mark("Set {set}, over since {end}."), holes | end)
    day = glance.day_of(voice, one.set_at, now, a.clock.term_d)
    if now < one.set_at:
        return voice.say(
            mark("To be set {set}. Now {now}: {day}. The figures are those of the setting."), holes | {"day": day}
        )
    return voice.say(mark("Set {set}. Now {now}: {day}. The first 24 hours are day 0."), holes | {"day": day})


def _lead(told: Sequence[Shown]) -> tuple[str, ...]:
    """What is most urgent: the finding, and what to do."""
    top = next((one.advice[0] for one in told if one.advice), None)
    return () if top is None else (top.what, top.do)


def _term(voice: Voice, a: Assessment, book: Daybook) -> TermShown:
    rows = strip.Parts(
        candlings=book.candlings, weighings=book.weighings, events=book.events, stays=book.stays, hatches=book.hatches
    )
    earlier = forecasts(a.batch, a.as_of)
    narrow, wide = (
        strip.term(a, rows, earlier, width=width, zone=voice.zone, say=voice.language.gettext)
        for width in (NARROW, WIDE)
    )
    table: Table = wide.table
    return TermShown(
        narrow=mark_safe(narrow.svg()), wide=mark_safe(wide.svg()), caption=wide.caption, head=table.head(), rows=table.text()
    )  # fmt: skip


def forecasts(uid: str, before: int) -> Sequence[strip.Forecasted]:
    """What was forecast of the hatch on earlier days, as it was told then."""
    kept = m.Forecast.objects.filter(batch=uid, as_of__lt=before).order_by("as_of", "id")
    return [
        strip.Forecasted(row.as_of, built(Estimate, row.figures["half_hatched"]))
        for row in kept
        if "half_hatched" in row.figures
    ]


def _offers(voice: Voice, a: Assessment) -> tuple[Offered, ...]:
    return tuple(_offer(voice, a, one) for one in a.measure_next)


def _offer(voice: Voice, a: Assessment, one: Offer) -> Offered:
    said = measures.say(voice, one)
    return Offered(
        do=said.do, how=said.how, time=said.time, minutes=numbers.quantity(voice, max(1, round(one.minutes)), "minutes"),
        narrows=said.narrows, cautions=cautions(voice, said.cautions),
        form=links.form(voice, a.batch, links.OFFERS[one.code], a.warmth.probe),
    )  # fmt: skip


def _forms(voice: Voice, one: "m.Batch") -> tuple[Link, ...]:
    found = (links.form(voice, one.uid, name) for name in links.FORMS)
    return (*(link for link in found if link is not None), Link("/logs/", voice.say(mark("Send a log"))))


def _remedies(voice: Voice, one: "m.Batch") -> tuple[Link, ...]:
    """Where what is missing can be added."""
    return (
        Link(links.batch(one.uid, "eggs/"), voice.say(mark("Its eggs"))),
        Link(links.batch(one.uid, "edit/"), voice.say(mark("Its plan, lots and machine"))),
        Link("/machines/", voice.say(mark("Machines and probes"))),
    )


def _more(voice: Voice, one: "m.Batch") -> tuple[Link, ...]:
    """What else there is of this batch."""
    listed = [
        ("air-cells/", mark("The air cell of each egg")),
        ("edit/", mark("Its plan, lots and machine")),
        ("eggs/", mark("Its eggs")),
        ("folder.zip", mark("All of it as an open folder")),
    ]
    if one.finished_at is None:
        listed += [("move/", mark("Move it to another machine")), ("finish/", mark("The batch is over"))]
    history = Link(links.history(one.uid), voice.say(mark("What was done")))
    return (*(Link(links.batch(one.uid, part), voice.say(text)) for part, text in listed), history)
