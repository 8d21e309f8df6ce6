"""Files with one sensor or one quantity a row, and units in a column of their own: turned to a column for each."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from chalaza.intake import names, vocabulary
from chalaza.intake.columns import WANTED, Column
from chalaza.intake.shapes import Index
from chalaza.intake.table import NumberColumn, Table
from chalaza.units import inside

_MAX_GROUPS = 64
_TEMPERATURES = ("°C", "°F", "kelvin")


@dataclass(frozen=True, slots=True)
class Words:
    """A column of few different words over `rows`: `code` of each row, its `texts`; -1: no word."""

    at: int
    code: npt.NDArray[np.int64]
    texts: tuple[str, ...]


def unfold(table: Table, columns: list[Column], rows: Index, local: npt.NDArray[np.int64]) -> list[Column]:
    """The columns of a file, split by sensor and by quantity where its rows are. Roles `id`, `type`, `unit` are set."""
    words = [found for column in columns if (found := _words(table.numbers[column.at], column, rows)) is not None]
    by_at = {column.at: column for column in columns}
    units = next((w for w in words if all(names.is_unit(text) and names.unit_in(text) for text in w.texts)), None)
    words = [w for w in words if w is not units]
    types = next((w for w in words if _tells_type(w)), None)
    ids = next((w for w in words if w is not types and _tells_sensor(w, by_at[w.at], local)), None)
    if units is not None:
        by_at[units.at].role, by_at[units.at].why = "unit", "its cells are units"
        _apply_units(columns, units)
    if types is not None:
        by_at[types.at].role, by_at[types.at].why = "type", "its cells name the quantity of each row"
        columns = _by_type(columns, types)
    if ids is not None:
        by_at[ids.at].role, by_at[ids.at].why = "id", f"its cells name {len(ids.texts)} sensors"
        columns = _by_sensor(columns, ids, rows)
    return columns


def _words(source: NumberColumn, column: Column, rows: Index) -> Words | None:
    """A column as words, when nearly every row has one and there are few."""
    labels = source.labels[rows].astype(np.int64)
    if column.role == "text":
        used = np.flatnonzero(np.bincount(labels, minlength=len(source.cells))[1:]) + 1
        used = np.array([n for n in used if source.cells[n].reason not in ("", "blank")], np.int64)
        if not 1 <= len(used) <= _MAX_GROUPS:
            return None
        used = used[np.argsort([int(np.argmax(labels == n)) for n in used])]
        code = np.full(len(source.cells), -1, np.int64)
        code[used] = np.arange(len(used))
        texts = tuple(source.cells[n].text for n in used)
        result = Words(column.at, code[labels], texts)
    elif (
        column.role == "unknown"
        and vocabulary.is_id(column.name)
        and not column.unit
        and not names.unit_in(column.name)
    ):
        values = source.values[rows]
        good = np.isfinite(values)
        found = np.unique(values[good][:50_000])
        if not 2 <= len(found) <= _MAX_GROUPS or not bool((found == np.floor(found)).all()):
            return None
        code = np.searchsorted(found, values)
        code = np.where(good & (found[np.minimum(code, len(found) - 1)] == values), code, -1)
        result = Words(column.at, code, tuple(f"{value:g}" for value in found))
    else:
        return None
    return result if len(rows) and float((result.code >= 0).mean()) >= 0.95 else None


def _tells_type(words: Words) -> bool:
    roles = [vocabulary.role_of(text) for text in words.texts]
    return any(role in WANTED for role in roles) and 2 * sum(bool(role) for role in roles) >= len(roles)


def _tells_sensor(words: Words, column: Column, local: npt.NDArray[np.int64]) -> bool:
    times = np.sort(local)
    repeated = float((np.diff(times) == 0).mean()) if len(times) > 1 else 0.0
    if column.role != "text":
        return repeated > 0.2
    return vocabulary.is_id(column.name) or (repeated > 0.2 and len(words.texts) > 1)


def _apply_units(columns: list[Column], units: Words) -> None:
    """The unit column speaks for the numbers left of it."""
    left = [
        column for column in columns if column.at < units.at and column.role in (*WANTED, "unknown") and not column.unit
    ]
    if not left:
        return
    column = left[-1]
    found = [names.unit_in(text) for text in units.texts]
    column.kind = "units stand in a column of their own"
    if len(set(found)) == 1:
        column.unit = found[0]
        column.role = column.role if column.role != "unknown" else ("rh" if found[0] == "%" else "temperature")
        return
    kinds = set(found)
    if kinds <= set(_TEMPERATURES):
        for code, unit in enumerate(found):
            column.values[units.code == code] = inside(column.values[units.code == code], unit)
        column.unit, column.role = "°C", "temperature"
        return
    for code, unit in enumerate(found):  # quantities mixed too: the type column sorts them
        if unit in _TEMPERATURES:
            column.values[units.code == code] = inside(column.values[units.code == code], unit)
    column.unit = "mixed"


def _by_type(columns: list[Column], types: Words) -> list[Column]:
    result = []
    for column in columns:
        if column.role not in (*WANTED, "unknown") or len(column.values) != len(types.code):
            result.append(column)
            continue
        mixed = column.unit == "mixed"
        for code, text in enumerate(types.texts):
            role, mine = vocabulary.role_of(text) or "unknown", types.code == code
            unit = names.unit_in(text) or ("" if mixed else column.unit)
            if mixed:
                unit = {"temperature": "°C", "rh": "%"}.get(role, "")
            made = Column(
                column.at,
                f"{column.name} [{text}]".strip(),
                role,
                unit,
                vocabulary.statistic_of(text),
                f"rows that say {text}",
                column.rows[mine],
                column.values[mine],
                kind=column.kind,
            )
            result.append(made)
        column.role = "type"
    return result


def _by_sensor(columns: list[Column], ids: Words, rows: Index) -> list[Column]:
    groups = [rows[ids.code == code] for code in range(len(ids.texts))]
    result = []
    for column in columns:
        if column.role not in (*WANTED, "unknown") or not len(column.rows):
            result.append(column)
            continue
        whole = len(column.rows) == len(rows)
        mine = ids.code if whole else ids.code[np.searchsorted(rows, column.rows)]
        for code, text in enumerate(ids.texts):
            where = mine == code
            if bool(where.any()):
                made = Column(
                    column.at,
                    f"{column.name} [{text}]".strip(),
                    column.role,
                    column.unit,
                    column.statistic,
                    f"{column.why}; rows of {text}",
                    groups[code] if whole else column.rows[where],
                    column.values[where],
                    key=text,
                    kind=column.kind,
                )
                result.append(made)
    return result
