"""What to measure next: the check that would narrow the decision most for the least trouble.

Each feasible check is a linear observation of the joint posterior, so what it would do to hatch band and projected loss
is a rank-one update of the same covariance; what candling would do to the count follows from its error rates. Placement
and the hens stay in the covariance: no check is promised what only a mapped box could give.
"""

from dataclasses import dataclass, replace
from math import hypot

import numpy as np

from chalaza.inference import read_clock, read_water
from chalaza.inference.count import Group, mean_of
from chalaza.inference.felt import probe_key, rh_key
from chalaza.inference.fit import Posterior
from chalaza.inference.grid import Floats
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Offer
from chalaza.values.beliefs import Belief, Key
from chalaza.values.estimate import Z90

#: What counts as one step of narrowing: half a day of the hatch band, a tenth of the width of an ordinary loss band
#: (2.5 points), one young. Judgement; the ranking within one answer does not depend on it.
_HATCH_H, _LOSS, _YOUNG = 12.0, 0.0025, 1.0
#: A check that takes less than this share off every width is not offered. Judgement.
_VISIBLE = 0.03
#: Hands-on minutes: worked example V of the fact packs (judgement).
MINUTES = {"ice": 10.0, "compare": 15.0, "salt": 20.0, "weigh_three": 6.0, "weigh_all": 15.0, "candle": 12.0}
#: A scale with 0.1 g steps against a hen's egg: a share of the mass, twice; and what else a mean loss is sure to (1 %).
_SCALE_SHARE, _MEAN_SHARE = 0.0007, 0.01


