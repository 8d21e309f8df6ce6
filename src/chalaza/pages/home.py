"""The page of the day: what to do today and tomorrow for all running batches, and all of them on one calendar.

It shows the newest answers kept, with their hour, and computes none. What is stale or missing fetches itself: one small
request a batch, the last of which puts the whole page in place. Without script a link brings it up to date.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from chalaza import facts
from chalaza.charts import calendar
from chalaza.charts.happenings import turning_stopped
from chalaza.decide import today as deciding
from chalaza.decide.job import Job, When
from chalaza.errors import BalanceError, ChalazaError
from chalaza.facts import days
from chalaza.pages import links
from chalaza.pages.answered import Advised, Mini, advised, minis
from chalaza.pages.batch import batch_or_404, refused
from chalaza.pages.keeper import Asked
from chalaza.pages.links import Link
from chalaza.records import answers
from chalaza.records import models as m
from chalaza.records.answers import Answered
from chalaza.records.daybook import Daybook, daybooks
from chalaza.records.fields import new_uid
from chalaza.values.answers import Assessment
from chalaza.words import glance, numbers
from chalaza.words import today as words
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

#: Widths of the strips of the calendar: of a phone, of a desk. [px]
NARROW, WIDE = 350, 920
_HEADING = Plural(mark("One batch on the calendar"), mark("{n} batches on one calendar"), by="n")
_USUAL = mark(
    "Without one you have what is usual: hens' eggs hatch after {term} days, and of their weight {loss} is to be lost by "
    "day {day}. Each kind has figures of its own, with their sources."
)
_STALE = Plural(
    mark("{n} batch is being brought up to date."), mark("{n} batches are being brought up to date."), by="n"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobShown:
    """One line of the day. `uid`: of the tick that would be made; `ticked`: it was ticked, not shown done by a record."""

    key: str
    uid: str
    batch: str
    href: str
    hour: str
    work: str
    said: Advised
    form: Link | None
    leaves: bool
    now: bool
    ticked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchShown:
    """One batch on the calendar. `problem`: why it cannot be assessed; `as_of`: the hour of what is shown."""

    uid: str
    name: str
    href: str
    day: str
    as_of: str
    problem: str
    narrow: SafeString
    wide: SafeString
    minis: tuple[Mini, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """Jobs under one heading."""

    name: str
    heading: str
    jobs: tuple[JobShown, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The page of the day. `fresh`: the address that brings the first stale batch up to date, `stale`: how that is said.

    `empty`: what one has without any batch, where there is none yet.
    """

    title: str
    sentences: tuple[str, ...]
    sections: tuple[Section, ...]
    done: tuple[JobShown, ...]
    heading: str
    batches: tuple[BatchShown, ...]
    fresh: str
    stale: str
    empty: str
    finished: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """One running batch as it is known now."""

    batch: "m.Batch"
    book: Daybook
    voice: Voice
    found: Answered | None
    holds: bool
    problem: str = ""

    @property
    def a(self) -> Assessment | None:
        return None if self.found is None else self.found.assessment


@require_safe
def home(request: Asked) -> HttpResponse:
    """The page of the day; `?fresh` brings all of it up to date first, for browsers without script."""
    page = page_of(request, _seen(request, compute="fresh" in request.GET))
    return _render(request, page)


@require_safe
def line(request: Asked, uid: str) -> HttpResponse:
    """Bring one batch up to date: the address of the next stale one, or after the last the whole page of the day."""
    one = batch_or_404(uid)
    if not request.htmx:
        return redirect("/?fresh=1")
    _answer(request, one)
    rest = [each for each in _stale(_seen(request)) if each.batch.pk > one.pk]
    if rest:
        return render(request, "parts/fresh.html", {"page": _waiting(request.voice, rest)})
    response = _render(request, page_of(request, _seen(request, compute=True)))
    response["HX-Retarget"], response["HX-Reswap"] = "#today", "outerHTML"
    return response


