"""The whole model of one batch, assembled from its parts: course, exposure, vector, fit, hatch looks, counts."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, exp

import numpy as np

from chalaza import facts
from chalaza.facts import Kind
from chalaza.inference import clock, count, instruments, outcome, rows, vector, water
from chalaza.inference import stays as staying
from chalaza.inference.course import Course
from chalaza.inference.exposure import HOUR_S, Exposure, expose
from chalaza.inference.felt import Felt
from chalaza.inference.fit import Posterior, fit
from chalaza.inference.grid import Floats
from chalaza.inference.instruments import OffsetSeen, SideBySide
from chalaza.inference.published import Rules, plain
from chalaza.inference.readings import Clean
from chalaza.inference.rows import Rows
from chalaza.inference.understanding import Understanding
from chalaza.inference.unknowns import Prior
from chalaza.inference.vector import Origins
from chalaza.inference.water import WaterModel
from chalaza.quantities import SET_POINT
from chalaza.values.beliefs import Belief, Key, Shape
from chalaza.values.evidence import (
    AirCellMark,
    Batch,
    Breakout,
    Candling,
    Egg,
    Event,
    EventSort,
    Hatch,
    Lot,
    Machine,
    Mount,
    Place,
    Probe,
    ProbeCheck,
    Stay,
    Weighing,
)

Pairs = Mapping[tuple[Key, Key], float]

#: Rounds of fitting and learning the spread between eggs; the third moves it by less than a hundredth.
_ROUNDS = 3
#: Shell this far under the normal course counts as too cool: 36.7 °C for hens (lourens-2005, checked).
_COOL_K = 0.8
#: A batch is followed to this many terms after setting.
_FOLLOWED = 1.6
_LASTING = ("probe:", "machine:", "parents:")


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """The rows that say which machine the eggs were in and who read it."""

    machines: Mapping[str, Machine]
    probes: Mapping[str, Probe]
    mounts: tuple[Mount, ...]
    stays: tuple[Stay, ...]
    cleaned: Mapping[str, Clean]


def understanding(
    *,
    batch: Batch,
    place: Place,
    machines: Sequence[Machine],
    probes: Sequence[Probe],
    mounts: Sequence[Mount],
    checks: Sequence[ProbeCheck],
    events: Sequence[Event],
    stays: Sequence[Stay],
    lots: Sequence[Lot],
    eggs: Sequence[Egg],
    weighings: Sequence[Weighing],
    marks: Sequence[AirCellMark],
    candlings: Sequence[Candling],
    hatches: Sequence[Hatch],
    breakouts: Sequence[Breakout],
    cleaned: Mapping[str, Clean],
    beliefs: Rules,
    correlations: Pairs,
    kind: Kind,
    now: int,
) -> Understanding:
    """Everything between evidence and answers, as of `now` (seconds UTC)."""
    where = Where(
        machines={one.uid: one for one in machines}, probes={one.uid: one for one in probes},
        mounts=tuple(mounts), stays=tuple(stays), cleaned=cleaned,
    )  # fmt: skip
    listed = rows.gather(eggs, weighings, marks, events, kind, set_at=batch.set_at, now=now)
    who = vector.origins(lots, place, beliefs, kind.key, batch.set_at)
    course = normal_course(kind, listed.mean_mass_g, beliefs)
    seen = instruments.checks_seen(checks, beliefs, now)
    placements = {one.uid: staying.placement(one, mounts, beliefs, kind.egg_breadth_mm.typical) for one in machines}
    # Long after the hatch nothing more is felt: an old batch is not followed through the years to today.
    followed = min(now, batch.set_at + ceil(_FOLLOWED * course.term_d * 24.0) * HOUR_S)
    exposure = _exposure(batch, where, placements, seen, events, course, kind, beliefs, followed)
    pairs = staying.side_by_side(mounts, where.machines, cleaned, batch.set_at, now)
    posterior, model = joint(
        exposure, listed, who, where, placements, beliefs, _aliases(correlations, who), kind, course, seen, pairs
    )
    ticking = outcome.ticking_of(model.felt, who, listed, beliefs, kind, exposure)
    looks, watched = rows.hatch_looks(hatches, batch.set_at, now)
    groups = rows.groups(
        eggs, candlings, hatches, breakouts, beliefs, set_at=batch.set_at, now=now, term_h=model.felt.term_h
    )
    stages = outcome.stages_of(beliefs, who, kind.key)
    age, drive = model.felt.age(posterior.mean), model.felt.drive(posterior.mean)
    share = outcome.share_now(age, posterior, ticking)
    half, gradient, posterior = outcome.hatch_of(ticking, posterior, age, looks, watched, stages, share, groups)
    if looks or watched is not None:
        age, drive = model.felt.age(posterior.mean), model.felt.drive(posterior.mean)
    counts = outcome.counts_of(groups, stages, posterior, model, drive, half, watched, share, kind, beliefs, ticking)
    return Understanding(
        kind=kind, as_of=now, course=course, exposure=exposure, felt=model.felt, posterior=posterior, water=model, clock=ticking,
        half=half, half_gradient=gradient, drive=drive, age=age,
        looks=looks, watched_h=watched, rows=listed, groups=groups, counts=counts, who=who,
        sources=_sources(beliefs, who, kind.key), inputs=_inputs(exposure, listed, seen, looks, groups),
        checked=frozenset(one.key for one in seen) | _heights(machines, mounts), beliefs=beliefs,
        base=_base(where, exposure, who, beliefs, kind),
    )  # fmt: skip


def normal_course(kind: Kind, mass_g: float, beliefs: Rules) -> Course:
    """What is normal for this kind at this size of egg."""
    bird = f"kind:{kind.key}"
    ages, oxygen = facts.oxygen_curve()
    return Course(
        term_d=kind.term_d.typical,
        stop_turning_d=kind.stop_turning_d.typical,
        air_degc=kind.temp_forced_degc.typical,
        hatch_air_degc=kind.temp_hatch_degc.typical,
        mass_g=mass_g,
        oxygen_age_d=tuple(ages.tolist()),
        oxygen_ml_per_d=tuple(oxygen.tolist()),
        slope=beliefs[bird, "rate_slope"].mean,
        slope_above=plain(beliefs[bird, "rate_slope_above"]),
        rate_34=beliefs[bird, "rate_34"].mean,
        rate_30=beliefs[bird, "rate_30"].mean,
        zero_degc=beliefs[bird, "rate_zero"].mean,
        heat_limit_degc=beliefs[bird, "heat_sustained"].mean,
        cold_limit_degc=kind.temp_forced_degc.typical - _COOL_K,
    )


def _exposure(
    batch: Batch,
    where: Where,
    placements: Mapping[str, Prior],
    seen: Sequence[OffsetSeen],
    events: Sequence[Event],
    course: Course,
    kind: Kind,
    beliefs: Rules,
    now: int,
) -> Exposure:
    term_h = course.term_d * 24.0
    horizon_h = ceil(max(1.2 * term_h + 96.0, (now - batch.set_at) / HOUR_S + 72.0))
    end = batch.set_at + horizon_h * HOUR_S
    choice = _choice(batch, where, placements, seen, kind, beliefs)
    stretches = staying.segments(
        where.stays, where.mounts, where.machines, where.cleaned, choice, start=batch.set_at, end=end, now=now
    )
    outages = [
        (one.at, one.until if one.until is not None else min(one.at + 6 * HOUR_S, now))
        for one in events
        if one.sort is EventSort.POWER_OFF and one.at <= now
    ]
    room = next((one.probe for one in where.mounts if one.machine is None and one.probe in where.cleaned), None)
    return expose(
        stretches, where.cleaned, course, set_at=batch.set_at, now=now, horizon_h=horizon_h, outages=outages,
        room_probe=room,
    )  # fmt: skip


def _choice(
    batch: Batch, where: Where, placements: Mapping[str, Prior], seen: Sequence[OffsetSeen], kind: Kind, beliefs: Rules
) -> staying.Choice:
    """Centre and spread of each probe's offset for the five trial offsets, and the plan where nothing was read."""
    still = all(one.airflow.value == "still" for one in where.machines.values())
    usual = kind.temp_still_degc.typical if still and kind.temp_still_degc else kind.temp_forced_degc.typical
    planned = batch.planned_temp_degc
    means: dict[str, float] = {}
    spreads: dict[str, float] = {}
    for uid, probe in where.probes.items():
        airflow = next(iter(where.machines.values())).airflow
        prior = instruments.probe_priors(probe, airflow, beliefs, temperature=True, humidity=False)[0]
        mean, variance = prior.mean, prior.sd**2
        for one in seen:
            if one.key == prior.key:
                gain = variance / (variance + one.sd**2)
                mean, variance = mean + gain * (one.offset - mean), variance * (1.0 - gain)
        means[uid], spreads[uid] = mean, variance**0.5
    return staying.Choice(
        plan_degc=planned if planned is not None and SET_POINT.holds(planned) else usual,
        plan_rh=batch.planned_rh if batch.planned_rh is not None else kind.rh_setting.typical,
        offset_mean=means,
        offset_sd=spreads,
        placement=placements,
        plan_sd=vector.PLAN_SD_K,
    )


