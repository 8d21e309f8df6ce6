"""Parents: the flocks and pairs whose batches share what is learnt."""

from dataclasses import dataclass

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from chalaza import facts
from chalaza.pages.forms import Words
from chalaza.pages.keeper import Asked
from chalaza.pages.setup.common import (
    Change,
    FormPage,
    Part,
    SetForm,
    address,
    answer,
    as_begun,
    away,
    fill,
    lines,
    one,
    values,
)
from chalaza.pages.setup.fields import KindField
from chalaza.pages.setup.kinds import name_of
from chalaza.records import models as m
from chalaza.words.language import mark


class ParentsForm(SetForm):
    """A flock or pair."""

    name = Words(max_length=80, label=mark("Their name"))
    kind = KindField(required=False, max_length=80, label=mark("Kind of bird"))
    note = Words(lines=3, required=False, label=mark("Note"))


_FIELDS = ("name", "kind", "note")


@dataclass(frozen=True, slots=True, kw_only=True)
class Flock:
    """Parents in the list, with the batches of their eggs."""

    name: str
    href: str
    kind: str
    note: str
    batches: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ParentsPage:
    """All of them."""

    flocks: tuple[Flock, ...]


@require_safe
def listing(request: Asked) -> HttpResponse:
    """All flocks and pairs."""
    rows = m.Parents.objects.order_by("name", "id").prefetch_related("lots__batch")
    page = ParentsPage(flocks=tuple(_flock(request, row) for row in rows))
    context = {"page": page, "place": "batches"}
    return render(request, "setup/parents.html", context)


def _flock(request: Asked, row: m.Parents) -> Flock:
    kind = facts.kinds().get(row.kind)
    batches = {lot.batch.uid: lot.batch.name for lot in row.lots.all() if lot.batch is not None}
    return Flock(
        name=row.name, href=address("parents", row.uid), note=row.note,
        kind=row.kind if kind is None else name_of(request.voice, kind),
        batches=tuple((name, address("batches", uid)) for uid, name in batches.items()),
    )  # fmt: skip


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: Asked) -> HttpResponse:
    """A new flock or pair."""
    form = ParentsForm(request.POST or None, voice=request.voice)

    def change() -> Change:
        row = m.Parents(uid=form.own_uid)
        fill(row, form, *_FIELDS)
        return Change(verb="make", to="/parents/", save=(row,), subject=row.name)

    return answer(request, _page(request, form, request.voice.say(mark("New parents"))), change)


@require_http_methods(["GET", "HEAD", "POST"])
def edit(request: Asked, uid: str) -> HttpResponse:
    """Change a flock or pair, or take it away if no eggs are of it."""
    row, asked_away = one(m.Parents, uid), "away" in request.POST
    first = values(as_begun(request, row)[0], *_FIELDS)
    form = ParentsForm(
        None if asked_away else request.POST or None,
        voice=request.voice,
        initial=first,
    )
    page = _page(request, form, row.name, request.voice.say(mark("Take these parents away")))

    def change() -> Change:
        fill(row, form, *_FIELDS)
        return Change(verb="change", to="/parents/", save=(row,), subject=row.name)

    if asked_away:
        return away(request, page, (row,), "delete", row.name, "/parents/")
    return answer(request, page, change)


def _page(request: Asked, form: ParentsForm, title: str, gone: str = "") -> FormPage:
    voice = request.voice
    return FormPage(
        title=title, form=form, parts=(Part(heading="", lines=lines(form, *_FIELDS)),), save=voice.say(mark("Keep this")),
        back=voice.say(mark("Back")), back_to="/parents/", place="batches", away=gone,
        lead=voice.say(mark("A flock or a pair. What is learnt of the eggs of one batch helps the next of the same name.")),
    )  # fmt: skip
