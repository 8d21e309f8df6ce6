"""Pages for what is not done: an old form, no such page, a fault of ours."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def stale_form(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form whose token is old or foreign: nothing was done, and going back shows what was typed."""
    return render(request, "refused/stale_form.html", status=403)


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """No such page, or no such row."""
    return render(request, "refused/not_found.html", status=404)


def fault(request: HttpRequest) -> HttpResponse:
    """A fault of the program."""
    return render(request, "refused/fault.html", status=500)
