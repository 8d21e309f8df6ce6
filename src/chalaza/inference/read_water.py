"""Water, read off the posterior: loss now and at the target's day, the humidity to run as this display shows it, and
the single eggs."""

from dataclasses import dataclass

import numpy as np

from chalaza.inference.felt import rh_key
from chalaza.inference.grid import Floats
from chalaza.inference.rows import rounds
from chalaza.inference.understanding import Understanding
from chalaza.inference.water import CONDUCTANCE, EggUnit, egg_key, unknown_eggs
from chalaza.values.answers import EggLoss, Water
from chalaza.values.estimate import Z90, Band, Basis, Estimate

#: Displayed humidity a keeper can bring about before lockdown, dry box to all water and little air. [1]
#: Moisture balance of a 40 L box (machine fact pack 3.3, computed): 17 % dry and empty to about 80 % all wet.
RH_SPAN = (0.20, 0.75)
#: A shell this many robust standard deviations from the others is odd: cracked, or not this kind of egg.
ODD_Z = 3.5
_NORMAL_MAD = 1.4826


@dataclass(frozen=True, slots=True)
class Line:
    """A linear reading of the posterior: value, gradient, standard deviation."""

    value: float
    gradient: Floats
    sd: float


def read(u: Understanding) -> Water:
    """The answer to "are the eggs losing the right amount of water?"."""
    target = u.kind.loss_target
    due_h = target.day_d * 24.0
    basis = u.basis("water", "conductance", "rh_offset", "temp_offset")
    now, then = loss_at(u, min(u.now_h, due_h)), loss_at(u, due_h)
    at_now = loss_at(u, u.now_h)
    run = rh_to_run(u, target.typical, due_h)
    reachable, best = _reach(u, run, due_h)
    at_best = loss_if(u, best, due_h)
    x = u.posterior.mean
    rh_now = _display_rh(u)
    true_sd = _humidity_doubt(u)
    wanted = Band(
        low=target.low, typical=target.typical, high=target.high, unit="1",
        source=target.source, status=target.status, sources=(target.source,),
    )  # fmt: skip
    singles = unknown_eggs(u.felt.unknowns)
    weighed = {uid for load in u.water.loads for uid in load.units}
    hours = [load.hour for load in u.water.loads]
    return Water(
        loss_now=_estimate(at_now if u.now_h <= due_h else now, u, basis),
        loss_at_lockdown=_estimate(then, u, basis),
        wanted=wanted,
        target_day_d=target.day_d,
        due=u.moment_of(due_h, due_h, due_h, u.basis("water", "loss_target")),
        rh_now=Estimate(rh_now, rh_now, rh_now, "1", u.basis("reading")),
        rh_to_run=_bounded(run, basis),
        rh_true=Estimate.normal(rh_now + _humidity_offset(u), true_sd, "1", u.basis("fit", "rh_offset")),
        reachable=reachable,
        best_rh=Estimate(best, best, best, "1", basis),
        loss_at_best=_estimate(at_best, u, basis),
        conductance=_lognormal(u.posterior.value(CONDUCTANCE), u.posterior.sd(CONDUCTANCE), "mg/(d g torr)", u),
        spread=Estimate(u.water.spread, u.water.spread, u.water.spread, "1", u.basis("fit", "conductance_cv")),
        eggs=_eggs(u, x, due_h) if singles else (),
        weighed=sum(u.rows.units[uid].count for uid in weighed),
        weighings=rounds(hours),
        last_weighed_d=max(hours) / 24.0 if hours else None,
        marks=len(u.water.marks),
        planned=bool(np.all(u.exposure.rh_cover[u.exposure.past > 0] < 0.5)),
        left_out=u.rows.left_out,
    )


def loss_at(u: Understanding, hour: float) -> Line:
    """Mean loss of the batch at an hour since setting, the display staying as it is."""
    value, gradient = u.water.mean_loss(u.posterior.mean, *u.drive.at(hour))
    return Line(value, gradient, u.posterior.spread(gradient))


def _ahead(u: Understanding, due_h: float) -> tuple[float, Floats, float, Floats]:
    """Drying force still to come at no humidity at all, and what a whole unit of displayed humidity takes from it."""
    x = u.posterior.mean
    now_h = min(u.now_h, due_h)
    full = u.felt.cumulate(*u.felt.full_by_hour(x))
    drive_end, drive_now = u.drive.at(due_h), u.drive.at(now_h)
    full_end, full_now = full.at(due_h), full.at(now_h)
    shown, offset, gradient = _display_rh(u), _humidity_offset(u), _humidity_gradient(u)
    wet, wet_gradient = full_end[0] - full_now[0], full_end[1] - full_now[1]
    dry = drive_end[0] - drive_now[0] + (shown + offset) * wet
    dry_gradient = drive_end[1] - drive_now[1] + (shown + offset) * wet_gradient + gradient * wet
    return dry, dry_gradient, wet, wet_gradient


def rh_to_run(u: Understanding, target: float, due_h: float) -> Line:
    """Displayed humidity from now on that brings the mean loss to `target` at `due_h`; far outside 0..1 if hopeless, and what it
    shows now once the day has come."""
    x = u.posterior.mean
    if u.now_h >= due_h - 1.0:
        return Line(_display_rh(u), np.zeros(len(x)), 0.0)
    lost = u.water.mean_loss(x, *u.drive.at(u.now_h))
    factor, factor_gradient = u.water.factor(x)
    dry, dry_gradient, wet, wet_gradient = _ahead(u, due_h)
    wet = max(wet, 1e-6)
    need = (target - lost[0]) / factor
    need_gradient = -lost[1] / factor - need * factor_gradient / factor
    value = (dry - need) / wet - _humidity_offset(u)
    gradient = (dry_gradient - need_gradient) / wet - (dry - need) / wet**2 * wet_gradient - _humidity_gradient(u)
    return Line(value, gradient, u.posterior.spread(gradient))