def _render(request: Asked, page: Page) -> HttpResponse:
    template = "parts/today.html" if request.htmx else "home.html"
    response = render(request, template, {"page": page, "place": "today", "part": bool(request.htmx)})
    response["Vary"] = "HX-Request"
    return response


# What is known -----------------------------------------------------------------------------------------------------


def _seen(request: Asked, *, compute: bool = False) -> list[Seen]:
    """The running batches with the newest answers kept; with those of this moment where it is asked to `compute`."""
    running = list(m.Batch.objects.filter(finished_at=None).order_by("id"))
    if not running:
        return []
    kept, books = answers.newest_of(one.uid for one in running), daybooks(running)
    holding = answers.holding(kept, running, request.now)
    out = []
    for one in running:
        found, problem, holds = kept.get(one.uid), "", one.uid in holding
        if compute and not holds:
            fresh, problem = _answer(request, one)
            found, holds = fresh or found, True
        voice = request.voice.of(one.zone, one.set_at)
        out.append(Seen(batch=one, book=books[one.uid], voice=voice, found=found, holds=holds, problem=problem))
    return out


def seen_of(request: Asked, one: "m.Batch") -> Seen:
    """One batch with its answer of this moment, if it can be assessed."""
    found, problem = _answer(request, one)
    voice = request.voice.of(one.zone, one.set_at)
    book = daybooks([one])[one.uid]
    return Seen(batch=one, book=book, voice=voice, found=found, holds=True, problem=problem)


def _answer(request: Asked, one: "m.Batch") -> tuple[Answered | None, str]:
    """The answer of this moment, or why there is none."""
    try:
        return answers.of(one.uid, request.now), ""
    except BalanceError:
        raise
    except ChalazaError as wrong:
        return None, refused(request.voice, wrong)


def _stale(seen: Sequence[Seen]) -> list[Seen]:
    return [one for one in seen if not one.holds]


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """The address that brings the next batch up to date, and how many wait."""

    fresh: str
    stale: str


def _waiting(voice: Voice, stale: Sequence[Seen]) -> Waiting:
    if not stale:
        return Waiting(fresh="", stale="")
    said = voice.say(_STALE, {"n": str(len(stale))}, len(stale))
    return Waiting(fresh=links.batch(stale[0].batch.uid, "line/"), stale=said)


def jobs_of(one: Seen, ticks: Mapping[str, int], now: int, zone: str) -> tuple[Job, ...]:
    """The jobs of a batch, by its newest answer."""
    a, book = one.a, one.book
    if a is None:
        return ()
    return deciding.today(
        a, bird=facts.kind(one.batch.kind), batch=book.batch, eggs=book.eggs, weighings=book.weighings,
        air_cells=book.air_cells, candlings=book.candlings, hatches=book.hatches, breakouts=book.breakouts,
        stays=book.stays, events=book.events, done=ticks, now=now, zone=zone,
    )  # fmt: skip


def ticks_since(at: int) -> dict[str, int]:
    """What was ticked since a moment: key of the job -> when."""
    return dict(m.Done.objects.filter(at__gte=at).values_list("key", "at"))


# The page ----------------------------------------------------------------------------------------------------------


def page_of(request: Asked, seen: Sequence[Seen]) -> Page:
    """What the page shows."""
    voice, now = request.voice, request.now
    ticks = ticks_since(min(one.batch.set_at for one in seen)) if seen else {}
    jobs = deciding.merge(jobs_of(one, ticks, now, voice.zone) for one in seen)
    by_batch = {one.batch.uid: one for one in seen}
    own = {uid: (one.batch.name, one.voice) for uid, one in by_batch.items()}
    head = words.headline(voice, jobs, now, own)
    open_jobs = [one for one in jobs if not one.done]
    waiting = _waiting(voice, _stale(seen))
    none = not seen and not m.Batch.objects.exists()
    return Page(
        title=head.title, sentences=head.sentences if seen else (),
        sections=tuple(_sections(voice, open_jobs, by_batch, ticks, now)),
        done=tuple(_job(voice, one, by_batch[one.batch], ticks, now) for one in jobs if one.done),
        heading=voice.say(_HEADING, {"n": str(len(seen))}, len(seen)), batches=_batches(voice, seen, now),
        fresh=waiting.fresh, stale=waiting.stale, empty=_usual(voice) if none else "", finished=not seen and not none,
    )  # fmt: skip


