"""The one vector of unknowns of a batch: which there are, and what is believed of each before its evidence."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import hypot

import numpy as np

from chalaza import facts
from chalaza.facts import Kind
from chalaza.inference import clock, felt, water
from chalaza.inference.exposure import Exposure
from chalaza.inference.instruments import probe_priors
from chalaza.inference.rows import Rows
from chalaza.inference.unknowns import Prior, Unknowns
from chalaza.physics import air
from chalaza.values.beliefs import Belief, Key
from chalaza.values.evidence import LaidAt, Lot, Machine, Origin, Place, Probe

#: Doubt where no thermometer was read: the set point of an unchecked display. Prior temp_offset, display (memory).
PLAN_SD_K = 0.6
#: Doubt of hours no reading covers, and of a humidity that was only planned. Judgement, no source.
_GAP_SD_K = 0.7
_PLAN_RH_SD = 0.08
#: Days in store where nobody wrote them down. Judgement.
_STORED_D, _STORED_SD_D = 4.0, 3.0
_DAY_S = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Origins:
    """What the lots of a batch say together: whose eggs, how long in store, how porous against sea level."""

    parents: str
    origin: Origin
    stored_d: float
    stored_sd_d: float
    laid_spread_d: float
    pressure_factor: float
    pressure_log_sd: float


def origins(lots: Iterable[Lot], place: Place, beliefs: Mapping[Key, Belief], kind: str, set_at: int) -> Origins:
    """Of several lots the first speaks for parents and origin; days in store are averaged."""
    listed = tuple(lots)
    stored, spreads = [], []
    for lot in listed:
        first, last = lot.laid_first, lot.laid_last
        days = [(set_at - moment) / _DAY_S for moment in (first, last) if moment is not None]
        if days:
            stored.append(float(np.mean(days)))
            spreads.append(abs(days[0] - days[-1]))
    ratio = air.pressure_from_altitude(0.0) / (place.pressure_pa or air.pressure_from_altitude(place.altitude_m))
    native = beliefs[f"kind:{kind}", "native_altitude"]
    laid = listed[0].laid_at if listed else LaidAt.UNKNOWN
    share, sd = {LaidAt.LOWLAND: (1.0, 0.0), LaidAt.HERE: (native.mean, native.sd)}.get(laid, (0.6, 0.3))
    factor = 1.0 + share * (float(ratio) - 1.0)
    return Origins(
        parents=listed[0].parents if listed else "",
        origin=listed[0].origin if listed else Origin.OWN,
        stored_d=float(np.mean(stored)) if stored else _STORED_D,
        stored_sd_d=0.5 if stored else _STORED_SD_D,
        laid_spread_d=float(np.mean(spreads)) if spreads else 0.0,
        pressure_factor=factor,
        pressure_log_sd=sd * abs(float(ratio) - 1.0) / factor,
    )


def unknowns(
    exposure: Exposure,
    rows: Rows,
    who: Origins,
    probes: Mapping[str, Probe],
    machines: Mapping[str, Machine],
    placements: Mapping[str, Prior],
    beliefs: Mapping[Key, Belief],
    correlations: Mapping[tuple[Key, Key], float],
    kind: Kind,
    spread: float,
) -> Unknowns:
    """All unknowns in order: instruments, places, the batch's pace and shells, single eggs, the scale."""
    priors = _instruments(exposure, probes, machines, beliefs)
    priors += [placements[uid] for uid in dict.fromkeys(one.machine for one in exposure.segments)]
    priors += _batch(exposure, rows, who, machines, beliefs, kind)
    single = [unit for unit in rows.units.values() if unit.deviates]
    block = water.egg_covariance(single, rows.total, spread) if single else np.zeros((0, 0))
    first = len(priors) + len(rows.mass_priors)
    priors += rows.mass_priors
    priors += [
        Prior(water.egg_key(unit.uid), 0.0, float(np.sqrt(block[i, i])), 4.0 if unit.count == 1 else None)
        for i, unit in enumerate(single)
    ]
    priors += rows.session_priors
    shape = facts.prior("correlation", kind.key, "air_cell_offset_slope").mean
    vector = Unknowns.of(priors, {**correlations, (water.MARK_OFFSET, water.MARK_SLOPE): shape})
    vector.cov[first : first + len(single), first : first + len(single)] = block
    return vector


def _instruments(
    exposure: Exposure, probes: Mapping[str, Probe], machines: Mapping[str, Machine], beliefs: Mapping[Key, Belief]
) -> list[Prior]:
    temperature: dict[str, str] = {}
    humidity: dict[str, str] = {}
    for one in exposure.segments:
        for uid in (one.temp_probe, one.rh_probe):
            if uid is not None:
                temperature.setdefault(uid, one.machine)
        if one.rh_probe is not None:
            humidity.setdefault(one.rh_probe, one.machine)
    out: list[Prior] = []
    for uid, machine in temperature.items():
        flow = machines[machine].airflow
        out += probe_priors(probes[uid], flow, beliefs, temperature=True, humidity=uid in humidity)
    if any(one.temp_probe is None for one in exposure.segments):
        out.append(Prior(felt.PLAN, 0.0, PLAN_SD_K))
    past = exposure.past > 0
    if bool(np.any(past & (exposure.cover < 0.999))):
        out.append(Prior(felt.GAP, 0.0, _GAP_SD_K))
    if any(one.rh_probe is None for one in exposure.segments) or bool(np.any(past & (exposure.rh_cover < 0.999))):
        out.append(Prior(felt.GAP_RH, 0.0, _PLAN_RH_SD))
    return out


def _batch(
    exposure: Exposure,
    rows: Rows,
    who: Origins,
    machines: Mapping[str, Machine],
    beliefs: Mapping[Key, Belief],
    kind: Kind,
) -> list[Prior]:
    bird, flock = f"kind:{kind.key}", f"parents:{who.parents}"
    flow = machines[exposure.segments[0].machine].airflow
    conductance = beliefs.get((flock, "conductance")) or beliefs[bird, "conductance"]
    hours = beliefs.get((flock, "hatch_hours")) or beliefs[bird, "hatch_hours"]
    delay, size, slope = (beliefs[bird, q] for q in ("storage_delay", "size_delay", "rate_slope"))
    scale = kind.term_d.typical / 21.0
    out = [
        Prior(felt.RISE, 0.0, beliefs[f"air:{flow.value}", "heat_ratio"].sd),
        Prior(felt.SLOPE, slope.mean, slope.sd),
        Prior(felt.AGE_FIRST, 0.0, beliefs[bird, "rate_age_first"].sd),
        Prior(felt.INCREASE, beliefs[bird, "conductance_rise"].mean, beliefs[bird, "conductance_rise"].sd),
        Prior(clock.HATCH_HOURS, hours.mean, hypot(hours.sd, delay.mean * scale * who.stored_sd_d)),
        Prior(clock.STORAGE, delay.mean * scale, delay.sd * scale),
        Prior(clock.SIZE, size.mean, size.sd),
        Prior(water.CONDUCTANCE, conductance.mean, hypot(conductance.sd, who.pressure_log_sd)),
    ]
    if rows.marks:
        for key, name in (
            (water.MARK_OFFSET, "air_cell_offset"),
            (water.MARK_SLOPE, "air_cell_slope"),
            (water.MARK_START, "air_cell_start_ml"),
        ):
            out.append(Prior(key, beliefs[bird, name].mean, beliefs[bird, name].sd))
    return out