def joint(
    exposure: Exposure,
    listed: Rows,
    who: Origins,
    where: Where,
    placements: Mapping[str, Prior],
    beliefs: Rules,
    correlations: Pairs,
    kind: Kind,
    course: Course,
    seen: Sequence[OffsetSeen],
    pairs: Sequence[SideBySide],
) -> tuple[Posterior, WaterModel]:
    """The joint fit, with the spread between single eggs learnt in a few rounds."""
    bird = f"kind:{kind.key}"
    cv = beliefs[bird, "conductance_cv"]
    spread = exp(cv.a)
    start: Floats | None = None
    for _ in range(_ROUNDS):
        names = vector.unknowns(
            exposure, listed, who, where.probes, where.machines, placements, beliefs, correlations, kind, spread
        )
        tied = Felt(exposure, names, course.slope, course.term_d * 24.0, course.stop_turning_d * 24.0)
        model = WaterModel(
            felt=tied, units=listed.units, loads=listed.loads, marks=listed.marks, spread=spread,
            pressure_factor=who.pressure_factor, mass_exponent=beliefs[bird, "conductance_mass_exponent"].mean,
            mean_mass_g=listed.mean_mass_g, plan=water.Plan.of(listed.loads, listed.units, names.index),
        )  # fmt: skip
        terms = [instruments.linear_terms(names, seen, pairs)]
        if listed.loads or listed.marks:
            terms.append(model.terms)
        posterior = fit(names, terms, start=start, pull=model.pull)
        start = posterior.mean
        single = list(water.unknown_eggs(names))
        if not single:
            break
        counts = np.array([unit.count for unit in listed.units.values() if unit.deviates], dtype=np.float64)
        learnt = water.learnt_spread(
            posterior.mean[single], np.diag(posterior.cov)[single], counts, spread, exp(cv.a), cv.b
        )
        if abs(learnt / spread - 1.0) < 0.02:
            break
        spread = learnt
    return posterior, model


