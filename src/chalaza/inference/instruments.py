"""Instruments: what a probe is believed to be off by before and after it was checked.

Offsets are true minus reading. A check is an observation of the offset at incubation temperature; how much it is worth
there depends on how it was done: an ice point proves 0 °C and leaves the gain, a comparison near 37.5 °C is at the
point of use. Nothing here moves where the probe hangs: placement is another unknown.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import hypot

import numpy as np

from chalaza.inference.fit import Residuals, Terms
from chalaza.inference.grid import Floats
from chalaza.inference.unknowns import Prior, Unknowns
from chalaza.values.beliefs import Belief, Key
from chalaza.values.evidence import Airflow, CheckSort, Probe, ProbeCheck, ProbeSort

#: Temperature at which an offset matters. [°C]
USE_DEGC = 37.5
#: Doubt of the gain of a thermometer that was checked at one point only, per kelvin away. Prior `temp_gain` (memory).
_GAIN = 0.004
_YEAR_S = 365.25 * 86400.0
_NEAR_DEGC = (30.0, 45.0)
#: Two probes in one box hang at two places: their readings agree no better than this. [K], [1]; judgement.
_APART_K = {Airflow.FAN: 0.2, Airflow.STILL: 0.6}
_APART_RH = 0.02


@dataclass(frozen=True, slots=True, kw_only=True)
class OffsetSeen:
    """An offset as a check showed it: which unknown, how much, how sure; `check` names the row."""

    key: Key
    offset: float
    sd: float
    check: str
    sort: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SideBySide:
    """Mean of one probe minus mean of another in the same box over the same hours."""

    left: Key
    right: Key
    difference: float
    sd: float


def probe_priors(
    probe: Probe, airflow: Airflow, beliefs: Mapping[Key, Belief], *, temperature: bool, humidity: bool
) -> list[Prior]:
    """The unknown offsets of one probe before its checks: learnt ones if there are any, else those of its sort."""
    out: list[Prior] = []
    subject = f"probe:{probe.uid}"
    if temperature:
        sort = "display" if probe.sort is ProbeSort.WICK else probe.sort.value
        one = beliefs.get((subject, "temp_offset")) or beliefs[f"sort:{sort}", "temp_offset"]
        learnt = (subject, "temp_offset") in beliefs
        out.append(Prior((subject, "temp_offset"), one.mean, one.sd, None if learnt else 4.0, 0.85 * one.sd))
    if humidity:
        sort = {
            ProbeSort.WICK: "wick_fan" if airflow is Airflow.FAN else "wick_still",
            ProbeSort.DIGITAL: "digital",
        }.get(probe.sort, "display")
        one = beliefs.get((subject, "rh_offset")) or beliefs[f"sort:{sort}", "rh_offset"]
        out.append(Prior((subject, "rh_offset"), one.mean, one.sd))
    return out


def checks_seen(checks: Iterable[ProbeCheck], beliefs: Mapping[Key, Belief], now: int) -> tuple[OffsetSeen, ...]:
    """The offset each probe's checks up to `now` show. Checks of one sort share their systematic part, so the latest of
    each sort counts; drift since then widens it."""
    latest: dict[tuple[str, str], ProbeCheck] = {}
    salts: dict[str, list[ProbeCheck]] = {}
    for check in sorted(checks, key=lambda one: (one.at, one.uid)):
        if check.at > now:
            continue
        latest[check.probe, check.sort.value] = check
        if check.sort is CheckSort.SALT:
            salts.setdefault(check.probe, []).append(check)
    out: list[OffsetSeen] = []
    for probe in sorted({probe for probe, _ in latest}):
        mine = {sort: check for (name, sort), check in latest.items() if name == probe}
        out += _temperature(probe, mine, beliefs, now)
        out += _humidity(probe, mine, salts.get(probe, []), beliefs, now)
    return tuple(out)


def _temperature(
    probe: str, mine: Mapping[str, ProbeCheck], beliefs: Mapping[Key, Belief], now: int
) -> list[OffsetSeen]:
    drift = beliefs["sort:any", "temp_drift"].b
    ice, boil, compare = (mine.get(sort) for sort in ("ice", "boil", "compare"))
    key = (f"probe:{probe}", "temp_offset")
    out: list[OffsetSeen] = []
    if compare is not None and (offset := _offset(compare)) is not None:
        at = _reference(compare)
        sd = hypot(beliefs["check:compare", "temp_offset"].sd, _GAIN * (at - USE_DEGC))
        out.append(_seen(key, offset, sd, drift, compare, now))
    if (
        ice is not None
        and boil is not None
        and (low := _offset(ice)) is not None
        and (high := _offset(boil)) is not None
    ):
        x1, x2 = _reference(ice), _reference(boil)
        offset = low + (high - low) * (USE_DEGC - x1) / (x2 - x1)
        out.append(_seen(key, offset, beliefs["check:ice_boil", "temp_offset"].sd, drift, boil, now))
    elif ice is not None and (low := _offset(ice)) is not None:
        out.append(_seen(key, low, beliefs["check:ice", "temp_offset"].sd, drift, ice, now))
    elif boil is not None and (high := _offset(boil)) is not None:
        sd = hypot(0.1, _GAIN * (_reference(boil) - USE_DEGC))
        out.append(_seen(key, high, sd, drift, boil, now))
    return out


def _humidity(
    probe: str, mine: Mapping[str, ProbeCheck], salts: Sequence[ProbeCheck], beliefs: Mapping[Key, Belief], now: int
) -> list[OffsetSeen]:
    drift = beliefs["sort:any", "rh_drift"].b
    key = (f"probe:{probe}", "rh_offset")
    out: list[OffsetSeen] = []
    points = {
        round(float(c.reference_rh), 1): c for c in salts if c.reference_rh is not None and c.reading_rh is not None
    }
    if points:
        offsets = [float(c.reference_rh or 0.0) - float(c.reading_rh or 0.0) for c in points.values()]
        sort = "salt_two" if len(points) > 1 else "salt_one"
        last = max(points.values(), key=lambda c: c.at)
        out.append(_seen(key, float(np.mean(offsets)), beliefs[f"check:{sort}", "rh_offset"].sd, drift, last, now))
    dry = mine.get("dry_box")
    if dry is not None and dry.reference_rh is not None and dry.reading_rh is not None:
        out.append(
            _seen(key, dry.reference_rh - dry.reading_rh, beliefs["check:dry_box", "rh_offset"].sd, drift, dry, now)
        )
    return out


def _offset(check: ProbeCheck) -> float | None:
    if check.reading_degc is None:
        return None
    if check.reference_degc is None and check.sort is not CheckSort.ICE:
        return None
    return _reference(check) - check.reading_degc


def _reference(check: ProbeCheck) -> float:
    return 0.0 if check.reference_degc is None else check.reference_degc


def _seen(key: Key, offset: float, sd: float, drift: float, check: ProbeCheck, now: int) -> OffsetSeen:
    years = max(0.0, (now - check.at) / _YEAR_S)
    wide = hypot(sd, drift * years**0.5)
    return OffsetSeen(key=key, offset=float(offset), sd=wide, check=check.uid, sort=check.sort.value)


def apart(airflow: Airflow, *, humidity: bool) -> float:
    """How well two probes at two places of one box can agree: sd of the difference of their means."""
    return _APART_RH if humidity else _APART_K[airflow]


def linear_terms(unknowns: Unknowns, seen: Sequence[OffsetSeen], pairs: Sequence[SideBySide]) -> Terms:
    """Checks and side-by-side comparisons as residuals: all linear in the offsets."""
    rows = [(({one.key: 1.0}), one.offset, one.sd) for one in seen if one.key in unknowns]
    rows += [
        ({one.right: 1.0, one.left: -1.0}, one.difference, one.sd)
        for one in pairs
        if one.left in unknowns and one.right in unknowns
    ]
    jacobian = np.array([unknowns.gradient(parts) / sd for parts, _, sd in rows]).reshape(len(rows), len(unknowns))
    target = np.array([value / sd for _, value, sd in rows])

    def terms(x: Floats) -> Residuals:
        return jacobian @ x - target, jacobian

    return terms
