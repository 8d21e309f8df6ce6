"""Readings made fit for arithmetic: those no sensor can mean are set aside, the rest averaged over time, gaps named.

A spike of 150 °C among 43,200 readings must not end an assessment and must not be hidden either: it is masked here with
a reason and a count. Averages are weighted by time, so an irregular log counts as long as it lasted, not as often as it
was written; between readings the course is straight, and across a gap nothing is made up.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from chalaza.inference.grid import Floats
from chalaza.physics import air
from chalaza.values.evidence import Series

Ints = npt.NDArray[np.int64]
Mask = npt.NDArray[np.bool_]

#: Span in which a probe in or near an incubator can be believed: what the physics holds on (-20 to 60 °C), less the
#: widest offset that is tried.
BELIEVABLE_DEGC = (-15.0, 54.0)
#: Air at a bare probe does not change faster than this, lid or no lid [K/s]; common practice, no source.
FASTEST_K_PER_S = 10.0 / 60.0
#: A gap is longer than three usual steps and half an hour: shorter ones an egg does not feel.
GAP_S = 1800.0
BIN_S = 300


@dataclass(frozen=True, slots=True)
class Clean:
    """Readings that can be believed: `t` seconds, `temp_degc` (NaN where set aside), `vapour_pa` (NaN likewise)."""

    t: Ints
    temp_degc: Floats
    rh: Floats
    vapour_pa: Floats
    set_aside: Mapping[str, int]
    step_s: float


def clean(series: Series) -> Clean:
    """Mask what cannot be meant, and give the vapour pressure of each reading at its own temperature."""
    temp = series.temp_degc.astype(np.float64)
    rh = series.rh.astype(np.float64)
    reasons: dict[str, int] = {}
    _mask(temp, (temp < BELIEVABLE_DEGC[0]) | (temp > BELIEVABLE_DEGC[1]), "temperature outside -15 to 54 °C", reasons)
    _mask(temp, _spikes(series.t, temp), "temperature jumped and came back at once", reasons)
    _mask(rh, (rh < 0.0) | (rh > 1.0), "humidity outside 0 to 100 %", reasons)
    vapour = np.full(len(temp), np.nan)
    both = ~(np.isnan(temp) | np.isnan(rh))
    vapour[both] = rh[both] * np.asarray(air.saturation_pressure(temp[both]))
    step = float(np.median(np.diff(series.t))) if len(temp) > 1 else 0.0
    return Clean(series.t, temp, rh, vapour, MappingProxyType(reasons), step)


def _mask(values: Floats, bad: Mask, reason: str, reasons: dict[str, int]) -> None:
    n = int(np.count_nonzero(bad))
    if n:
        values[bad] = np.nan
        reasons[reason] = n


def _spikes(t: Ints, temp: Floats) -> Mask:
    """Single readings that jump away from both neighbours faster than air can, while the neighbours agree."""
    bad = np.zeros(len(temp), dtype=bool)
    if len(temp) < 3:
        return bad
    with np.errstate(invalid="ignore"):
        rate = np.diff(temp) / np.maximum(np.diff(t), 1)
        out, back = rate[:-1], rate[1:]
        bad[1:-1] = (np.abs(out) > FASTEST_K_PER_S) & (np.abs(back) > FASTEST_K_PER_S) & (out * back < 0)
    return bad


def binned(t: Ints, values: Floats, edges: Ints, gap_s: float) -> tuple[Floats, Floats]:
    """Time-weighted mean of the straight course through `values` in each bin, and the share of the bin it covers.

    `edges`: bins + 1 seconds. A stretch between readings further apart than `gap_s` covers nothing. Shapes: bins.
    """
    good = ~np.isnan(values)
    t, values = t[good].astype(np.float64), values[good]
    n = len(edges) - 1
    if len(t) < 2:
        return np.full(n, np.nan), np.zeros(n)
    dt = np.diff(t)
    held = np.where(dt <= gap_s, dt, 0.0)
    area = np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * held)))
    time = np.concatenate(([0.0], np.cumsum(held)))
    at = np.clip(np.searchsorted(t, edges, side="right") - 1, 0, len(t) - 2)
    inside = np.clip(edges - t[at], 0.0, dt[at]) * (held[at] > 0)
    here = values[at] + (values[at + 1] - values[at]) * (inside / dt[at])
    total = area[at] + 0.5 * (values[at] + here) * inside
    spent = time[at] + inside
    width = np.diff(spent)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(width > 0, np.diff(total) / width, np.nan)
    return mean, width / np.diff(edges)


def extremes(t: Ints, values: Floats, edges: Ints) -> tuple[Floats, Floats]:
    """Lowest and highest reading in each bin; NaN where there is none. Shapes: bins."""
    good = ~np.isnan(values)
    t, values = t[good], values[good]
    n = len(edges) - 1
    low, high = np.full(n, np.nan), np.full(n, np.nan)
    starts = np.searchsorted(t, edges)
    full = starts[1:] > starts[:-1]
    if np.any(full):
        stop = int(starts[-1])
        low[full] = np.minimum.reduceat(values[:stop], starts[:-1][full])
        high[full] = np.maximum.reduceat(values[:stop], starts[:-1][full])
    return low, high


def gaps(t: Ints, values: Floats, start: float, end: float, gap_s: float) -> tuple[tuple[float, float], ...]:
    """Stretches of start..end longer than `gap_s` without a reading, in seconds."""
    here = t[~np.isnan(values)]
    here = here[(here >= start) & (here <= end)].astype(np.float64)
    marks = np.concatenate(([start], here, [end]))
    wide = np.flatnonzero(np.diff(marks) > gap_s)
    return tuple((float(marks[i]), float(marks[i + 1])) for i in wide)