def _aliases(correlations: Pairs, who: Origins) -> Pairs:
    """What was learnt of the parents is, in this batch, a belief about the batch."""
    flock = f"parents:{who.parents}"
    names = {(flock, "conductance"): water.CONDUCTANCE, (flock, "hatch_hours"): clock.HATCH_HOURS}
    return {(names.get(left, left), names.get(right, right)): value for (left, right), value in correlations.items()}


def _heights(machines: Iterable[Machine], mounts: Iterable[Mount]) -> frozenset[Key]:
    """Machines whose probe height was written down, as ("height", machine)."""
    known = {one.machine for one in mounts if one.height_mm is not None}
    return frozenset(("height", one.uid) for one in machines if one.uid in known)


def _base(where: Where, exposure: Exposure, who: Origins, beliefs: Rules, kind: Kind) -> Rules:
    """What is published of everything that lasts beyond this batch: probes, places, parents. Lessons fold onto it."""
    plain_rules = {key: value for key, value in beliefs.items() if not key[0].startswith(_LASTING)}
    out: dict[Key, Belief] = {}
    for one in exposure.segments:
        machine = where.machines[one.machine]
        place = staying.placement(machine, where.mounts, plain_rules, kind.egg_breadth_mm.typical)
        out[place.key] = Belief(shape=Shape.NORMAL, a=place.mean, b=place.sd, unit="K")
        for uid in {one.temp_probe, one.rh_probe} - {None}:
            probe = where.probes[str(uid)]
            for prior in instruments.probe_priors(probe, machine.airflow, plain_rules, temperature=True, humidity=True):
                unit = "K" if prior.key[1] == "temp_offset" else "1"
                out[prior.key] = Belief(shape=Shape.NORMAL, a=prior.mean, b=prior.sd, unit=unit)
    flock, bird = f"parents:{who.parents}", f"kind:{kind.key}"
    for quantity in ("conductance", "hatch_hours"):
        out[flock, quantity] = plain_rules[bird, quantity]
    for quantity in ("fertility", "survival_early", "survival_middle", "survival_late"):
        out[flock, quantity] = plain_rules[f"{bird}:{who.origin.value}", quantity]
    return out


def _sources(beliefs: Rules, who: Origins, kind: str) -> Mapping[str, tuple[str, ...]]:
    """Sources by quantity, for the basis of figures."""
    ours = (f"kind:{kind}", f"kind:{kind}:{who.origin.value}", f"parents:{who.parents}")
    out: dict[str, dict[str, None]] = {}
    for (subject, quantity), one in beliefs.items():
        if subject in ours or not subject.startswith(("kind:", "lamp:")):
            out.setdefault(quantity, {}).update(dict.fromkeys(one.sources))
    return {quantity: tuple(found) for quantity, found in out.items()}


def _inputs(
    exposure: Exposure,
    listed: Rows,
    seen: Sequence[OffsetSeen],
    looks: Sequence[clock.Look],
    groups: Sequence[tuple[str, count.Group]],
) -> tuple[str, ...]:
    """Which sorts of records an answer rests on."""
    found = {
        "readings": any(one.temp_probe is not None for one in exposure.segments),
        "weighings": bool(listed.loads),
        "air_cells": bool(listed.marks),
        "probe_checks": bool(seen),
        "candlings": any(group.looks for _, group in groups),
        "hatches": bool(looks),
    }
    return tuple(name for name, present in found.items() if present)
