"""What a scale is expected to show for each egg now: mass at setting less the water lost, with its doubt.

Eggs that were weighed before are known by the joint fit; of the others only what their mates weigh is known, or their
kind. It is what an entry is held against, so that a slip of the hand is asked about.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, hypot, log

import numpy as np

from chalaza.inference.grid import Floats
from chalaza.inference.understanding import Understanding
from chalaza.inference.water import CONDUCTANCE, EggUnit, egg_key, mass_key
from chalaza.values.estimate import Z90, Band, Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class OnScale:
    """One egg, or a group as one. `now`: mass expected today [g]; `first_g`: at setting; `loss`: share lost since.

    `weighed`: whether it ever stood on a scale, alone or with others.
    """

    now: Estimate
    first_g: float
    loss: float
    weighed: bool


def expected(u: Understanding) -> Mapping[str, OnScale]:
    """Every egg and group of the batch, by uid."""
    force, partial = u.drive.at(u.now_h)
    known = [mass_key(uid) for uid in u.rows.units if mass_key(uid) in u.posterior.unknowns.index]
    logs = [float(u.posterior.mean[u.posterior.unknowns.index[key]]) for key in known]
    usual = _usual(logs, u.kind.egg_mass_g)
    return {uid: _one(u, unit, force, partial, usual) for uid, unit in u.rows.units.items()}


def _usual(logs: Sequence[float], band: Band) -> tuple[float, float]:
    """Mean and sd of the log of the mass of an egg nobody weighed: as its mates, else as its kind."""
    if len(logs) < 3:
        return log(band.typical), (log(band.high) - log(band.low)) / (2.0 * Z90)
    return float(np.mean(logs)), float(np.std(logs, ddof=1))


def _one(u: Understanding, unit: EggUnit, force: float, partial: Floats, usual: tuple[float, float]) -> OnScale:
    """An egg with a shell of its own (`deviates`) was weighed or marked alone, so its mass is known."""
    x, find, n = u.posterior.mean, u.posterior.unknowns.index, unit.count
    key, basis = mass_key(unit.uid), u.basis("water", "conductance")
    known = key in find
    first = exp(float(x[find[key]]) if known else usual[0])
    share = u.water.specific(x, unit)
    loss = share * force
    lost = first * loss
    parts = {CONDUCTANCE: -lost}
    if unit.deviates:
        parts |= {egg_key(unit.uid): -lost, key: first - lost * (1.0 + u.water.mass_exponent)}
    elif known:
        parts[key] = first - lost
    gradient = u.felt.unknowns.gradient(parts) - first * share * partial
    sd = u.posterior.spread(gradient)
    if not known:
        sd = hypot(sd, first * usual[1])
    if not unit.deviates:
        sd = hypot(sd, lost * u.water.spread)
    return OnScale(
        now=Estimate.normal(n * (first - lost), n * sd, "g", basis), first_g=n * first, loss=loss, weighed=known
    )
