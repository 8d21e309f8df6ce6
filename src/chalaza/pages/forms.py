"""Forms: what is typed by hand, with its unit and its clock, and questions about plausible slips.

A measure is typed with or without its unit, with point or comma; what comes out is in the unit inside. A moment is the
local clock of the place; an hour that comes twice is asked about, one that never comes is refused. A form may ask: the
slip is named with what was likely meant, what was typed stays, and it is taken as it stands once the keeper says so.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.forms.boundfield import BoundField

from chalaza import units
from chalaza.errors import ChalazaError
from chalaza.intake.typed import Twice, measure, moment_in
from chalaza.quantities import Quantity
from chalaza.records.fields import check_text, check_uid
from chalaza.words.language import mark
from chalaza.words.numbers import Preference, Voice

_NEEDED = mark("This is needed.")
_LONG = mark("At most %(limit_value)d characters, please; these are %(show_value)d.")
_TWICE = mark("That hour came twice that night: the clock was set back. Which of the two is meant?")
_FIRST, _SECOND = mark("the first"), mark("the second")


@dataclass(frozen=True, slots=True)
class Choice:
    """One way to answer a question: what is sent, what it says, whether it is the likely one."""

    value: str
    label: str
    likely: bool = False


@dataclass(frozen=True, slots=True)
class Question:
    """A plausible slip in one field: what is odd, and the ways out. Answering sets the field or keeps it as typed."""

    field: str
    text: str
    choices: tuple[Choice, ...]
    keep: str = ""


class Measure(forms.CharField):
    """A number of a quantity; cleaned to the unit inside, or None."""

    def __init__(self, of: Quantity, *, show: str = "", decimals: int | None = None, **extra: Any) -> None:
        self.of, self.show, self.decimals = of, show, decimals
        super().__init__(**{"error_messages": {"required": _NEEDED}, "max_length": 40, **extra})
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}

    def unit(self, preference: Preference) -> str:
        """The unit the field is shown in: the keeper's, where the quantity has two."""
        if self.show:
            return self.show
        second = preference is Preference.US and len(self.of.displays) > 1
        return self.of.displays[1 if second else 0]

    def clean(self, value: Any) -> float | None:
        text = str(super().clean(value) or "")
        if not text:
            return None
        try:
            return measure(text, self.of, self.show or None)
        except ChalazaError as wrong:
            raise forms.ValidationError(str(wrong)) from wrong


class Whole(forms.IntegerField):
    """A whole number of a quantity."""

    def __init__(self, of: Quantity, **extra: Any) -> None:
        self.of = of
        said = {
            "required": _NEEDED,
            "invalid": mark("A whole number, please."),
            "min_value": mark("At least %(limit_value)s, please."),
            "max_value": mark("At most %(limit_value)s, please."),
        }
        super().__init__(**{"min_value": int(of.low), "max_value": int(of.high), "error_messages": said, **extra})
        self.widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})


class Moment(forms.CharField):
    """A moment on the local clock; cleaned to seconds UTC. Shown as the browser's own field for date and hour."""

    def __init__(self, zone: str = "UTC", **extra: Any) -> None:
        self.zone = zone
        super().__init__(**{"error_messages": {"required": _NEEDED}, "max_length": 60, **extra})
        self.widget = forms.TextInput(attrs={"type": "datetime-local", "step": "60"})

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, (int, float)):
            return f"{datetime.fromtimestamp(int(value), ZoneInfo(self.zone)):%Y-%m-%dT%H:%M}"
        return value

    def clean(self, value: Any) -> int | None:
        text = str(super().clean(value) or "")
        if not text:
            return None
        try:
            return moment_in(text, self.zone)
        except Twice as twice:
            raise forms.ValidationError(
                str(twice), code="twice", params={"ways": (twice.first, twice.second)}
            ) from twice
        except ChalazaError as wrong:
            raise forms.ValidationError(str(wrong)) from wrong


