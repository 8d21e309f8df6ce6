"""Warmth, read off exposure and posterior: temperatures the eggs had, doses beyond limits, spells, drift, what it cost."""

import numpy as np

from chalaza import facts
from chalaza.inference import steadiness
from chalaza.inference.exposure import WARM_UP_D, Spell
from chalaza.inference.felt import machine_key, probe_key
from chalaza.inference.grid import Floats, Grid
from chalaza.inference.understanding import Understanding
from chalaza.physics import embryo
from chalaza.values.answers import Odds, SpellSeen, StageDose, Warmth
from chalaza.values.estimate import Z90, Band, Basis, Estimate
from chalaza.values.evidence import Airflow

_STAGES = ("first", "middle", "last")
#: Shell this close to its normal course is as it should be. [K] Working band 37.5-38.1 °C of hens (memory).
_NORMAL_K = 0.3
#: Chronic heat through the second half, air: deaths 0 % at 40.6, 25 % at 41.7, 50 % at 42.8 °C (csiro-1977, checked).
_CHRONIC_DEGC, _CHRONIC_SURVIVAL = (40.6, 41.7, 42.8), (0.97, 0.75, 0.50)
_CHILL_DEGC = 27.0
_CHILL_H = (12.0, 24.0, 36.0, 48.0, 72.0)


def read(u: Understanding) -> Warmth:
    """The answer to "are the embryos as warm as they should be?"."""
    e, x = u.exposure, u.posterior.mean
    shift, partials = u.felt.offsets(x)
    past = _past(u)
    last = past * (e.age_d * 24.0 > u.now_h - 24.0)
    last = last * ((e.age_d > 0.25) | (u.now_h < 6.0))
    last = last / last.sum() if last.sum() > 0 else past
    latest = np.zeros_like(past)
    latest[max(int(np.count_nonzero(e.past > 0)) - 1, 0)] = 1.0
    rise = u.felt.unknowns.index.get(("batch", "heat_ratio"))
    basis = u.basis("exposure", "temp_offset", "placement", "heat_ratio")
    place = _line(u, past, {i: part for i, part in partials.items() if i != rise})
    shell = _line(u, past, partials)
    normal = u.course.normal_shell(e.age_d)
    lived, pace = u.age.at(u.now_h)
    reading = float(past @ e.air_degc)
    dry_shift = shift - (e.rise_k * (np.exp(x[rise]) - 1.0) if rise is not None else 0.0)
    drift, drifting = _drift(u)
    swing, with_room = _swing(u)
    one = e.segments[int(e.segment[max(int(np.count_nonzero(e.past > 0)) - 1, 0)])]
    return Warmth(
        reading=_exact(reading, u.basis("reading")),
        air=Estimate.normal(float(past @ (e.air_degc + dry_shift)), place, "°C", basis),
        shell=Estimate.normal(float(past @ (e.shell_degc + shift)), shell, "°C", basis),
        centre=Estimate.normal(float(past @ (e.shell_degc + e.centre_k + shift)), shell, "°C", basis),
        shell_now=Estimate.normal(float(last @ (e.shell_degc + shift)), _line(u, last, partials), "°C", basis),
        shell_latest=Estimate.normal(
            float(latest @ (e.shell_degc + shift)), _line(u, latest, partials), "°C", basis
        ),
        reading_latest=_exact(float(latest @ e.air_degc), u.basis("reading")),
        wanted=_wanted(u, float(past @ normal)),
        wanted_now=_wanted(u, float(last @ normal)),
        limit=float(latest @ u.course.heat_limit(e.age_d)),
        limit_reading=_limit(u, last, shift, partials, basis),
        doses=_doses(u, shift, basis),
        spells=tuple(_spell(u, one, shift, basis) for one in e.spells if _during(u, one)),
        odds=_odds(u, shift),
        delay_h=Estimate.normal(u.now_h - lived, u.posterior.spread(pace), "h", u.basis("clock", "rate_slope", "temp_offset")),
        drift=drift,
        drifting=drifting,
        swing=swing,
        swing_with_room=with_room,
        covered=float(past @ e.cover),
        gaps=e.gaps,
        set_aside=e.set_aside,
        still=one.airflow is Airflow.STILL,
        height_unknown=_height_unknown(u, one.machine),
        probe=one.temp_probe,
        probe_checked=probe_key(one.temp_probe) in u.checked,
    )  # fmt: skip


def _past(u: Understanding) -> Floats:
    """The weight of each hour in what the eggs had so far; at the moment of setting the first hour stands for it."""
    lived = lived_hours(u)
    if not lived.sum() > 0.0:
        lived = np.zeros_like(lived)
        lived[0] = 1.0
    return np.asarray(lived / lived.sum())


