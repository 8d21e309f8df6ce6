"""What the reader found in a file, as it is shown: columns and what each was taken for, lines set aside, gaps."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from chalaza.pages.logs.drawn import temperature
from chalaza.words import logs as words
from chalaza.words import numbers
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import STYLES, Voice

_NO_NAME = mark("column {number}, without a name")
_IN_UNIT = mark("{what} in {unit}")
_OF_SPAN = mark("{statistic} of a span of time: left out")
_ASIDE = Plural(mark("{n} line: {why}"), mark("{n} lines: {why}"), by="n")
_CELLS = Plural(mark("{n} value of {column}: {why}"), mark("{n} values of {column}: {why}"), by="n")
_GAP = mark("{first} to {last}")
_STATISTICS: Mapping[str, str] = {"max": mark("greatest"), "min": mark("least"), "spread": mark("spread")}
#: Lines that were never meant as readings: not counted as set aside.
NO_ROWS = frozenset({"blank", "comment", "repeated-header", "footer"})
_MOST_GAPS, _MOST_SAMPLES = 5, 40


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnShown:
    """One column of the file: what it was taken for and why; least, mean and greatest of what it gives."""

    name: str
    taken: str
    because: str
    low: str
    mean: str
    high: str


@dataclass(frozen=True, slots=True)
class LineShown:
    """A line or a cell that was set aside."""

    line: int
    text: str
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportShown:
    """A file as it was read. `aside`: how many lines and values were set aside and why; `gaps`: the longest ones."""

    rows: int
    used: int
    columns: tuple[ColumnShown, ...]
    aside: tuple[str, ...]
    n_aside: int
    gaps: tuple[str, ...]
    notes: tuple[str, ...]
    layout: tuple[str, ...]
    lines: tuple[LineShown, ...]


def shown(voice: Voice, report: Mapping[str, Any]) -> ReportShown:
    """The report of a file, as the reader gives it in plain values."""
    rejected = {why: n for why, n in report["rows_rejected"].items() if n and why not in NO_ROWS}
    aside = [_counted(voice, n, why) for why, n in rejected.items()]
    for column in report["columns"]:
        if column["used"]:
            name = _name(voice, column)
            aside += [_counted(voice, n, why, name) for why, n in column["set_aside"].items() if n]
    return ReportShown(
        rows=report["rows_read"] + sum(rejected.values()), used=report["rows_read"], aside=tuple(aside),
        n_aside=sum(rejected.values()), columns=tuple(_column(voice, one) for one in report["columns"]),
        gaps=tuple(_gaps(voice, report["gaps"])), notes=tuple(words.told(voice, note) for note in report["notes"]),
        layout=tuple(words.told(voice, report[part]) for part in ("layout", "time", "encoding")),
        lines=tuple(
            LineShown(one["line"], one["text"], voice.say(words.REASONS.get(one["reason"], words.REASONS["text"])))
            for one in report["set_aside"][:_MOST_SAMPLES]
        ),
    )  # fmt: skip


def _counted(voice: Voice, n: int, why: str, column: str = "") -> str:
    reason = words.REASONS.get(why)
    holes = {"n": f"{n:,}", "why": voice.say(reason) if reason else why, "column": column}
    return voice.say(_CELLS if column else _ASIDE, holes, n=n)


def _name(voice: Voice, column: Mapping[str, Any]) -> str:
    return str(column["name"]) or voice.say(_NO_NAME, {"number": str(column["number"])})


def _column(voice: Voice, column: Mapping[str, Any]) -> ColumnShown:
    role = words.ROLES.get(column["quantity"])
    what = voice.say(role) if role is not None else str(column["quantity"])
    if column["statistic"]:
        statistic = _STATISTICS.get(column["statistic"], words.ROLES["unknown"])
        taken = voice.say(_OF_SPAN, {"statistic": voice.say(statistic)})
    elif column["used"] and column["unit"]:
        taken = voice.say(_IN_UNIT, {"what": what, "unit": {"1": "0–1"}.get(column["unit"], column["unit"])})
    else:
        taken = what
    low, mean, high = _figures(voice, column)
    return ColumnShown(
        name=_name(voice, column), taken=taken, because=words.told(voice, column["why"]), low=low, mean=mean, high=high
    )


def _figures(voice: Voice, column: Mapping[str, Any]) -> tuple[str, str, str]:
    """Least, mean and greatest: inside units where they are known, else as printed."""
    inside = column["inside"]
    values = inside if inside is not None else column
    found = (values["min"], values["mean"], values["max"])
    if any(one is None for one in found) or column["quantity"] == "time":
        return "", "", ""
    if inside is None:
        return tuple(numbers.number(float(one), 1) for one in found)  # type: ignore[return-value]  # three of them
    if inside["unit"] == "°C":
        return tuple(temperature(voice, float(one)) for one in found)  # type: ignore[return-value]  # three of them
    style = STYLES["humidity"]
    return tuple(  # type: ignore[return-value]  # three of them
        numbers.number(numbers.converted(float(one), style, style.metric), 0) for one in found
    )


def _gaps(voice: Voice, gaps: Sequence[Mapping[str, Any]]) -> list[str]:
    """The longest gaps, in order. Their moments are UTC, as the reader placed them."""
    longest = sorted(gaps, key=lambda one: -one["seconds"])[:_MOST_GAPS]
    out = []
    for one in sorted(longest, key=lambda each: str(each["from"])):
        ends = [datetime.fromisoformat(f"{one[end]}+00:00").timestamp() for end in ("from", "to")]
        first, last = (numbers.moment(voice, each) for each in ends)
        out.append(voice.say(_GAP, {"first": first, "last": last}))
    return out
