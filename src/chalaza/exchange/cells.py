"""One cell: what a value looks like as text, and which value a text stands for. `text_of` and `value_of` are inverse.

The formula rule: a spreadsheet takes a cell that begins with one of `= + - @ ' TAB CR` for a formula or eats its first
character. Such text is written with one apostrophe before it and read without it. Numbers are not text.
"""

import re
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from enum import StrEnum
from math import isfinite
from types import MappingProxyType
from typing import Any
from zoneinfo import ZoneInfo

from chalaza.exchange.schema import MAX_TEXT, MAX_UID, Sort, Spec

FORMULA_STARTS = ("=", "+", "-", "@", "'", "\t", "\r")
FORMULA_RULE = (
    "A text that begins with one of = + - @ ' or with a tab or carriage return is written with one apostrophe before "
    "it, so that no spreadsheet takes it for a formula; a reader takes the first apostrophe of a text away. "
    "Numbers are not text and carry none."
)

_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_WHOLE = re.compile(r"[+-]?\d{1,18}", re.ASCII)
_MOMENT = re.compile(r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d)(:\d\d)?(?:\.0+)?(Z|[+-]\d\d:?\d\d)", re.ASCII)
_UID = re.compile(rf"\S{{1,{MAX_UID}}}")
_ZONE = re.compile(r"[A-Za-z0-9_+-]+(/[A-Za-z0-9_+-]+){0,3}", re.ASCII)
_TRUTHS = MappingProxyType(
    {"true": True, "True": True, "TRUE": True, "1": True, "false": False, "False": False, "FALSE": False, "0": False}
)


class Refused(ValueError):
    """A cell that cannot be taken; the text says what is wrong with it."""


def value_of(spec: Spec, text: str) -> Any:
    """The value a cell stands for. Raises `Refused`."""
    if text == "":
        if spec.required:
            raise Refused("is empty")
        return None if spec.optional else spec.default
    if "\0" in text:
        raise Refused("holds a NUL character")
    return _PARSE[spec.sort](spec, text)


def text_of(spec: Spec, value: Any) -> str:
    """The cell of a value, proven by reading it back. Raises `Refused` for what `value_of` would not give again."""
    text = "" if value is None else _format(spec, value)
    if value_of(spec, text) != value:
        raise Refused("cannot be written without loss")
    return text


def allowed_words(spec: Spec) -> str:
    """In words, what a cell that is not empty holds."""
    return _ALLOWED[spec.sort](spec)


def allowed(spec: Spec) -> str:
    """In words, what a cell may hold."""
    words = allowed_words(spec)
    return words if spec.required else f"{words}, or empty"


def number(text: str) -> float:
    """A finite number with a dot as decimal sign. Raises `Refused`."""
    if not _NUMBER.fullmatch(text):
        raise Refused("not a number with a dot as decimal sign")
    value = float(text)
    if not isfinite(value):
        raise Refused("too large a number")
    return value


def moment(text: str) -> int:
    """Seconds since 1970 in UTC of an ISO 8601 moment that names its zone. Raises `Refused`."""
    match = _MOMENT.fullmatch(text)
    if match is None:
        raise Refused("not a moment in whole seconds with its zone")
    day, minutes, seconds, zone = match.groups()
    try:
        return int(datetime.fromisoformat(f"{day}T{minutes}{seconds or ':00'}{zone}").timestamp())
    except (ValueError, OverflowError):
        raise Refused("no such day or hour") from None


def stamp(seconds: int) -> str:
    """The ISO 8601 moment of whole seconds since 1970, in UTC. Raises `Refused` beyond the years 1 to 9999."""
    try:
        return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    except (ValueError, OverflowError, OSError):
        raise Refused("no such moment") from None


