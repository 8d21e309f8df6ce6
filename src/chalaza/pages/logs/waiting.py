"""A file that waits: what it is asked, each way to read it, which probe is which; read, or left out."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_http_methods

from chalaza.errors import NotebookError
from chalaza.intake.preview import FOLLOWS
from chalaza.pages.keeper import Asked
from chalaza.pages.logs import drawn, ours, report, seen
from chalaza.pages.logs.drawn import AskShown
from chalaza.pages.logs.report import ReportShown
from chalaza.pages.logs.seen import LEFT_OUT, OTHER, Seen
from chalaza.pages.see import see, sent_uid
from chalaza.pages.work import address
from chalaza.records import logs, work
from chalaza.records import models as m
from chalaza.records.fields import new_uid
from chalaza.words.language import Plural, mark

_ONE, _NONE = mark("One question about this file"), mark("A file to read in")
_MANY = Plural(_ONE, mark("{n} questions about this file"), by="n")
_REFUSED = mark("This file cannot be read as it is")
_LATE = mark("As it is answered, {n} of its readings lie after this moment.")


@dataclass(frozen=True, slots=True)
class Option:
    """One of our probes, as a choice."""

    uid: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeShown:
    """A probe of the file, and which of ours it may be."""

    at: int
    name: str
    options: tuple[Option, ...]
    wrong: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What is shown of a file that waits. `known`: the source it counts as already; `failed`: why reading it failed."""

    uid: str
    href: str
    name: str
    title: str
    leads: tuple[str, ...]
    refused: str
    failed: str
    known: str
    known_href: str
    kept_from: str
    asks: tuple[AskShown, ...]
    taken: tuple[AskShown, ...]
    clock: AskShown | None
    other: str
    other_chosen: bool
    probes: tuple[ProbeShown, ...]
    probes_wrong: str
    any_ours: bool
    remember: bool
    report: ReportShown | None
    whole: bool
    wrong: bool


@require_http_methods(["GET", "HEAD", "POST"])
def waiting(request: Asked, uid: str) -> HttpResponse:
    """A file that waits; read with `read`, left out with `leave`."""
    upload = get_object_or_404(m.Upload, uid=uid)
    if request.method == "POST" and "leave" in request.POST:
        return _left_out(request, upload)
    running = m.Work.objects.filter(uid=upload.work, state__in=work.OPEN).first() if upload.work else None
    if running is not None:
        return see(address(running.uid))
    if request.method != "POST":
        return _shown(request, upload, seen.seen(request.keeper, upload, request.now, None, check=False))
    found = seen.seen(request.keeper, upload, request.now, seen.sent(request.POST), check=True)
    if found.refused or found.problems or "read" not in request.POST:
        return _shown(request, upload, found, status=422 if found.problems or found.refused else 200)
    said = logs.Answers(
        answers={**FOLLOWS, **_asked_for(found)}, zone=found.zone if found.clock is not None else "", remember=found.said.remember,
        probes={name: "" if chosen == LEFT_OUT else chosen for name, chosen in found.said.probes.items()},
    )  # fmt: skip
    made = logs.begin(request.keeper, upload, said, sent_uid(request) or new_uid())
    return see(address(made.uid))


def _asked_for(found: Seen) -> dict[str, str]:
    """The answers to questions that were put; others were sent by nobody's form."""
    return {ask.code: found.said.answers[ask.code] for ask in found.asks if ask.code in found.said.answers}


def _left_out(request: Asked, upload: "m.Upload") -> HttpResponse:
    if upload.work and m.Work.objects.filter(uid=upload.work).exists():
        work.cancel(upload.work)
    return see("/logs/", logs.leave_out(request.keeper, upload, sent_uid(request)))


def _shown(request: Asked, upload: "m.Upload", found: Seen, status: int = 200) -> HttpResponse:
    page = _page(request, upload, found)
    return render(request, "logs/waiting.html", {"page": page, "place": "write"}, status=status)


def _page(request: Asked, upload: "m.Upload", found: Seen) -> Page:
    voice = request.voice
    asks, taken, clock = _questions(request, found)
    known = logs.in_force(upload.sha256)
    return Page(
        uid=new_uid(), href=f"/logs/waiting/{upload.uid}/", name=upload.name, title=_title(request, found, asks, clock),
        leads=tuple(one.lead for one in (*asks, *([clock] if clock is not None else []))), refused=_refused(request, found),
        failed=_failed(request, upload), known=known.name if known is not None else "",
        known_href=f"/logs/{known.uid}/" if known is not None else "", kept_from=found.recipe, asks=asks, taken=taken,
        clock=clock, other=found.said.other, other_chosen=found.said.zone == OTHER, probes=_probes(request, found),
        probes_wrong=_said(request, found.problems.get("probes", "")), any_ours=m.Probe.objects.exists(),
        remember=found.said.remember, whole=found.whole, wrong=bool(found.problems),
        report=report.shown(voice, found.preview.reading.report.to_json()) if found.preview is not None else None,
    )  # fmt: skip


def _refused(request: Asked, found: Seen) -> str:
    """Why the file cannot be read."""
    if isinstance(found.refused, NotebookError):
        return request.voice.say(found.refused.text, found.refused.holes)
    return "" if found.refused is None else str(found.refused)


def _said(request: Asked, text: str) -> str:
    return request.voice.say(text) if text else ""


def _questions(request: Asked, found: Seen) -> tuple[tuple[AskShown, ...], tuple[AskShown, ...], AskShown | None]:
    """Questions to answer, those that were taken one way, and that of the clock."""
    voice = request.voice
    if found.preview is None:
        return (), (), None
    names = {one.number: one.name for one in found.preview.reading.report.columns}
    batches = ours.batches(request.now)
    shown = [
        drawn.asked(
            voice,
            ask,
            request.now,
            batches,
            names,
            _said(request, found.problems.get(ask.code, "")),
            found.said.answers.get(ask.code, ""),
        )
        for ask in found.asks
    ]
    clock = None
    if found.clock is not None:
        places = {way.key: ours.places_of(way.key) for way in found.clock.ways}
        clock = drawn.clock(voice, found.clock, request.now, places, _said(request, found.problems.get("zone", "")))
    return tuple(one for one in shown if one.blocking), tuple(one for one in shown if not one.blocking), clock


def _title(request: Asked, found: Seen, asks: tuple[AskShown, ...], clock: AskShown | None) -> str:
    if found.refused:
        return request.voice.say(_REFUSED)
    n = len(asks) + (clock is not None)
    if not n or found.recipe:
        return request.voice.say(_NONE)
    return request.voice.say(_MANY, {"n": str(n)}, n=n)


def _failed(request: Asked, upload: "m.Upload") -> str:
    """Why reading the file failed the last time."""
    last = m.Work.objects.filter(uid=upload.work).first() if upload.work else None
    if last is None or last.state not in (work.State.FAILED, work.State.CANCELLED):
        return ""
    holes: dict[str, Any] = (last.result or {}).get("holes", {})
    return request.voice.say(last.message, {name: str(value) for name, value in holes.items()})


def _probes(request: Asked, found: Seen) -> tuple[ProbeShown, ...]:
    there = ours.probes(request.voice, request.now)
    return tuple(
        ProbeShown(
            at=at, name=name, wrong=_said(request, found.problems.get(f"probe {name}", "")),
            options=(
                *(Option(one.uid, one.label, found.said.probes.get(name) == one.uid) for one in there),
                Option(LEFT_OUT, request.voice.say(mark("Leave it out")), found.said.probes.get(name) == LEFT_OUT),
            ),
        )
        for at, name in enumerate(found.names)
    )  # fmt: skip
