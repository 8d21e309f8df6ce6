"""From readings to what the eggs felt: the log passed over once, hour by hour, at five offsets of each probe.

Everything later (fit, answers, charts) sees this value and never a reading. The course of the shell follows the air
through the one thermal model of the egg (`physics.egg_heat`); all that is not linear in temperature (rate of
development, vapour pressure at the shell, doses) is integrated at five trial offsets, -2 to +2 prior standard
deviations around what is expected of this probe in this place.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from chalaza.inference import readings
from chalaza.inference.course import Course
from chalaza.inference.grid import NODES, Floats, Grid
from chalaza.inference.readings import BIN_S, Clean, Ints
from chalaza.physics import air, egg_heat
from chalaza.values.evidence import Airflow

HOUR_S = 3600
_BINS_PER_HOUR = HOUR_S // BIN_S
#: What is ahead runs on at the median of the last two days.
_RECENT_S = 2 * 86400
#: Cooling of a box without power: its usual time constant with eggs in it. [s] Source: machine fact pack 4 (computed).
_BOX_TAU_S = 3.0 * HOUR_S
_ROOM_DEGC = 18.0
#: Eggs go in cold: until they are warm through nothing is held against the box. [d] Two to three lags of an egg.
WARM_UP_D = 0.125
#: Cold eggs warm with a time constant of one to two hours (physics.egg_heat), and the box with them; a move disturbs less.
_SETTLING_S, _MOVED_S = 6 * 3600, 3600


@dataclass(frozen=True, slots=True, kw_only=True)
class Segment:
    """A stretch of time in one machine, read by one thermometer and one hygrometer (None: only the plan is known).

    `center_k`, `step_k`: what is expected of true air at the eggs minus reading, and its standard deviation.
    `rh_center_k`, `rh_step_k`: the same for the thermometer inside the hygrometer (probe alone, not its place).
    """

    start: int
    end: int
    machine: str
    airflow: Airflow
    temp_probe: str | None
    rh_probe: str | None
    center_k: float
    step_k: float
    rh_center_k: float
    rh_step_k: float
    plan_degc: float
    plan_rh: float


@dataclass(frozen=True, slots=True)
class Spell:
    """A stretch beyond a limit as first seen (probe as expected): sort "warm", "cold" or "air" (a spike the egg missed)."""

    sort: str
    start_s: int
    end_s: int
    air_degc: float
    shell_degc: float
    dose_kh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Exposure:
    """Hour by hour since setting (shape: hours, from `t0`); grids are at five offsets. Past hours come first."""

    t0: int
    now: int
    segments: tuple[Segment, ...]
    segment: Ints
    past: Floats
    cover: Floats
    rh_cover: Floats
    age_d: Floats
    air_degc: Floats
    air_low: Floats
    air_high: Floats
    rh: Floats
    shell_degc: Floats
    shell_low: Floats
    shell_high: Floats
    rise_k: Floats
    centre_k: Floats
    near: Grid
    cold: Grid
    ps_shell: Grid
    ps_air: Grid
    vapour: Grid
    above: Grid
    below: Grid
    spells: tuple[Spell, ...]
    gaps: tuple[tuple[float, float], ...]
    set_aside: Mapping[str, Mapping[str, int]]
    room_degc: Floats

    @property
    def hours(self) -> int:
        """Number of hours, past and to come."""
        return len(self.age_d)

    def hour_of(self, moment: float) -> float:
        """Hours since setting, as a real number."""
        return (moment - self.t0) / HOUR_S


@dataclass(frozen=True, slots=True)
class _Bins:
    edges: Ints
    age_d: Floats
    air: Floats
    rh: Floats
    vapour: Floats
    cover: Floats
    rh_cover: Floats
    air_low: Floats
    air_high: Floats
    segment: Ints


def expose(
    segments: Sequence[Segment],
    cleaned: Mapping[str, Clean],
    course: Course,
    *,
    set_at: int,
    now: int,
    horizon_h: int,
    outages: Sequence[tuple[int, int]] = (),
    room_probe: str | None = None,
) -> Exposure:
    """Pass over the log once. `outages`: stretches known to be without power, for gaps that fall in them."""
    n = horizon_h
    edges = set_at + np.arange(n * _BINS_PER_HOUR + 1, dtype=np.int64) * BIN_S
    bins = _bins(segments, cleaned, edges, now, outages)
    shell = _shell(bins, segments, course)
    rise = _rises(bins, segments, course)
    center, step = _per_bin(segments, bins.segment, "center_k"), _per_bin(segments, bins.segment, "step_k")
    felt = shell + rise
    ps_air, vapour = _vapour_grids(bins, segments)
    near, cold = _rates(felt, center, step, bins.age_d, course)
    nodes = felt[:, None] + center[:, None] + step[:, None] * NODES
    centre_rise = np.asarray(egg_heat.centre_above_shell(course.heat(bins.age_d), course.mass_g))
    where = bins.segment[::_BINS_PER_HOUR]
    hour_center, hour_step = _per_bin(segments, where, "center_k"), _per_bin(segments, where, "step_k")

    def grid(values: Floats) -> Grid:
        return Grid.of(hour_center, hour_step, _hourly(values))

    felt_hours = felt.reshape(n, _BINS_PER_HOUR)
    return Exposure(
        t0=set_at,
        now=now,
        segments=tuple(segments),
        segment=where,
        past=np.clip((now - edges[:-1][::_BINS_PER_HOUR]) / HOUR_S, 0.0, 1.0),
        cover=_hourly(bins.cover),
        rh_cover=_hourly(bins.rh_cover),
        age_d=_hourly(bins.age_d),
        air_degc=_hourly(bins.air),
        air_low=np.fmin.reduce(bins.air_low.reshape(n, _BINS_PER_HOUR), axis=1),
        air_high=np.fmax.reduce(bins.air_high.reshape(n, _BINS_PER_HOUR), axis=1),
        rh=_hourly(bins.rh),
        shell_degc=_hourly(felt),
        shell_low=felt_hours.min(axis=1),
        shell_high=felt_hours.max(axis=1),
        rise_k=_hourly(rise),
        centre_k=_hourly(centre_rise),
        near=grid(near),
        cold=grid(cold),
        ps_shell=grid(np.asarray(air.saturation_pressure(nodes))),
        ps_air=ps_air,
        vapour=vapour,
        above=grid(np.maximum(nodes - course.heat_limit(bins.age_d)[:, None], 0.0)),
        below=grid(np.maximum(course.cold_limit_degc - nodes, 0.0)),
        spells=_spells(bins, felt + center, course, now),
        gaps=_gaps(segments, cleaned, set_at, now),
        set_aside={uid: one.set_aside for uid, one in cleaned.items() if one.set_aside},
        room_degc=_room(cleaned.get(room_probe) if room_probe else None, edges),
    )


def _hourly(values: Floats) -> Floats:
    return np.asarray(values.reshape(-1, _BINS_PER_HOUR, *values.shape[1:]).mean(axis=1))


def _per_bin(segments: Sequence[Segment], where: Ints, name: str) -> Floats:
    return np.array([float(getattr(one, name)) for one in segments])[where]


def _bins(
    segments: Sequence[Segment], cleaned: Mapping[str, Clean], edges: Ints, now: int, outages: Sequence[tuple[int, int]]
) -> _Bins:
    n = len(edges) - 1
    starts = np.array([one.start for one in segments[1:]], dtype=np.int64)
    where = np.searchsorted(starts, edges[:-1], side="right").astype(np.int64)
    columns = {name: np.full(n, np.nan) for name in ("air", "rh", "vapour", "low", "high")}
    cover, rh_cover = np.zeros(n), np.zeros(n)
    for index, one in enumerate(segments):
        here = np.flatnonzero(where == index)
        if not len(here):
            continue
        span = slice(int(here[0]), int(here[-1]) + 1)
        cut = edges[span.start : span.stop + 1]
        if one.temp_probe is not None and one.temp_probe in cleaned:
            probe = cleaned[one.temp_probe]
            gap = _gap_s(probe)
            columns["air"][span], cover[span] = readings.binned(probe.t, probe.temp_degc, cut, gap)
            columns["low"][span], columns["high"][span] = readings.extremes(probe.t, probe.temp_degc, cut)
        if one.rh_probe is not None and one.rh_probe in cleaned:
            probe = cleaned[one.rh_probe]
            columns["rh"][span], rh_cover[span] = readings.binned(probe.t, probe.rh, cut, _gap_s(probe))
            columns["vapour"][span], _ = readings.binned(probe.t, probe.vapour_pa, cut, _gap_s(probe))
    age = (0.5 * (edges[:-1] + edges[1:]) - edges[0]) / 86400.0
    _fill(columns, segments, where, edges, now, outages)
    return _Bins(
        edges, age, columns["air"], columns["rh"], columns["vapour"], cover, rh_cover,
        columns["low"], columns["high"], where,
    )  # fmt: skip


def _gap_s(probe: Clean) -> float:
    return max(readings.GAP_S, 3.0 * probe.step_s)


def _fill(
    columns: dict[str, Floats],
    segments: Sequence[Segment],
    where: Ints,
    edges: Ints,
    now: int,
    outages: Sequence[tuple[int, int]],
) -> None:
    """What no reading covers: the median of the last two days before `now`, else of the stretch, else the plan.

    Hours in which the box or the eggs were still warming tell nothing of the hours without a reading.
    """
    middle = 0.5 * (edges[:-1] + edges[1:])
    recent = (middle > now - _RECENT_S) & (middle <= now)
    for index, one in enumerate(segments):
        here = where == index
        settled = middle > one.start + (_SETTLING_S if index == 0 else _MOVED_S)
        for name, plan in (("air", one.plan_degc), ("rh", one.plan_rh)):
            values = columns[name]
            known = here & settled & ~np.isnan(values)
            late = known & recent
            typical = float(np.median(values[known])) if np.any(known) else plan
            ahead = float(np.median(values[late])) if np.count_nonzero(late) >= 12 else typical
            hollow = here & np.isnan(values)
            values[hollow] = np.where(middle[hollow] > now, ahead, typical)
    for start, end in outages:
        lost = (middle >= start) & (middle < end) & np.isnan(columns["vapour"]) & np.isnan(columns["low"])
        if np.any(lost):
            before = columns["air"][lost][0]
            columns["air"][lost] = _ROOM_DEGC + (before - _ROOM_DEGC) * np.exp(-(middle[lost] - start) / _BOX_TAU_S)
    hollow = np.isnan(columns["vapour"])
    columns["vapour"][hollow] = columns["rh"][hollow] * np.asarray(air.saturation_pressure(columns["air"][hollow]))


def _shell(bins: _Bins, segments: Sequence[Segment], course: Course) -> Floats:
    """Air as the shell follows it; each machine has its own lag. [°C]"""
    time = bins.edges[:-1].astype(np.float64) - float(bins.edges[0])
    tau = np.array([float(egg_heat.time_constant(course.mass_g, one.airflow.value)) for one in segments])
    return np.asarray(egg_heat.lagged(time, bins.air, tau[bins.segment]))


def _rises(bins: _Bins, segments: Sequence[Segment], course: Course) -> Floats:
    out = np.empty_like(bins.air)
    for index, one in enumerate(segments):
        here = bins.segment == index
        out[here] = course.heat_rise(bins.age_d[here], one.airflow)
    return out


def _rates(felt: Floats, center: Floats, step: Floats, age_d: Floats, course: Course) -> tuple[Floats, Floats]:
    """Rate less 1 at the five offsets, in two parts: what scales with the slope, and what the cold curve says."""
    normal = course.normal_shell(age_d)[:, None]
    shell = felt[:, None] + center[:, None] + step[:, None] * NODES
    excess = course.rate(shell, np.broadcast_to(normal, shell.shape)) - 1.0
    cold = shell < normal - 2.8
    return np.where(cold, 0.0, excess), np.where(cold, excess, 0.0)


def _vapour_grids(bins: _Bins, segments: Sequence[Segment]) -> tuple[Grid, Grid]:
    """Saturation pressure at the hygrometer and vapour pressure of the air, at five offsets of its thermometer."""
    center, step = _per_bin(segments, bins.segment, "rh_center_k"), _per_bin(segments, bins.segment, "rh_step_k")
    base = np.asarray(air.saturation_pressure(bins.air))
    trial = np.asarray(air.saturation_pressure(bins.air[:, None] + center[:, None] + step[:, None] * NODES))
    where = bins.segment[::_BINS_PER_HOUR]
    c, s = _per_bin(segments, where, "rh_center_k"), _per_bin(segments, where, "rh_step_k")
    return Grid.of(c, s, _hourly(trial)), Grid.of(c, s, _hourly(bins.vapour[:, None] * trial / base[:, None]))


def _spells(bins: _Bins, shell: Floats, course: Course, now: int) -> tuple[Spell, ...]:
    """Stretches of the past beyond a limit, worst first, at most twelve."""
    past = bins.edges[1:] <= now
    limit = course.heat_limit(bins.age_d)
    found: list[Spell] = []
    for sort, excess in (
        ("warm", shell - limit),
        ("cold", course.cold_limit_degc - shell),
        ("air", np.where(np.isnan(bins.air_high), -1.0, bins.air_high - (limit + 1.0))),
    ):
        for first, last in _runs((excess > 0.0) & past, join=_BINS_PER_HOUR):
            dose = float(np.maximum(excess[first:last], 0.0).sum()) * BIN_S / HOUR_S
            if sort == "air" and bool(np.any(shell[first:last] > limit[first:last])):
                continue
            if sort != "air" and dose < 0.5:
                continue
            if sort == "cold" and bins.age_d[first] < WARM_UP_D:
                continue
            found.append(_spell(sort, bins, shell, first, last, dose))
    return tuple(sorted(found, key=lambda one: (-one.dose_kh, one.start_s))[:12])


def _spell(sort: str, bins: _Bins, shell: Floats, first: int, last: int, dose: float) -> Spell:
    span = slice(first, last)
    low = sort == "cold"
    extreme = bins.air_low[span] if low else bins.air_high[span]
    if np.all(np.isnan(extreme)):
        extreme = bins.air[span]
    air_degc = float(np.nanmin(extreme) if low else np.nanmax(extreme))
    shell_degc = float(shell[span].min() if low else shell[span].max())
    return Spell(sort, int(bins.edges[first]), int(bins.edges[last]), air_degc, shell_degc, dose)


def _runs(mask: readings.Mask, join: int) -> list[tuple[int, int]]:
    """Runs of True as (first, last + 1); runs less than `join` apart are one."""
    flips = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    out: list[tuple[int, int]] = []
    for first, last in zip(flips[::2].tolist(), flips[1::2].tolist(), strict=True):
        if out and first - out[-1][1] < join:
            out[-1] = (out[-1][0], last)
        else:
            out.append((first, last))
    return out


def _gaps(
    segments: Sequence[Segment], cleaned: Mapping[str, Clean], set_at: int, now: int
) -> tuple[tuple[float, float], ...]:
    out: list[tuple[float, float]] = []
    for one in segments:
        start, end = max(one.start, set_at), min(one.end, now)
        if end <= start:
            continue
        if one.temp_probe is None or one.temp_probe not in cleaned:
            out.append((float(start), float(end)))
            continue
        probe = cleaned[one.temp_probe]
        out += readings.gaps(probe.t, probe.temp_degc, float(start), float(end), _gap_s(probe))
    return tuple(out)


def _room(probe: Clean | None, edges: Ints) -> Floats:
    n = (len(edges) - 1) // _BINS_PER_HOUR
    if probe is None:
        return np.full(n, np.nan)
    mean, _ = readings.binned(probe.t, probe.temp_degc, edges[::_BINS_PER_HOUR], _gap_s(probe))
    return mean
