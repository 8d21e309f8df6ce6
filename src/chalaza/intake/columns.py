"""What each column is taken for, and why: by its name, its unit, its cells, and at last by its values.

A column that could be two things is asked about; its values are kept back until the answer.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from chalaza.intake import names, plausible, vocabulary
from chalaza.intake.layout import Layout
from chalaza.intake.questions import Asked, Option, Question
from chalaza.intake.shapes import Index, Spans
from chalaza.intake.table import BLANK, PLAIN, NumberColumn, Table
from chalaza.quantities import TEMP_DEGC
from chalaza.units import inside

Floats = npt.NDArray[np.float64]

#: Roles whose cells say nothing about whether a row holds a measurement.
NOT_MEASURED = vocabulary.word_set("index empty text id type unit set-point alarm time interval")
WANTED = ("temperature", "rh")
_GENERIC = vocabulary.word_set(
    "no nr ch channel sensor probe port kanal kanaal canal in input value val wert col column"
)
#: RH over 100 % up to this is a wet or drifted sensor: kept as printed and flagged (our choice). [%]
_RH_TOP = 105.0


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

    def put_aside(self, which: Spans, reason: str, printed: str = "") -> None:
        """Take values out, count them under `reason`, keep a few with their line."""
        found = np.flatnonzero(which)
        if not len(found):
            return
        self.aside[reason] = self.aside.get(reason, 0) + len(found)
        kept = sum(1 for _, _, why in self.samples if why == reason)
        for at in found[: max(0, 3 - kept)].tolist():
            text = printed or ("" if np.isnan(self.values[at]) else f"{self.values[at]:g}")
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
    labels = source.labels[rows]
    counts = np.bincount(labels, minlength=len(source.cells)) if len(rows) else np.zeros(len(source.cells), np.int64)
    name = layout.names[at]
    unit = names.unit_in(layout.units[at]) or names.unit_in(name)
    statistic = _statistic(name, layout.aggregates[at])
    column = Column(at, name, "", unit, statistic, "", rows, source.values[rows])
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
    scientific = sum(int(counts[n]) for n, cell in enumerate(source.cells) if cell.reason == "scientific")
    throughout = 2 * scientific > len(labels)
    for reason in (
        "blank",
        "missing",
        "sensor-error",
        "censored",
        "scientific",
        "spreadsheet-damage",
        "half-number",
        "text",
    ):
        wanted = [n for n, cell in enumerate(source.cells) if n > PLAIN and cell.reason == reason and counts[n]]
        if not wanted or (reason == "scientific" and throughout):
            continue
        for n in wanted[:3]:
            column.put_aside(
                labels == n, "spreadsheet-damage" if reason == "scientific" else reason, source.cells[n].text
            )
        if len(wanted) > 3:
            column.put_aside(np.isin(labels, wanted[3:]), "spreadsheet-damage" if reason == "scientific" else reason)


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


def settle(columns: Sequence[Column], asked: Asked, show: Mapping[int, Sequence[str]]) -> None:
    """Settle units, scales and the columns whose names say nothing; ask where two readings are left."""
    for column in columns:
        if column.role in WANTED:
            _settle_named(column, asked, show)
    if not any(column.role in WANTED for column in columns):
        bare = [column for column in columns if column.role == "unknown"]
        for column in bare:
            _by_values(column)
        found = any(column.role in WANTED for column in bare)
        for column in bare:
            if column.role == "unknown":
                _ask_quantity(column, asked, show, found)
    else:
        for column in columns:
            if column.role == "unknown" and f"quantity:{column.at + 1}" in asked.answers:
                _ask_quantity(column, asked, show, False)


def _finite(column: Column) -> Floats:
    return column.values[np.isfinite(column.values)]


def _settle_named(column: Column, asked: Asked, show: Mapping[int, Sequence[str]]) -> None:
    values = _finite(column)
    if not len(values) or column.statistic:
        column.unit = column.unit or ("°C" if column.role == "temperature" else "%")
        return
    if column.role == "temperature":
        _switch(column, asked)
        if not column.blocked:
            _settle_temperature(column, asked, show)
    else:
        _settle_rh(column, asked, show)


def _settle_temperature(column: Column, asked: Asked, show: Mapping[int, Sequence[str]]) -> None:
    span = {"°F": (-40.0, 140.0), "kelvin": (233.15, 333.15)}.get(column.unit, (TEMP_DEGC.low, 140.0))
    if not _scaled(column, plausible.scales(_finite(column), *span), asked, show):
        return
    if column.unit in ("°C", "°F", "kelvin"):
        return
    units = plausible.temperature_units(_finite(column))
    number = column.at + 1
    options = tuple(
        Option(key, words, _preview(show.get(column.at, ()), column, unit))
        for key, words, unit in (("degc", "degrees Celsius", "°C"), ("degf", "degrees Fahrenheit", "°F"))
    )
    words = f"column {number} ({column.name or 'no name'}) gives temperatures without a unit: °C or °F?"
    if len(units) == 1:
        taken = "degc" if units[0] == "°C" else "degf"
        answer = asked.ask(Question(f"unit:{number}", words, options, blocking=False, taken=taken))
        column.why += (
            "; no unit given: as °F it would be colder than 45 °F"
            if taken == "degc"
            else "; no unit given: too warm for °C"
        )
    else:
        answer = asked.ask(Question(f"unit:{number}", words, options))
    column.unit = {"degc": "°C", "degf": "°F", None: ""}[answer]
    column.blocked = not column.unit


def _settle_rh(column: Column, asked: Asked, show: Mapping[int, Sequence[str]]) -> None:
    values, number = _finite(column), column.at + 1
    top = float(values.max())
    if 0 < top <= 1.0 and not bool((values == np.round(values)).all()):
        options = (
            Option("fraction", "fractions, 1 is saturated", _preview(show.get(column.at, ()), column, "1")),
            Option("percent", "percent, 100 is saturated", _preview(show.get(column.at, ()), column, "%")),
        )
        words = f"column {number} ({column.name or 'no name'}) gives humidity from 0 to 1: fractions or percent?"
        open_ = Question(
            f"fraction:{number}",
            words,
            options,
            blocking=column.unit == "%",
            taken="fraction" if column.unit != "%" else "",
        )
        answer = asked.ask(open_)
        column.why += "; no value exceeds 1"
        column.unit, column.blocked = {"fraction": "1", "percent": "%", None: column.unit}[answer], answer is None
        return
    column.unit = "%"
    _scaled(column, plausible.scales(values, 0.0, _RH_TOP), asked, show)


def _scaled(column: Column, found: list[int], asked: Asked, show: Mapping[int, Sequence[str]]) -> bool:
    """Ask about whole numbers that only fit when divided by 10 or 100; False while the answer is open."""
    if not found:
        return True
    printed = list(show.get(column.at, ()))[:3]
    options = tuple(
        Option(
            str(scale),
            "as printed" if scale == 1 else f"divided by {scale}",
            tuple(f"{text}  reads as  {_over(text, scale)}" for text in printed),
        )
        for scale in (*found, 1)
    )
    words = f"column {column.at + 1} ({column.name or 'no name'}) gives whole numbers: tenths or hundredths?"
    answer = asked.ask(Question(f"scale:{column.at + 1}", words, options))
    if answer is None:
        column.blocked = True
        return False
    column.values = column.values / float(answer)
    return True


def _over(text: str, scale: int) -> str:
    try:
        return f"{float(text) / scale:g}"
    except ValueError:
        return "no number"


def _preview(printed: Sequence[str], column: Column, unit: str) -> tuple[str, ...]:
    values = _finite(column)[:3]
    shown = "°C" if unit in ("°C", "°F", "kelvin") else "%"
    read = [inside(float(value), unit) * (100.0 if shown == "%" else 1.0) for value in values]
    return tuple(f"{value:g}  reads as  {found:.1f} {shown}" for value, found in zip(values, read, strict=True))


def _switch(column: Column, asked: Asked) -> None:
    """A column that jumps by the formula of °C and °F: the unit was switched part-way."""
    good = np.flatnonzero(np.isfinite(column.values))
    clean = good[~np.isin(column.values[good], plausible.CODES)]
    values = column.values[clean]
    found = plausible.switches(values)
    if not found or len(found) > 20:
        return
    first = found[0][0]
    a, b = float(values[first - 1]), float(values[first])
    before, after = ("°F", "°C") if found[0][1] == "°C" else ("°C", "°F")
    options = (
        Option(
            "switched",
            f"{before} up to there, {after} from there on",
            (f"{a:g}, {b:g}  reads as  {inside(a, before):.1f}, {inside(b, after):.1f} °C",),
        ),
        Option("as-printed", "the values did jump", (f"{a:g}, {b:g}  in one unit",)),
    )
    words = f"column {column.at + 1} ({column.name or 'no name'}) jumps from {a:g} to {b:g}: was the unit switched?"
    answer = asked.ask(Question(f"unit-switch:{column.at + 1}", words, options))
    if answer == "switched":
        unit, start = before, 0
        for stop, following in (*found, (len(values), "")):
            rows = clean[start:stop]
            column.values[rows] = inside(column.values[rows], unit)
            unit, start = following, stop
        column.unit = "°C"
        column.why += "; unit switched part-way, as answered: all turned to °C"
    column.blocked = answer is None


def _by_values(column: Column) -> None:
    """A column without a name that only a digital thermometer can have written."""
    values = _finite(column)
    clean = plausible.without_codes(values)
    if len(values) and not len(clean):
        column.role, column.why = "no-sensor", f"every value is the sensor code {values[0]:g}"
        column.put_aside(np.isfinite(column.values), "sensor-code")
    elif plausible.on_grid(values):
        column.role, column.unit = "temperature", "°C"
        column.why = "every value lies on the 1/16 grid on which 12-bit digital thermometers count in °C"


def _ask_quantity(column: Column, asked: Asked, show: Mapping[int, Sequence[str]], found: bool) -> None:
    values = plausible.without_codes(_finite(column))
    still = len(values) > 5 and bool((values == values[0]).all())
    if not len(values) or (still and (found or float(values[0]) in (0.0, 1.0))):
        return
    number = column.at + 1
    choices = []
    units = [column.unit] if column.unit in ("°C", "°F") else plausible.temperature_units(values)
    for unit in units if column.unit != "%" else ():
        choices.append(("temp-degc" if unit == "°C" else "temp-degf", f"temperature in {unit}", unit))
    if plausible.fits(values, 0.0, 1.0):
        choices.append(("rh-fraction", "relative humidity as a fraction", "1"))
    if plausible.fits(values, 0.0, _RH_TOP):
        choices.append(("rh", "relative humidity in %", "%"))
    asked_for = asked.answers.get(f"quantity:{number}") is not None
    if not choices or (found and column.name and not asked_for):
        return
    options = [Option(key, words, _preview((), column, unit)) for key, words, unit in choices]
    options.append(Option("ignore", "neither: leave it out"))
    words = f"column {number} ({column.name or 'no name'}) could be several things: what does it hold?"
    answer = asked.ask(Question(f"quantity:{number}", words, tuple(options)))
    if answer is None:
        column.blocked = True
        column.why += "; asked about"
    elif answer != "ignore":
        column.role = "temperature" if answer.startswith("temp") else "rh"
        column.unit = next(unit for key, _, unit in choices if key == answer)
        column.why = "as answered"


def check(column: Column) -> list[str]:
    """Set aside sensor codes and values outside the hard span; say what else is odd. Returns flags in plain words."""
    if column.role not in WANTED or column.blocked or not len(column.values):
        return []
    good = np.flatnonzero(np.isfinite(column.values))
    values = column.values[good]
    flags = []
    temperature = column.role == "temperature"
    low, high = (TEMP_DEGC.low, TEMP_DEGC.high) if temperature else (0.0, _RH_TOP / 100.0)
    for reason, which in plausible.set_aside(values, column.unit, low, high).items():
        mask = np.zeros(len(column.values), np.bool_)
        mask[good[which]] = True
        column.put_aside(mask, reason)
    if not temperature:
        over = int((column.values > (1.0 if column.unit == "1" else 100.0)).sum())
        if over:
            flags.append(
                f"{over} values of column {column.at + 1} lie over saturation, kept as printed: wet or drifted sensor"
            )
    return flags
