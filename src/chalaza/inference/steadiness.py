"""Steadiness: drift from day to day and swing with the room, from hourly means.

Readings a minute apart are nearly the same reading: limits taken from their scatter raise false alarms by the dozen
(34 % of points at a correlation of 0.9). So the chart is of daily means, its width is that between days, and hours are
taken together by day before a slope is believed.
"""

from dataclasses import dataclass

import numpy as np

from chalaza.inference.grid import Floats

#: EWMA of daily means: weight and limit for about 500 days between false alarms (ISO 7870-6; machine pack 8.1, computed).
_WEIGHT, _LIMIT = 0.2, 2.962
#: A straight change over all days beyond so many of its standard deviations signals too: the chart is slow to see a
#: steady creep. Hours alike at 0.9 leave days alike at 0.15, hence not 3. Simulated in the tests.
_CREEP = 4.0
#: Daily means of a logger that shows tenths scatter at least this much. [K]; resolution 0.1/sqrt(12).
_LEAST_K = 0.03


@dataclass(frozen=True, slots=True)
class Drift:
    """Change over the days seen, its standard deviation, and whether the chart signals."""

    change: float
    sd: float
    signal: bool


@dataclass(frozen=True, slots=True)
class Follows:
    """Slope of box on room, K per K."""

    slope: float
    sd: float


def daily(hourly: Floats, cover: Floats) -> Floats:
    """Means of whole days with at least 18 covered hours, from the second day on; others are left out."""
    days = len(hourly) // 24
    value, weight = hourly[: days * 24].reshape(days, 24), cover[: days * 24].reshape(days, 24)
    total = weight.sum(axis=1)
    with np.errstate(invalid="ignore"):
        mean = np.where(total >= 18.0, (value * weight).sum(axis=1) / total, np.nan)
    kept = mean[1:]
    return kept[~np.isnan(kept)]


def drift(days: Floats) -> Drift | None:
    """Slow change of the daily mean: an EWMA chart about the median of the days sees a shift of late, the slope a creep.
    None for fewer than five days."""
    n = len(days)
    if n < 5:
        return None
    sigma = max(float(np.median(np.abs(np.diff(days)))) / 0.954, _LEAST_K)
    centre = float(np.median(days))
    held = np.clip(days - centre, -3.0 * sigma, 3.0 * sigma)
    level = 0.0
    for value in held:
        level += _WEIGHT * (float(value) - level)
    limit = _LIMIT * sigma * np.sqrt(_WEIGHT / (2.0 - _WEIGHT))
    t = np.arange(n) - 0.5 * (n - 1)
    slope = float(t @ held) / float(t @ t)
    change, sd = slope * (n - 1), sigma / float(np.sqrt(t @ t)) * (n - 1)
    return Drift(change, sd, bool(abs(level) > limit or abs(change) > _CREEP * sd))


def follows(box: Floats, room: Floats, good: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> Follows | None:
    """Least-squares slope of box on room over good hours, its doubt from the scatter between days; None without a room
    probe, with fewer than three days or a room that hardly moves."""
    use = good & ~np.isnan(room)
    if np.count_nonzero(use) < 72 or float(np.std(room[use])) < 0.5:
        return None
    x, y = room[use] - room[use].mean(), box[use] - np.median(box[use])
    y = np.clip(y, -1.5, 1.5)
    slope = float(x @ y) / float(x @ x)
    day = np.flatnonzero(use) // 24
    score = np.bincount(day - day[0], weights=x * (y - slope * x))
    days = len(np.unique(day))
    # Few days judge their own scatter: G/(G-1) for the slope they were fitted with, times the variance of t(G-1).
    few = (days / max(days - 3.0, 1.0)) ** 0.5
    return Follows(slope, few * float(np.sqrt(score @ score)) / float(x @ x))


def day_night(box: Floats, good: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> tuple[float, float] | None:
    """Median over days of the highest less the lowest hourly mean, and its standard error. [K]"""
    days = len(box) // 24
    whole = good[: days * 24].reshape(days, 24).sum(axis=1) >= 20
    if np.count_nonzero(whole) < 3:
        return None
    ranges = np.ptp(box[: days * 24].reshape(days, 24)[whole], axis=1)
    return float(np.median(ranges)), 1.2533 * float(np.std(ranges, ddof=1)) / float(np.sqrt(len(ranges)))
