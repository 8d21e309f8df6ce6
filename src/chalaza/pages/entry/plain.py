"""A plain form of entry as a page: its fields one below the other, its cautions, one big key."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from django.forms.boundfield import BoundField
from django.http import HttpResponse
from django.shortcuts import render

from chalaza.pages.entry import common
from chalaza.pages.entry.common import EntryForm, Head
from chalaza.pages.forms import Choice
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.words.cautions import cautions
from chalaza.words.numbers import Voice

__all__ = ["Choice", "Page", "Pick", "Picks", "arguments", "picks", "serve", "warned"]

Entry = TypeVar("Entry", bound=EntryForm)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pick:
    """An egg to choose: its uid, its label, whether it is chosen."""

    uid: str
    label: str
    chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Picks:
    """Eggs to choose among, for one field: what they are chosen for, and what is wrong with the choice."""

    name: str
    title: str
    eggs: tuple[Pick, ...]
    wrong: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A plain form: `lead` sentences above it, `fields`, eggs to choose among, the word of its key, other keys beside."""

    head: Head
    form: EntryForm
    lead: tuple[str, ...]
    fields: tuple[BoundField, ...]
    pairs: tuple[BoundField, ...] = ()
    picks: tuple[Picks, ...] = ()
    key: str = ""
    others: tuple[tuple[str, str], ...] = ()
    cautions: tuple[str, ...] = ()
    send: str = ""
    label: str = ""
    total: int = 0
    done: int = 0


def serve(
    request: Asked, form: Entry, page: Callable[[Entry], Page], store: Callable[[Entry], "m.Act | None"], *, to: str
) -> HttpResponse:  # fmt: skip
    """The form: shown, stored when it is ready (then on to the page `to`), or shown again with what is wrong."""
    if request.method == "POST":
        if (before := common.done_before(request)) is not None:
            return common.answered(request, before, to)
        if form.ready and (done := store(form)) is not None:
            return common.answered(request, done, to)
    context = {"page": page(form), "voice": form.voice, "place": "write"}
    if request.method == "POST":
        return common.refused(request, form, "entry/plain.html", context)
    return render(request, "entry/plain.html", context)


def arguments(request: Asked, batch: "m.Batch") -> dict[str, Any]:
    """What every form of a batch is made with."""
    return {
        "data": request.POST if request.method == "POST" else None, "voice": common.voice_of(request, batch),
        "zone": batch.zone, "now": request.now, "begin": batch.set_at,
    }  # fmt: skip


def picks(
    form: EntryForm, name: str, title: str, eggs: Sequence["m.Egg"], label: Callable[["m.Egg", Voice], str]
) -> Picks:
    """Eggs to choose among for a field."""
    chosen = set(form.data.getlist(name)) if form.is_bound else set()  # type: ignore[attr-defined]  # a QueryDict
    wrong = tuple(str(text) for text in form.errors.get(name, ())) if form.is_bound else ()
    return Picks(
        name=name, title=form.voice.say(title), wrong=wrong,
        eggs=tuple(Pick(uid=one.uid, label=label(one, form.voice), chosen=one.uid in chosen) for one in eggs),
    )  # fmt: skip


def warned(voice: Voice, keys: Sequence[str]) -> tuple[str, ...]:
    """The cautions of an act."""
    return cautions(voice, keys)
