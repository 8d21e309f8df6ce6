"""Slow work: how far it is, looked at each second, stopped on the keeper's word; at its end, on to what it came to."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlencode

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_POST, require_safe

from chalaza.pages import links
from chalaza.pages.keeper import Asked
from chalaza.pages.see import see
from chalaza.pages.uids import Uid
from chalaza.records import models as m
from chalaza.records import work as queue
from chalaza.words.language import mark

State = queue.State
#: Work that nobody has begun after so long: the worker may not run. [s]
_LATE_S = 15

_TITLES: Mapping[str, str] = {"import_log": mark("Reading a log"), "bring_folder": mark("Bringing a batch in")}
_TITLE = mark("At work")
_SAID: Mapping[str, str] = {
    State.WAITING: mark("It waits for its turn."),
    State.RUNNING: mark("Begun."),
    State.DONE: mark("Done."),
}
_NOBODY = mark(
    "Nobody has begun with it yet. If that lasts, start Chalaza anew: what waits is kept and is taken up then."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """How far work is. `open`: it has not ended; `share`: 0-100; `onward`: where it leads on at its end."""

    href: str
    title: str
    name: str
    said: str
    open: bool
    failed: bool
    share: int
    onward: str
    back: str


def address(uid: str) -> str:
    """Where one sees how far a piece of work is."""
    return f"/doing/{quote(Uid().to_url(uid), safe='~')}/"


@require_safe
def work(request: Asked, uid: str) -> HttpResponse:
    """How far a piece of work is; to a fragment's request, that part of the page alone."""
    row = get_object_or_404(m.Work, uid=uid)
    page = _page(request, row)
    if not page.open and page.onward and not page.failed:
        if request.htmx:
            return HttpResponse(headers={"HX-Redirect": page.onward})
        return see(page.onward)
    name = "logs/work_part.html" if request.htmx else "logs/work.html"
    return render(request, name, {"page": page, "place": "write"})


@require_POST
def cancel(request: Asked, uid: str) -> HttpResponse:
    """The keeper wants it no more."""
    row = get_object_or_404(m.Work, uid=uid)
    queue.cancel(row.uid)
    return see(address(row.uid))


def _page(request: Asked, row: "m.Work") -> Page:
    voice, state = request.voice, State(row.state)
    holes = {name: str(value) for name, value in (row.result or {}).get("holes", {}).items()}
    said = voice.say(row.message, holes) if row.message else voice.say(_SAID.get(state, _TITLE))
    if state == State.WAITING and request.now - row.asked > _LATE_S:
        said = voice.say(_NOBODY)
    onward, back = _ways(row)
    return Page(
        href=address(row.uid), title=voice.say(_TITLES.get(row.kind, _TITLE)), said=said,
        name=str(row.arguments.get("name", "")), open=state in queue.OPEN, share=round(100 * row.progress),
        failed=state in (State.FAILED, State.CANCELLED), onward=onward, back=back,
    )  # fmt: skip


def _ways(row: "m.Work") -> tuple[str, str]:
    """Where work leads on at its end, and back to what it was asked from."""
    find = _LEADS.get(row.kind)
    return find(row, row.result or {}) if find is not None else ("/", "/")


def _log(row: "m.Work", result: Mapping[str, Any]) -> tuple[str, str]:
    upload = str(row.arguments.get("upload", ""))
    back = f"/logs/waiting/{upload}/" if m.Upload.objects.filter(uid=upload).exists() else "/logs/"
    if "known" in result:
        return f"/logs/{result['known']}/", back
    if "source" in result:
        return f"/logs/{result['source']}/?{urlencode({'done': 'log-' + result['source']})}", back
    return back, back


def _folder(row: "m.Work", result: Mapping[str, Any]) -> tuple[str, str]:
    if "clash" in result:
        return f"/bring/{row.uid}/clash/", "/bring/"
    if "batch" in result:
        return f"{links.batch(result['batch'])}?{urlencode({'done': result['act']})}", "/bring/"
    return "/bring/", "/bring/"


_LEADS: Mapping[str, Callable[["m.Work", Mapping[str, Any]], tuple[str, str]]] = {
    "import_log": _log,
    "bring_folder": _folder,
}
