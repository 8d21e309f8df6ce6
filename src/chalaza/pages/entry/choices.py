"""A session of choices: one mark for each egg, on one screen; without a script a form with a line for each egg.

Candling and opening eggs are both this: they differ in the marks there are and in the row they make. Of a counted group
it is said how many eggs have each mark.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.utils.safestring import SafeString

from chalaza import quantities as q
from chalaza.pages.entry import session as sessions
from chalaza.pages.entry.common import EntryForm, Head
from chalaza.pages.entry.figures import Last, label_of
from chalaza.pages.entry.tray import Tray
from chalaza.pages.forms import Pick, Question, Whole
from chalaza.records import models as m
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

_PREFIX = "f-"
_NOTHING = mark("Mark at least one egg.")
_NOT_ONE = mark("That egg is not in this batch, or no longer in the box.")
_STALE = mark("This page is too old. Load it anew; what you typed is still there.")
_TOO_MANY = mark("{given} eggs are marked, and there are {n} in {label}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """One mark: what is sent, its word, the short word of the map, the drawing it has (a name, or empty)."""

    value: str
    word: str
    short: str
    drawing: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One egg or group. `name`: its field, or the stem of those of a group; `counts`: mark -> its field, of a group."""

    egg: str
    label: str
    name: str
    value: str
    group: bool
    errors: tuple[str, ...] = ()
    counts: tuple[tuple[Option, BoundField], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One place of the map: an egg with its mark, or an empty one (`egg` is empty)."""

    egg: str = ""
    label: str = ""
    value: str = ""
    word: str = ""
    short: str = ""
    drawing: str = ""
    out: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A session of choices as a page."""

    head: Head
    form: EntryForm
    options: tuple[Option, ...]
    lines: tuple[Line, ...]
    columns: int
    places: tuple[Place, ...]
    symbols: tuple[tuple[str, SafeString], ...]
    drawn: bool
    expect: SafeString
    expected: str
    done: int
    total: int
    last: Last | None
    ask: str
    none: str
    tip: str
    cautions: tuple[str, ...]
    questions: tuple[Question, ...]
    setting: str
    fields: tuple[BoundField, ...]
    send: str
    so_far: str
    anew: str
    other: tuple[tuple[str, str], ...] = ()


class ChoicesForm(EntryForm):
    """A mark for each egg that is in; only those made count. A script sends them one by one."""

    session = forms.CharField(max_length=40, widget=forms.HiddenInput)

    def __init__(self, *args: Any, eggs: Sequence["m.Egg"], options: Sequence[Option], **extra: Any) -> None:
        self.eggs, self.options = {one.uid: one for one in eggs}, tuple(options)
        super().__init__(*args, **extra)
        for one in eggs:
            if one.count == 1:
                choices = [("", ""), *((each.value, each.word) for each in self.options)]
                self.fields[self.name_of(one.uid)] = Pick(choices=choices, required=False)
                continue
            for each in self.options:
                field = Whole(q.EGGS, required=False, label=each.word)
                self.fields[self.name_of(one.uid, each.value)] = field

    @staticmethod
    def name_of(uid: str, value: str = "") -> str:
        """The name of the field of an egg, or of one mark of a group."""
        return f"{_PREFIX}{uid}-{value}" if value else f"{_PREFIX}{uid}"

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
        elif not self._marked():
            self.add_error(None, _NOTHING)
        for uid, counts in self.counted.items():
            egg, given = self.eggs[uid], sum(counts.values())
            if given > egg.count:
                holes = {"given": str(given), "n": str(egg.count), "label": str(egg.label)}
                self.add_error(self.name_of(uid, self.options[0].value), self.voice.say(_TOO_MANY, holes))
        return said

    def _marked(self) -> bool:
        return any(str(self.data[name]).strip() for name in self.data if name.startswith(_PREFIX))

    @property
    def marked(self) -> dict[str, str]:
        """The marks made of single eggs, by egg."""
        found = {uid: self.cleaned_data.get(self.name_of(uid)) for uid, one in self.eggs.items() if one.count == 1}
        return {uid: str(value) for uid, value in found.items() if value}

    @property
    def counted(self) -> dict[str, dict[str, int]]:
        """Of groups of which anything is said: how many eggs have each mark."""
        found: dict[str, dict[str, int]] = {}
        for uid, one in self.eggs.items():
            fields = {each.value: self.name_of(uid, each.value) for each in self.options} if one.count > 1 else {}
            if any(str(self.data.get(name, "")).strip() for name in fields.values()):
                found[uid] = {value: int(self.cleaned_data.get(name) or 0) for value, name in fields.items()}
        return found


def lines(form: ChoicesForm, eggs: Iterable["m.Egg"], values: Mapping[str, str]) -> tuple[Line, ...]:
    """A line for each egg; `values`: the mark an egg has in this session, of a group any word that it was marked."""
    return tuple(_line(form, one, values.get(one.uid, "")) for one in eggs)


def _line(form: ChoicesForm, egg: "m.Egg", value: str) -> Line:
    label, name = label_of(egg, form.voice), form.name_of(egg.uid)
    if egg.count == 1:
        posted = str(form.data.get(name, "")) if form.is_bound else value
        return Line(egg=egg.uid, label=label, name=name, value=posted, group=False, errors=_errors(form, name))
    counts = tuple((each, form[form.name_of(egg.uid, each.value)]) for each in form.options)
    errors = tuple(text for each in form.options for text in _errors(form, form.name_of(egg.uid, each.value)))
    return Line(egg=egg.uid, label=label, name=name, value=value, group=True, errors=errors, counts=counts)


def _errors(form: ChoicesForm, name: str) -> tuple[str, ...]:
    return tuple(str(one) for one in form.errors.get(name, ()))


def places(tray: Tray, values: Mapping[str, str], options: Sequence[Option], voice: Voice) -> tuple[Place, ...]:
    """The map with the marks made."""
    by_value = {one.value: one for one in options}
    return tuple(_place(cell.egg, cell.out, values, by_value, voice) for cell in tray.cells)


def _place(
    egg: "m.Egg | None", out: bool, values: Mapping[str, str], options: Mapping[str, Option], voice: Voice
) -> Place:  # fmt: skip
    if egg is None:
        return Place()
    value = values.get(egg.uid, "")
    found = options.get(value)
    return Place(
        egg=egg.uid, label=label_of(egg, voice), value=value, word=found.word if found else value,
        short=found.short if found else value, drawing=found.drawing if found else "", out=out,
    )  # fmt: skip


def group_words(counts: Mapping[str, int], options: Sequence[Option]) -> str:
    """What was said of a group, in short: `5 1 0 0`."""
    return " ".join(str(counts.get(one.value, 0)) for one in options)
