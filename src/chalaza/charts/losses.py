"""Courses of loss behind the picture of water: as lived and as it is, as advised, and what each session of weighing says."""

from dataclasses import dataclass
from math import exp
from typing import Any

import numpy as np

from chalaza.charts.base import number
from chalaza.inference.grid import Floats
from chalaza.inference.read_water import loss_if
from chalaza.inference.understanding import Understanding
from chalaza.inference.water import mass_key, session_key
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Z90

#: Advice after which the humidity, and so the course, would be another.
_CHANGES = frozenset({"water.raise", "water.lower", "water.not_all"})
#: Weighings closer than this are one session; one this early is the start itself. [h]
_SAME_H, _START_H = 6.0, 6.0


@dataclass(frozen=True, slots=True)
class Curve:
    """A loss by day since setting: mean and 90 % range, as shares of the mass at setting."""

    day: Floats
    loss: Floats
    low: Floats
    high: Floats

    def rows(self) -> list[dict[str, Any]]:
        """As rows of data."""
        columns = (self.day, self.loss, self.low, self.high)
        return [
            {name: number(float(v)) for name, v in zip(("day", "loss", "low", "high"), row, strict=True)}
            for row in zip(*columns, strict=True)
        ]


@dataclass(frozen=True, slots=True)
class Session:
    """What one session of weighing says of the batch's mean: loss, its 90 % range, and how many eggs were weighed."""

    day: float
    loss: float
    low: float
    high: float
    eggs: int


def course(u: Understanding, hours: Floats) -> Curve:
    """Mean loss of the batch at hours since setting, the display staying as it is from now on."""
    force, partial = u.drive.at_all(hours)
    factor, slope = u.water.factor(u.posterior.mean)
    loss = factor * force
    gradient = force[:, None] * slope + factor * partial
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", gradient, u.posterior.cov, gradient), 0.0))
    ratio = Z90 * sd / np.maximum(loss, 1e-6)
    return Curve(hours / 24.0, loss, loss * np.exp(-ratio), loss * np.exp(ratio))


def sessions(u: Understanding) -> tuple[Session, ...]:
    """Every session after the start: what is missing from the scale, as a share of what those eggs weighed at setting.

    Where not all eggs were weighed it is told for the batch's mean: by how much the shells of those eggs are known to
    differ from the mean. So a circle off the line means a surprise, and not the choice of eggs.
    """
    order = sorted(range(len(u.water.loads)), key=lambda i: u.water.loads[i].hour)
    found: list[list[int]] = []
    for i in order:
        if found and u.water.loads[i].hour - u.water.loads[found[-1][-1]].hour < _SAME_H:
            found[-1].append(i)
        else:
            found.append([i])
    return tuple(_session(u, one) for one in found if u.water.loads[one[0]].hour >= _START_H)


def _session(u: Understanding, which: list[int]) -> Session:
    find, x = u.posterior.unknowns.index, u.posterior.mean
    net = noise = through = 0.0
    eggs = 0
    by_mass: dict[int, float] = {}
    gradient = np.zeros(len(x))
    for i in which:
        load = u.water.loads[i]
        net += load.net_g - float(x[find[session_key(load.session)]])
        noise += float(u.water.plan.sd[i]) ** 2
        gradient[find[session_key(load.session)]] += 1.0
        for uid in load.units:
            unit = u.water.units[uid]
            at, mass = find[mass_key(uid)], unit.count * exp(float(x[find[mass_key(uid)]]))
            by_mass[at] = by_mass.get(at, 0.0) + mass
            through += mass * u.water.specific(x, unit)
            eggs += unit.count
    start = sum(by_mass.values())
    lean = u.water.factor(x)[0] * start / through
    loss = lean * (1.0 - net / start)
    gradient /= start
    for at, mass in by_mass.items():
        gradient[at] += net * mass / start**2
    half = lean * Z90 * (u.posterior.spread(gradient) ** 2 + noise / start**2) ** 0.5
    day = float(np.mean([u.water.loads[i].hour for i in which])) / 24.0
    return Session(day, loss, loss - half, loss + half, eggs)


def advised(u: Understanding, a: Assessment) -> Curve | None:
    """The course if the advice on humidity is followed, from now to the target's day; None if none was given."""
    due_h = a.water.target_day_d * 24.0
    if not any(one.code in _CHANGES for one in a.advice) or u.now_h >= due_h:
        return None
    hours = np.linspace(u.now_h, due_h, 3)
    lines = [loss_if(u, a.water.best_rh.value, float(hour)) for hour in hours]
    loss = np.array([one.value for one in lines])
    ratio = Z90 * np.array([one.sd for one in lines]) / np.maximum(loss, 1e-6)
    return Curve(hours / 24.0, loss, loss * np.exp(-ratio), loss * np.exp(ratio))
