"""All logs: those that wait, those that count, those that were withdrawn; and where a new one is sent."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import wraps

from django.core.files.uploadedfile import UploadedFile
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_http_methods

from chalaza.errors import NotebookError
from chalaza.pages.keeper import Asked
from chalaza.pages.logs import ours
from chalaza.pages.see import see
from chalaza.records import files, logs
from chalaza.records import models as m
from chalaza.records.logs import Held
from chalaza.words import numbers
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

#: Sources on a page.
_PAGE = 40
#: What else a form holds beside its file. [bytes]
_FORM_BYTES = 64 * 1024
_NO_FILE = mark("Choose a file first: the log as the logger or its program wrote it.")
_FOLDER, _LIVE = mark("with a batch folder"), mark("as they came")
_READINGS = Plural(mark("{n} reading"), mark("{n} readings"), by="n")
_SPAN = mark("{first} to {last}")


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldShown:
    """Readings of one probe in a source."""

    probe: str
    readings: str
    span: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceShown:
    """One source. `shared`: how many of its readings another gave already; `way`: how it came, if not as a file."""

    href: str
    name: str
    at: int
    way: str
    withdrawn: bool
    purged: bool
    held: tuple[HeldShown, ...]
    shared: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The list. `refused`: why a file was not taken in; `known`: it counts already, with where."""

    waiting: tuple["m.Upload", ...]
    sources: tuple[SourceShown, ...]
    older: int
    refused: str
    known_href: str
    most_mb: int
    no_room: str


def _within_limits(view: Callable[[Asked], HttpResponse]) -> Callable[[Asked], HttpResponse]:
    """A view whose upload is looked at before any of it is taken in: too large, or no room on the disk."""
    protected = csrf_protect(view)

    @wraps(view)
    def held(request: Asked) -> HttpResponse:
        if request.method == "POST":
            size = int(request.META.get("CONTENT_LENGTH") or 0)
            try:
                files.check_size(max(size - _FORM_BYTES, 0))
                files.check_room(size)
            except files.FileRefused as refused:
                return _list(request, refused=refused, status=413)
        return protected(request)

    return csrf_exempt(held)


@require_http_methods(["GET", "HEAD", "POST"])
@_within_limits
def listing(request: Asked) -> HttpResponse:
    """The list; a POST takes files in."""
    if request.method != "POST":
        return _list(request)
    sent = [one for one in request.FILES.getlist("file") if isinstance(one, UploadedFile)]
    if not sent:
        return _list(request, text=request.voice.say(_NO_FILE), status=422)
    waiting: list[m.Upload] = []
    for one in sent:
        try:
            waiting.append(logs.send(request.keeper, files.keep(one.chunks()), one.name or ""))
        except NotebookError as refused:
            if len(sent) == 1:
                return _list(request, refused=refused, status=409 if isinstance(refused, logs.Known) else 422)
    return see(f"/logs/waiting/{waiting[0].uid}/" if len(waiting) == 1 else "/logs/")


def _list(request: Asked, *, refused: NotebookError | None = None, text: str = "", status: int = 200) -> HttpResponse:
    before = request.GET.get("before", "")
    found = m.Source.objects.order_by("-id")
    if before.isdecimal() and len(before) < 19:
        found = found.filter(id__lt=int(before))
    sources = list(found[: _PAGE + 1])
    page = Page(
        waiting=tuple(m.Upload.objects.order_by("id")), sources=_sources(request.voice, sources[:_PAGE]),
        older=sources[_PAGE - 1].pk if len(sources) > _PAGE else 0,
        refused=request.voice.say(refused.text, refused.holes) if refused is not None else text,
        known_href=f"/logs/{refused.source.uid}/" if isinstance(refused, logs.Known) else "",
        most_mb=files.MOST_BYTES // 2**20, no_room=_no_room(request.voice),
    )  # fmt: skip
    return render(request, "logs/list.html", {"page": page, "place": "write"}, status=status)


def _no_room(voice: Voice) -> str:
    try:
        files.check_room()
    except files.FileRefused as refused:
        return voice.say(refused.text, refused.holes)
    return ""


def _sources(voice: Voice, sources: Sequence["m.Source"]) -> tuple[SourceShown, ...]:
    held, names = logs.held(sources), ours.probes_named()
    ways = {"folder": voice.say(_FOLDER), "live": voice.say(_LIVE)}
    return tuple(
        SourceShown(
            href=f"/logs/{one.uid}/", name=one.name, at=one.at, way=ways.get(one.sort, ""), withdrawn=one.withdrawn,
            purged=one.purged, held=tuple(held_shown(voice, each, names) for each in held.get(one.uid, ())),
            shared=sum(each["same"] + each["differing"] for each in one.report.get("overlap", {}).values()),
        )
        for one in sources
    )  # fmt: skip


def held_shown(voice: Voice, held: Held, names: dict[str, str]) -> HeldShown:
    """What a source holds of one probe, in words."""
    first, last = (numbers.moment(voice, each, year=True) for each in (held.first, held.last))
    return HeldShown(
        probe=names.get(held.probe, held.probe), readings=voice.say(_READINGS, {"n": f"{held.n:,}"}, n=held.n),
        span=voice.say(_SPAN, {"first": first, "last": last}),
    )  # fmt: skip
