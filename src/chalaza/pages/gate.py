"""The gate before every page: which names we answer to, what another site may not do, who is let in, and the headers.

A page of another site can make a browser send us requests, and a name of another site can be made to lead here. So we
answer only to our own names with our own port; a request that another site caused is refused unless it opens a page; what
changes something must come from a page of ours. Nothing a proxy may say of itself is believed. At this computer one is
the keeper; any other device must have been let in.
"""

import ipaddress
import re
from collections.abc import Callable
from functools import wraps
from typing import Any, TypeVar, cast

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase

from chalaza.pages import refused
from chalaza.pages.keeper import Asked
from chalaza.records import devices
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

Answer = Callable[[HttpRequest], HttpResponse]
View = TypeVar("View", bound=Callable[..., HttpResponseBase])

#: No script but our own files, no style but our own, nothing from elsewhere, in no frame.
POLICY = "default-src 'self'; frame-ancestors 'none'; form-action 'self'; base-uri 'none'; object-src 'none'"
_OPENER = "Cross-Origin-Opener-Policy"
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    _OPENER: "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
#: The names of this computer for itself.
LOOPBACK = ("127.0.0.1", "localhost", "[::1]")
#: Where the server puts this computer's addresses, while it answers on the home network; no header can reach it.
ADDRESSES = "chalaza.addresses"
#: The one address that a device may open before it is let in, with the code behind it.
DOOR = "/let-in/"
_DOOR = re.compile(rf"{DOOR}[-a-zA-Z0-9_]+/")
_READS = frozenset({"GET", "HEAD", "OPTIONS"})
_OWN = frozenset({"same-origin", "none"})
_WRONG_NAME = mark("Chalaza does not answer to this address. Open the one it printed when it started.")
_FROM_ELSEWHERE = mark(
    "Another site asked for this, so nothing was done. If it was you: open the page in Chalaza itself and do it there."
)


class Gate:
    """Middleware: names, other sites, and the headers of every answer."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = _refusal(request) or self.answer(request)
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        if not is_here(request):  # browsers heed it on encrypted ways and at one's own computer, and complain elsewhere
            del response.headers[_OPENER]
        return response


class LetIn:
    """Middleware: at this computer one is let in; any other device shows its cookie, or sees one page that says so."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        asked = cast(Asked, request)
        asked.device = None
        if not is_here(request):
            asked.device = devices.known(request.COOKIES.get(settings.DEVICE_COOKIE_NAME, ""), asked.now)
            if asked.device is None and not _DOOR.fullmatch(request.path):
                return refused.not_let_in(request)
        return self.answer(request)


def _refusal(request: HttpRequest) -> HttpResponse | None:
    """The answer to a request that goes no further."""
    host = str(request.META.get("HTTP_HOST") or _asked(request)).lower()
    if host not in hosts(request):
        return _plain(_WRONG_NAME, 400)
    if request.method not in _READS and request.META.get("HTTP_ORIGIN") != f"{request.scheme}://{host}":
        return _plain(_FROM_ELSEWHERE, 403)
    if request.META.get("HTTP_SEC_FETCH_SITE", "none") not in _OWN and not _opens_a_page(request):
        return _plain(_FROM_ELSEWHERE, 403)
    return None


def _asked(request: HttpRequest) -> str:
    return f"{request.META['SERVER_NAME']}:{request.META['SERVER_PORT']}"


def _opens_a_page(request: HttpRequest) -> bool:
    """Whether somebody follows a link to here in a window of the browser."""
    wanted = (request.META.get("HTTP_SEC_FETCH_MODE"), request.META.get("HTTP_SEC_FETCH_DEST"))
    return request.method in ("GET", "HEAD") and wanted == ("navigate", "document")


def hosts(request: HttpRequest) -> frozenset[str]:
    """What may stand in `Host`: our own names with the port we listen on."""
    port = str(request.META["SERVER_PORT"])
    names = (*LOOPBACK, *addresses(request))
    return frozenset([f"{name}:{port}" for name in names] + (list(names) if port == "80" else []))


def addresses(request: HttpRequest) -> tuple[str, ...]:
    """The addresses of this computer on the home network; none while we do not listen there."""
    return tuple(request.META.get(ADDRESSES, ()))


def is_here(request: HttpRequest) -> bool:
    """Whether the request comes from this computer itself."""
    try:
        return ipaddress.ip_address(str(request.META.get("REMOTE_ADDR", ""))).is_loopback
    except ValueError:
        return False


def here_only(view: View) -> View:
    """A view for this computer only: a device that was let in is told so."""

    @wraps(view)
    def held(request: Asked, *args: Any, **named: Any) -> HttpResponseBase:
        return view(request, *args, **named) if is_here(request) else refused.elsewhere(request)

    return cast(View, held)


def _plain(text: str, status: int) -> HttpResponse:
    return HttpResponse(Voice().say(text) + "\n", content_type="text/plain; charset=utf-8", status=status)
