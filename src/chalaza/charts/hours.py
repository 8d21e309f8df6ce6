"""The hours behind the picture of warmth: what air, shell and centre had, and the dose of each day."""

from dataclasses import dataclass

import numpy as np

from chalaza.inference.exposure import WARM_UP_D
from chalaza.inference.felt import RISE
from chalaza.inference.grid import Floats, Grid
from chalaza.inference.read_warmth import lived_hours
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment

#: An hour with less of it logged is a gap. [1]
_LOGGED = 0.5


@dataclass(frozen=True, slots=True)
class Hours:
    """Hour by hour since setting; what no reading covers is missing (NaN). [°C], limits of what is wanted too."""

    day: Floats
    air: Floats
    air_low: Floats
    air_high: Floats
    shell: Floats
    centre: Floats
    wanted_low: Floats
    wanted_high: Floats


@dataclass(frozen=True, slots=True)
class Doses:
    """Degree-hours of the shell beyond the limits in each day since setting. [K h]"""

    above: Floats
    below: Floats


def hours(u: Understanding, a: Assessment) -> Hours:
    """The course as the posterior sees it, up to now or to the end of the hatch."""
    e, n = u.exposure, max(int(np.count_nonzero(lived_hours(u) > 0)), 1)  # at the moment of setting: the first
    shift, _ = u.felt.offsets(u.posterior.mean)
    rise = u.felt.unknowns.index.get(RISE)
    own = 0.0 if rise is None else e.rise_k * (float(np.exp(u.posterior.mean[rise])) - 1.0)
    hollow = e.cover < _LOGGED * e.past
    half_k = a.warmth.wanted.high - a.warmth.wanted.typical
    normal = u.course.normal_shell(e.age_d)

    def logged(values: Floats) -> Floats:
        return np.where(hollow, np.nan, values)[:n]

    day: Floats = (np.arange(n, dtype=np.float64) + 0.5) / 24.0
    # The first hour is drawn from setting on, the last up to now (or to its end, when the young are out).
    day[0], day[-1] = 0.0, min(u.now_h, float(n)) / 24.0
    return Hours(
        day=day,
        air=logged(e.air_degc + shift - own),
        air_low=logged(e.air_low + shift - own),
        air_high=logged(e.air_high + shift - own),
        shell=logged(e.shell_degc + shift),
        centre=logged(e.shell_degc + e.centre_k + shift),
        wanted_low=normal[:n] - half_k,
        wanted_high=normal[:n] + half_k,
    )


def between(h: Hours, start_d: float, end_d: float) -> Hours:
    """The course from one day to another, with a value at either end."""
    inside = (h.day > start_d) & (h.day < end_d)
    day = np.concatenate(([start_d], h.day[inside], [end_d]))

    def cut(values: Floats) -> Floats:
        first, last = np.interp((start_d, end_d), h.day, values)
        return np.concatenate(([first], values[inside], [last]))

    columns = {name: cut(getattr(h, name)) for name in Hours.__dataclass_fields__ if name != "day"}
    return Hours(day=day, **columns)


def doses(u: Understanding) -> Doses:
    """Degree-hours a day, gaps as the model bridges them; warming up does not count."""
    days = u.exposure.age_d.astype(np.int64)
    last = int(days[lived_hours(u) > 0].max(initial=0)) + 1

    def by_day(grid: Grid) -> Floats:
        return np.asarray(np.bincount(days, _by_hour(u, grid), minlength=last)[:last], dtype=np.float64)

    return Doses(by_day(u.exposure.above), by_day(u.exposure.below))


def dose_between(u: Understanding, start_d: float, end_d: float) -> Doses:
    """The doses of a stretch of days, as one sum each."""
    hour = np.arange(u.exposure.hours, dtype=np.float64)
    share = np.clip(np.minimum(24.0 * end_d, hour + 1.0) - np.maximum(24.0 * start_d, hour), 0.0, 1.0)
    above, below = (np.array([float(_by_hour(u, grid) @ share)]) for grid in (u.exposure.above, u.exposure.below))
    return Doses(above, below)


def _by_hour(u: Understanding, grid: Grid) -> Floats:
    weight = np.where(u.exposure.age_d < WARM_UP_D, 0.0, lived_hours(u))
    return np.asarray(u.felt.dose_by_hour(u.posterior.mean, grid) * weight)
