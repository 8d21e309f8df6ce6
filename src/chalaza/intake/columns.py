"""What each column is taken for, and why: by its name, its unit, its cells, and at last by its values.

A column that could be two things is asked about; its values are kept back until the answer.
"""

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from chalaza.intake import names, vocabulary
from chalaza.intake.layout import Layout
from chalaza.intake.shapes import Index, Spans
from chalaza.intake.table import BLANK, PLAIN, NumberColumn, Table
from chalaza.units import inside

Floats = npt.NDArray[np.float64]

#: Roles whose cells say nothing about whether a row holds a measurement.
NOT_MEASURED = vocabulary.word_set("index empty text id type unit set-point alarm time interval")
WANTED = ("temperature", "rh")
_GENERIC = vocabulary.word_set(
    "no nr ch channel sensor probe port kanal kanaal canal in input value val wert col column"
)


_WORD_REASONS = ("blank", "missing", "sensor-error", "censored", "spreadsheet-damage", "half-number", "text")
#: So many cells of a column are shown for each reason.
_SAMPLES = 3


@dataclass(slots=True)
class Column:
    """One column of readings over the lines `rows`: `values` as printed (NaN: none), `aside` reason -> count."""

    at: int
    name: str
    role: str
    unit: str
    statistic: str
    why: str
    rows: Index
    values: Floats
    aside: dict[str, int] = field(default_factory=dict)
    samples: list[tuple[int, str, str]] = field(default_factory=list)
    blocked: bool = False
    key: str = ""
    kind: str = ""

    @property
    def used(self) -> bool:
        """Whether its values are given out as readings."""
        return self.role in WANTED and not self.statistic and not self.blocked

    def put_aside(self, which: Spans, reason: str, printed: Callable[[int], str] | None = None) -> None:
        """Take values out, count them under `reason`, keep the first few with their line and `printed` text."""
        found = np.flatnonzero(which)
        if not len(found):
            return
        self.aside[reason] = self.aside.get(reason, 0) + len(found)
        for at in found[:_SAMPLES].tolist():
            text = f"{self.values[at]:g}" if printed is None else printed(at)
            self.samples.append((int(self.rows[at]), text, reason))
        self.values[which] = np.nan


def find_index(table: Table, layout: Layout) -> int | None:
    """The column with the running number of the rows, if there is one."""
    for at, column in table.numbers.items():
        name = layout.names[at]
        if name and not vocabulary.is_index(name):
            continue
        values = column.values[np.isfinite(column.values)]
        if len(values) < 3 or not bool((values == np.floor(values)).all()):
            continue
        rising = float((np.abs(np.diff(values)) == 1).mean())
        if (vocabulary.is_index(name) and rising > 0.5) or (not name and at == 0 and rising > 0.9):
            return at
    return None


def take(table: Table, layout: Layout, rows: Index, index: int | None, at: int) -> Column:
    """The column `at` with the role its name and unit give it; values that are no numbers are set aside."""
    source = table.numbers[at]
    whole = len(rows) == len(source.labels)
    labels = source.labels if whole else source.labels[rows]
    counts = np.bincount(labels, minlength=len(source.cells)) if len(rows) else np.zeros(len(source.cells), np.int64)
    name = layout.names[at]
    unit = names.unit_in(layout.units[at]) or names.unit_in(name)
    statistic = _statistic(name, layout.aggregates[at])
    column = Column(at, name, "", unit, statistic, "", rows, source.values.copy() if whole else source.values[rows])
    filled = len(rows) - _blanks(source, counts)
    if not filled:
        column.role, column.why = "empty", "no cell is filled"
        column.rows, column.values = rows[:0], column.values[:0]
        return column
    figures = sum(int(counts[n]) for n, cell in enumerate(source.cells) if n == PLAIN or cell.value == cell.value)
    if 2 * figures < filled and not _codes_only(source, counts):
        column.role, column.why = "text", "most filled cells are words"
        return column
    _set_words_aside(column, source, labels, counts)
    _cell_units(column, source, labels, counts)
    column.role, column.why = _by_name(column, layout, at == index)
    return column


def _blanks(source: NumberColumn, counts: npt.NDArray[np.int64]) -> int:
    return sum(int(counts[n]) for n, cell in enumerate(source.cells) if n != PLAIN and cell.reason == "blank")


def _codes_only(source: NumberColumn, counts: npt.NDArray[np.int64]) -> bool:
    words = Counter[str]()
    for n, cell in enumerate(source.cells):
        if n > BLANK and counts[n]:
            words[cell.reason] += int(counts[n])
    return bool(words) and words["text"] * 10 < sum(words.values())


def _statistic(name: str, aggregate: str) -> str:
    if aggregate and (word := vocabulary.statistic_of(aggregate)):
        return word
    return vocabulary.statistic_of(name)


def _set_words_aside(
    column: Column, source: NumberColumn, labels: npt.NDArray[np.int32], counts: npt.NDArray[np.int64]
) -> None:
    if counts[PLAIN] == len(labels):
        return
    reasons = [cell.reason for cell in source.cells]
    scientific = sum(int(counts[n]) for n, reason in enumerate(reasons) if reason == "scientific")
    if 2 * scientific <= len(labels):
        reasons = ["spreadsheet-damage" if reason == "scientific" else reason for reason in reasons]
    for reason in _WORD_REASONS:
        wanted = np.array([n > PLAIN and found == reason for n, found in enumerate(reasons)])
        column.put_aside(wanted[labels], reason, lambda at: source.cells[labels[at]].text)


def _cell_units(
    column: Column, source: NumberColumn, labels: npt.NDArray[np.int32], counts: npt.NDArray[np.int64]
) -> None:
    """Units behind the numbers: one for all, or °C and °F mixed, which are then all turned to °C."""
    units = np.array([cell.unit if n > BLANK else "" for n, cell in enumerate(source.cells)])
    seen = Counter[str]()
    for n in range(BLANK + 1, len(source.cells)):
        if units[n]:
            seen[str(units[n])] += int(counts[n])
    seen = +seen
    if not seen:
        return
    if set(seen) <= {"°C", "°F", "kelvin"} and len(seen) > 1:
        for unit in seen:
            rows = units[labels] == unit
            column.values[rows] = inside(column.values[rows], unit)
        column.unit, column.kind = "°C", "units stand in the cells and differ: all turned to °C"
    else:
        column.unit, column.kind = seen.most_common(1)[0][0], "the unit stands in the cells"


def _by_name(column: Column, layout: Layout, index: bool) -> tuple[str, str]:
    role, unit = vocabulary.role_of(column.name), column.unit
    if index:
        return "index", "a number that rises by one from row to row"
    if role == "rh" and unit in ("°C", "°F", "kelvin"):
        return "derived", f"named after humidity but in {unit}"
    if role == "temperature" and unit in ("%", "g/m³"):
        return "unknown", f"named after temperature but in {unit}"
    if role in WANTED or role == "":
        if unit == "g/m³":
            return "absolute-humidity", "its unit is g/m³"
        if unit in ("°C", "°F", "kelvin") and role != "rh":
            return "temperature", f"its unit is {unit}" if not role else "its name and unit"
        if unit == "%" and role != "temperature" and (role or _generic(column.name)):
            return "rh", "its name and unit" if role else "its unit is % and its name says nothing else"
        if unit == "%" and not role:
            return "unknown", "its unit is % but its name is not known"
    if role:
        return role, f"its name says {role}"
    return "unknown", "its name is not known" if column.name else "it has no name"


def _generic(name: str) -> bool:
    return all(word in _GENERIC or word.isdigit() or len(word) == 1 for word in vocabulary.tokens(name))
