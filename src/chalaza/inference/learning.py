"""Learning: what a finished batch teaches, and lessons folded into beliefs.

A lesson is information, not a state: the inverse covariance that this batch's evidence added on the unknowns that last
(probes, places, parents), and counts by stage. `fold` adds lessons to what is published; addition knows no order, so
the order of entry cannot matter, an undo is a lesson less, and a batch is assessed without its own lesson. Unknowns
that were learnt together keep their correlation: storing the margins alone would count the same hatch twice.

Each batch is a sample of its parents and its box: what is learnt of a batch says a little less of the next one, and
less again with every season.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from chalaza.errors import BalanceError
from chalaza.inference import clock, water
from chalaza.inference.grid import Floats
from chalaza.inference.understanding import Understanding
from chalaza.values.beliefs import Belief, Beliefs, Key, Lesson, Shape

#: Spread from one batch to the next of the same parents, box or probe, by quantity: priors conductance_batch_spread
#: (0.06), hatch_hours correlated 0.6 and placement 0.8 from batch to batch, drift of a season (all memory).
_BETWEEN = {"conductance": 0.06, "hatch_hours": 5.1, "placement": 0.11, "temp_offset": 0.08, "rh_offset": 0.012}
#: Weight of a lesson a year later (machine fact pack 8.5: power prior 0.5 to 0.8; memory).
_A_YEAR_ON = 0.7
_YEAR_S = 365.25 * 86400.0
#: Fates of one batch are alike (intra-class 0.067): past batches tell no more of the next than this many eggs would.
_MOST_EGGS = 14.0
_COUNTED = ("fertility", "survival_early", "survival_middle", "survival_late")


def lesson(u: Understanding, *, uid: str, of: str, at: int) -> Lesson:
    """What the evidence of one batch taught, apart from what was believed before it. `of`: the batch; `at`: its end."""
    flock = f"parents:{u.who.parents}"
    names = {(flock, "conductance"): water.CONDUCTANCE, (flock, "hatch_hours"): clock.HATCH_HOURS}
    keys = tuple(key for key in u.base if names.get(key, key) in u.felt.unknowns)
    place = [u.felt.unknowns.index[names.get(key, key)] for key in keys]
    before, after = u.posterior.prior_cov[np.ix_(place, place)], u.posterior.cov[np.ix_(place, place)]
    sharp, blunt = np.linalg.inv(after), np.linalg.inv(before)
    information = _positive(sharp - blunt)
    told = sharp @ u.posterior.mean[place] - blunt @ u.felt.unknowns.mean[place]
    counts: dict[Key, tuple[float, float]] = {}
    for quantity in _COUNTED:
        a, b = u.counts.posterior[quantity]
        prior = u.beliefs.get((flock, quantity)) or u.base[flock, quantity]
        counts[flock, quantity] = (max(a - prior.a, 0.0), max(b - prior.b, 0.0))
    base = tuple(u.base[key] for key in keys) + tuple(u.base[key] for key in counts)
    return Lesson(
        uid=uid, of=of, at=at, keys=keys, information=tuple(map(tuple, information.tolist())),
        shift=tuple(told.tolist()), base=base, counts=counts,
    )  # fmt: skip


def fold(
    lessons: Iterable[Lesson], published: Mapping[Key, Belief], *, as_of: int, without: str | None = None
) -> Beliefs:
    """Beliefs as of a moment: what is published, then all lessons up to then but those of the batch `without`."""
    used = sorted(
        (one for one in lessons if one.at <= as_of and one.of != without and not one.forgotten),
        key=lambda one: (one.at, one.uid),
    )
    base: dict[Key, Belief] = {}
    for one in used:
        base |= dict(zip((*one.keys, *one.counts), one.base, strict=True))
    normal = tuple(sorted(key for key in base if base[key].shape is Shape.NORMAL))
    rows = dict(published)
    correlations: dict[tuple[Key, Key], float] = {}
    if normal:
        rows |= _gaussian(used, normal, base, as_of, correlations)
    for key in sorted(key for key in base if base[key].shape is Shape.BETA):
        rows[key] = _counted(used, key, base[key], as_of)
    return Beliefs(rows, correlations)


def _gaussian(
    used: Sequence[Lesson], keys: tuple[Key, ...], base: Mapping[Key, Belief], as_of: int,
    correlations: dict[tuple[Key, Key], float],
) -> dict[Key, Belief]:  # fmt: skip
    between = np.array([_between(key) for key in keys])
    mean = np.array([base[key].a for key in keys])
    wide = np.array(
        [max(base[key].b ** 2 - b**2, 0.1 * base[key].b ** 2) for key, b in zip(keys, between, strict=True)]
    )
    information, told = np.diag(1.0 / wide), mean / wide
    origins: dict[Key, list[str]] = {key: [] for key in keys}
    for one in used:
        place = [keys.index(key) for key in one.keys]
        weight = _A_YEAR_ON ** (max(as_of - one.at, 0) / _YEAR_S)
        lasting, shift = _lasting(one, between[place])
        information[np.ix_(place, place)] += weight * lasting
        told[place] += weight * shift
        for key in one.keys:
            origins[key].append(one.of)
    cov = np.linalg.inv(information)
    best = cov @ told
    cov = cov + np.diag(between**2)
    sd = np.sqrt(np.diag(cov))
    for i, left in enumerate(keys):
        for j in range(i + 1, len(keys)):
            value = float(cov[i, j] / (sd[i] * sd[j]))
            if abs(value) > 1e-6:
                correlations[left, keys[j]] = value
    return {
        key: replace(base[key], a=float(best[i]), b=float(sd[i]), origin=f"learnt: {' '.join(origins[key])}")
        for i, key in enumerate(keys)
    }


def _lasting(one: Lesson, between: Floats) -> tuple[Floats, Floats]:
    """Information on what lasts, from information on this batch: (1/information + spread between batches) inverted,
    written so that directions nothing was learnt of stay empty."""
    information = np.array(one.information)
    mix = np.linalg.inv(np.eye(len(between)) + information * between**2)
    lasting = mix @ information
    return 0.5 * (lasting + lasting.T), mix @ np.array(one.shift)


def _between(key: Key) -> float:
    try:
        return _BETWEEN[key[1]]
    except KeyError:
        raise BalanceError(f"no spread from batch to batch is known of {key[1]}") from None


def _counted(used: Sequence[Lesson], key: Key, base: Belief, as_of: int) -> Belief:
    a, b = base.a, base.b
    origins: list[str] = []
    for one in used:
        if key in one.counts:
            weight = _A_YEAR_ON ** (max(as_of - one.at, 0) / _YEAR_S)
            a, b = a + weight * one.counts[key][0], b + weight * one.counts[key][1]
            origins.append(one.of)
    total = min(a + b, max(_MOST_EGGS, base.a + base.b))
    share = a / (a + b)
    return replace(base, a=share * total, b=(1.0 - share) * total, origin=f"learnt: {' '.join(origins)}")


def _positive(matrix: Floats) -> Floats:
    """The nearest matrix without negative information."""
    values, vectors = np.linalg.eigh(0.5 * (matrix + matrix.T))
    return np.asarray((vectors * np.maximum(values, 0.0)) @ vectors.T)
