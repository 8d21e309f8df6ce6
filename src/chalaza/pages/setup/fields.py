"""Fields of setting up that need more than a number: a kind, a day, a zone, a tray, water surfaces, choices to tick."""

import re
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from chalaza import quantities as q
from chalaza import units
from chalaza.errors import ChalazaError, EvidenceError
from chalaza.intake.typed import days_in, tray_of, zone_of
from chalaza.pages.forms import Measure, Moment, Pick, Words
from chalaza.pages.setup import kinds
from chalaza.words.language import mark
from chalaza.words.numbers import Voice


class KindField(Words):
    """A kind of bird by any of its names; cleaned to its key, or nothing. The form gives its voice."""

    def __init__(self, **extra: Any) -> None:
        self.voice = Voice()
        super().__init__(**extra)
        self.widget.attrs |= {"list": "kinds", "autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}

    def prepare_value(self, value: Any) -> Any:
        kind = kinds.exact(self.voice, str(value)) if value else None
        return value if kind is None or value != kind.key else kinds.name_of(self.voice, kind)

    def clean(self, value: Any) -> str:
        text = str(super().clean(value) or "").strip()
        if not text:
            return ""
        kind = kinds.exact(self.voice, text)
        if kind is None:
            raise forms.ValidationError(kinds.unknown(self.voice, text))
        return kind.key


class Day(Moment):
    """A day of the local calendar; cleaned to its noon in seconds UTC, or None."""

    def __init__(self, **extra: Any) -> None:
        super().__init__(**extra)
        self.widget = forms.TextInput(attrs={"type": "date"})

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, (int, float)):
            return f"{datetime.fromtimestamp(int(value), ZoneInfo(self.zone)):%Y-%m-%d}"
        return value

    def clean(self, value: Any) -> int | None:
        text = str(forms.CharField.clean(self, value) or "")
        if not text:
            return None
        try:
            if ".." in text:
                raise EvidenceError(text)
            return days_in(text, self.zone)[0]
        except ChalazaError as wrong:
            raise forms.ValidationError(mark("That is no day. Write it like 2026-10-24.")) from wrong


class ZoneField(Words):
    """The name of a time zone."""

    def __init__(self, **extra: Any) -> None:
        super().__init__(**extra)
        self.widget.attrs |= {"list": "zones", "autocomplete": "off", "data-zone": "", "spellcheck": "false"}

    def clean(self, value: Any) -> str:
        text = str(super().clean(value) or "").strip()
        try:
            return zone_of(text)[0] if text else ""
        except ChalazaError as wrong:
            raise forms.ValidationError(str(wrong)) from wrong


class TrayField(Words):
    """Rows by eggs in a row; cleaned to a text like 4x7."""

    def clean(self, value: Any) -> str:
        text = str(super().clean(value) or "").strip()
        try:
            rows, columns = tray_of(text) if text else (0, 0)
        except ChalazaError as wrong:
            raise forms.ValidationError(str(wrong)) from wrong
        return f"{rows}x{columns}" if text else ""


class AreasField(Measure):
    """Several water surfaces separated by blanks; cleaned to their figures in cm², as the records keep them."""

    def __init__(self, **extra: Any) -> None:
        super().__init__(q.AREA_CM2, **{"max_length": 200, **extra})
        self.widget.attrs |= {"inputmode": "text"}

    def clean(self, value: Any) -> str:  # type: ignore[override]  # several measures are one text
        text = str(forms.CharField.clean(self, value) or "")
        written = re.sub(r"(\d)\s+([a-zA-Z])", r"\1\2", text)
        parts = [part.rstrip(",;") for part in re.split(r"[;\s]+", written) if part.strip(",;")]
        return " ".join(f"{Measure.clean(self, part):g}" for part in parts)

    def shown(self, kept: str) -> str:
        """What the records keep, as one would type it in the unit of the field. What is no figure stays as it is."""
        try:
            return " ".join(f"{float(units.shown(float(part), self.show)):.5g}" for part in kept.split())
        except ValueError:
            return kept


class Ticks(Pick):
    """One of a few named things, all of them seen at once."""

    widget = forms.RadioSelect


class Tick(forms.BooleanField):
    """Yes or no."""

    def __init__(self, **extra: Any) -> None:
        super().__init__(**{"required": False, **extra})
