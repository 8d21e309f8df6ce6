"""One cell of a logger file to a number, or to the reason why it is none.

Minus signs, grouping, decimal marks, units behind the number, `<10`, words for "nothing" and "error", and the damage a
spreadsheet does. `cell` reads one text, `column` reads a whole column of bytes at once; both give the same floats.
"""

import re
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from chalaza.intake.shapes import BLANKS, Bytes, Index, Spans, take
from chalaza.intake.vocabulary import word_set

NAN = float("nan")
#: Longer cells hold no number.
MAX_CELL = 120
_HUGE = 1e17
#: 10**15 is the last power of ten under which every whole number and its exact quotient round once, as `float` does.
_MAX_DIGITS = 15
_POWERS = np.array([float(10**n) for n in range(_MAX_DIGITS + 2)])

_MISSING = word_set(
    "na n/a #n/a nan null none nil missing void empty blank - -- --- ---- ----- . .. ... ? ?? ??? * ** *** x "
    "_ __ ___ --.- --.-- ---.- -.- -.-- no_data nodata k.a. n.v. s/d"
)
_ERRORS = word_set(
    "ol o.l. err error fault fail failed open short over under overrange underrange ovr hi lo e1 e2 e3 "
    "#value! #div/0! #ref! #num! #name? crc disconnected offline absent fehler erreur inf -inf +inf"
)
_SIGNS = str.maketrans(
    {
        "\u2212": "-",
        "\u2013": "-",
        "\u2014": "-",
        "\ufe63": "-",
        "\uff0d": "-",
        "\u00a0": " ",
        "\u2007": " ",
        "\u2009": " ",
        "\u202f": " ",
    }
)
_NUMBER = r"[+-]?(?:[0-9][0-9 .,'’]*|[.,][0-9]+)"
_UNIT_TAIL = r"(?:[°º˚øØ¡?\ufffd]|Â°)? ?(?:deg\.? ?)?[CFK]|℃|℉|% ?(?:RH|rF|HR|rH)?"
_WITH_UNIT = re.compile(rf"^(?P<sign>[<>≤≥])?=? *(?P<number>{_NUMBER}) *(?P<unit>{_UNIT_TAIL})?$", re.IGNORECASE)
_GROUPED = re.compile(r"^\d{1,3}(?P<g>[ .,'’])\d{3}(?:(?P=g)\d{3})*(?P<rest>[.,]\d+)?$")
_PLAIN = re.compile(r"^(?P<whole>\d*)(?P<mark>[.,])?(?P<part>\d*)$")
_SCIENTIFIC = re.compile(r"^[+-]?\d+(?:[.,]\d+)?[eE][+-]?\d{1,3}$")
_TURNED_TO_DATE = re.compile(r"^(?:\d{1,2}[-./ ][^\W\d_]{3,9}\.?|[^\W\d_]{3,9}[-./ ]\d{1,4})$")


class Cell(NamedTuple):
    """A cell that is no plain number: its text, its value if any, why it is set aside (`""`: not), its unit if any."""

    text: str
    value: float
    reason: str
    unit: str


def cell(text: str, decimal: str) -> Cell:
    """Read one cell; `decimal` is the decimal mark of the file, `.` or `,`.

    Reasons: blank, missing, sensor-error, censored (value kept), scientific (value kept), spreadsheet-damage,
    half-number, text.
    """
    shown = text.strip(BLANKS)
    plain = shown.translate(_SIGNS).strip(BLANKS).lstrip("'").strip(BLANKS)
    low = plain.casefold()
    if not plain:
        return Cell(shown, NAN, "blank", "")
    if low in _MISSING:
        return Cell(shown, NAN, "missing", "")
    if low in _ERRORS or not plain.strip("#"):
        return Cell(shown, NAN, "sensor-error", "")
    if len(plain) > MAX_CELL:
        return Cell(shown[:MAX_CELL], NAN, "text", "")
    if _SCIENTIFIC.match(plain) and abs(value := float(plain.replace(",", "."))) < _HUGE:
        return Cell(shown, value, "scientific", "")
    if (found := _WITH_UNIT.match(plain)) is not None:
        return _counted(shown, found, decimal)
    return Cell(shown, NAN, "spreadsheet-damage" if _TURNED_TO_DATE.match(plain) else "text", "")


def _counted(shown: str, found: re.Match[str], decimal: str) -> Cell:
    value = decimal_value(found["number"].strip(), decimal)
    unit = _unit(found["unit"] or "")
    if value is None or abs(value) > _HUGE:
        half = found["number"].rstrip().endswith((".", ","))
        return Cell(shown, NAN, "half-number" if half else "text", "")
    return Cell(shown, value, "censored" if found["sign"] else "", unit)


def _unit(tail: str) -> str:
    last = tail.strip().upper()
    if not last:
        return ""
    if last.startswith("%"):
        return "%"
    return {"C": "°C", "℃": "°C", "F": "°F", "℉": "°F", "K": "kelvin"}[last[-1]]