def lived_hours(u: Understanding) -> Floats:
    """Share of each hour that is past and in which there still were embryos in the eggs: to the end of the hatch seen."""
    if not u.looks:
        return u.exposure.past
    end = u.half.hour + 2.0 * u.half.spread_h
    return np.where(np.arange(u.exposure.hours) < end, u.exposure.past, 0.0)


def _exact(value: float, basis: Basis) -> Estimate:
    """A reading as it was shown: no doubt is said of what stood on the display."""
    return Estimate(value, value, value, "°C", basis)


def _wanted(u: Understanding, normal: float) -> Band:
    """The band about this kind's normal course."""
    source = u.kind.temp_forced_degc
    return Band(
        low=normal - _NORMAL_K, typical=normal, high=normal + _NORMAL_K, unit="°C",
        source=source.source, status="memory", sources=source.sources,
    )  # fmt: skip


def _height_unknown(u: Understanding, machine: str) -> bool:
    """Whether a still-air box is judged by a probe whose height nobody wrote down."""
    prior = u.felt.unknowns.priors[u.felt.unknowns.index[machine_key(machine)]]
    return ("height", machine) not in u.checked and prior.sd > 0.6


def _line(u: Understanding, weight: Floats, partials: dict[int, Floats]) -> float:
    """Standard deviation of a weighted mean over hours."""
    gradient = np.zeros(len(u.felt.unknowns))
    for i, part in partials.items():
        gradient[i] = float(weight @ part)
    return u.posterior.spread(gradient)


def _limit(u: Understanding, last: Floats, shift: Floats, partials: dict[int, Floats], basis: Basis) -> Estimate:
    """The reading at which the shell would reach the limit of sustained heat at this age, on this probe."""
    above = float(last @ (u.exposure.shell_degc + shift - u.exposure.air_degc))
    return Estimate.normal(
        float(last @ u.course.heat_limit(u.exposure.age_d)) - above, _line(u, last, partials), "°C", basis
    )


def _doses(u: Understanding, shift: Floats, basis: Basis) -> tuple[StageDose, ...]:
    e = u.exposure
    sd = _common_sd(u)
    lived = np.where(e.age_d < WARM_UP_D, 0.0, lived_hours(u))
    third = np.minimum((e.age_d * 24.0 / u.felt.term_h * 3.0).astype(np.int64), 2)

    def dose(grid: Grid, by: float, stage: int) -> float:
        value, _ = grid.at(shift + by)
        return float((np.maximum(value, 0.0) * lived)[third == stage].sum())

    def estimate(grid: Grid, stage: int) -> Estimate:
        low, middle, high = (dose(grid, by, stage) for by in (-Z90 * sd, 0.0, Z90 * sd))
        return Estimate(middle, min(low, middle, high), max(low, middle, high), "K h", basis)

    begun = sum(1 for stage in range(3) if float(lived[third == stage].sum()) > 0)
    return tuple(
        StageDose(stage=_STAGES[s], above=estimate(e.above, s), below=estimate(e.below, s)) for s in range(begun)
    )


def _common_sd(u: Understanding) -> float:
    """Doubt of the offset that all hours share: probe and place together."""
    one = u.exposure.segments[0]
    keys = [probe_key(one.temp_probe), machine_key(one.machine)]
    return u.posterior.spread(u.felt.unknowns.gradient(dict.fromkeys(keys, 1.0)))


