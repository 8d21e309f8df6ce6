"""Readings one by one, as the probe showed them: what a close look at a log is for."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from chalaza.charts import series
from chalaza.charts.base import number
from chalaza.inference.grid import Floats
from chalaza.inference.readings import GAP_S, clean
from chalaza.inference.understanding import Understanding
from chalaza.values.evidence import Series

Readings = Mapping[str, Series]
#: Points a trace is drawn with at most: the lowest and highest of each stretch are among them.
MOST = 480
#: Readings before and after the window that tell whether its first and last are spikes. [s]
_MARGIN_S = 3_600.0


@dataclass(frozen=True, slots=True)
class Trace:
    """Readings by day since setting as the probe showed them; a missing value (NaN) breaks the line."""

    day: Floats
    value: Floats

    def rows(self) -> list[dict[str, Any]]:
        """As rows of data."""
        return [
            {"day": number(day), "reading": number(value)}
            for day, value in zip(self.day.tolist(), self.value.tolist(), strict=True)
        ]

    @property
    def last(self) -> float | None:
        """The last reading."""
        known = self.value[~np.isnan(self.value)]
        return float(known[-1]) if len(known) else None


def trace(
    u: Understanding, readings: Readings | None, start_d: float, end_d: float, *, humidity: bool = False
) -> Trace | None:  # fmt: skip
    """The readings between two days by the probe that spoke for the eggs then, thinned by their own lowest and highest.

    Readings no sensor can mean are left out, as in the answers. None: there is none to draw.
    """
    if not readings:
        return None
    days, values = [np.empty(0)], [np.empty(0)]
    for one in u.exposure.segments:
        uid = one.rh_probe if humidity else one.temp_probe
        first, last = max(u.moment(24.0 * start_d), one.start), min(u.moment(24.0 * end_d), one.end)
        if uid is None or uid not in readings or last <= first:
            continue
        day, value = _stretch(u, readings[uid], first, last, humidity=humidity)
        days += [day, day[-1:]]
        values += [value, np.full(len(day[-1:]), np.nan)]
    day, value = np.concatenate(days), np.concatenate(values)
    if not np.any(~np.isnan(value)):
        return None
    keep = series.thinned(value, MOST)
    return Trace(day[keep], value[keep])


def _stretch(u: Understanding, one: Series, first: float, last: float, *, humidity: bool) -> tuple[Floats, Floats]:
    """Days and readings of one probe, with a missing value in each gap."""
    found = clean(one.window(first - _MARGIN_S, last + _MARGIN_S))
    value = found.rh if humidity else found.temp_degc
    good = ~np.isnan(value) & (found.t >= first) & (found.t <= last)
    t, value = found.t[good].astype(np.float64), value[good]
    wide = np.flatnonzero(np.diff(t) > max(GAP_S, 3.0 * found.step_s)) + 1
    t, value = np.insert(t, wide, t[wide - 1] + 1.0), np.insert(value, wide, np.nan)
    return (t - u.exposure.t0) / 86_400.0, value