def loss_if(u: Understanding, rh: float, due_h: float) -> Line:
    """Mean loss at `due_h` if the display is held at `rh` from now on."""
    x = u.posterior.mean
    lost = u.drive.at(min(u.now_h, due_h))
    dry, dry_gradient, wet, wet_gradient = _ahead(u, due_h)
    humid = rh + _humidity_offset(u)
    force = lost[0] + dry - humid * wet
    gradient = lost[1] + dry_gradient - humid * wet_gradient - wet * _humidity_gradient(u)
    value, total = u.water.mean_loss(x, force, gradient)
    return Line(value, total, u.posterior.spread(total))


def _reach(u: Understanding, run: Line, due_h: float) -> tuple[str, float]:
    """Whether the target can still be met, and the humidity that is best."""
    if u.now_h >= due_h - 1.0:
        return "past", _display_rh(u)
    low, high = RH_SPAN
    if low <= run.value <= high:
        return "yes", run.value
    best = min(max(run.value, low), high)
    loss = loss_if(u, best, due_h).value
    target = u.kind.loss_target
    return ("band" if target.low <= loss <= target.high else "no"), best


def _display_rh(u: Understanding) -> float:
    """What the display has shown of late (the course ahead runs on at it)."""
    e = u.exposure
    i = min(int(np.count_nonzero(e.past >= 1.0)), e.hours - 1)
    return float(e.rh[i])


def _humidity_gradient(u: Understanding) -> Floats:
    e = u.exposure
    i = min(int(np.count_nonzero(e.past >= 1.0)), e.hours - 1)
    key = rh_key(e.segments[int(e.segment[i])].rh_probe)
    return u.felt.unknowns.gradient({key: 1.0} if key in u.felt.unknowns else {})


def _humidity_offset(u: Understanding) -> float:
    return float(_humidity_gradient(u) @ u.posterior.mean)


def _humidity_doubt(u: Understanding) -> float:
    return u.posterior.spread(_humidity_gradient(u))


def _estimate(line: Line, u: Understanding, basis: Basis) -> Estimate:
    """A loss with its interval: even in the logarithm, as the beliefs about shells are; where the doubt is as large as
    the loss itself (nothing lost yet, or air so wet that an egg gains), even in the loss."""
    if line.value <= 2.0 * line.sd:
        return Estimate.normal(line.value, line.sd, "1", basis)
    ratio = line.sd / line.value
    return Estimate(
        line.value, line.value * float(np.exp(-Z90 * ratio)), line.value * float(np.exp(Z90 * ratio)), "1", basis,
    )  # fmt: skip


def _bounded(run: Line, basis: Basis) -> Estimate:
    """A displayed humidity: what lies beyond 0 or 100 % is shown as that end, and `reachable` says so."""
    low, value, high = np.clip([run.value - Z90 * run.sd, run.value, run.value + Z90 * run.sd], 0.0, 1.0).tolist()
    return Estimate(value, low, high, "1", basis)


def _lognormal(mean: float, sd: float, unit: str, u: Understanding) -> Estimate:
    basis = u.basis("fit", "conductance")
    return Estimate(float(np.exp(mean)), float(np.exp(mean - Z90 * sd)), float(np.exp(mean + Z90 * sd)), unit, basis)


def _eggs(u: Understanding, x: Floats, due_h: float) -> tuple[EggLoss, ...]:
    """Each egg that has a conductance of its own, judged by a robust z of its log, not by the batch's band."""
    single = [unit for unit in u.rows.units.values() if unit.deviates]
    logs = np.array([x[u.felt.unknowns.index[egg_key(one.uid)]] for one in single])
    middle = float(np.median(logs))
    spread = max(_NORMAL_MAD * float(np.median(np.abs(logs - middle))), 0.5 * u.water.spread)
    now, then = u.drive.at(u.now_h), u.drive.at(due_h)
    return tuple(
        _egg(u, x, one, (log - middle) / spread if len(single) > 3 else 0.0, now, then)
        for one, log in zip(single, logs.tolist(), strict=True)
    )


def _egg(
    u: Understanding, x: Floats, unit: EggUnit, z: float, now: tuple[float, Floats], then: tuple[float, Floats]
) -> EggLoss:
    target, basis = u.kind.loss_target, u.basis("water", "conductance")
    share = u.water.specific(x, unit)

    def line(force: float, partial: Floats) -> Line:
        value = share * force
        gradient = u.felt.unknowns.gradient({CONDUCTANCE: value, egg_key(unit.uid): value}) + share * partial
        return Line(value, gradient, u.posterior.spread(gradient))

    at_end = line(*then)
    return EggLoss(
        uid=unit.uid,
        label=unit.label,
        count=unit.count,
        loss_now=_estimate(line(*now), u, basis),
        loss_at_lockdown=_estimate(at_end, u, basis),
        robust_z=z,
        odd=abs(z) > ODD_Z,
        outside=not 0.65 * target.typical <= at_end.value <= 1.40 * target.typical,
    )
