"""A session of figures: one for each egg, on one screen; without a script a form with a line for each egg.

Weighing and marking air cells are both this: they differ in what they know of an egg and in the row they make.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from chalaza.pages.entry import session as sessions
from chalaza.pages.entry.common import EntryForm, Head
from chalaza.pages.entry.tray import Tray
from chalaza.pages.forms import Measure, Question
from chalaza.quantities import Quantity
from chalaza.records import models as m
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

_PREFIX = "g-"
_NOTHING = mark("Write at least one figure.")
_NOT_ONE = mark("That egg is not in this batch, or no longer in the box.")
_STALE = mark("This page is too old. Load it anew; what you typed is still there.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One egg: its field, what is known of it, the span within which nothing is asked, what was entered before."""

    egg: str
    label: str
    field: BoundField
    facts: tuple[tuple[str, str], ...]
    low: str
    high: str
    value: str
    questions: tuple[Question, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place of the map: an egg with what was entered, or an empty one (`egg` is empty). `out`: no longer in the box."""

    egg: str = ""
    label: str = ""
    value: str = ""
    out: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Last:
    """The last entry of the session, to be undone."""

    act: str
    egg: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A session of figures as a page."""

    head: Head
    form: EntryForm
    lines: tuple[Line, ...]
    columns: int
    places: tuple[Place, ...]
    unit: str
    decimals: int
    done: int
    total: int
    last: Last | None
    again: str
    tip: str
    cautions: tuple[str, ...]
    setting: str
    fields: tuple[BoundField, ...]
    send: str
    so_far: str
    anew: str
    other: tuple[tuple[str, str], ...] = ()


class FiguresForm(EntryForm):
    """A figure for each egg that is in; only those written count. A script sends them one by one."""

    session = forms.CharField(max_length=40, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, eggs: Sequence["m.Egg"], of: Quantity, unit: str, decimals: int, **extra: Any
    ) -> None:
        self.eggs, self.unit, self.decimals = {one.uid: one for one in eggs}, unit, decimals
        super().__init__(*args, **extra)
        for one in eggs:
            field = Measure(of, show=unit, decimals=decimals, required=False, label=one.label)
            self.fields[_PREFIX + one.uid] = field
        self._take_answers()

    @staticmethod
    def name_of(uid: str) -> str:
        """The name of the field of an egg."""
        return _PREFIX + uid

    def clean_session(self) -> str:
        name = str(self.cleaned_data["session"])
        if not sessions.is_name(name):
            raise forms.ValidationError(_STALE)
        return name

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        strangers = [name for name in self.data if name.startswith(_PREFIX) and name not in self.fields]
        if any(str(self.data[name]).strip() for name in strangers):
            self.add_error(None, _NOT_ONE)
        elif not any(str(self.data.get(_PREFIX + uid, "")).strip() for uid in self.eggs):
            self.add_error(None, _NOTHING)
        return said

    @property
    def written(self) -> dict[str, float]:
        """The figures written, by egg, in the unit inside."""
        found = {uid: self.cleaned_data.get(_PREFIX + uid) for uid in self.eggs}
        return {uid: value for uid, value in found.items() if value is not None}

    def questions_of(self, uid: str) -> tuple[Question, ...]:
        """What is asked about one egg."""
        return tuple(one for one in self.questions if one.field == _PREFIX + uid)

    @property
    def other_questions(self) -> tuple[Question, ...]:
        """What is asked about the rest of the form."""
        return tuple(one for one in self.questions if not one.field.startswith(_PREFIX))


def places(tray: Tray, values: Mapping[str, str], say: Voice) -> tuple[Place, ...]:
    """The map with what was entered."""
    return tuple(
        Place()
        if cell.egg is None
        else Place(egg=cell.egg.uid, label=label_of(cell.egg, say), value=values.get(cell.egg.uid, ""), out=cell.out)
        for cell in tray.cells
    )


def label_of(egg: "m.Egg", voice: Voice) -> str:
    """What is written on an egg, or the name of a group with its number of eggs."""
    if egg.count == 1:
        return str(egg.label)
    return voice.say(mark("{label} × {n}"), {"label": str(egg.label), "n": str(egg.count)})


def last_of(model: str, rows: Mapping[str, str]) -> Last | None:
    """The newest act in force that made one of these rows (uid of the row -> egg), if it made no more than that."""
    change = (
        m.Change.objects.filter(model=model, row__in=list(rows), act__undone_by=None, act__undoes=None)
        .select_related("act")
        .order_by("-id")
        .first()
    )
    if change is None or change.after is None or change.act.changes.count() != 1:
        return None
    return Last(act=change.act.uid, egg=rows[change.row])


def entered(lines: Iterable[Line]) -> int:
    """How many of the lines have been entered."""
    return sum(bool(one.value) for one in lines)
