"""What the pages of setting up share: a form as a page, an act out of a form, and the way back to what was typed."""

import hashlib
import re
from collections.abc import Callable, Iterable, Mapping
from copy import copy
from dataclasses import dataclass
from functools import cache
from typing import Any, TypeVar
from urllib.parse import quote

from django import forms
from django.db import models
from django.forms.boundfield import BoundField
from django.http import Http404, HttpResponse
from django.shortcuts import render

from chalaza import facts
from chalaza.errors import EvidenceError
from chalaza.intake.typed import stored
from chalaza.pages.forms import Choice, Form, Measure, Question
from chalaza.pages.keeper import Asked
from chalaza.pages.see import see
from chalaza.pages.setup import kinds, slips
from chalaza.pages.setup.fields import AreasField, KindField
from chalaza.pages.told import why
from chalaza.pages.uids import Uid
from chalaza.records import models as m
from chalaza.records.acts import ActError, act
from chalaza.records.fields import new_uid
from chalaza.words import numbers
from chalaza.words.begin import Taken
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

Found = TypeVar("Found", bound=models.Model)
DAY_S = 86_400
#: A setting so far ahead is asked about. [s]
_AHEAD_S = 900
#: So many days after the longest term a batch is over; an earlier setting is asked about. A kind nobody knows takes as
#: long as the longest one. [d]
_OVER_D, _LONGEST_D = 14.0, 60.0
_UID = re.compile(r"[!-~]{1,60}")


class SetForm(Form):
    """A form of setting up: kinds by name with what may have been meant, °F for °C asked about.

    `began` is the newest act of the notebook when the page was made: what others changed since is not taken back by fields
    that were only shown.
    """

    began = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **extra: Any) -> None:
        super().__init__(*args, **{"initial": {"uid": new_uid(), **extra.pop("initial", {})}, **extra})
        if not (self.is_bound or self.prefix):
            self.initial["began"] = _newest_act
        for name, field in self.fields.items():
            if isinstance(field, KindField):
                field.voice = self.voice
            if isinstance(field, AreasField) and isinstance(kept := self.initial.get(name), str):
                self.initial[name] = field.shown(kept)

    def full_clean(self) -> None:
        super().full_clean()
        self.errors.pop("began", None)
        for name, field in self.fields.items():
            typed = str(self.data.get(self.add_prefix(name), ""))
            if isinstance(field, KindField) and name in self.errors and typed.strip():
                choices = tuple(self._kind(kind.key) for kind in kinds.suggested(self.voice, typed))
                if choices:
                    self.questions.append(Question(name, self.voice.say(mark("Which of these is it?")), choices))

    def _kind(self, key: str) -> Choice:
        name = kinds.name_of(self.voice, facts.kinds()[key])
        return Choice(name, name)

    def clean_laid(self, set_at: int | None, zone: str) -> None:
        """Days of laying as moments before `set_at`; one day alone is both."""
        first, last = self.cleaned_data.get("laid_first"), self.cleaned_data.get("laid_last")
        if set_at is None or (first is None and last is None):
            return
        begins, ends = int(last if first is None else first), int(first if last is None else last)  # type: ignore[arg-type]  # one of them is there
        if ends < begins:
            self.add_error("laid_last", mark("The last egg was laid before the first: look at both days."))
            return
        try:
            self.cleaned_data["laid_first"], self.cleaned_data["laid_last"] = stored((begins, ends), set_at, zone)
        except EvidenceError as wrong:
            self.add_error("laid_first" if first is not None else "laid_last", str(wrong))

    def ask_set(self, zone: str, now: int) -> None:
        """Ask about a setting still to come, or so long ago that the batch would be over."""
        set_at, kind = self.cleaned_data.get("set_at"), facts.kinds().get(str(self.cleaned_data.get("kind", "")))
        if set_at is None:
            return
        longest = kind.term_d.high if kind is not None else _LONGEST_D
        if set_at > now + _AHEAD_S:
            text = mark("{moment} is still to come. When did the eggs go under heat?")
        elif set_at < now - (longest + _OVER_D) * DAY_S:
            text = mark("{moment} is so long ago that the batch would be over. Is that right?")
        else:
            return
        moment = numbers.moment(self.voice.of(zone, set_at), set_at, year=True)
        typed = str(self.fields["set_at"].prepare_value(now - now % 60))
        just_now = self.voice.say(mark("Just now, {moment}"), {"moment": numbers.moment(self.voice.of(zone, now), now)})
        self.ask("set_at", self.voice.say(text, {"moment": moment}), Choice(typed, just_now, likely=True), keep=True)

    def ask_unit(self, name: str, low: float, high: float, text: str) -> None:
        """Ask about a temperature outside `low` to `high` [°C]: typed in the other unit, or meant as it stands."""
        field, typed = self.fields[name], str(self.data.get(self.add_prefix(name), ""))
        if not isinstance(field, Measure) or not typed:
            return
        meant = slips.other_unit(self.voice, typed, field, low, high)
        value = self.cleaned_data.get(name)
        if value is not None and not low <= value <= high:
            self.ask(name, text, *([meant] if meant else []), keep=True)
        elif value is None and meant is not None:
            self.questions.append(Question(name, text, (meant,)))

    @property
    def own_uid(self) -> str:
        """What a row made by this form is called: sending it again means the same row."""
        given = str(self.data.get("uid", "") if self.is_bound else self.initial["uid"])
        return given if _UID.fullmatch(given) else new_uid()

    @property
    def act_uid(self) -> str:
        """What the act of this form is called: the same words sent twice are one act, other words another."""
        told = sorted((name, value) for name in self.data for value in _all(self.data, name) if _counts(name))
        return f"{self.own_uid}.{hashlib.sha256(repr(told).encode('utf-8', 'surrogatepass')).hexdigest()[:16]}"


