"""What values alone say about a column: unit, scale, codes of a sensor, a unit switched part-way, long still stretches."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from chalaza.intake.shapes import Spans
from chalaza.quantities import TEMP_DEGC
from chalaza.units import inside, shown

Floats = npt.NDArray[np.float64]

#: Values sensors give for "no reading": one-wire absent, power-up and power-failure values, full-scale values of
#: counters and converters (general practice, memory).
CODES = (
    -127.0,
    85.0,
    127.94,
    -200.0,
    -999.0,
    -9999.0,
    -99.9,
    -99.0,
    999.0,
    999.9,
    9999.0,
    998.0,
    6553.5,
    655.35,
    3276.7,
    -3276.8,
    327.67,
    32767.0,
    65535.0,
    125.0,
    130.0,
    -45.0,
    -46.85,
    -273.15,
    300.0,
    301.0,
    302.0,
    303.0,
    304.0,
)
#: Codes that are also honest readings: set aside only where both neighbours are far away.
IN_SPAN_CODES = (0.0, -40.0)
_FAR_K = 10.0
#: Between these lies no code.
_LOWEST, _HIGHEST = max(code for code in CODES if code < 0), min(code for code in CODES if code > 0)
#: A bare column is taken for °F only above this, the coolest a room with eggs may be (our choice). [°F]
_COOLEST_DEGF = 45.0
_SHARE = 0.98


def fits(values: Floats, low: float, high: float) -> bool:
    """Whether nearly all values lie in a span."""
    return bool(len(values)) and float(((values >= low) & (values <= high)).mean()) >= _SHARE


def finite(values: Floats) -> Floats:
    """The values without NaN; the array itself where there is none."""
    good = np.isfinite(values)
    return values if bool(good.all()) else values[good]


def without_codes(values: Floats) -> Floats:
    """The values that are no sensor codes."""
    if not len(values) or (float(values.min()) > _LOWEST and float(values.max()) < _HIGHEST):
        return values
    return values[~np.isin(values, CODES)]


def temperature_units(values: Floats) -> list[str]:
    """The units in which bare numbers could be the temperature of a room or an incubator."""
    low, high = TEMP_DEGC.low, TEMP_DEGC.high
    values = without_codes(values)
    units = ["°C"] if fits(values, low, high) else []
    if fits(values, shown(low, "°F"), shown(high, "°F")) and 2 * int((values >= _COOLEST_DEGF).sum()) >= len(values):
        units.append("°F")
    return units


def on_grid(values: Floats) -> bool:
    """Whether values lie on the grid of 1/16 on which 12-bit digital thermometers count, in °C."""
    values = without_codes(values)
    steps = values * 16
    odd = (steps % 2 != 0).sum()
    return len(values) >= 20 and bool((steps == np.round(steps)).all()) and int(odd) >= 3


def _whole(values: Floats) -> bool:
    return bool((values == np.round(values)).all())


def scales(values: Floats, low: float, high: float) -> list[int]:
    """By which of 10 and 100 whole numbers must be divided to lie in a span; none when they lie there already."""
    values = without_codes(values)
    if not len(values) or not (_whole(values[:100]) and _whole(values)) or fits(values, low, high):
        return []
    return [scale for scale in (10, 100) if fits(values / scale, low, high)]


def set_aside(values: Floats, unit: str, low: float, high: float) -> dict[str, Spans]:
    """Which values are sensor codes, and which lie outside the hard span (`low` to `high`, in the unit inside).

    A code counts only where it stands apart from its neighbours: 85.0 in a record that climbs through 85 is a reading.
    """
    unit = unit or "1"
    outside = (values < shown(low, unit)) | (values > shown(high, unit))
    coded = (values == IN_SPAN_CODES[0]) | (values == IN_SPAN_CODES[1])
    doubt = np.flatnonzero(outside | coded)
    result: dict[str, Spans] = {}
    if not len(doubt):
        return result
    found: Floats = np.asarray(inside(values, unit), np.float64)
    known = np.isin(values[doubt], (*CODES, *IN_SPAN_CODES)) | np.isin(np.round(found[doubt], 2), CODES)
    if unit == "%":
        known &= values[doubt] != 85.0
    codes = doubt[known]
    codes = codes[_apart(found, codes)]
    is_code = np.zeros(len(values), np.bool_)
    is_code[codes] = True
    if is_code.any():
        result["sensor-code"] = is_code
    if bool((outside & ~is_code).any()):
        result["out-of-span"] = outside & ~is_code
    return result


def _apart(found: Floats, rows: npt.NDArray[np.int64]) -> Spans:
    """Rows whose nearest neighbours of another value, before and after, are far away."""
    size = len(found)
    edges = np.concatenate((np.full(1, -1), np.flatnonzero(np.diff(found) != 0), np.full(1, size - 1)))
    run = np.searchsorted(edges[1:], rows)
    before, after = edges[run], edges[run + 1] + 1
    here = found[rows]
    far_before = (before < 0) | (np.abs(found[np.maximum(before, 0)] - here) > _FAR_K)
    far_after = (after >= size) | (np.abs(found[np.minimum(after, size - 1)] - here) > _FAR_K)
    alone = (before < 0) & (after >= size)  # the whole column: a code only where no reading could be
    return np.asarray(far_before & far_after & ~(alone & np.isin(here, IN_SPAN_CODES)), np.bool_)


def switches(values: Floats) -> list[tuple[int, str]]:
    """Where a temperature column jumps from °C to °F or back: (index of the first value after, unit after)."""
    before, after = values[:-1], values[1:]
    jump = np.abs(after - before)
    rows = np.flatnonzero(jump > 15.0)
    if not len(rows) or len(rows) > 1000:
        return []
    found = []
    for row in rows.tolist():
        a, b = float(before[row]), float(after[row])
        left, right = float(np.median(values[max(0, row - 20) : row + 1])), float(np.median(values[row + 1 : row + 22]))
        if abs(shown(a, "°F") - b) < 4 and abs(shown(left, "°F") - right) < 6:
            found.append((row + 1, "°F"))
        elif abs(inside(a, "°F") - b) < 2.5 and abs(inside(left, "°F") - right) < 3.5:
            found.append((row + 1, "°C"))
    return found


@dataclass(frozen=True, slots=True)
class Still:
    """The longest stretch of equal values: from which to which index."""

    first: int
    last: int


def longest_still(values: Floats) -> Still:
    """The longest stretch of equal values of a column that is not empty."""
    edges = np.concatenate((np.full(1, -1), np.flatnonzero(values[1:] != values[:-1]), np.full(1, len(values) - 1)))
    lengths = np.diff(edges)
    at = int(np.argmax(lengths))
    return Still(int(edges[at]) + 1, int(edges[at + 1]))