def _during(u: Understanding, spell: Spell) -> bool:
    hour = int((spell.start_s - u.exposure.t0) // 3600)
    return bool(lived_hours(u)[min(hour, u.exposure.hours - 1)] > 0.0)


def _spell(u: Understanding, spell: Spell, shift: Floats, basis: Basis) -> SpellSeen:
    """A spell as the posterior sees it: moved by what has been learnt of the offset since it was found."""
    e = u.exposure
    i = min(int((spell.start_s - e.t0) // 3600), e.hours - 1)
    one = e.segments[int(e.segment[i])]
    moved = float(shift[i]) - one.center_k
    sd = _common_sd(u)
    began = (spell.start_s - e.t0) / 3600.0
    at = u.moment_of(began, began, began, u.basis("reading"))
    hours = (spell.end_s - spell.start_s) / 3600.0
    sign = -1.0 if spell.sort == "cold" else 1.0
    dose = [max(spell.dose_kh + sign * (moved + by) * hours, 0.0) for by in (-Z90 * sd, 0.0, Z90 * sd)]
    return SpellSeen(
        sort=spell.sort,
        start=at,
        length_h=hours,
        air=Estimate.normal(spell.air_degc + float(shift[i]), sd, "°C", basis),
        shell=Estimate.normal(spell.shell_degc + moved, sd, "°C", basis),
        dose=Estimate(dose[1], min(dose), max(dose), "K h", basis),
    )


def _odds(u: Understanding, shift: Floats) -> tuple[Odds, ...]:
    """Survival of the worst heat spell and the longest chill, as odds from tables. Nothing is added up over days, and
    nothing is read beyond the tables' ends."""
    out = []
    for one in (_chill(u, shift), _heat(u, shift), _chronic(u, shift)):
        if one is not None:
            out.append(one)
    return tuple(out)


def _chill(u: Understanding, shift: Floats) -> Odds | None:
    cold = (u.exposure.shell_degc + shift < _CHILL_DEGC) & (lived_hours(u) > 0)
    hours = _longest(cold)
    if hours < 2.0 or hours > _CHILL_H[-1]:
        return None
    bracket = next(h for h in _CHILL_H if hours <= h)
    prior = facts.prior("chill_survival", u.kind.key, f"h{bracket:.0f}")
    low, high = prior.interval90
    basis = Basis("chill", u.inputs, prior.sources)
    return Odds(regime="spell", survival=Estimate(prior.mean, low, high, "1", basis), candle_after_d=(4.0, 6.0))


def _heat(u: Understanding, shift: Floats) -> Odds | None:
    """A spell under a day at 40.5 to 46 °C: halving time by age at 43.3 °C, doubling every 0.6 K."""
    shell = u.exposure.shell_high + shift
    hot = (shell >= 40.5) & (lived_hours(u) > 0)
    hours = _longest(hot)
    if hours <= 0 or hours >= 24.0:
        return None
    level = float(np.mean(shell[hot]))
    if level > 46.0:
        return None
    age = float(u.exposure.age_d[int(np.flatnonzero(hot)[0])])
    priors = {
        float(c[1:]): facts.prior("heat_halving", u.kind.key, c)
        for c in facts.conditions("heat_halving")
        if c.startswith("d")
    }
    hen_age = 21.0 * age / u.kind.term_d.typical
    if not min(priors) <= hen_age <= max(priors):
        return None
    found = embryo.heat_spell_survival(
        level, hours, hen_age, ages_d=sorted(priors), medians_h=[priors[day].p[0] for day in sorted(priors)]
    )
    basis = Basis("heat", u.inputs, next(iter(priors.values())).sources)
    survival = Estimate(float(found.share), float(found.low), float(found.high), "1", basis)
    return Odds(regime="spell", survival=survival, candle_after_d=(2.0, 4.0))


def _chronic(u: Understanding, shift: Floats) -> Odds | None:
    """Two days and more at 40.6 to 42.8 °C: what one study of chronic heat saw, not a sum of hours."""
    warm = (u.exposure.shell_degc + shift >= _CHRONIC_DEGC[0]) & (lived_hours(u) > 0)
    if _longest(warm) < 48.0:
        return None
    level = float(np.mean((u.exposure.shell_degc + shift)[warm]))
    if level > _CHRONIC_DEGC[-1]:
        return None
    value = float(np.interp(level, _CHRONIC_DEGC, _CHRONIC_SURVIVAL))
    basis = Basis("heat", u.inputs, facts.prior("heat_sustained", u.kind.key).sources)
    return Odds(
        regime="sustained",
        survival=Estimate(value, max(value - 0.25, 0.0), min(value + 0.2, 1.0), "1", basis),
        candle_after_d=(2.0, 4.0),
    )


def _longest(mask: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> float:
    flips = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return float(np.max(flips[1::2] - flips[::2], initial=0))


def _drift(u: Understanding) -> tuple[Estimate | None, bool]:
    e = u.exposure
    found = steadiness.drift(steadiness.daily(e.air_degc, e.cover * (e.past >= 1.0)))
    if found is None:
        return None, False
    return Estimate.normal(found.change, found.sd, "K", u.basis("drift")), found.signal


def _swing(u: Understanding) -> tuple[Estimate | None, bool]:
    """How the box follows the room, K per K, if a probe hangs in the room; else the mean swing from day to night. [K]"""
    e = u.exposure
    good = (e.cover > 0.9) & (e.past >= 1.0) & (e.age_d > 0.5)
    follow = steadiness.follows(e.air_degc, e.room_degc, good)
    if follow is not None:
        return Estimate.normal(follow.slope, follow.sd, "1", u.basis("swing")), True
    spread = steadiness.day_night(e.air_degc, good)
    return (None, False) if spread is None else (Estimate.normal(spread[0], spread[1], "K", u.basis("swing")), False)
