"""Drawings of a batch, fetched one by one: the drawing, the choice of its window, and its twin as a table.

The window is chosen by links; a browser with htmx puts the answer in place, any other shows it as a page. An answer is
known by the key of what it was drawn from, so that asking again costs a comparison.
"""

import hashlib
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from threading import Lock
from types import MappingProxyType
from urllib.parse import urlencode

from django.http import Http404, HttpResponse, HttpResponseNotModified
from django.shortcuts import render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_safe

from chalaza import charts
from chalaza.charts.window import end_of
from chalaza.errors import BalanceError, ChalazaError
from chalaza.inference.understanding import Understanding
from chalaza.pages import links
from chalaza.pages.batch import batch_or_404, refused, voice_of
from chalaza.pages.keeper import Asked
from chalaza.records import answers
from chalaza.records import models as m
from chalaza.words.events import QUESTIONS
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

ALL = "all"
#: Windows of the drawings that can be looked at closely: days back from the end, and what is pressed.
WINDOWS: Mapping[str, tuple[float | None, str]] = MappingProxyType(
    {
        "day": (1.0, mark("a day")),
        "3days": (3.0, mark("3 days")),
        "week": (7.0, mark("a week")),
        ALL: (None, mark("all")),
    }
)
#: What each drawing is called.
TITLES: Mapping[str, str] = MappingProxyType(
    {**{name: QUESTIONS[name] for name in charts.NAMES if name in QUESTIONS}, "eggs": mark("Egg by egg")}
)
_KEPT = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """One window that can be chosen."""

    href: str
    label: str
    here: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A drawing, its windows, and the same as a table. `problem`: why there is none."""

    batch: str
    back: str
    name: str
    title: str
    label: str
    svg: SafeString
    windows: tuple[Window, ...]
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    problem: str = ""


_kept: "OrderedDict[str, Page]" = OrderedDict()
_lock = Lock()


@require_safe
def chart(request: Asked, uid: str, name: str) -> HttpResponse:
    """One drawing of a batch. Raises `Http404` for no such batch, drawing, window or width."""
    one = batch_or_404(uid)
    window, width = request.GET.get("window", ALL), request.GET.get("width", str(charts.WIDTHS[0]))
    if name not in charts.NAMES or window not in WINDOWS or width not in map(str, charts.WIDTHS):
        raise Http404("no such drawing")
    voice = voice_of(request, one)
    try:
        key = answers.key_of(one, request.now)
        tag = _tag(voice, uid, key, name, window, width, str(bool(request.htmx)))
        if request.headers.get("If-None-Match") == tag:
            return _fresh(HttpResponseNotModified(), tag)
        page = _page(voice, one, request.now, name, window, int(width))
    except BalanceError:
        raise
    except ChalazaError as wrong:
        tag, page = "", _problem(voice, one, name, refused(voice, wrong))
    template = "parts/chart.html" if request.htmx else "chart.html"
    return _fresh(render(request, template, {"page": page, "voice": voice, "place": "batches"}), tag)


def _tag(voice: Voice, *parts: str) -> str:
    """A name for what is drawn: the answer it is drawn from, and how it is said."""
    said = (voice.language.name, voice.units.value, voice.zone, *parts)
    return f'"{hashlib.sha256("|".join(said).encode()).hexdigest()[:24]}"'


def _fresh(response: HttpResponse, tag: str) -> HttpResponse:
    """Kept by the browser, and asked for again with its name."""
    if tag:
        response["ETag"] = tag
        response["Cache-Control"] = "private, no-cache"
        response["Vary"] = "HX-Request, Cookie"
    return response


def _page(voice: Voice, one: "m.Batch", now: int, name: str, window: str, width: int) -> Page:
    """The drawing, from memory where the same was drawn before."""
    found = answers.understood(one.uid, now)
    kept = _tag(voice, one.uid, found.key, name, window, str(width))
    with _lock:
        if (page := _kept.get(kept)) is not None:
            _kept.move_to_end(kept)
            return page
    drawn = charts.charts(
        found.understanding, found.assessment, width=width, zone=voice.zone, say=voice.language.gettext,
        window=_stretch(found.understanding, window), readings=found.evidence.setting.series, only=(name,),
    )[name]  # fmt: skip
    page = Page(
        batch=one.name, back=links.batch(one.uid), name=name, title=voice.say(TITLES[name]), label=drawn.label,
        svg=mark_safe(drawn.svg()), windows=_windows(voice, one.uid, name, window, width) if name in charts.CLOSE else (),
        head=drawn.table.head(), rows=drawn.table.text(),
    )  # fmt: skip
    with _lock:
        _kept[kept] = page
        while len(_kept) > _KEPT:
            _kept.popitem(last=False)
    return page


def _stretch(u: Understanding, window: str) -> tuple[float, float] | None:
    """From when to when [seconds UTC]; None for all of the term, also where it is shorter than what is asked."""
    back, end = WINDOWS[window][0], end_of(u)
    if back is None or end <= back:
        return None
    return u.moment(24.0 * (end - back)), u.moment(24.0 * end)


def _windows(voice: Voice, uid: str, name: str, here: str, width: int) -> tuple[Window, ...]:
    stem = links.batch(uid, f"chart/{name}/")
    return tuple(
        Window(href=f"{stem}?{urlencode({'window': key, 'width': width})}", label=voice.say(text), here=key == here)
        for key, (_, text) in WINDOWS.items()
    )


def _problem(voice: Voice, one: "m.Batch", name: str, text: str) -> Page:
    return Page(
        batch=one.name, back=links.batch(one.uid), name=name, title=voice.say(TITLES[name]), label="",
        svg=SafeString(""), windows=(), head=(), rows=(), problem=text,
    )  # fmt: skip
