"""What a page needs to keep entries while nobody answers: which notebook they are for, and a fresh token to send them with."""

import hashlib
from functools import cache
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.views.decorators.http import require_safe

from chalaza.pages.keeper import Asked


@cache
def _notebook(secret: str) -> str:
    return hashlib.sha256(f"outbox {secret}".encode()).hexdigest()[:12]


def context(request: HttpRequest) -> dict[str, Any]:
    """`notebook` in every template: entries wait for this notebook, and are not sent to another at the same address."""
    return {"notebook": _notebook(str(settings.SECRET_KEY))}


@require_safe
def form_token(request: Asked) -> HttpResponse:
    """The token of this browser as it is now: what waited is sent with it."""
    return JsonResponse({"token": get_token(request)})
