"""Long series made short for drawing, without losing a peak; and round numbers for the lines behind them."""

from math import floor, log10

import numpy as np

from chalaza.inference.grid import Floats
from chalaza.inference.readings import Ints

MOST = 600
#: Round steps, with and without a quarter of ten.
QUARTERS, HALVES = (1.0, 2.0, 2.5, 5.0, 10.0), (1.0, 2.0, 5.0, 10.0)


def thinned(values: Floats, most: int = MOST) -> Ints:
    """Positions to keep, at most `most`: of each stretch its lowest and highest, its first and last missing value.

    A gap stays a gap: where values are missing (NaN), its edges are kept.
    """
    n = len(values)
    if n <= most:
        return np.arange(n, dtype=np.int64)
    edges = np.linspace(0, n, most // 4 + 1).astype(np.int64)
    keep: set[int] = {0, n - 1}
    for first, last in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        part = values[first:last]
        hollow = np.flatnonzero(np.isnan(part))
        if len(hollow):
            keep |= {first + int(hollow[0]), first + int(hollow[-1])}
        if len(hollow) < len(part):
            keep |= {first + int(np.nanargmin(part)), first + int(np.nanargmax(part))}
    return np.array(sorted(keep)[:most], dtype=np.int64)


def three_lines(low: float, high: float, sizes: tuple[float, ...] = QUARTERS) -> tuple[float, ...]:
    """Three round values between `low` and `high`, as far apart as they can be; steps are `sizes` times a power of ten."""
    span = high - low
    power = 10.0 ** floor(log10(span / 3.0))
    for step in sorted((size * power * scale for size in sizes for scale in (1.0, 0.1)), reverse=True):
        first = np.ceil(round(low / step, 9)) * step
        if first + 2.0 * step <= high + 1e-9 * span:
            spare = floor(round((high - first - 2.0 * step) / step, 9)) // 2
            return tuple(round(float(first) + (i + spare) * step, 9) for i in range(3))
    return (low, low + span / 2.0, high)
