"""Columns of temperature and humidity joined to probes, in order of time."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from chalaza.intake import names, vocabulary
from chalaza.intake.columns import Column
from chalaza.intake.shapes import Index
from chalaza.units import inside
from chalaza.values.evidence import Series

_FILL = vocabulary.word_set("c f k r h s n deg degc degf the of air relative rel no nr")


@dataclass(frozen=True, slots=True)
class ProbeLog:
    """Readings of one probe in order of time: `t` int64 seconds, `temp_degc` and `rh` (0-1) float32, NaN: missing.

    Rows of one time with different values are all kept here; `series` takes their mean.
    """

    name: str
    t: npt.NDArray[np.int64]
    temp_degc: npt.NDArray[np.float32]
    rh: npt.NDArray[np.float32]

    def __len__(self) -> int:
        return len(self.t)

    def series(self) -> Series:
        """The readings with one row a second, as evidence holds them."""
        if len(self.t) < 2 or bool((np.diff(self.t) > 0).all()):
            return Series(self.t, self.temp_degc, self.rh)
        first = np.flatnonzero(np.diff(self.t, prepend=self.t[0] - 1) > 0)
        return Series(self.t[first], _means(self.temp_degc, first), _means(self.rh, first))


def _means(values: npt.NDArray[np.float32], first: Index) -> npt.NDArray[np.float32]:
    good = np.isfinite(values)
    total = np.add.reduceat(np.where(good, values, 0).astype(np.float64), first)
    count = np.add.reduceat(good.astype(np.int64), first)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan).astype(np.float32)


def key_of(column: Column) -> str:
    """What is left of a column name without the words for its quantity and unit: the name of its probe."""
    words = []
    for word in vocabulary.tokens(column.name.split(" [")[0] if column.key else column.name):
        if word not in _FILL and not vocabulary.role_of(word) and not names.is_unit(word) and word not in words:
            words.append(word)
    return " ".join(words)


def pair(columns: Sequence[Column]) -> list[tuple[str, Column | None, Column | None]]:
    """(name, temperature, humidity) of each probe: by sensor, then by equal names, then by place in the row."""
    result: list[tuple[str, Column | None, Column | None]] = []
    for sensor in dict.fromkeys(column.key for column in columns):
        mine = [column for column in columns if column.key == sensor]
        result += _pair_one(sensor, [c for c in mine if c.role == "temperature"], [c for c in mine if c.role == "rh"])
    return [(name, warm, wet) for name, (_, warm, wet) in zip(_unique(result), result, strict=True)]


def _pair_one(sensor: str, warm: list[Column], wet: list[Column]) -> list[tuple[str, Column | None, Column | None]]:
    found: list[tuple[Column | None, Column | None]] = []
    left = list(wet)
    alone = []
    for column in warm:
        same = [other for other in left if key_of(other) == key_of(column)]
        if len(same) == 1 and sum(key_of(other) == key_of(column) for other in warm) == 1:
            found.append((column, same[0]))
            left.remove(same[0])
        else:
            alone.append(column)
    in_order = len(alone) == len(left)
    for column in alone:
        near = left[:1] if in_order else [o for o in left if o.at == column.at + 1 or o.rows is not column.rows]
        found.append((column, near[0] if near else None))
        if near:
            left.remove(near[0])
    found += [(None, other) for other in left]
    found.sort(key=lambda two: min(c.at for c in two if c is not None))
    result: list[tuple[str, Column | None, Column | None]] = []
    for a, b in found:
        own = key_of(a or b) if (a or b) is not None else ""  # type: ignore[arg-type]
        name = " ".join(part for part in (sensor, own if len(found) > 1 or not sensor else "") if part)
        result.append((name, a, b))
    return result


def _unique(found: list[tuple[str, Column | None, Column | None]]) -> list[str]:
    result: list[str] = []
    for number, (name, _, _) in enumerate(found, start=1):
        name = name[:60] or ("probe" if len(found) == 1 else f"probe {number}")
        while name in result:
            name = f"{name} ({number})"
        result.append(name)
    return result


def build(name: str, warm: Column | None, wet: Column | None, utc: npt.NDArray[np.int64]) -> ProbeLog:
    """One probe from its columns; `utc` has the time of every line of the file."""
    one = warm or wet
    if one is None:
        raise ValueError("a probe needs a column")
    temp, rh = _inside(warm, "°C"), _inside(wet, "%")
    if warm is not None and wet is not None and warm.rows is not wet.rows:
        return _merged(name, (utc[warm.rows], temp), (utc[wet.rows], rh))
    t = utc[one.rows]
    missing = np.full(len(t), np.nan, np.float32)
    temp, rh = (temp if warm is not None else missing), (rh if wet is not None else missing)
    good = np.isfinite(temp) | np.isfinite(rh)
    if not bool(good.all()):
        t, temp, rh = t[good], temp[good], rh[good]
    if len(t) > 1 and bool((np.diff(t) < 0).any()):
        order = np.argsort(t, kind="stable")
        t, temp, rh = t[order], temp[order], rh[order]
    return ProbeLog(name, t, temp, rh)


def _inside(column: Column | None, default: str) -> npt.NDArray[np.float32]:
    if column is None:
        return np.zeros(0, np.float32)
    return inside(column.values, column.unit or default).astype(np.float32)


def _merged(
    name: str,
    warm: tuple[npt.NDArray[np.int64], npt.NDArray[np.float32]],
    wet: tuple[npt.NDArray[np.int64], npt.NDArray[np.float32]],
) -> ProbeLog:
    """Temperature and humidity that stand in different rows, joined by their times."""
    clean = []
    for t, values in (warm, wet):
        good = np.isfinite(values)
        order = np.argsort(t[good], kind="stable")
        clean.append((t[good][order], values[good][order]))
    times = np.union1d(clean[0][0], clean[1][0])
    found = []
    for t, values in clean:
        result = np.full(len(times), np.nan, np.float32)
        result[np.searchsorted(times, t[::-1])] = values[::-1]  # of equal times the first row stands
        found.append(result)
    return ProbeLog(name, times, found[0], found[1])
