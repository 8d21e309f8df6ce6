"""What was done: acts newest first, in words, with every row before and after, and undo."""

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from chalaza.pages import undo
from chalaza.pages.keeper import Asked
from chalaza.pages.told import Names, RowTold, row, sentence
from chalaza.records import models as m
from chalaza.words import numbers
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

#: Acts on a page, and rows shown of one act.
_PAGE, _ROWS = 25, 40
#: What is kept without being done: not shown.
_SILENT = ("remember",)
_KEEPER = mark("you")


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """One act. `href`: where it is undone, if it is `undoable`; `undone`: when it was; `more`: rows beyond those shown."""

    href: str
    when: str
    who: str
    said: str
    about: str
    rows: tuple[RowTold, ...]
    more: int
    undoable: bool
    undone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """A batch to choose."""

    uid: str
    name: str
    chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page of the history. `newer`, `older`: addresses, empty where there are none."""

    acts: tuple[Done, ...]
    batches: tuple[Choice, ...]
    newer: str
    older: str
    here: str


@require_safe
def history(request: Asked) -> HttpResponse:
    """The history, of one batch with `?batch=`."""
    batch = request.GET.get("batch", "").replace("\x00", "")
    number = request.GET.get("page", "1")
    at = max(1, int(number)) if number.isdecimal() and len(number) < 7 else 1
    listed = m.Act.objects.exclude(verb__in=_SILENT).exclude(undoes__verb__in=_SILENT)
    if batch:
        listed = listed.filter(Q(batch=batch) | Q(undoes__batch=batch)).distinct()
    first = (at - 1) * _PAGE
    found = list(listed.select_related("keeper", "undoes", "undone_by").order_by("-id")[first : first + _PAGE + 1])
    names = Names()
    page = Page(
        acts=tuple(_done(request.voice, one, names) for one in found[:_PAGE]), batches=_batches(batch),
        newer=_address(batch, at - 1) if at > 1 else "", older=_address(batch, at + 1) if len(found) > _PAGE else "",
        here=_address(batch, at),
    )  # fmt: skip
    return render(request, "history.html", {"page": page})


def _address(batch: str, page: int) -> str:
    parts = [("batch", batch)] * bool(batch) + [("page", str(page))] * (page > 1)
    return f"/history/?{urlencode(parts)}" if parts else "/history/"


def _batches(chosen: str) -> tuple[Choice, ...]:
    listed = m.Batch.objects.order_by("-set_at", "-id").values_list("uid", "name")
    return tuple(Choice(uid=uid, name=name, chosen=uid == chosen) for uid, name in listed)


def _done(voice: Voice, act: "m.Act", names: Names) -> Done:
    changes: Sequence[m.Change] = list(act.changes.all()[: _ROWS + 1])
    names.learn(changes)
    total = len(changes) if len(changes) <= _ROWS else act.changes.count()
    undoing: m.Act | None = getattr(act, "undone_by", None)
    return Done(
        href=undo.address(act.uid), when=numbers.moment(voice, act.at), who=act.keeper.name or voice.say(_KEEPER),
        said=sentence(voice, act, names, None if total > _ROWS else list(changes)), about=act.subject,
        rows=tuple(row(voice, one, names) for one in changes[:_ROWS]), more=max(0, total - _ROWS),
        undoable=undoing is None and not any(one.model == "Device" for one in changes),
        undone=numbers.moment(voice, undoing.at) if undoing is not None else "",
    )  # fmt: skip
