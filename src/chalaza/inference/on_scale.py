"""What a scale is expected to show for each egg now: mass at setting less the water lost, with its doubt.

Eggs that were weighed before are known by the joint fit; of the others only what their mates weigh is known, or their
kind. It is what an entry is held against, so that a slip of the hand is asked about.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, hypot, log

import numpy as np

from chalaza.inference.grid import Floats
from chalaza.inference.understanding import Understanding
from chalaza.inference.water import CONDUCTANCE, EggUnit, egg_key, mass_key, session_key
from chalaza.values.estimate import Z90, Band, Estimate

#: What a pocket scale does not repeat beside rounding, as for weighings in the fit. [g]; judgement
REPEAT_G = 0.01


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
    x, find, n = u.posterior.mean, u.posterior.unknowns.index, unit.count
    key, basis = mass_key(unit.uid), u.basis("water", "conductance")
    known = key in find
    first = exp(float(x[find[key]]) if known else usual[0])
    loss = u.water.specific(x, unit) * force
    lost = first * loss
    sd = u.posterior.spread(_gradient(u, unit, first, force, partial))
    if not known:
        sd = hypot(sd, first * usual[1])
    if not unit.deviates:
        sd = hypot(sd, lost * u.water.spread)
    return OnScale(
        now=Estimate.normal(n * (first - lost), n * sd, "g", basis), first_g=n * first, loss=loss, weighed=known
    )


def _gradient(u: Understanding, unit: EggUnit, first: float, force: float, partial: Floats) -> Floats:
    """How the mass of one egg of a unit hangs on the unknowns. One with a shell of its own (`deviates`) has a known mass."""
    key = mass_key(unit.uid)
    share = u.water.specific(u.posterior.mean, unit)
    lost = first * share * force
    parts = {CONDUCTANCE: -lost}
    if unit.deviates:
        parts |= {egg_key(unit.uid): -lost, key: first - lost * (1.0 + u.water.mass_exponent)}
    elif key in u.posterior.unknowns.index:
        parts[key] = first - lost
    return np.asarray(u.felt.unknowns.gradient(parts) - first * share * partial)


def narrowed(u: Understanding, uids: Iterable[str], *, session: str, resolution_g: float) -> tuple[float, float]:
    """Half the 90 % range of the batch's mean loss now, before and after those eggs are weighed too in that session. [1]

    Only eggs whose mass is known can narrow it: of the others a single weight says nothing of what was lost.
    """
    force, partial = u.drive.at(u.now_h)
    _, loss = u.water.mean_loss(u.posterior.mean, force, partial)
    find, after = u.posterior.unknowns.index, u.posterior
    zero = u.felt.unknowns.gradient({session_key(session): 1.0} if session_key(session) in find else {})
    for uid in uids:
        unit = u.rows.units[uid]
        if unit.deviates:
            first = exp(float(u.posterior.mean[find[mass_key(uid)]]))
            seen = unit.count * _gradient(u, unit, first, force, partial) + zero
            after = after.narrowed(seen, resolution_g**2 / 12.0 + REPEAT_G**2)
    return Z90 * u.posterior.spread(loss), Z90 * after.spread(loss)
