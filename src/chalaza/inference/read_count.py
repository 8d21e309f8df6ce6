"""Count, read off the exact distributions: fertile, alive, young to expect, and each egg's odds."""

from scipy.special import betaincinv

from chalaza.inference.count import Counts, Group, mean_of, quantile
from chalaza.inference.grid import Floats
from chalaza.inference.rows import rounds
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Count, EggOdds
from chalaza.values.estimate import Basis, Estimate
from chalaza.values.evidence import Candling

_HOUR_S = 3600.0


def read(u: Understanding, candlings: tuple[Candling, ...], wanted: int | None) -> Count:
    """The answer to "how many are alive, how many will hatch?"."""
    counts = u.counts
    basis = u.basis("count", "fertility", "survival_early", "survival_middle", "survival_late")
    out = sum(group.count for _, group in u.groups if group.hatched)
    looks = sorted({one.at for one in candlings if one.at <= u.as_of})
    fertility = counts.posterior["fertility"]
    return Count(
        set=u.rows.total,
        fertile=_number(counts.fertile, "eggs", basis),
        alive=_number(counts.alive, "eggs", basis),
        expected_young=_number(counts.young, "young", basis),
        out=out,
        fertility=_share(fertility, basis),
        stages={name: _share(pair, basis) for name, pair in counts.posterior.items() if name != "fertility"},
        eggs=_eggs(u, counts),
        looks=rounds(at / _HOUR_S for at in looks),
        last_look_d=(looks[-1] - u.exposure.t0) / _HOUR_S / 24.0 if looks else None,
        wanted_young=wanted,
    )


def _number(distribution: Floats, unit: str, basis: Basis) -> Estimate:
    """A count with the central 90 % of its exact distribution: discrete, so it covers a little more than 90 %."""
    low, high = quantile(distribution, 0.05), quantile(distribution, 0.95)
    mean = mean_of(distribution)
    return Estimate(mean, min(float(low), mean), max(float(high), mean), unit, basis)


def _share(pair: tuple[float, float], basis: Basis) -> Estimate:
    a, b = pair
    return Estimate(a / (a + b), float(betaincinv(a, b, 0.05)), float(betaincinv(a, b, 0.95)), "1", basis)


def _eggs(u: Understanding, counts: Counts) -> tuple[EggOdds, ...]:
    """Odds of each row; two "unsure" looks are shown as the range between counting the second fully and not at all."""
    out: list[EggOdds] = []
    for (uid, group), alive in zip(u.groups, counts.alive_by_group, strict=True):
        if group.hatched or group.opened is not None or group.removed:
            continue
        low, high = _unsure_range(group, alive)
        out.append(EggOdds(uid=uid, label=u.rows.units[uid].label, count=group.count, alive=alive, low=low, high=high))
    return tuple(out)


def _unsure_range(group: Group, alive: float) -> tuple[float, float]:
    unsure = [look for look in group.looks if look.unsure]
    if len(unsure) < 2:
        return alive, alive
    odds = alive / max(1.0 - alive, 1e-9)
    ratio = 1.0
    for look in unsure[1:]:
        a, d, i = look.likelihood
        ratio *= (a / max(d, i, 1e-9)) ** 0.5
    ends = sorted((odds * ratio, odds / ratio))
    return ends[0] / (1.0 + ends[0]), ends[1] / (1.0 + ends[1])
