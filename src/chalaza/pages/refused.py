"""Pages for what is not done: not let in, not from here, an old form, no such page, a fault of ours."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose token is old or foreign: nothing was done, and going back shows what was typed."""
    return render(request, "refused/stale_form.html", status=403)


def not_let_in(request: HttpRequest) -> HttpResponse:
    """A device that nobody let in: the same page on every address."""
    return render(request, "refused/not_let_in.html", status=403)


def elsewhere(request: HttpRequest) -> HttpResponse:
    """Something that is done at the computer itself and not on a phone."""
    return render(request, "refused/elsewhere.html", status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """No such page, or no such row."""
    return render(request, "refused/not_found.html", status=404)


def fault(request: HttpRequest) -> HttpResponse:
    """A fault of the program."""
    return render(request, "refused/fault.html", status=500)
