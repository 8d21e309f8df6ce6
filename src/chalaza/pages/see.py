"""Where a browser goes after something was done: on to a page, which offers to undo it."""

from urllib.parse import urlencode

from django.core.exceptions import ValidationError
from django.http import HttpResponse, HttpResponseRedirect

from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.records.fields import check_uid


def see(to: str, done: "m.Act | None" = None) -> HttpResponse:
    """See another page; it names the act that was done, if one was."""
    address = to if done is None else f"{to}{'&' if '?' in to else '?'}{urlencode({'done': done.uid})}"
    response = HttpResponseRedirect(address)
    response.status_code = 303
    return response


def sent_uid(request: Asked) -> str | None:
    """The uid a form was sent with, by which sending it twice does it once; None for none, or one no row may have."""
    uid = request.POST.get("uid", "")
    try:
        check_uid(uid)
    except ValidationError:
        return None
    return uid