def _newest_act() -> int:
    return m.Act.objects.order_by("-pk").values_list("pk", flat=True).first() or 0


def _all(data: Any, name: str) -> list[str]:
    return [str(one) for one in (data.getlist(name) if hasattr(data, "getlist") else [data[name]])]


def _counts(name: str) -> bool:
    return name not in ("uid", "began", "csrfmiddlewaretoken") and not name.startswith(("keep_", "answer_"))


def address(what: str, uid: str, part: str = "") -> str:
    """A page of a row: `what` is the first part of the address, such as machines."""
    return f"/{what}/{quote(Uid().to_url(uid), safe='~')}/{part}"


def fill(record: models.Model, form: SetForm, *names: str, **renamed: str) -> None:
    """Put what was typed into a record; fields whose text was left as it was keep their value to the last decimal, and
    what another page wrote since (the form then began with `as_begun`).

    `renamed`: attribute of the record -> name of the field.
    """
    for attribute, name in [*((name, name) for name in names), *renamed.items()]:
        field, bound = form.fields[name], form[name]
        before = field.prepare_value(form.get_initial_for_field(field, name))
        if record._state.adding or _text(before) != _text(bound.data):
            setattr(record, attribute, form.cleaned_data[name])


def _text(value: Any) -> str:
    return "" if value is None else str(value)


def as_begun(request: Asked, *records: Found) -> list[Found]:
    """Records as they were when the page that was sent was made; as they are where nobody changed them since."""
    sent = request.POST.get("began", "")
    if not (sent.isdecimal() and sent.isascii() and len(sent) < 19 and records):
        return list(records)
    model, uids = type(records[0])._meta.object_name, [str(one.uid) for one in records]  # type: ignore[attr-defined]  # every record has one
    later = m.Change.objects.filter(model=model, row__in=uids, act__pk__gt=int(sent)).order_by("-id")
    before = {one.row: one.before for one in later if one.before is not None}
    return [_as_before(one, uid, before) for one, uid in zip(records, uids, strict=True)]


def _as_before(record: Found, uid: str, before: Mapping[str, Mapping[str, Any]]) -> Found:
    if uid not in before:
        return record
    was, known = copy(record), {field.attname for field in type(record)._meta.concrete_fields}
    for name, value in before[uid].items():
        if name in known:
            setattr(was, name, value)
    return was


def values(record: models.Model, *names: str, **renamed: str) -> dict[str, Any]:
    """What a form begins with: values of a record by name of the field."""
    return {name: getattr(record, attribute) for attribute, name in [*zip(names, names, strict=True), *renamed.items()]}