class Words(forms.CharField):
    """A line or a page of words that every file of ours can carry."""

    def __init__(self, *, lines: int = 1, **extra: Any) -> None:
        super().__init__(
            **{
                "error_messages": {"required": _NEEDED, "max_length": _LONG},
                "max_length": 200 if lines == 1 else 10_000,
                **extra,
            }
        )
        self.validators.append(check_text)
        if lines > 1:
            self.widget = forms.Textarea(attrs={"rows": lines})


class Pick(forms.ChoiceField):
    """One of some named things: (value, label)."""

    def __init__(self, **extra: Any) -> None:
        said = mark("Choose one of the list.")
        super().__init__(**{"error_messages": {"required": _NEEDED, "invalid_choice": said}, **extra})


class _Sent(forms.CharField):
    """What a form was sent with by its own page. A name that no page of ours gives is none: it is not the keeper's fault."""

    def __init__(self) -> None:
        super().__init__(required=False, widget=forms.HiddenInput)

    def clean(self, value: Any) -> str:
        try:
            check_uid(text := str(value or ""))
        except forms.ValidationError:
            return ""
        return text


class Form(forms.Form):
    """A form in the keeper's voice: units of the fields by preference, moments on the clock of `zone`.

    Labels, help and choices are msgids; the part that shows them says them. Every form that makes something carries
    `uid`, so that sending it twice does it once.
    """

    uid = _Sent()

    def __init__(self, *args: Any, voice: Voice | None = None, zone: str | None = None, **extra: Any) -> None:
        self.voice = voice or Voice()
        self.questions: list[Question] = []
        super().__init__(*args, **{"label_suffix": "", **extra})
        self._take_answers()
        for name, field in self.fields.items():
            if isinstance(field, Moment):
                field.zone = zone or self.voice.zone
            if isinstance(field, Measure):
                field.show = field.unit(self.voice.units)
                if name in self.initial and isinstance(self.initial[name], (int, float)):
                    self.initial[name] = typed_as(float(self.initial[name]), field)

    def ask(self, field: str, text: str, *choices: Choice, keep: bool = False) -> None:
        """Ask about a plausible slip, unless the keeper has said already that it stands (`keep_<field>`).

        `keep`: offer to let it stand as typed.
        """
        name = self.add_prefix(field)
        typed = str(self.data.get(name, ""))
        if self.data.get(f"keep_{name}") != typed:
            self.questions.append(Question(field, text, choices, keep=typed if keep else ""))

    @property
    def kept(self) -> list[tuple[str, str]]:
        """What the keeper has said before that it stands: name of the hidden field, and the value."""
        return [(name, str(self.data[name])) for name in self.data if str(name).startswith("keep_")]

    def _take_answers(self) -> None:
        """An answer to a question (`answer_<field>`) stands for what was typed there."""
        answers = {name: self.data[f"answer_{name}"] for name in self.fields if f"answer_{name}" in self.data}
        if answers:
            typed = self.data.copy()  # type: ignore[attr-defined]  # a QueryDict or a dict
            for name, value in answers.items():
                typed[self.add_prefix(name)] = value
            self.data = typed

    def full_clean(self) -> None:
        """As Django does; an hour that comes twice becomes a question with both ways out."""
        super().full_clean()
        found = {name: errors.as_data()[0] for name, errors in self.errors.items()}
        for name, error in found.items():
            if error.code != "twice" or not error.params:
                continue
            first, second = error.params["ways"]
            del self.errors[name]
            self.cleaned_data[name] = None
            self.questions.append(Question(name, _TWICE, (Choice(first, _FIRST), Choice(second, _SECOND))))

    @property
    def ready(self) -> bool:
        """Whether all is allowed and no question is open."""
        return self.is_valid() and not self.questions

    def named(self, name: str) -> BoundField:
        """The field of that name."""
        return self[name]


def typed_as(value: float, field: Measure) -> str:
    """A value inside as one would type it in the field's unit."""
    shown = float(units.shown(value, field.show))
    text = f"{shown:.{field.decimals}f}" if field.decimals is not None else f"{shown:.6g}"
    return text
