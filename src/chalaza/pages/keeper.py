"""Who is at the page, and how they are spoken to."""

from collections.abc import Callable
from typing import Any, cast

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from chalaza.errors import ChalazaError, EvidenceError
from chalaza.intake.typed import zone_of
from chalaza.records.clock import now
from chalaza.records.models import Device, Keeper, Place
from chalaza.words.language import ENGLISH, language
from chalaza.words.numbers import Preference, Voice

#: The zone of a keeper who has not said one.
NO_ZONE = "UTC"

Answer = Callable[[HttpRequest], HttpResponse]


class Asked(HttpRequest):
    """A request after the gate: with its keeper, the voice to answer in, and the moment it came.

    `device` is the phone that asks; None at this computer.
    """

    keeper: Keeper
    device: Device | None
    voice: Voice
    now: int
    #: True where a part of a page is asked for and not a whole one.
    htmx: Any


class SignedIn:
    """Middleware: being at this computer is being the keeper."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        asked = cast(Asked, request)
        asked.keeper = Keeper.objects.the_one()
        asked.voice = voice_of(asked.keeper)
        asked.now = now()
        return self.answer(request)


def voice_of(keeper: Keeper) -> Voice:
    """The voice a keeper wants; English where the language is not there."""
    try:
        spoken = language(keeper.language)
    except ChalazaError:
        spoken = language(ENGLISH)
    return Voice(language=spoken, units=Preference(keeper.units), zone=_zone(keeper))


def _zone(keeper: Keeper) -> str:
    """The keeper's zone; before there is a place, whose zone they are asked for, that of this computer's clock."""
    if keeper.zone != NO_ZONE or Place.objects.exists():
        return str(keeper.zone)
    try:
        return zone_of(None)[0]
    except EvidenceError:
        return str(keeper.zone)


def context(request: HttpRequest) -> dict[str, Any]:
    """What every template has: `voice`, `keeper`, `now`, the `device` that asks, and whether all of it is invented."""
    known = {name: getattr(request, name, None) for name in ("voice", "keeper", "now", "device")}
    return {**known, "invented": settings.INVENTED}
