"""What the eggs felt as a function of the unknowns: cumulative drying force and developmental hours, with derivatives.

Both are sums over the hours of an `Exposure`. A shell in hour h is warmer than the probe said by

    offset of the probe + placement of the machine + rise x (exp(heat ratio) - 1) + share of gap x doubt of gaps

so the same few unknowns move drying, age and doses together, and one check narrows all of them.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from chalaza.inference.exposure import HOUR_S, Exposure
from chalaza.inference.grid import Floats, Grid
from chalaza.inference.unknowns import Unknowns
from chalaza.values.beliefs import Key

#: Pa in a torr, and hours in a day: conductance is per torr and day.
PA_PER_TORR = 133.322387415
_PER_TORR_D = 1.0 / (24.0 * PA_PER_TORR)

RISE: Key = ("batch", "heat_ratio")
GAP: Key = ("batch", "gap")
GAP_RH: Key = ("batch", "gap_rh")
PLAN: Key = ("batch", "plan_offset")
INCREASE: Key = ("batch", "conductance_rise")
SLOPE: Key = ("batch", "rate_slope")
AGE_FIRST: Key = ("batch", "rate_age_first")

#: Weight of the slope in the first, middle and last third of the term; the mean is held at 1.
#: Source: romanoff-1938 as quoted (memory); the doubt is an unknown.
_THIRDS = (1.25, 0.90, 0.85)


def probe_key(uid: str | None) -> Key:
    """The offset of a thermometer, or of the plan where no thermometer was read."""
    return PLAN if uid is None else (f"probe:{uid}", "temp_offset")


def rh_key(uid: str | None) -> Key:
    """The offset of a hygrometer, or of the plan where none was read."""
    return GAP_RH if uid is None else (f"probe:{uid}", "rh_offset")


def machine_key(uid: str) -> Key:
    """Placement: air at the eggs minus air at the probe, in one machine."""
    return (f"machine:{uid}", "placement")


@dataclass(frozen=True, slots=True)
class Course:
    """A cumulative quantity by hours since setting: at the hour edges (hours + 1), with partials (hours + 1, n)."""

    total: Floats
    partial: Floats

    def at(self, hour: float) -> tuple[float, Floats]:
        """Value and gradient at a real hour since setting; beyond the last hour it goes on at the last pace."""
        last = len(self.total) - 2
        i = min(max(int(hour), 0), last)
        w = hour - i
        return (
            float(self.total[i] + w * (self.total[i + 1] - self.total[i])),
            self.partial[i] + w * (self.partial[i + 1] - self.partial[i]),
        )

    def at_all(self, hours: Floats) -> tuple[Floats, Floats]:
        """`at` for many hours: values (k) and gradients (k, n)."""
        i = np.clip(hours.astype(np.int64), 0, len(self.total) - 2)
        w = hours - i
        value = self.total[i] + w * (self.total[i + 1] - self.total[i])
        return value, self.partial[i] + w[:, None] * (self.partial[i + 1] - self.partial[i])


@dataclass(frozen=True, slots=True)
class Felt:
    """An exposure tied to a vector of unknowns."""

    exposure: Exposure
    unknowns: Unknowns
    slope: float
    term_h: float
    stop_turning_h: float

    def _masks(self) -> Iterator[tuple[int, Floats]]:
        for index in range(len(self.exposure.segments)):
            yield index, (self.exposure.segment == index).astype(np.float64)

    def offsets(self, x: Floats) -> tuple[Floats, dict[int, Floats]]:
        """Shell minus its course at the probe's own word, per hour [K], and its partials by unknown."""
        e, find = self.exposure, self.unknowns.index
        partials: dict[int, Floats] = {}
        for index, here in self._masks():
            one = e.segments[index]
            for key in (probe_key(one.temp_probe), machine_key(one.machine)):
                _add(partials, find[key], here)
        if RISE in self.unknowns:
            ratio = float(np.exp(x[find[RISE]]))
            _add(partials, find[RISE], e.rise_k * ratio)
        if GAP in self.unknowns:
            _add(partials, find[GAP], (1.0 - e.cover) * (e.past > 0))
        shift = np.zeros(e.hours)
        for i, part in partials.items():
            shift += e.rise_k * (float(np.exp(x[i])) - 1.0) if find.get(RISE) == i else x[i] * part
        return shift, partials

    def drive_by_hour(self, x: Floats) -> tuple[Floats, dict[int, Floats]]:
        """Drying force of each hour [torr d] and its partials."""
        e, find = self.exposure, self.unknowns.index
        shift, warm = self.offsets(x)
        shell, shell_slope = e.ps_shell.at(shift)
        own, wet, humid = self._hygrometer(x)
        vapour, vapour_slope = e.vapour.at(own)
        full, full_slope = e.ps_air.at(own)
        grow = np.minimum(e.age_d * 24.0 / self.stop_turning_h, 1.2)
        rise = float(x[find[INCREASE]]) if INCREASE in self.unknowns else 0.0
        factor = (1.0 + rise * grow) * _PER_TORR_D
        force = shell - vapour - humid * full
        out: dict[int, Floats] = {}
        for i, part in warm.items():
            _add(out, i, factor * shell_slope * part)
        for (i, kind), part in wet.items():
            slope = -(vapour_slope + humid * full_slope) if kind == "temp" else -full
            _add(out, i, factor * slope * part)
        if INCREASE in self.unknowns:
            _add(out, find[INCREASE], grow * force * _PER_TORR_D)
        return factor * force, out

    def _hygrometer(self, x: Floats) -> tuple[Floats, dict[tuple[int, str], Floats], Floats]:
        """Offset of the hygrometer's own thermometer [K], its partials, and the offset of its humidity [1], per hour."""
        e, find = self.exposure, self.unknowns.index
        own, humid = np.zeros(e.hours), np.zeros(e.hours)
        parts: dict[tuple[int, str], Floats] = {}
        for index, here in self._masks():
            one = e.segments[index]
            temp, damp = find[probe_key(one.rh_probe or one.temp_probe)], find[rh_key(one.rh_probe)]
            own += x[temp] * here
            humid += x[damp] * here
            parts[temp, "temp"] = parts.get((temp, "temp"), 0.0) + here
            parts[damp, "rh"] = parts.get((damp, "rh"), 0.0) + here
        if GAP_RH in self.unknowns:
            hollow = (1.0 - e.rh_cover) * (e.past > 0)
            gap = find[GAP_RH]
            already = parts.get((gap, "rh"), np.zeros(e.hours))
            extra = np.where(already > 0, 0.0, hollow)
            humid += x[gap] * extra
            parts[gap, "rh"] = already + extra
        return own, parts, humid

    def full_by_hour(self, x: Floats) -> tuple[Floats, dict[int, Floats]]:
        """Saturation pressure at the hygrometer, weighted as `drive_by_hour` is [torr d], and its partials."""
        e, find = self.exposure, self.unknowns.index
        own, parts, _ = self._hygrometer(x)
        full, slope = e.ps_air.at(own)
        grow = np.minimum(e.age_d * 24.0 / self.stop_turning_h, 1.2)
        rise = float(x[find[INCREASE]]) if INCREASE in self.unknowns else 0.0
        factor = (1.0 + rise * grow) * _PER_TORR_D
        out: dict[int, Floats] = {}
        for (i, kind), part in parts.items():
            if kind == "temp":
                _add(out, i, factor * slope * part)
        if INCREASE in self.unknowns:
            _add(out, find[INCREASE], grow * full * _PER_TORR_D)
        return factor * full, out

    def pace_by_hour(self, x: Floats) -> tuple[Floats, dict[int, Floats]]:
        """Developmental hours lived in each hour and their partials."""
        e, find = self.exposure, self.unknowns.index
        shift, warm = self.offsets(x)
        near, near_slope = e.near.at(shift)
        cold, cold_slope = e.cold.at(shift)
        weight, weight_slope = self._age_weight(x)
        b = float(x[find[SLOPE]]) / self.slope if SLOPE in self.unknowns else 1.0
        out: dict[int, Floats] = {}
        for i, part in warm.items():
            _add(out, i, (weight * b * near_slope + cold_slope) * part)
        if SLOPE in self.unknowns:
            _add(out, find[SLOPE], weight * near / self.slope)
        if AGE_FIRST in self.unknowns:
            _add(out, find[AGE_FIRST], weight_slope * b * near)
        return 1.0 + weight * b * near + cold, out

    def _age_weight(self, x: Floats) -> tuple[Floats, Floats]:
        third = np.minimum((self.exposure.age_d * 24.0 / self.term_h * 3.0).astype(np.int64), 2)
        first = _THIRDS[0] * (float(np.exp(x[self.unknowns.index[AGE_FIRST]])) if AGE_FIRST in self.unknowns else 1.0)
        rest = 3.0 - first
        total = _THIRDS[1] + _THIRDS[2]
        weights = np.array([first, rest * _THIRDS[1] / total, rest * _THIRDS[2] / total])
        slopes = np.array([first, -first * _THIRDS[1] / total, -first * _THIRDS[2] / total])
        return weights[third], slopes[third]

    def dose_by_hour(self, x: Floats, grid: Grid) -> Floats:
        """Degree-hours of each hour beyond a limit [K h]."""
        shift, _ = self.offsets(x)
        value, _ = grid.at(shift)
        return np.maximum(value, 0.0)

    def cumulate(self, by_hour: Floats, partials: Mapping[int, Floats]) -> Course:
        """Running totals at the hour edges."""
        n = len(self.unknowns)
        partial = np.zeros((len(by_hour) + 1, n))
        for i, part in partials.items():
            partial[1:, i] = np.cumsum(part)
        return Course(np.concatenate(([0.0], np.cumsum(by_hour))), partial)

    def drive(self, x: Floats) -> Course:
        """Drying force since setting [torr d]."""
        return self.cumulate(*self.drive_by_hour(x))

    def age(self, x: Floats) -> Course:
        """Developmental hours since setting."""
        return self.cumulate(*self.pace_by_hour(x))

    def now_h(self) -> float:
        """Hours from setting to the moment of the assessment."""
        return (self.exposure.now - self.exposure.t0) / HOUR_S


def _add(into: dict[int, Floats], index: int, part: Floats) -> None:
    into[index] = into[index] + part if index in into else np.array(part, dtype=np.float64)
