"""A batch that never was: from a stated truth to the rows and readings a keeper would have of it.

The physics is the program's own (one thermal model, one rate of development), but it is stepped here egg by egg at five
minutes, without the hourly integrals, grids and linearisations of inference: what inference recovers is not what
inference was given.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from chalaza import facts
from chalaza.inference.course import Course
from chalaza.inference.grid import Floats
from chalaza.inference.model import normal_course
from chalaza.inference.published import published
from chalaza.inference.rows import lamp_condition
from chalaza.physics import air, egg, egg_heat
from chalaza.values.evidence import (
    AirCellMark,
    Airflow,
    Batch,
    Candling,
    CheckSort,
    Egg,
    Event,
    Evidence,
    Finding,
    Hatch,
    HatchStage,
    Lot,
    Machine,
    Mount,
    Origin,
    Place,
    Probe,
    ProbeCheck,
    ProbeSort,
    Series,
    Setting,
    Shell,
    Stay,
    Weighing,
)

HOUR_S, DAY_S = 3600, 86400
STEP_S = 300
_FINDINGS = (Finding.LIVE, Finding.UNSURE, Finding.CLEAR, Finding.DEAD)
#: An hour by which any box is warm: what it is meant to run at. [h]
_SETTLED = np.array([36.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What is true of a batch and nobody knows. Offsets are true minus reading; shares are chances."""

    temp_offset_k: float = 0.0
    rh_offset: float = 0.0
    placement_k: float = 0.0
    conductance: float = 0.265
    conductance_cv: float = 0.16
    conductance_rise: float = 0.02
    heat_ratio: float = 1.0
    rate_slope: float = 0.042
    age_first: float = 1.25
    hatch_hours: float = 503.0
    hatch_spread_h: float = 8.7
    storage_delay_h: float = 1.2
    fertility: float = 0.87
    survival: tuple[float, float, float] = (0.92, 0.97, 0.90)
    pip_h: tuple[float, float] = (15.0, 5.0)
    lamp_repeat: float = 0.0
    loss_width: float = 0.085


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What the keeper does and the machine shows: `display` and `rh` give the reading by hours since setting."""

    kind: str = "chicken"
    name: str = "invented batch"
    set_at: int
    days: float
    eggs: int = 12
    mass_g: float = 60.0
    mass_sd_g: float = 4.0
    display: Callable[[Floats], Floats]
    rh: Callable[[Floats], Floats]
    log_step_s: int = 600
    logged: bool = True
    airflow: Airflow = Airflow.FAN
    height_mm: float | None = None
    probe: ProbeSort = ProbeSort.DISPLAY
    check: CheckSort | None = None
    weigh_days: tuple[float, ...] = (0.0, 7.0)
    weigh_eggs: int | None = None
    weigh_tray: bool = False
    resolution_g: float = 0.1
    mark_days: tuple[float, ...] = ()
    candle_days: tuple[float, ...] = ()
    hatch_look_h: float | None = None
    stored_d: float = 5.0
    shell: Shell = Shell.LIGHT
    altitude_m: float = 0.0
    gaps: tuple[tuple[float, float], ...] = ()
    events: tuple[Event, ...] = ()
    wanted_young: int | None = None
    zone: str = "UTC"
    parents: str = "invented hens"
    prefix: str = "x"
    noise_k: float = 0.05
    noise_rh: float = 0.008


@dataclass(frozen=True, slots=True, kw_only=True)
class Lived:
    """What became of the batch: the answers an assessment is measured against. Hours since setting; shares."""

    half_hatched_h: float
    hatch_h: Floats
    out_h: Floats
    first_pip_h: float
    loss: Callable[[float], float]
    fertile: int
    alive: Callable[[float], int]
    young: int
    age_h: Callable[[float], float]
    shell_mean: Callable[[float], float]
    egg_conductance: Floats
    death_h: Floats


def simulate(truth: Truth, plan: Plan, rng: np.random.Generator) -> tuple[Evidence, Lived]:
    """One batch: evidence up to `plan.days`, and what really happened to the end."""
    kind = facts.kind(plan.kind)
    course = normal_course(kind, plan.mass_g, published(kind.key))
    hours = np.arange(0.0, 1.35 * course.term_d * 24.0 + 96.0, STEP_S / HOUR_S)
    shell, drive, pace = _felt(truth, plan, course, hours)
    lived = _fates(truth, plan, course, hours, pace, drive, shell, rng)
    masses = rng.normal(plan.mass_g, plan.mass_sd_g, plan.eggs).clip(0.6 * plan.mass_g, 1.4 * plan.mass_g)
    return _evidence(truth, plan, hours, drive, lived, masses, rng), lived


def _felt(truth: Truth, plan: Plan, course: Course, hours: Floats) -> tuple[Floats, Floats, Floats]:
    """Shell temperature, running drying force [torr d] and running developmental hours, at every step."""
    reading = plan.display(hours)
    eggs_air = reading + truth.temp_offset_k + truth.placement_k
    tau = float(egg_heat.time_constant(course.mass_g, plan.airflow.value))
    rise = truth.heat_ratio * course.heat_rise(hours / 24.0, plan.airflow)
    shell = np.asarray(egg_heat.lagged(hours * HOUR_S, eggs_air, tau)) + rise
    humid = (plan.rh(hours) + truth.rh_offset) * np.asarray(air.saturation_pressure(reading + truth.temp_offset_k))
    grow = 1.0 + truth.conductance_rise * np.minimum(hours / 24.0 / course.stop_turning_d, 1.2)
    force = grow * (np.asarray(air.saturation_pressure(shell)) - humid) / 133.322387415
    rate = _rate(truth, course, shell, hours)
    return shell, _running(force, hours) / 24.0, _running(rate, hours)


def _rate(truth: Truth, course: Course, shell: Floats, hours: Floats) -> Floats:
    """Rate of development with the true slope and its weight by thirds of the term (mean 1)."""
    normal = course.normal_shell(hours / 24.0)
    base = course.rate(shell, normal) - 1.0
    cold = shell < normal - 2.8
    rest = 3.0 - truth.age_first
    weights = np.array([truth.age_first, rest * 0.90 / 1.75, rest * 0.85 / 1.75])
    third = np.minimum((hours / (course.term_d * 8.0)).astype(int), 2)
    return 1.0 + np.where(cold, base, base * weights[third] * truth.rate_slope / course.slope)


def _running(values: Floats, hours: Floats) -> Floats:
    step = np.diff(hours) * 0.5 * (values[1:] + values[:-1])
    return np.concatenate(([0.0], np.cumsum(step)))


def _fates(
    truth: Truth, plan: Plan, course: Course, hours: Floats, pace: Floats, drive: Floats, shell: Floats,
    rng: np.random.Generator,
) -> Lived:  # fmt: skip
    n, term_h = plan.eggs, course.term_d * 24.0
    need = truth.hatch_hours + truth.storage_delay_h * max(plan.stored_d - 1.0, 0.0)
    half = float(np.interp(need, pace, hours))
    hatch = half + rng.normal(0.0, truth.hatch_spread_h, n)
    fertile = rng.random(n) < truth.fertility
    death = np.where(fertile, np.inf, -1.0)
    conductance = truth.conductance * np.exp(rng.normal(0.0, truth.conductance_cv, n) - 0.5 * truth.conductance_cv**2)
    target = facts.kind(plan.kind).loss_target
    loss = conductance * 1e-3 * float(np.interp(target.day_d * 24.0, hours, drive))
    dried = np.exp(-0.5 * ((loss - target.typical) / truth.loss_width) ** 2)
    for stage, survival in enumerate(truth.survival):
        lives = survival * dried if stage == 2 else survival
        dies = fertile & np.isinf(death) & (rng.random(n) >= lives)
        within = _death_within(rng.random(n), stage)
        death = np.where(dies, (stage + within) * term_h / 3.0, death)
    out = np.where(np.isinf(death), hatch, np.nan)
    lead = rng.normal(*truth.pip_h, size=n)
    young = int(np.count_nonzero(~np.isnan(out)))
    mean_g = float(conductance.mean())
    return Lived(
        half_hatched_h=half,
        hatch_h=hatch,
        out_h=out,
        first_pip_h=float(np.nanmin(out - np.maximum(lead, 1.0))) if young else float("nan"),
        loss=lambda hour: mean_g * 1e-3 * float(np.interp(hour, hours, drive)),
        fertile=int(np.count_nonzero(fertile)),
        alive=lambda hour: int(np.count_nonzero(death > hour)),
        young=young,
        age_h=lambda hour: float(np.interp(hour, hours, pace)),
        shell_mean=lambda hour: float(shell[hours < hour].mean()),
        egg_conductance=conductance,
        death_h=death,
    )


def _death_within(u: Floats, stage: int) -> Floats:
    """When in its stage an embryo dies: inverse of `count.died_by`."""
    return (1.0 - np.sqrt(1.0 - u), u, np.sqrt(u))[stage]


def _evidence(
    truth: Truth, plan: Plan, hours: Floats, drive: Floats, lived: Lived, masses: Floats, rng: np.random.Generator
) -> Evidence:
    p, set_at = plan.prefix, plan.set_at
    now = int(set_at + plan.days * DAY_S)
    machine, probe = f"{p}-box", f"{p}-probe"
    eggs = tuple(
        Egg(uid=f"{p}-egg{i + 1}", label=f"{'ABCDEFGH'[i // 6 % 8]}{i % 6 + 1}", lot=f"{p}-lot", shell=plan.shell)
        for i in range(plan.eggs)
    )
    laid = int(set_at - plan.stored_d * DAY_S)
    setting = Setting(
        place=Place(uid=f"{p}-place", name="shed", altitude_m=plan.altitude_m, zone=plan.zone),
        machines=(Machine(uid=machine, name="box", airflow=plan.airflow, volume_l=40.0),),
        probes=(Probe(uid=probe, name="display", sort=plan.probe),) if plan.logged else (),
        mounts=(Mount(uid=f"{p}-mount", probe=probe, machine=machine, start=set_at - DAY_S, height_mm=plan.height_mm),)
        if plan.logged
        else (),
        checks=_checks(truth, plan, probe, rng) if plan.logged else (),
        events=tuple(one for one in plan.events if one.machine is not None),
        series={probe: _series(plan, now, rng)} if plan.logged else {},
    )
    rows = _hatches(plan, lived, eggs, now)
    return Evidence(
        setting=setting,
        batch=Batch(
            uid=f"{p}-batch", name=plan.name, kind=plan.kind, set_at=set_at, zone=plan.zone, wanted_young=plan.wanted_young,
            planned_rh=float(plan.rh(_SETTLED)[0]), planned_temp_degc=float(plan.display(_SETTLED)[0]),
        ),
        stays=(Stay(uid=f"{p}-stay", batch=f"{p}-batch", machine=machine, start=set_at),),
        lots=(Lot(uid=f"{p}-lot", parents=plan.parents, origin=Origin.OWN, laid_first=laid, laid_last=laid),),
        eggs=eggs,
        weighings=_weighings(plan, eggs, hours, drive, lived, masses, now, rng),
        air_cells=_marks(plan, eggs, hours, drive, lived, masses, now, rng),
        candlings=_candlings(truth, plan, eggs, lived, now, rng),
        hatches=rows,
        events=tuple(one for one in plan.events if one.machine is None),
    )  # fmt: skip


def _series(plan: Plan, now: int, rng: np.random.Generator) -> Series:
    t = np.arange(plan.set_at, now + 1, plan.log_step_s, dtype=np.int64)
    hours = (t - plan.set_at) / HOUR_S
    keep = np.ones(len(t), dtype=bool)
    for start, end in plan.gaps:
        keep &= ~((hours >= start) & (hours < end))
    t, hours = t[keep], hours[keep]
    temp = plan.display(hours) + rng.normal(0.0, plan.noise_k, len(t))
    rh = plan.rh(hours) + rng.normal(0.0, plan.noise_rh, len(t))
    return Series(t, temp.round(2).astype(np.float32), rh.clip(0.0, 1.0).round(3).astype(np.float32))


def _checks(truth: Truth, plan: Plan, probe: str, rng: np.random.Generator) -> tuple[ProbeCheck, ...]:
    if plan.check is None:
        return ()
    sd = {CheckSort.ICE: 0.17, CheckSort.COMPARE: 0.10}.get(plan.check, 0.2)
    at = {CheckSort.ICE: 0.0, CheckSort.COMPARE: 37.5}.get(plan.check, 37.5)
    reading = at - truth.temp_offset_k + rng.normal(0.0, sd)
    return (
        ProbeCheck(
            uid=f"{plan.prefix}-check", probe=probe, at=plan.set_at - DAY_S, sort=plan.check, reading_degc=reading,
            reference_degc=at,
        ),
    )  # fmt: skip


def _lost(lived: Lived, i: int, hour: float, hours: Floats, drive: Floats) -> float:
    return float(lived.egg_conductance[i]) * 1e-3 * float(np.interp(hour, hours, drive))


def _weighings(
    plan: Plan, eggs: tuple[Egg, ...], hours: Floats, drive: Floats, lived: Lived, masses: Floats, now: int,
    rng: np.random.Generator,
) -> tuple[Weighing, ...]:  # fmt: skip
    out: list[Weighing] = []
    for k, day in enumerate(plan.weigh_days):
        at = int(plan.set_at + day * DAY_S)
        if at > now:
            continue
        zero = rng.normal(0.0, 0.5 * plan.resolution_g)
        whole = [masses[i] * (1.0 - _lost(lived, i, day * 24.0, hours, drive)) for i in range(len(eggs))]
        rows = (
            [("all", sum(whole))]
            if plan.weigh_tray
            else [(one.uid, mass) for one, mass in zip(eggs, whole, strict=True)]
        )
        for j, (names, mass) in enumerate(rows[: plan.weigh_eggs]):
            shown = (
                round((mass + zero + rng.normal(0.0, min(0.02, plan.resolution_g))) / plan.resolution_g)
                * plan.resolution_g
            )
            out.append(
                Weighing(
                    uid=f"{plan.prefix}-w{k}-{j}", at=at, eggs=names, gross_g=float(shown),
                    resolution_g=plan.resolution_g, session=f"{plan.prefix}-s{k}",
                )
            )  # fmt: skip
    return tuple(out)


def _marks(
    plan: Plan, eggs: tuple[Egg, ...], hours: Floats, drive: Floats, lived: Lived, masses: Floats, now: int,
    rng: np.random.Generator,
) -> tuple[AirCellMark, ...]:  # fmt: skip
    """Marks of a keeper: domed membrane (offset and slope of this batch) and an unsteady hand."""
    offset = rng.normal(2.0, 2.0)
    slope = 0.93 - 0.7 * 0.12 * (offset - 2.0) / 2.0 + rng.normal(0.0, 0.12 * (1.0 - 0.7**2) ** 0.5)
    start = 0.45 * np.exp(rng.normal(0.0, 0.45))
    kind = facts.kind(plan.kind)
    out: list[AirCellMark] = []
    for k, day in enumerate(plan.mark_days):
        at = int(plan.set_at + day * DAY_S)
        for i, one in enumerate(eggs):
            if at > now:
                continue
            grams = masses[i] * _lost(lived, i, day * 24.0, hours, drive)
            size = (masses[i] / float(egg.mass_from_size(kind.egg_length_mm.typical, kind.egg_breadth_mm.typical))) ** (
                1 / 3
            )
            length, breadth = kind.egg_length_mm.typical * size, kind.egg_breadth_mm.typical * size
            volume = start * masses[i] / 60.0 + float(egg.air_cell_growth(grams))
            depth = offset + slope * float(egg.air_cell_depth(volume, length, breadth)) + rng.normal(0.0, 1.0)
            out.append(
                AirCellMark(
                    uid=f"{plan.prefix}-m{k}-{i}", at=at, egg=one.uid, depth_mm=float(max(round(depth, 1), 0.0))
                )
            )
    return tuple(out)


def _candlings(
    truth: Truth, plan: Plan, eggs: tuple[Egg, ...], lived: Lived, now: int, rng: np.random.Generator
) -> tuple[Candling, ...]:
    kind = facts.kind(plan.kind)
    beliefs = published(kind.key)
    out: list[Candling] = []
    shy = rng.random(len(eggs)) < truth.lamp_repeat
    for k, day in enumerate(plan.candle_days):
        at = int(plan.set_at + day * DAY_S)
        if at > now:
            continue
        row = f"lamp:{lamp_condition(plan.shell, 21.0 * day / kind.term_d.typical)}"
        for i, one in enumerate(eggs):
            state = _state(lived, i, day * 24.0)
            chances = np.array([beliefs[row, f"{finding.value}_if_{state}"].a for finding in _FINDINGS])
            found = _FINDINGS[int(rng.choice(4, p=chances / chances.sum()))]
            if shy[i] and k > 0:
                found = next(c.finding for c in out if c.egg == one.uid)
            out.append(Candling(uid=f"{plan.prefix}-c{k}-{i}", at=at, egg=one.uid, finding=found))
    return tuple(out)


def _state(lived: Lived, i: int, hour: float) -> str:
    if lived.death_h[i] < 0:
        return "infertile"
    return "alive" if lived.death_h[i] > hour else "dead"


def _hatches(plan: Plan, lived: Lived, eggs: tuple[Egg, ...], now: int) -> tuple[Hatch, ...]:
    """A look every few hours from a day before the first young is out: who is newly out since the last look."""
    if plan.hatch_look_h is None or not np.any(~np.isnan(lived.out_h)):
        return ()
    looks = np.arange(float(np.nanmin(lived.out_h)) - 24.0, plan.days * 24.0, plan.hatch_look_h)
    out: list[Hatch] = []
    for k in range(1, len(looks)):
        before, hour = looks[k - 1], looks[k]
        fresh = [i for i in range(len(eggs)) if before < lived.out_h[i] <= hour]
        at, last = int(plan.set_at + hour * HOUR_S), int(plan.set_at + before * HOUR_S)
        if not fresh:
            out.append(Hatch(uid=f"{plan.prefix}-h{k}", at=at, stage=HatchStage.OUT, count=0, looked_before=last))
        for i in fresh:
            out.append(
                Hatch(uid=f"{plan.prefix}-h{k}-{i}", at=at, stage=HatchStage.OUT, egg=eggs[i].uid, looked_before=last)
            )
    return tuple(one for one in out if one.at <= now)
