"""What was read, what was not, and why: the report beside the readings, as JSON and as lines for a terminal."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from chalaza.intake.questions import Question

#: Reasons a line or a cell was set aside, in plain words.
REASON_WORDS: Mapping[str, str] = {
    "blank": "empty",
    "comment": "a comment line",
    "repeated-header": "the header again",
    "field-count": "another number of cells than the other rows",
    "half-line": "the file breaks off inside the line",
    "line-too-long": "longer than a row can be",
    "torn": "NUL bytes inside: written while the power failed",
    "bad-time": "its time cannot be read",
    "footer": "text below the readings",
    "event-only": "an event without a reading",
    "no-measurement": "a time without a reading",
    "duplicate": "the same row again",
    "clock-reset": "the clock had fallen back to its start",
    "missing-hour": "an hour that does not exist on that day",
    "missing": "a word for nothing",
    "sensor-error": "the sensor reported an error",
    "sensor-code": "a value sensors give when they cannot read",
    "out-of-span": "outside what can be true",
    "censored": "only known to be below or above",
    "spreadsheet-damage": "changed by a spreadsheet",
    "half-number": "a number that breaks off",
    "text": "words where a number belongs",
}


@dataclass(frozen=True, slots=True)
class Sample:
    """One line or cell that was set aside: its line number (from 1), column number (0: the whole line), text, reason."""

    line: int
    column: int
    text: str
    reason: str


@dataclass(frozen=True, slots=True)
class Statistics:
    """How many values, and the least, greatest and mean of them."""

    n: int
    low: float | None = None
    high: float | None = None
    mean: float | None = None

    def to_json(self) -> dict[str, Any]:
        """As plain values."""
        return {"n": self.n, "min": self.low, "max": self.high, "mean": self.mean}


@dataclass(frozen=True, slots=True)
class ColumnReport:
    """What one column was taken for and why. `found`: as printed in `unit`; `inside`: in °C or as a fraction."""

    number: int
    name: str
    quantity: str
    unit: str
    statistic: str
    why: str
    used: bool
    found: Statistics
    inside: Statistics | None
    inside_unit: str
    aside: Mapping[str, int]

    def to_json(self) -> dict[str, Any]:
        """As plain values; `min`, `max`, `mean` are in the unit `stats_in`, as found in the file."""
        return {
            "number": self.number,
            "name": self.name,
            "quantity": self.quantity,
            "unit": self.unit or None,
            "statistic": self.statistic or None,
            "used": self.used,
            "why": self.why,
            **self.found.to_json(),
            "stats_in": self.unit or "as found",
            "inside": None if self.inside is None else {"unit": self.inside_unit, **self.inside.to_json()},
            "set_aside": dict(self.aside),
        }


@dataclass(frozen=True, slots=True)
class Shown:
    """One row to look at: its line number (from 1), the stamp and the cells as printed, and the moment read. [s UTC]"""

    line: int
    stamp: str
    cells: tuple[str, ...]
    at: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """The report of one file. Times are as printed; `zone` says what they were taken for (None: not known).

    `shown`: the first two rows that were read and the last one.
    """

    encoding: str
    layout: str
    look: str
    line_count: int
    lines_above: int
    rows_read: int
    rows_rejected: Mapping[str, int]
    continued: int
    time_column: str
    time_decided: bool
    first: str | None
    last: str | None
    zone: str | None
    step_s: int | None
    largest_gap_s: int | None
    steps_not_modal: int
    gaps: tuple[tuple[str, str, int], ...]
    in_order: bool
    newest_first: bool
    repeated_times: int
    columns: tuple[ColumnReport, ...]
    probes: tuple[tuple[str, int], ...]
    notes: tuple[str, ...]
    samples: tuple[Sample, ...]
    questions: tuple[Question, ...]
    answered: Mapping[str, str] = field(default_factory=dict)
    shown: tuple[Shown, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """The report as plain values."""
        return {
            "rows_read": self.rows_read,
            "rows_rejected": dict(self.rows_rejected),
            "first": self.first,
            "last": self.last,
            "zone": self.zone,
            "time_decided": self.time_decided,
            "time": self.time_column,
            "step_s": self.step_s,
            "largest_gap_s": self.largest_gap_s,
            "steps_not_modal": self.steps_not_modal,
            "gaps": [{"from": a, "to": b, "seconds": seconds} for a, b, seconds in self.gaps],
            "in_order": self.in_order,
            "newest_first": self.newest_first,
            "repeated_times": self.repeated_times,
            "lines": self.line_count,
            "lines_above": self.lines_above,
            "lines_continued": self.continued,
            "encoding": self.encoding,
            "layout": self.layout,
            "look": self.look,
            "columns": [column.to_json() for column in self.columns],
            "probes": [{"name": name, "n": count} for name, count in self.probes],
            "notes": list(self.notes),
            "set_aside": [
                {"line": s.line, "column": s.column or None, "text": s.text, "reason": s.reason} for s in self.samples
            ],
            "questions": [question.to_json() for question in self.questions],
            "answers": dict(self.answered),
        }

    def lines(self) -> list[str]:
        """The report for a terminal, one string a line."""
        result = [f"{self.rows_read} rows read, {sum(self.rows_rejected.values())} set aside"]
        for reason, count in self.rows_rejected.items():
            result.append(f"    {count:>8}  {reason}: {REASON_WORDS.get(reason, reason)}")
        undecided = "" if self.time_decided else " (not decided: see the question below)"
        result.append(f"from {self.first} to {self.last}{undecided}; zone: {self.zone or 'as printed, not known'}")
        result.append(f"step {self.step_s} s, largest gap {self.largest_gap_s} s, {self.steps_not_modal} other steps")
        result += [f"    gap from {a} to {b}: {seconds / 3600:.1f} h" for a, b, seconds in self.gaps[:5]]
        result += [f"text: {self.encoding}; {self.layout}", f"time: {self.time_column}", "columns:"]
        result += [line for column in self.columns for line in _column_lines(column)]
        result += [f"probe {name}: {count} readings" for name, count in self.probes]
        result += [f"note: {note}" for note in self.notes]
        result += [f"line {s.line}: {s.reason}: {s.text}" for s in self.samples[:20]]
        if self.questions:
            result.append("questions:")
            result += [f"  {line}" for question in self.questions for line in question.lines()]
        return result


def _column_lines(column: ColumnReport) -> list[str]:
    name = column.name or "(no name)"
    what = f"{column.statistic} of {column.quantity}" if column.statistic else column.quantity
    line = f"  {column.number:>3}  {name}: {what}{f' in {column.unit}' if column.unit else ''}; {column.why}"
    result = [line]
    if column.found.n and column.found.mean is not None:
        result.append(
            f"       {column.found.n} values, {column.found.low:g} to {column.found.high:g}, mean {column.found.mean:.4g}"
        )
    if column.aside:
        listed = ", ".join(f"{count} {reason}" for reason, count in column.aside.items())
        result.append(f"       set aside: {listed}")
    return result
