"""Clock: how far on are the embryos, and when will they hatch?

Developmental hours run at 1 on this kind's own normal course. Half of the young are out when they reach the hours this
kind needs, plus what storage and size add. The hour is a smooth function of the shared unknowns, so it joins the one
posterior; pips and hatches seen come in by their exact likelihood in that one hour, matched by a rank-one update.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from chalaza.inference.felt import Course, Felt
from chalaza.inference.fit import Posterior
from chalaza.inference.grid import Floats
from chalaza.values.beliefs import Key

HATCH_HOURS: Key = ("batch", "hatch_hours")
STORAGE: Key = ("batch", "storage_delay")
SIZE: Key = ("batch", "size_delay")

_HALVES = np.linspace(-5.0, 5.0, 121)
_SPREAD_STEPS = np.linspace(-3.0, 3.0, 13)
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(11)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()
_SPREADS = np.array([-(3.0**0.5), 0.0, 3.0**0.5])
_SPREAD_WEIGHTS = np.array([1.0, 4.0, 1.0]) / 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockModel:
    """What the clock of one batch needs beside what the eggs felt. Hours, days in store beyond the first, grams."""

    felt: Felt
    stored_d: float
    extra_mass_g: float
    spread_h: float
    spread_log_sd: float
    pip_h: float
    pip_sd_h: float
    internal_h: float

    def need(self, x: Floats) -> tuple[float, Floats]:
        """Developmental hours until half are out, and its gradient."""
        find = self.felt.unknowns.index
        gradient = self.felt.unknowns.gradient({HATCH_HOURS: 1.0, STORAGE: self.stored_d, SIZE: self.extra_mass_g})
        value = x[find[HATCH_HOURS]] + x[find[STORAGE]] * self.stored_d + x[find[SIZE]] * self.extra_mass_g
        return float(value), gradient

    def hour_at(self, x: Floats, age: Course, share: float = 1.0, less_h: float = 0.0) -> tuple[float, Floats]:
        """Hour since setting at which `share` of the needed hours, less `less_h`, are lived; with its gradient."""
        need, gradient = self.need(x)
        target = need * share - less_h
        i = int(np.clip(np.searchsorted(age.total, target) - 1, 0, len(age.total) - 2))
        pace = max(float(age.total[i + 1] - age.total[i]), 0.05)
        hour = i + (target - float(age.total[i])) / pace
        _, lived = age.at(hour)
        return hour, (gradient * share - lived) / pace


@dataclass(frozen=True, slots=True)
class Look:
    """Young newly seen at one look: how many, between which hours since setting; `pipped` or out."""

    count: int
    after_h: float
    until_h: float
    pipped: bool


@dataclass(frozen=True, slots=True)
class HatchHour:
    """Half hatched: mean and sd of the hour, the spread between eggs now believed (mean, log sd)."""

    hour: float
    sd: float
    spread_h: float
    spread_log_sd: float


def seen(model: ClockModel, prior: HatchHour, looks: Sequence[Look], rest: float, watched_h: float | None) -> HatchHour:
    """The hour of half hatched after the looks: exact likelihood on a grid of hour and spread.

    `rest`: young still expected from eggs neither pipped nor out; they had not pipped at `watched_h` (None: nobody
    looked, so silence says nothing). Interval-censored hatch times: what was not there at the last look and is there now.
    """
    if not looks and (watched_h is None or rest <= 0):
        return prior
    hours = prior.hour + prior.sd * _HALVES
    spreads = prior.spread_h * np.exp(prior.spread_log_sd * _SPREAD_STEPS)
    log = -0.5 * _HALVES[:, None] ** 2 - 0.5 * _SPREAD_STEPS[None, :] ** 2
    for look in looks:
        shift = model.pip_h if look.pipped else 0.0
        scale = np.hypot(spreads, model.pip_sd_h) if look.pipped else spreads
        upper = ndtr((look.until_h + shift - hours[:, None]) / scale)
        lower = ndtr((look.after_h + shift - hours[:, None]) / scale)
        log = log + look.count * np.log(np.maximum(upper - lower, 1e-300))
    if watched_h is not None and rest > 0:
        scale = np.hypot(spreads, model.pip_sd_h)
        silent = 1.0 - ndtr((watched_h + model.pip_h - hours[:, None]) / scale)
        log = log + rest * np.log(0.1 + 0.9 * silent)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    by_hour, by_spread = weight.sum(axis=1), weight.sum(axis=0)
    mean = float(by_hour @ hours)
    sd = float(np.sqrt(by_hour @ (hours - mean) ** 2))
    logs = np.log(spreads)
    log_mean = float(by_spread @ logs)
    log_sd = float(np.sqrt(max(by_spread @ (logs - log_mean) ** 2, 1e-6)))
    return HatchHour(mean, max(sd, 0.25), float(np.exp(log_mean)), log_sd)


def matched(posterior: Posterior, gradient: Floats, before: HatchHour, after: HatchHour) -> Posterior:
    """Let the joint posterior agree with what the looks said about the one hour."""
    v0, v1 = before.sd**2, min(after.sd**2, 0.999 * before.sd**2)
    if after == before:
        return posterior
    variance = v0 * v1 / (v0 - v1)
    gap = (after.hour - before.hour) * (v0 + variance) / v0
    return posterior.observe(gradient, gap, variance)


@dataclass(frozen=True, slots=True)
class Quantiles:
    """5 %, 50 % and 95 % of an hour since setting."""

    low: float
    middle: float
    high: float


def first_of(half: HatchHour, n: float, *, lead_h: float, lead_sd_h: float, not_before: float | None) -> Quantiles:
    """The first of `n` young, `lead_h` before it is out; given that it was not there yet at `not_before`, which `half`
    already knows (`seen`)."""
    return _extreme(half, n, lead_h, lead_sd_h, not_before, first=True)


def last_of(half: HatchHour, n: float, *, not_before: float | None) -> Quantiles:
    """The last of `n` young out of the shell; it was not out yet at `not_before`, which `half` already knows."""
    return _extreme(half, n, 0.0, 0.0, not_before, first=False)


def _extreme(
    half: HatchHour, n: float, lead: float, lead_sd: float, not_before: float | None, first: bool
) -> Quantiles:
    n = max(n, 1.0)
    spread = np.hypot(half.spread_h, lead_sd)
    reach = 4.0 * (half.sd + 1.5 * spread)
    t = half.hour - lead + np.linspace(-reach, reach, 301)
    hours = half.hour - lead + half.sd * _NODES
    scale = np.hypot(half.spread_h * np.exp(half.spread_log_sd * _SPREADS), lead_sd)
    weight = _WEIGHTS[None, :, None] * _SPREAD_WEIGHTS[None, None, :]

    def chance(by: Floats) -> Floats:
        below = ndtr((by[:, None, None] - hours[None, :, None]) / scale[None, None, :])
        return np.asarray(1.0 - (1.0 - below) ** n if first else below**n)

    cdf = chance(t)
    if not_before is not None:
        passed = chance(np.array([not_before]))
        if float((passed * weight).sum()) >= 0.999:
            return Quantiles(not_before, not_before, not_before + half.spread_h)
        # Hour by hour: `half` has been moved by the waiting already, so its hours are not weighed by it again.
        later = (t > not_before)[:, None, None]
        cdf = np.where(later, (cdf - passed) / np.maximum(1.0 - passed, 1e-12), 0.0)
        cdf = np.where(later & (passed > 1.0 - 1e-9), 1.0, np.clip(cdf, 0.0, 1.0))
    cdf = (cdf * weight).sum(axis=(1, 2))
    cdf = np.maximum.accumulate(cdf) + np.arange(len(cdf)) * 1e-12
    low, middle, high = (float(v) for v in np.interp((0.05, 0.5, 0.95), cdf, t))
    if not_before is not None:
        low, middle, high = max(low, not_before), max(middle, not_before), max(high, not_before)
    return Quantiles(low, middle, high)