def guarded(text: str) -> str:
    """Text under the formula rule."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def unguarded(cell: str) -> str:
    """The text of a cell written under the formula rule: the inverse of `guarded`."""
    return cell.removeprefix("'")


def _parse_text(spec: Spec, cell: str) -> str:
    text = unguarded(cell)
    if len(text) > MAX_TEXT:
        raise Refused(f"longer than {MAX_TEXT} characters")
    return text


def _parse_uid(spec: Spec, cell: str) -> str:
    text = unguarded(cell)
    if not _UID.fullmatch(text):
        raise Refused("not a name without blanks")
    return text


def _parse_zone(spec: Spec, text: str) -> str:
    try:
        if _ZONE.fullmatch(text):
            ZoneInfo(text)
            return text
    except (KeyError, ValueError, OSError):
        pass
    raise Refused("no such time zone")


def _parse_choice(spec: Spec, text: str) -> str:
    if text not in spec.choices:
        raise Refused("not one of the words allowed")
    return spec.kind(text) if issubclass(spec.kind, StrEnum) else text


def _parse_truth(spec: Spec, text: str) -> bool:
    if text not in _TRUTHS:
        raise Refused("neither true nor false")
    return _TRUTHS[text]


def _parse_number(spec: Spec, text: str) -> float:
    return _within(spec, number(text))


def _parse_whole(spec: Spec, text: str) -> float:
    if not _WHOLE.fullmatch(text):
        raise Refused("not a whole number")
    return _within(spec, int(text))


def _parse_moment(spec: Spec, text: str) -> float:
    return _within(spec, moment(text))


def _within(spec: Spec, value: float) -> float:
    if spec.span is not None and not spec.span.holds(value):
        raise Refused("outside what can be true")
    return value


def _format(spec: Spec, value: Any) -> str:
    match spec.sort:
        case Sort.NUMBER:
            return repr(float(value))
        case Sort.WHOLE:
            return str(value)
        case Sort.MOMENT:
            return stamp(value)
        case Sort.TRUTH:
            return "true" if value else "false"
        case Sort.UID | Sort.TEXT | Sort.CHOICE | Sort.ZONE:
            return guarded(_encodable(str(value)))
        case _:
            raise ValueError(spec.sort)


def _encodable(text: str) -> str:
    try:
        text.encode()
    except UnicodeEncodeError:
        raise Refused("holds half a character (a lone surrogate)") from None
    return text


_PARSE: Mapping[Sort, Callable[[Spec, str], Any]] = MappingProxyType(
    {
        Sort.UID: _parse_uid,
        Sort.TEXT: _parse_text,
        Sort.CHOICE: _parse_choice,
        Sort.ZONE: _parse_zone,
        Sort.NUMBER: _parse_number,
        Sort.WHOLE: _parse_whole,
        Sort.MOMENT: _parse_moment,
        Sort.TRUTH: _parse_truth,
    }
)


def _span(spec: Spec) -> str:
    if spec.span is None:
        return f" in {spec.unit}" if spec.unit not in ("", "1") else ""
    unit = "" if spec.unit in ("", "1") else f" {spec.unit}"
    return f" from {spec.span.low:.10g} to {spec.span.high:.10g}{unit}"


def _allowed_text(spec: Spec) -> str:
    if spec.many:
        return "uids of eggs.csv separated by blanks, or all"
    return f"uid of a row of {spec.field.ref}.csv" if spec.field.ref else f"text of up to {MAX_TEXT} characters"


_ALLOWED: Mapping[Sort, Callable[[Spec], str]] = MappingProxyType(
    {
        Sort.UID: lambda spec: f"text without blanks, up to {MAX_UID} characters, once in this file",
        Sort.TEXT: _allowed_text,
        Sort.CHOICE: lambda spec: "one of " + ", ".join(spec.choices),
        Sort.ZONE: lambda spec: "name of a time zone, for example Europe/Berlin",
        Sort.NUMBER: lambda spec: f"number{_span(spec)}, dot as decimal sign",
        Sort.WHOLE: lambda spec: f"whole number{_span(spec)}",
        Sort.MOMENT: lambda spec: (
            "moment between 1970 and 2100 in whole seconds with its zone, like 2026-03-01T08:00:00Z"
        ),
        Sort.TRUTH: lambda spec: "true or false",
    }
)


def empty_words(spec: Spec) -> str:
    """Whether a cell may be empty and what it then stands for, in the words of the manual."""
    if spec.required:
        return "no"
    if spec.optional or spec.default == "":
        return "yes"
    return f"yes: {text_of(spec, spec.default)}"