@dataclass(frozen=True, slots=True, kw_only=True)
class Widths:
    """Half-widths of 90 %: hatch hour [h], mean loss at the target's day [1], young."""

    hatch_h: float
    loss: float
    young: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A check as an observation: code, minutes, gradient with its error variance (None: not of the Gaussian)."""

    code: str
    minutes: float
    gradient: Floats | None
    variance: float
    young_sd: float | None = None


def widths(posterior: Posterior, hatch: Floats, loss: Floats, young_sd: float) -> Widths:
    """What the posterior leaves open."""
    return Widths(hatch_h=Z90 * posterior.spread(hatch), loss=Z90 * posterior.spread(loss), young=Z90 * young_sd)


def offer(check: Check, posterior: Posterior, hatch: Floats, loss: Floats, young_sd: float) -> Offer:
    """What one check would narrow, and its score: steps of narrowing a minute."""
    before = widths(posterior, hatch, loss, young_sd)
    after = posterior if check.gradient is None else posterior.narrowed(check.gradient, check.variance)
    then = widths(after, hatch, loss, young_sd if check.young_sd is None else check.young_sd)
    steps = (
        (before.hatch_h - then.hatch_h) / _HATCH_H
        + (before.loss - then.loss) / _LOSS
        + (before.young - then.young) / _YOUNG
    )
    return Offer(
        code=check.code,
        minutes=check.minutes,
        hatch_before_h=before.hatch_h,
        hatch_after_h=then.hatch_h,
        loss_before=before.loss,
        loss_after=then.loss,
        young_before=before.young,
        young_after=then.young,
        score=steps / check.minutes,
    )


def measure_next(u: Understanding, beliefs: dict[Key, Belief], *, last_look_d: float | None) -> tuple[Offer, ...]:
    """Feasible checks, best first; those that would narrow nothing worth a minute are left out."""
    due_h = u.kind.loss_target.day_d * 24.0
    loss = read_water.loss_at(u, due_h).gradient if u.now_h < due_h else np.zeros(len(u.felt.unknowns))
    young_sd = _sd(u.counts.young)
    found = [
        offer(check, u.posterior, u.half_gradient, loss, young_sd)
        for check in (*_probe_checks(u, beliefs), *_weighings(u, due_h), *_candling(u, last_look_d, young_sd))
    ]
    among_h = Z90 * read_clock.among_h(u)
    worth = [_as_told(one, among_h) for one in found if _narrows(one)]
    return tuple(sorted(worth, key=lambda one: (-one.score, one.code)))


def _as_told(one: Offer, among_h: float) -> Offer:
    """The hatch band with what no check takes from it, so that it is the width told of the moment itself."""
    before, after = (hypot(width, among_h) for width in (one.hatch_before_h, one.hatch_after_h))
    return replace(one, hatch_before_h=before, hatch_after_h=after)


def _narrows(one: Offer) -> bool:
    """Whether a check would take a visible part off any width."""
    pairs = (
        (one.hatch_before_h, one.hatch_after_h),
        (one.loss_before, one.loss_after),
        (one.young_before, one.young_after),
    )
    return any(before > 0 and after < (1.0 - _VISIBLE) * before for before, after in pairs)


def _sd(distribution: Floats) -> float:
    mean = mean_of(distribution)
    return float(np.sqrt(max(float(distribution @ (np.arange(len(distribution)) - mean) ** 2), 0.0)))


def _probe_checks(u: Understanding, beliefs: dict[Key, Belief]) -> list[Check]:
    e = u.exposure
    one = e.segments[int(e.segment[min(int(u.now_h), e.hours - 1)])]
    out: list[Check] = []
    temp, damp = probe_key(one.temp_probe), rh_key(one.rh_probe)
    if one.temp_probe is not None:
        for code in ("ice", "compare"):
            sd = beliefs[f"check:{code}", "temp_offset"].sd
            if u.posterior.sd(temp) > sd:
                out.append(
                    Check(
                        code=code, minutes=MINUTES[code], gradient=u.felt.unknowns.gradient({temp: 1.0}), variance=sd**2
                    )
                )
    if one.rh_probe is not None and damp not in u.checked:
        sd = beliefs["check:salt_one", "rh_offset"].sd
        out.append(
            Check(code="salt", minutes=MINUTES["salt"], gradient=u.felt.unknowns.gradient({damp: 1.0}), variance=sd**2)
        )
    return out


def _weighings(u: Understanding, due_h: float) -> list[Check]:
    """Weighing again, or (where no weight was ever taken) twice from now on: the second one five days later."""
    last = max((load.hour for load in u.water.loads), default=None)
    if u.now_h >= due_h - 24.0 or (last is not None and last > 0 and u.now_h - last < 48.0):
        return []
    hour = u.now_h if last is not None and u.now_h > 72.0 else min(u.now_h + 120.0, due_h)
    value, gradient = u.water.mean_loss(u.posterior.mean, *u.drive.at(hour))
    start = 0.0 if last is not None else u.water.mean_loss(u.posterior.mean, *u.drive.at(u.now_h))[0]
    seen = max(value - start, 1e-4)
    error = _MEAN_SHARE**2 + (_SCALE_SHARE / seen) ** 2
    relative = gradient / value
    total = max(u.rows.total, 1)
    out = [Check(code="weigh_all", minutes=MINUTES["weigh_all"] * total / 12.0, gradient=relative, variance=error)]
    if total > 4 and not any(unit.deviates for unit in u.rows.units.values()):
        three = u.water.spread**2 / 3.0 * (1.0 - 3.0 / total) + error
        out.append(Check(code="weigh_three", minutes=MINUTES["weigh_three"], gradient=relative, variance=three))
    return out


def _candling(u: Understanding, last_look_d: float | None, young_sd: float) -> list[Check]:
    """One more look at every egg: how much variance of the count its error rates would take away on average."""
    day, term, stop = u.now_h / 24.0, u.kind.term_d.typical, u.kind.stop_turning_d.typical
    if day < 0.25 * term or day > stop + 0.5 or (last_look_d is not None and day - last_look_d < 3.0):
        return []
    left = 0.0
    onward = mean_of(u.counts.young) / max(mean_of(u.counts.alive), 1e-6)
    eggs = 0
    for (_, group), alive in zip(u.groups, u.counts.alive_by_group, strict=True):
        if group.hatched or group.opened is not None or group.removed:
            continue
        eggs += group.count
        left += group.count * _left_open(group, alive, day / term)
    if eggs == 0:
        return []
    # Eggs of one flock share their luck: what a look takes away is the doubt of the number alive, not of egg by egg.
    gain = max(_sd(u.counts.alive) ** 2 - left, 0.0) * onward**2
    after = max(young_sd**2 - gain, 0.05 * young_sd**2) ** 0.5
    return [Check(code="candle", minutes=MINUTES["candle"] * eggs / 12.0, gradient=None, variance=0.0, young_sd=after)]


def _left_open(group: Group, alive: float, share: float) -> float:
    """p(1 - p) expected after one look with the error rates of a sure lamp at this age (light shell, day 7-14)."""
    right, wrong = (0.94, 0.04) if share < 0.55 else (0.95, 0.03)
    if any(look.unsure for look in group.looks):
        right, wrong = 0.5 * (right + 0.5), 0.5 * (wrong + 0.3)
    seen = alive * right + (1.0 - alive) * wrong
    then = 0.0
    for chance, up in ((seen, alive * right), (1.0 - seen, alive * (1.0 - right))):
        if chance > 0:
            p = up / chance
            then += chance * p * (1.0 - p)
    return then
