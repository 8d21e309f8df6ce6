"""How fast moist air is: a million states against bare passes of `numpy.exp` and against a loop over psychrolib.

    python bench bench_air

The bound is four bare passes of `numpy.exp` over as many values for each exponential (or logarithm) the function takes.
"""

from collections.abc import Callable
from typing import Any

import numpy as np
import psychrolib

from chalaza.physics import air
from row import Row, best

STATES = 1_000_000
SAMPLE = 2_000
TIMES_EXP = 4.0


def _cases() -> list[tuple[str, int, Callable[[], Any], Callable[[int], float] | None]]:
    """Name, exponentials taken, our call over all states, and psychrolib's call for state i (None: it has none)."""
    rng = np.random.default_rng(0)
    t, rh = rng.uniform(15.0, 42.0, STATES), rng.uniform(0.10, 0.95, STATES)
    p = 95_000.0
    e, w = air.vapour_pressure(t, rh), air.humidity_ratio(t, rh, p)
    dew, wet, wick = air.dew_point(e), air.wet_bulb(t, rh, p), air.wick_reading(t, rh, p)
    lib = psychrolib
    lib.SetUnitSystem(lib.SI)
    return [
        ("saturation_pressure", 1, lambda: air.saturation_pressure(t), lambda i: lib.GetSatVapPres(t[i])),
        ("dew_point", 1, lambda: air.dew_point(e), lambda i: lib.GetTDewPointFromVapPres(t[i], e[i])),
        ("vapour_pressure", 1, lambda: air.vapour_pressure(t, rh), lambda i: lib.GetVapPresFromRelHum(t[i], rh[i])),
        (
            "humidity_ratio",
            1,
            lambda: air.humidity_ratio(t, rh, p),
            lambda i: lib.GetHumRatioFromRelHum(t[i], rh[i], p),
        ),
        (
            "rh_from_humidity_ratio",
            1,
            lambda: air.rh_from_humidity_ratio(t, w, p),
            lambda i: lib.GetRelHumFromHumRatio(t[i], w[i], p),
        ),
        ("density", 1, lambda: air.density(t, rh, p), lambda i: lib.GetMoistAirDensity(t[i], w[i], p)),
        (
            "rh_from_dew_point",
            2,
            lambda: air.rh_from_dew_point(t, dew),
            lambda i: lib.GetRelHumFromTDewPoint(t[i], min(dew[i], t[i])),
        ),
        (
            "rh_from_wet_bulb",
            2,
            lambda: air.rh_from_wet_bulb(t, wet, p),
            lambda i: lib.GetRelHumFromTWetBulb(t[i], wet[i], p),
        ),
        ("rh_from_wick", 2, lambda: air.rh_from_wick(t, wick, p), None),
        ("wet_bulb", 4, lambda: air.wet_bulb(t, rh, p), lambda i: lib.GetTWetBulbFromRelHum(t[i], rh[i], p)),
        ("wick_reading", 4, lambda: air.wick_reading(t, rh, p), None),
    ]


def rows() -> list[Row]:
    """One row a function: its time in bare passes of `numpy.exp`; and the slowest against a loop over psychrolib."""
    values = np.random.default_rng(1).uniform(2.0, 9.0, STATES)
    found = []
    for name, exponentials, ours, theirs in _cases():
        bare, mine = best(lambda: np.exp(values)), best(ours)
        found.append(Row(name, mine / bare, TIMES_EXP * exponentials, "exp passes"))
        if theirs is not None:
            loop = best(lambda one=theirs: [one(i) for i in range(SAMPLE)], 1) * STATES / SAMPLE  # type: ignore[misc]
            found.append(Row(f"{name}: share of a psychrolib loop", mine / loop, 1.0, "of its time"))
    return found
