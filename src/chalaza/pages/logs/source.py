"""One source of readings: what it holds, what the reader found, withdrawing it and taking it in again."""

from dataclasses import dataclass

from django.http import FileResponse, Http404, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST, require_safe

from chalaza.errors import ChalazaError
from chalaza.pages.keeper import Asked
from chalaza.pages.logs import ours, report
from chalaza.pages.logs.drawn import zone_words
from chalaza.pages.logs.listing import HeldShown, held_shown
from chalaza.pages.logs.report import ReportShown
from chalaza.pages.see import see, sent_uid
from chalaza.records import files, logs
from chalaza.records import models as m
from chalaza.records.acts import ActError
from chalaza.records.fields import new_uid
from chalaza.words.language import Plural, mark

_SAME = Plural(
    mark("{n} was there already, the same: it counts once."),
    mark("{n} were there already, the same: they count once."),
    by="n",
)
_DIFFERING = Plural(
    mark("{n} contradicts what an earlier log has for its second: the earlier one counts."),
    mark("{n} contradict what an earlier log has for their second: the earlier one counts."),
    by="n",
)
_FILLED = Plural(
    mark("{n} gave a figure that another log lacked."), mark("{n} gave a figure that other logs lacked."), by="n"
)


@dataclass(frozen=True, slots=True)
class Other:
    """Another source that has days of the same probes."""

    href: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What is shown of a source. `gone_at`: when its readings go for good; `clock`: what its hours were taken for."""

    uid: str
    href: str
    name: str
    at: int
    withdrawn: bool
    purged: bool
    gone_at: int | None
    held: tuple[HeldShown, ...]
    overlap: tuple[str, ...]
    others: tuple[Other, ...]
    file: bool
    clock: str
    report: ReportShown | None
    refused: str


@require_safe
def source(request: Asked, uid: str) -> HttpResponse:
    """One source."""
    return _shown(request, get_object_or_404(m.Source, uid=uid))


def _shown(request: Asked, one: "m.Source", refused: str = "", status: int = 200) -> HttpResponse:
    voice = request.voice
    since = logs.withdrawn_at(one)
    names = ours.probes_named()
    told = one.report if "columns" in one.report else None
    page = Page(
        uid=new_uid(), href=f"/logs/{one.uid}/", name=one.name, at=one.at, withdrawn=one.withdrawn, purged=one.purged,
        gone_at=since + logs.KEPT_S if since is not None and not one.purged else None,
        held=tuple(held_shown(voice, each, names) for each in logs.held([one]).get(one.uid, ())),
        overlap=_overlap(request, one), refused=refused,
        others=tuple(Other(f"/logs/{each.uid}/", each.name) for each in logs.overlapping(one)),
        file=bool(one.sha256) and files.path(one.sha256).exists(),
        clock=zone_words(voice, one.report["said_zone"]) if one.report.get("said_zone") else "",
        report=report.shown(voice, told) if told is not None else None,
    )  # fmt: skip
    return render(request, "logs/source.html", {"page": page, "place": "write"}, status=status)


def _overlap(request: Asked, one: "m.Source") -> tuple[str, ...]:
    """What of its readings was there already when it came."""
    found = one.report.get("overlap", {}).values()
    out = []
    for part, text in (("same", _SAME), ("differing", _DIFFERING), ("filled", _FILLED)):
        n = sum(each[part] for each in found)
        if n:
            out.append(request.voice.say(text, {"n": f"{n:,}"}, n=n))
    return tuple(out)


@require_POST
def withdraw(request: Asked, uid: str) -> HttpResponse:
    """Its readings count no more."""
    one = get_object_or_404(m.Source, uid=uid)
    return see(f"/logs/{uid}/", logs.withdraw(request.keeper, one, sent_uid(request)))


@require_POST
def take_again(request: Asked, uid: str) -> HttpResponse:
    """Its readings count again."""
    one = get_object_or_404(m.Source, uid=uid)
    try:
        return see(f"/logs/{uid}/", logs.take_again(request.keeper, one, sent_uid(request)))
    except (ActError, logs.Known) as refused:
        return _shown(request, m.Source.objects.get(pk=one.pk), _words(request, refused), status=409)


@require_POST
def read_otherwise(request: Asked, uid: str) -> HttpResponse:
    """Withdraw it and answer its questions anew."""
    one = get_object_or_404(m.Source, uid=uid)
    if not one.sha256 or not files.path(one.sha256).exists():
        raise Http404("its file is not kept")
    try:
        upload = logs.read_otherwise(request.keeper, one, sent_uid(request))
    except logs.Known as refused:
        return _shown(request, m.Source.objects.get(pk=one.pk), _words(request, refused), status=409)
    return see(f"/logs/waiting/{upload.uid}/")


def _words(request: Asked, refused: ChalazaError) -> str:
    if isinstance(refused, logs.Known):
        return request.voice.say(refused.text, refused.holes)
    return str(refused)


@require_safe
def file(request: Asked, uid: str) -> HttpResponseBase:
    """The file as it was sent: always as an attachment, never shown by the browser."""
    one = get_object_or_404(m.Source, uid=uid)
    if not one.sha256 or not (path := files.path(one.sha256)).exists():
        raise Http404("its file is not kept")
    return FileResponse(path.open("rb"), as_attachment=True, filename=one.name, content_type="application/octet-stream")