def decimal_value(text: str, decimal: str) -> float | None:
    """The value of digits with a decimal mark and consistent grouping in threes, or None.

    The mark of the file goes first; the other mark is taken only where it cannot be grouping (not three digits).
    """
    sign, digits = (-1.0, text[1:]) if text.startswith("-") else (1.0, text.removeprefix("+"))
    found = _PLAIN.match(digits)
    if found is not None and (found["whole"] or found["part"]):
        mark, part = found["mark"], found["part"]
        if mark and not part:
            return None
        if not mark or mark == decimal or len(part) != 3 or not found["whole"] or len(found["whole"]) > 3:
            return sign * float(f"{found['whole'] or '0'}.{part or '0'}")
    grouped = _GROUPED.match(digits)
    if grouped is None or (grouped["rest"] and grouped["rest"][0] == grouped["g"]) or grouped["g"] == decimal:
        return None
    rest = grouped["rest"] or ""
    whole = digits[: len(digits) - len(rest)].replace(grouped["g"], "")
    return sign * float(f"{whole}.{rest[1:] or '0'}")


def column(window: Bytes, start: Index, end: Index, decimal: str) -> tuple[npt.NDArray[np.float64], Spans]:
    """Plain numbers (`-12.5`, at most 15 digits) of a whole column: values, and which cells were plain numbers.

    Cells of one look (same length, same place of the mark) are read together; a few looks cover a column.
    """
    size = len(start)
    values = np.full(size, np.nan)
    done = np.zeros(size, dtype=np.bool_)
    length = end - start
    todo: Index | None = None
    for _ in range(6):
        at = 0 if todo is None else int(todo[0])
        look = bytes(window[start[at] : end[at]])
        read = _one_look(window, start, length, todo, look, decimal)
        if read is None:
            break
        rows, found = read
        values[rows], done[rows] = found, True
        todo = np.flatnonzero(~done & (length > 0))
        if not len(todo):
            return values, done
    if todo is None:
        todo = np.flatnonzero(length > 0)
    if len(todo):
        values[todo], done[todo] = _by_digit(window, start[todo], length[todo], ord(decimal))
    return values, done


def _one_look(
    window: Bytes, start: Index, length: Index, todo: Index | None, look: bytes, decimal: str
) -> tuple[Index | slice, npt.NDArray[np.float64]] | None:
    """All cells that look like `look`; None when it is no plain number. Exact: whole digits over a power of ten."""
    sign = 1 if look[:1] in (b"-", b"+") else 0
    whole, _, part = look[sign:].partition(decimal.encode())
    digits = whole + part
    if not digits.isdigit() or not whole or len(digits) > _MAX_DIGITS or (len(look) != sign + len(digits) and not part):
        return None
    rows: Index | None = todo
    alike = length == len(look) if todo is None else length[todo] == len(look)
    if not alike.all():
        rows = np.flatnonzero(alike) if todo is None else todo[alike]
    numbers, fits = take(window, start if rows is None else start[rows], look)
    places = np.ascontiguousarray(numbers.T)
    total = places[sign].astype(np.int32 if len(digits) <= 9 else np.int64)
    for at in range(sign + 1, len(look)):
        if 48 <= look[at] <= 57:
            total *= 10
            total += places[at]
    found = total / _POWERS[len(part)]
    found = -found if look[:1] == b"-" else found
    if fits is None:
        return (slice(None) if rows is None else rows), found
    return (np.flatnonzero(fits) if rows is None else rows[fits]), found[fits]


def _by_digit(window: Bytes, start: Index, length: Index, mark: int) -> tuple[npt.NDArray[np.float64], Spans]:
    """The same for columns of many looks: one pass over the places of the cells."""
    count = len(start)
    mantissa, digits = np.zeros(count, np.int64), np.zeros(count, np.int64)
    places, seen = np.zeros(count, np.int64), np.zeros(count, np.bool_)
    first = window[start]
    signed = (first == 45) | (first == 43)
    good = (length - signed <= _MAX_DIGITS + 1) & (length > signed)
    last = len(window) - 1
    for at in range(int(min(length.max(initial=0), _MAX_DIGITS + 2))):
        char = window[np.minimum(start + at, last)]
        live = (length > at) & ~(signed & (at == 0))
        figure = live & (char >= 48) & (char <= 57)
        dot = live & (char == mark) & ~seen & (digits > 0)
        mantissa = np.where(figure, mantissa * 10 + (char.astype(np.int64) - 48), mantissa)
        digits += figure
        places += figure & seen
        seen |= dot
        good &= ~live | figure | dot
    good &= (digits > 0) & (digits <= _MAX_DIGITS) & (~seen | (places > 0))
    values = mantissa / _POWERS[np.minimum(places, _MAX_DIGITS + 1)]
    return np.where(good, np.where(first == 45, -values, values), np.nan), good
