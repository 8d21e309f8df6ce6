"""Beliefs before any batch: published values under flat keys, one mapping for one kind of bird.

Subjects: "kind:<key>" for what belongs to the bird, "sort:<sort>" for an instrument nobody checked, "check:<sort>" for
one that was, "air:<fan|still>..." for a machine, "lamp:<shell>" for candling.
"""

from collections.abc import Mapping
from functools import cache
from math import exp, log, sqrt
from types import MappingProxyType

from chalaza import facts
from chalaza.facts import Prior
from chalaza.values.beliefs import Belief, Key, Shape

#: Beliefs by subject and quantity, as a mapping of parts: no function of this floor takes `Beliefs` whole.
Rules = Mapping[Key, Belief]

_ORIGINS = ("own", "posted")
_LOG = frozenset({"conductance", "conductance_cv", "hatch_spread", "rate_age_first", "air_cell_start_ml", "loss_penalty",
                  "position_spread", "rate_slope_above"})  # fmt: skip
_PLAIN = ("conductance_rise", "conductance_mass_exponent", "air_cell_offset", "air_cell_slope", "air_cell_start_ml",
          "rate_slope", "rate_slope_above", "rate_age_first", "rate_34", "rate_30", "rate_zero", "hatch_hours",
          "hatch_spread", "storage_delay", "size_delay", "internal_pip", "external_pip", "loss_penalty",
          "heat_sustained", "native_altitude", "fate_correlation", "conductance")  # fmt: skip


def belief(prior: Prior, *, logged: bool = False) -> Belief:
    """A published prior as a belief; `logged` keeps a lognormal on the scale of its logarithm."""
    if prior.shape == "beta":
        return Belief(shape=Shape.BETA, a=prior.p[0], b=prior.p[1], unit=prior.unit, sources=prior.sources)
    if logged:
        return Belief(
            shape=Shape.NORMAL, a=prior.log_mean, b=prior.log_sd, unit=prior.unit, scale="log", sources=prior.sources
        )
    return Belief(shape=Shape.NORMAL, a=prior.mean, b=prior.gaussian_sd, unit=prior.unit, sources=prior.sources)


@cache
def published(kind: str) -> Mapping[Key, Belief]:
    """All beliefs that an assessment of a batch of `kind` (a key of kinds) may ask for, before any lesson."""
    bird = f"kind:{kind}"
    rows: dict[Key, Belief] = {}
    for quantity in _PLAIN:
        condition = {"fate_correlation": "own", "size_delay": ""}.get(quantity, "")
        rows[bird, quantity] = belief(facts.prior(quantity, kind, condition), logged=quantity in _LOG)
    for age, name in (("young", "conductance_cv"), ("old", "conductance_cv_old")):
        rows[bird, name] = belief(facts.prior("conductance_cv", kind, age), logged=True)
    for origin in _ORIGINS:
        for quantity in ("fertility", "survival_early", "survival_middle", "survival_late"):
            rows[f"{bird}:{origin}", quantity] = belief(facts.prior(quantity, kind, origin))
    rows |= _instruments(kind) | _machines(kind) | _lamp(kind)
    return MappingProxyType(rows)


def _instruments(kind: str) -> dict[Key, Belief]:
    rows: dict[Key, Belief] = {}
    for sort in ("display", "digital", "glass"):
        rows[f"sort:{sort}", "temp_offset"] = belief(facts.prior("temp_offset", kind, sort))
    for check in ("ice", "ice_boil", "compare"):
        rows[f"check:{check}", "temp_offset"] = belief(facts.prior("temp_offset", kind, check))
    for sort in ("display", "digital", "wick_fan", "wick_still"):
        rows[f"sort:{sort}", "rh_offset"] = belief(facts.prior("rh_offset", kind, sort))
    for check in ("salt_one", "salt_two", "dry_box"):
        rows[f"check:{check}", "rh_offset"] = belief(facts.prior("rh_offset", kind, check))
    for quantity in ("temp_drift", "rh_drift"):
        drift = facts.prior(quantity, kind)
        rows["sort:any", quantity] = Belief(
            shape=Shape.NORMAL, a=0.0, b=drift.p[0], unit=drift.unit, sources=drift.sources
        )
    return rows


def _machines(kind: str) -> dict[Key, Belief]:
    rows: dict[Key, Belief] = {}
    scale = facts.prior("heat_scale", kind)
    for airflow in ("fan", "still"):
        conductance = facts.prior("heat_conductance", kind, airflow)
        rows[f"air:{airflow}", "heat_ratio"] = Belief(
            shape=Shape.NORMAL, a=0.0, b=sqrt(scale.log_sd**2 + conductance.log_sd**2), unit="1", scale="log",
            sources=tuple(dict.fromkeys(scale.sources + conductance.sources)),
        )  # fmt: skip
        rows[f"air:{airflow}", "position_spread"] = belief(facts.prior("position_spread", kind, airflow), logged=True)
    for condition in ("fan", "fan_mapped", "still_egg_top", "still_unknown"):
        rows[f"air:{condition}", "placement"] = belief(facts.prior("placement", kind, condition))
    return rows


def _lamp(kind: str) -> dict[Key, Belief]:
    """Chance of each finding given the truth, by shell and day of a 21-day term: one row per truth, look and finding."""
    rows: dict[Key, Belief] = {}
    for truth in ("alive", "dead", "infertile"):
        for condition in facts.conditions(f"candling_{truth}"):
            shares = facts.prior(f"candling_{truth}", kind, condition)
            for finding, value in zip(("live", "unsure", "clear", "dead"), shares.shares, strict=True):
                rows[f"lamp:{condition}", f"{finding}_if_{truth}"] = Belief(
                    shape=Shape.FIXED, a=value, b=0.0, unit="1", sources=shares.sources
                )
    return rows


def plain(one: Belief) -> float:
    """The central value of a belief on its plain scale: the mean, or the median of what is kept as a logarithm."""
    return exp(one.a) if one.scale == "log" else one.mean


def logged(value: float) -> float:
    """The logarithm, for beliefs kept on that scale."""
    return log(value)
