"""What is to be written down: which batch, and which entry; big enough for a thumb."""

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from chalaza.pages import links
from chalaza.pages.entry.common import Head, voice_of
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.words.language import mark

#: Part of the address -> its word, in the order of how often it is wanted.
ENTRIES = (
    ("weigh/", mark("Weigh")),
    ("candle/", mark("Candle")),
    ("turn/", mark("Turn")),
    ("event/", mark("What happened")),
    ("hatch/", mark("Pips and young")),
    ("mark/", mark("Air cells")),
    ("open/", mark("Open eggs")),
    ("note/", mark("Note")),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Big:
    """A big key that leads on."""

    href: str
    word: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorts:
    """Keys to choose one of several things."""

    head: Head
    bigs: tuple[Big, ...]
    total: int = 0
    done: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """A running batch and what can be written about it."""

    href: str
    name: str
    when: str
    bigs: tuple[Big, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """All running batches."""

    batches: tuple[Batch, ...]


@require_safe
def choose(request: Asked) -> HttpResponse:
    """Which batch, which entry."""
    found = m.Batch.objects.filter(finished_at=None).order_by("-set_at", "-id")
    page = Page(batches=tuple(_batch(request, one) for one in found))
    return render(request, "entry/write.html", {"page": page, "place": "write"})


def _batch(request: Asked, batch: "m.Batch") -> Batch:
    voice = voice_of(request, batch)
    day = int((request.now - batch.set_at) // 86_400)
    when = voice.say(mark("day {day}"), {"day": str(day)}) if day >= 0 else voice.say(mark("not set yet"))
    return Batch(
        href=links.batch(batch.uid), name=batch.name, when=when,
        bigs=tuple(Big(href=links.batch(batch.uid, part), word=voice.say(word)) for part, word in ENTRIES),
    )  # fmt: skip
