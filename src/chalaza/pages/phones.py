"""Phones: the page at this computer that lets them in and puts them out, and the door a phone comes in by."""

from dataclasses import dataclass
from typing import Any

import segno
from django import forms
from django.conf import settings
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, path, reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from chalaza.errors import NotebookError
from chalaza.pages import gate, uids  # noqa: F401  # `uids` registers the converter of addresses
from chalaza.pages.forms import Form, Pick, Words
from chalaza.pages.gate import here_only
from chalaza.pages.keeper import Asked
from chalaza.records import devices
from chalaza.records import models as m
from chalaza.words.language import mark

#: A browser keeps no cookie longer. [s]
_COOKIE_S = 400 * 86_400
_QUIET = 4  # light modules around a code, as its standard wants (ISO/IEC 18004)


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """A code as it is shown: drawn, written out, until when it holds."""

    drawing: SafeString
    address: str
    until: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The page of phones. `addresses` is empty while the home network is not served."""

    addresses: tuple[str, ...]
    devices: tuple[m.Device, ...]
    form: "CodeForm"
    code: Code | None = None


class CodeForm(Form):
    """Where the phone is to find this computer; asked only where it has more than one address."""

    address = Pick(label=mark("Address of this computer"), required=False)

    def __init__(self, addresses: tuple[str, ...], *args: Any, **extra: Any) -> None:
        super().__init__(*args, **extra)
        field = self.fields["address"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(one, one) for one in addresses]


class DoorForm(Form):
    """What a phone says of itself."""

    name = Words(
        label=mark("A name for this phone"), help_text=mark("So that you know it in the list on the computer."),
        max_length=80,
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
@here_only
def phones(request: Asked) -> HttpResponse:
    """The page of phones; a POST draws a code and shows it."""
    addresses = gate.addresses(request)
    if request.method != "POST":
        return _page(request, CodeForm(addresses, voice=request.voice))
    form = CodeForm(addresses, request.POST, voice=request.voice)
    if not (addresses and form.is_valid()):
        return _page(request, form, status=422)
    at = form.cleaned_data["address"] or addresses[0]
    address = f"http://{at}:{request.META['SERVER_PORT']}{gate.DOOR}{devices.new_code(request.now)}/"
    return _page(request, form, Code(drawing=drawn(address), address=address, until=request.now + devices.CODE_S))


def _page(request: Asked, form: CodeForm, code: Code | None = None, status: int = 200) -> HttpResponse:
    page = Page(addresses=gate.addresses(request), devices=tuple(devices.those_let_in()), form=form, code=code)
    return render(request, "phones/phones.html", {"page": page}, status=status)


@require_safe
@here_only
def those_let_in(request: Asked) -> HttpResponse:
    """The list alone: the page asks for it while a code is shown, so that one sees the phone come in."""
    return render(request, "phones/list.html", {"devices": devices.those_let_in()})


@require_POST
@here_only
def put_out(request: Asked, uid: str) -> HttpResponse:
    """Put a device out."""
    device = m.Device.objects.filter(uid=uid).first()
    if device is None:
        raise Http404
    devices.put_out(device, request.keeper, request.now)
    return HttpResponse(status=303, headers={"Location": reverse("phones")})


@require_http_methods(["GET", "HEAD", "POST"])
def door(request: Asked, code: str) -> HttpResponse:
    """The page a code leads to. Looking uses nothing up: the phone comes in by pressing."""
    if gate.is_here(request) or request.device is not None:
        return render(request, "phones/in_already.html", {"here": gate.is_here(request)})
    form = DoorForm(request.POST if request.method == "POST" else None, voice=request.voice, initial={"name": "Phone"})
    if request.method != "POST" or not form.is_valid():
        holds = devices.holds(code, request.now)
        status = 200 if holds and not form.errors else 422 if holds else 403
        return render(request, "phones/door.html", {"form": form, "holds": holds}, status=status)
    try:
        _, token = devices.let_in(code, form.cleaned_data["name"], request.keeper, request.now)
    except NotebookError:
        return render(request, "phones/door.html", {"form": form, "holds": False}, status=403)
    response = HttpResponse(status=303, headers={"Location": "/"})
    response.set_cookie(
        settings.DEVICE_COOKIE_NAME, token, max_age=_COOKIE_S, httponly=True, samesite="Lax"
    )  # plain HTTP: a cookie for encrypted ways only would never come back
    return response


def drawn(address: str) -> SafeString:
    """A code that a camera reads: dark modules as one path, in the colours of the page that a camera takes for both."""
    rows = [list(row) for row in segno.make_qr(address, error="m").matrix_iter(border=_QUIET)]
    path = "".join(f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, dark in enumerate(row) if dark)
    return format_html(
        '<svg class="code" viewBox="0 0 {0} {0}" shape-rendering="crispEdges" aria-hidden="true">'
        '<path class="ground" d="M0 0h{0}v{0}h-{0}z"/><path class="dark" d="{1}"/></svg>',
        len(rows), path,
    )  # fmt: skip


urlpatterns: list[URLPattern] = [
    path("phones/", phones, name="phones"),
    path("phones/list/", those_let_in, name="phones-list"),
    path("phones/<uid:uid>/put-out/", put_out, name="phone-put-out"),
    path("let-in/<slug:code>/", door, name="let-in"),
]