def _usual(voice: Voice) -> str:
    """What is usual of the commonest kind: the figures one has without a batch."""
    hen = facts.kind("chicken")
    holes = {
        "term": numbers.number(hen.term_d.typical, 0),
        "loss": numbers.band(voice, hen.loss_target.low, hen.loss_target.high, "loss"),
        "day": numbers.number(hen.loss_target.day_d, 0),
    }
    return voice.say(_USUAL, holes)


def _sections(
    voice: Voice, jobs: Sequence[Job], seen: Mapping[str, Seen], ticks: Mapping[str, int], now: int
) -> list[Section]:
    """Today (with what is for now) and tomorrow."""
    parts = (("today", When.TODAY, (When.NOW, When.TODAY)), ("tomorrow", When.TOMORROW, (When.TOMORROW,)))
    out = []
    for name, when, which in parts:
        listed = tuple(_job(voice, one, seen[one.batch], ticks, now) for one in jobs if one.when in which)
        if listed:
            out.append(Section(name=name, heading=words.heading(voice, when, now), jobs=listed))
    return out


def _job(voice: Voice, one: Job, of: Seen, ticks: Mapping[str, int], now: int) -> JobShown:
    a = of.a
    return JobShown(
        key=one.key, uid=new_uid(), batch=of.batch.name or of.batch.uid, href=links.batch(of.batch.uid),
        hour=words.hour(voice, one, now).replace(numbers.NB, " "), work=words.work(voice, one),
        said=advised(of.voice, of.batch.uid, one.advice, words.say(of.voice, one)),
        form=links.form(voice, of.batch.uid, _form(one), None if a is None else a.warmth.probe), leaves=one.leaves,
        now=one.when is When.NOW, ticked=one.key in ticks,
    )  # fmt: skip


def _form(one: Job) -> str:
    """The entry that serves a job; turning has one of its own."""
    return "turn" if one.what == "turn" else one.form


def _batches(voice: Voice, seen: Sequence[Seen], now: int) -> tuple[BatchShown, ...]:
    """Every running batch in the order of setting, those that have an answer with their strip."""
    ordered = sorted(seen, key=lambda one: (one.batch.set_at, one.batch.pk))
    strips = [
        calendar.strip(one.a, stopped=turning_stopped(one.a, one.book.events)) for one in ordered if one.a is not None
    ]
    drawn = {
        width: iter(calendar.calendar(strips, now, width, zone=voice.zone, say=voice.language.gettext))
        for width in (NARROW, WIDE)
    }
    return tuple(_batch(one, {w: next(svgs) for w, svgs in drawn.items()} if one.a else {}, now) for one in ordered)


def _batch(one: Seen, svgs: Mapping[int, str], now: int) -> BatchShown:
    a, voice = one.a, one.voice
    return BatchShown(
        uid=one.batch.uid, name=one.batch.name or one.batch.uid, href=links.batch(one.batch.uid),
        day="" if a is None else glance.day_of(voice, a.set_at, now, a.clock.term_d),
        as_of="" if a is None else _hour(voice, a.as_of, now), problem=one.problem,
        narrow=mark_safe(svgs.get(NARROW, "")), wide=mark_safe(svgs.get(WIDE, "")),
        minis=() if a is None else minis(voice, a),
    )  # fmt: skip


def _hour(voice: Voice, at: int, now: int) -> str:
    """The hour of what is shown; with its day where that is not today."""
    same = days.day(voice.zone, at) == days.day(voice.zone, now)
    return numbers.clock(voice, at) if same else numbers.moment(voice, at)
