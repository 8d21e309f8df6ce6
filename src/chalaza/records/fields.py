"""Fields of the notebook: spans and choices are held by the database itself, not only by forms.

A span comes from the one registry of quantities; the column carries it as a check, so that no way into the database
goes round it. The check also refuses what is no number and infinity; a missing number is refused where it must be there.
"""

import re
import secrets
from enum import StrEnum
from math import isfinite
from typing import TYPE_CHECKING, Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper

from chalaza.quantities import MOMENT, QUANTITIES, Quantity

if TYPE_CHECKING:
    _Float = models.FloatField[Any, Any]
    _Whole = models.BigIntegerField[Any, Any]
    _Char = models.CharField[Any, Any]
else:
    _Float, _Whole, _Char = models.FloatField, models.BigIntegerField, models.CharField

_UID = re.compile(r"[^\s\x00-\x1f\x7f]{1,100}")


def new_uid() -> str:
    """A fresh name for a row: 128 random bits in letters and figures."""
    return secrets.token_hex(16)


def check_uid(value: str) -> None:
    """Raises `ValidationError` for a name with blanks or control characters: the open folder could not carry it."""
    if not _UID.fullmatch(value):
        raise ValidationError("a name of a row has no blanks and at most 100 characters", code="uid")


def check_text(value: str) -> None:
    """Raises `ValidationError` for characters that no file of ours can carry."""
    if "\x00" in value or any(0xD800 <= ord(each) <= 0xDFFF for each in value):
        raise ValidationError("characters that cannot be kept: write it anew", code="text")


class _Spanned:
    """What a number of a known quantity has: its span, in the check of the column and in validation."""

    of: Quantity

    def span_check(self, connection: BaseDatabaseWrapper, column: str | None) -> str:
        """The check of the column. `BETWEEN` is not true of what is no number."""
        name = connection.ops.quote_name(str(column))
        return f"{name} BETWEEN {self.of.low:g} AND {self.of.high:.10g}"

    def refuse(self, value: float | None) -> None:
        """Raises `ValidationError` outside the span."""
        if value is not None and not (isfinite(value) and self.of.holds(value)):
            raise ValidationError(
                "%(value)s is no %(words)s: %(low)s to %(high)s %(unit)s is allowed",
                code="span",
                params={"value": value, "words": self.of.words, "low": self.of.low, "high": self.of.high,
                        "unit": self.of.unit},
            )  # fmt: skip


class QuantityField(_Spanned, _Float):
    """A number of one quantity, in its unit inside."""

    def __init__(self, of: Quantity | str, **extra: Any) -> None:
        self.of = QUANTITIES[of] if isinstance(of, str) else of
        super().__init__(**extra)

    def db_check(self, connection: BaseDatabaseWrapper) -> str:
        return self.span_check(connection, self.column)

    def deconstruct(self) -> Any:
        name, path, args, extra = super().deconstruct()
        return name, path, [self.of.key, *args], extra

    def validate(self, value: Any, instance: models.Model | None) -> None:
        super().validate(value, instance)
        self.refuse(value)


class WholeField(_Spanned, _Whole):
    """A whole number of one quantity."""

    def __init__(self, of: Quantity | str, **extra: Any) -> None:
        self.of = QUANTITIES[of] if isinstance(of, str) else of
        super().__init__(**extra)

    def db_check(self, connection: BaseDatabaseWrapper) -> str:
        return self.span_check(connection, self.column)

    def deconstruct(self) -> Any:
        name, path, args, extra = super().deconstruct()
        return name, path, [self.of.key, *args], extra

    def validate(self, value: Any, instance: models.Model | None) -> None:
        super().validate(value, instance)
        self.refuse(value)


class MomentField(WholeField):
    """A moment: whole seconds since 1970 in UTC, the same on every database and in the open folder."""

    def __init__(self, **extra: Any) -> None:
        super().__init__(MOMENT, **extra)

    def deconstruct(self) -> Any:
        name, path, _, extra = super().deconstruct()
        return name, path, [], extra


class ChoiceField(_Char):
    """One of the values of an enumeration, held by the database."""

    def __init__(self, of: type[StrEnum] | None = None, **extra: Any) -> None:
        if of is not None:
            extra.setdefault("choices", [(str(one), str(one)) for one in of])
        extra.setdefault("max_length", 40)
        super().__init__(**extra)

    def db_check(self, connection: BaseDatabaseWrapper) -> str:
        name = connection.ops.quote_name(str(self.column))
        allowed = ", ".join(f"'{value}'" for value, _ in self.flatchoices)
        return f"{name} IN ({allowed})"

    def deconstruct(self) -> Any:
        name, path, args, extra = super().deconstruct()
        extra["choices"] = [list(one) for one in self.flatchoices]
        return name, path, args, extra


def words(most: int = 200, **extra: Any) -> Any:
    """A line of words. Its length is held by validation; the embedded database does not hold it."""
    return models.CharField(max_length=most, validators=[check_text], **extra)


def free(**extra: Any) -> Any:
    """Free words, as many as a keeper writes."""
    return models.TextField(max_length=10_000, validators=[check_text], blank=True, default="", **extra)


def to(model: str, related: str, **extra: Any) -> Any:
    """A pointer to a row by its uid. What others point to cannot be deleted under them."""
    return models.ForeignKey(model, to_field="uid", related_name=related, **{"on_delete": models.PROTECT, **extra})


def loosely_to(model: str, related: str, **extra: Any) -> Any:
    """A pointer that outlives its row: bulk readings stay when undo takes a probe away, and fit again when it is back."""
    return to(model, related, on_delete=models.DO_NOTHING, db_constraint=False, **extra)


class Row(models.Model):
    """What every record has: a place in the order of entry, and a uid made where it was entered."""

    id = models.BigAutoField(primary_key=True)
    uid = models.CharField(max_length=120, unique=True, default=new_uid, validators=[check_uid])

    class Meta:
        abstract = True
        ordering = ("id",)

    def __str__(self) -> str:
        return str(getattr(self, "name", "") or getattr(self, "label", "") or self.uid)