@dataclass(frozen=True, slots=True)
class Line:
    """A field, and where its default comes from."""

    field: BoundField
    taken: tuple[Taken, ...] = ()

    @property
    def look(self) -> str:
        """Which part of the page shows it."""
        sort = str(getattr(self.field.field.widget, "input_type", "area"))
        return sort if sort in ("checkbox", "radio", "area") else "line"

    @property
    def questions(self) -> tuple[Question, ...]:
        """What is asked about this field."""
        asked: list[Question] = getattr(self.field.form, "questions", [])
        return tuple(one for one in asked if one.field == self.field.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Some fields under one heading; `folded` until asked for."""

    heading: str
    lines: tuple[Line, ...]
    lead: str = ""
    folded: bool = False
    key: str = ""

    @property
    def open(self) -> bool:
        """Whether something in it wants to be looked at."""
        return any(line.field.errors or line.questions for line in self.lines)


@dataclass(frozen=True, slots=True, kw_only=True)
class FormPage:
    """A form as a page: everything here is said already, but for labels and hints of the fields."""

    title: str
    form: SetForm
    parts: tuple[Part, ...]
    save: str
    back: str
    back_to: str
    place: str = "machines"
    lead: str = ""
    cautions: tuple[str, ...] = ()
    away: str = ""
    has_zone: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """What a form asks to be done, and the page to see afterwards."""

    verb: str
    to: str
    save: tuple[models.Model, ...] = ()
    delete: tuple[models.Model, ...] = ()
    subject: str = ""


def one(model: type[Found], uid: str) -> Found:
    """The row of that uid. Raises `Http404` for none, whatever was written."""
    if "\x00" in uid or (row := model._default_manager.filter(uid=uid).first()) is None:
        raise Http404(uid)
    return row


def lines(form: Form, *names: str) -> tuple[Line, ...]:
    """Fields by name."""
    return tuple(Line(form[name]) for name in names)


def answer(
    request: Asked, page: FormPage, change: Callable[[], Change], template: str = "setup/form.html", **more: Any
) -> HttpResponse:
    """The page with its form; where it was sent and nothing is open, the act and the page to see afterwards."""
    form = page.form
    if form.is_bound and form.ready:
        try:
            return do(request, form, change())
        except ActError as refused:
            told(form, refused)
    zones_ = zones() if page.has_zone else ()
    context = {"page": page, "place": page.place, "zones": zones_, **more}
    if any(isinstance(field, KindField) for field in form.fields.values()):
        context["kinds"] = kinds.names(form.voice)
    return render(request, template, context, status=422 if form.is_bound else 200)


def do(request: Asked, form: SetForm, change: Change) -> HttpResponse:
    """Do it, once. Raises `ActError` with what is wrong; nothing is changed then."""
    done = act(
        request.keeper, change.verb, save=change.save, delete=change.delete, uid=form.act_uid, subject=change.subject
    )
    return see(change.to, done)


def away(
    request: Asked, page: FormPage, rows: Iterable[models.Model], verb: str, subject: str, to: str,
    template: str = "setup/form.html", **more: Any,
) -> HttpResponse:  # fmt: skip
    """Take rows away as one act; the page again, saying what rests on them, where they cannot go."""
    try:
        return see(to, act(request.keeper, verb, delete=tuple(rows), subject=subject))
    except ActError as refused:
        return render(
            request,
            template,
            {"page": page, "place": page.place, "refused": why(request.voice, refused), **more},
            status=409,
        )


def told(form: SetForm, refused: ActError) -> None:
    """Show what an act was refused for, at its field where the form has it."""
    here = {name: texts for name, texts in refused.problems.items() if name in form.fields}
    for name, texts in here.items():
        for text in texts:
            form.add_error(name, text)
    if not here:
        form.add_error(None, why(form.voice, refused))


@cache
def zones() -> tuple[str, ...]:
    """Names of time zones by place."""
    from zoneinfo import available_timezones

    return tuple(
        sorted(name for name in available_timezones() if "/" in name and not name.startswith(("Etc/", "SystemV/")))
    )


def on_clock(voice: Voice, zone: str) -> Voice:
    """The voice on the clock of a place."""
    return voice.of(zone, voice.set_at)
