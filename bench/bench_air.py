"""How fast moist air is: a million states against bare passes of `numpy.exp` and against a loop over psychrolib.

    PYTHONPATH=src python bench/bench_air.py

The bound is four bare passes of `numpy.exp` over as many values for each exponential (or logarithm) the function takes.
"""

import time
from collections.abc import Callable
from typing import Any

import numpy as np
import psychrolib

from chalaza.physics import air

STATES = 1_000_000
SAMPLE = 2_000
TIMES_EXP = 4.0


def _best(call: Callable[[], Any], repeats: int = 7) -> float:
    """Shortest of several runs, after one to warm up. [s]"""
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


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


def _measured() -> list[tuple[str, float, float, float | None]]:
    """Name, times one pass of exp, bound on that, times faster than the loop over psychrolib."""
    values = np.random.default_rng(1).uniform(2.0, 9.0, STATES)
    found = []
    for name, exponentials, ours, theirs in _cases():
        bare, mine = _best(lambda: np.exp(values)), _best(ours)
        loop = None
        if theirs is not None:
            one = theirs
            loop = _best(lambda one=one: [one(i) for i in range(SAMPLE)], 1) * STATES / SAMPLE / mine  # type: ignore[misc]
        found.append((name, mine / bare, TIMES_EXP * exponentials, loop))
    return found


def rows() -> list[tuple[str, float, str, str]]:
    """One row a function: name, its time in bare passes of `numpy.exp`, the bound in words, whether it is kept."""
    return [
        (name, ratio, f"<= {bound:g} exp passes", "ok" if ratio <= bound else "slower")
        for name, ratio, bound, _ in _measured()
    ]


def main() -> None:
    print(f"{'function':24s} {'exp passes':>10s} {'bound':>6s}  {'kept':6s} {'x psychrolib loop':>17s}")
    for name, ratio, bound, loop in _measured():
        kept = "ok" if ratio <= bound else "slower"
        print(f"{name:24s} {ratio:10.2f} {bound:6.0f}  {kept:6s} {'' if loop is None else f'{loop:.0f}':>17s}")


if __name__ == "__main__":
    main()
