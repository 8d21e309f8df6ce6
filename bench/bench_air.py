"""How fast moist air is: a million states against bare passes of `numpy.exp` and against a loop over psychrolib.

    python bench bench_air

The bound is four bare passes of `numpy.exp` over as many values for each exponential (or logarithm) a function takes.
How many it takes is counted, not claimed: the functions run once with numpy's own put behind a counter. An exponential
in single precision counts as one; the name of the row says how many there are. psychrolib must take at least a hundred
times as long: its rows are our share of its time, bound 0.01. All run in turn, round after round, so that each finds its
columns in memory and not in the cache of its own last run, and a busy machine slows all alike. The figures are medians
of processor time on one thread: nobody here uses a second one.
"""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.util import find_spec
from statistics import median
from typing import Any
from unittest.mock import patch

import numpy as np
import psychrolib

from chalaza.physics import air
from row import Row

STATES, SAMPLE = 1_000_000, 1_000
ROUNDS, LOOPS = 15, 3
TIMES_EXP, SHARE_OF_LOOP = 4.0, 0.01


@dataclass
class Case:
    """A function of ours over all states, and psychrolib's for the state of a number (None: it has none)."""

    name: str
    ours: Callable[[], Any]
    theirs: Callable[[int], float] | None = None
    spent: list[float] = field(default_factory=list)
    loop: list[float] = field(default_factory=list)


def _cases() -> list[Case]:
    rng = np.random.default_rng(0)
    t, rh = rng.uniform(15.0, 42.0, STATES), rng.uniform(0.10, 0.95, STATES)
    p = 95_000.0
    e, w = air.vapour_pressure(t, rh), air.humidity_ratio(t, rh, p)
    dew, wet, wick = air.dew_point(e), air.wet_bulb(t, rh, p), air.wick_reading(t, rh, p)
    lib = psychrolib
    lib.SetUnitSystem(lib.SI)
    return [
        Case("saturation_pressure", lambda: air.saturation_pressure(t), lambda i: lib.GetSatVapPres(t[i])),
        Case("dew_point", lambda: air.dew_point(e), lambda i: lib.GetTDewPointFromVapPres(t[i], e[i])),
        Case("vapour_pressure", lambda: air.vapour_pressure(t, rh), lambda i: lib.GetVapPresFromRelHum(t[i], rh[i])),
        Case(
            "humidity_ratio",
            lambda: air.humidity_ratio(t, rh, p),
            lambda i: lib.GetHumRatioFromRelHum(t[i], rh[i], p),
        ),
        Case(
            "rh_from_humidity_ratio",
            lambda: air.rh_from_humidity_ratio(t, w, p),
            lambda i: lib.GetRelHumFromHumRatio(t[i], w[i], p),
        ),
        Case("density", lambda: air.density(t, rh, p), lambda i: lib.GetMoistAirDensity(t[i], w[i], p)),
        Case(
            "rh_from_dew_point",
            lambda: air.rh_from_dew_point(t, dew),
            lambda i: lib.GetRelHumFromTDewPoint(t[i], min(dew[i], t[i])),
        ),
        Case(
            "rh_from_wet_bulb",
            lambda: air.rh_from_wet_bulb(t, wet, p),
            lambda i: lib.GetRelHumFromTWetBulb(t[i], wet[i], p),
        ),
        Case("rh_from_wick", lambda: air.rh_from_wick(t, wick, p)),
        Case("wet_bulb", lambda: air.wet_bulb(t, rh, p), lambda i: lib.GetTWetBulbFromRelHum(t[i], rh[i], p)),
        Case("wick_reading", lambda: air.wick_reading(t, rh, p)),
    ]


@contextmanager
def _counting() -> Iterator[dict[str, int]]:
    """Values that pass through `numpy.exp` and `numpy.log` meanwhile, by the type they come out in."""
    seen: dict[str, int] = {}

    def counter(function: Callable[..., Any]) -> Callable[..., Any]:
        def counted(*given: Any, **more: Any) -> Any:
            result = function(*given, **more)
            seen[result.dtype.name] = seen.get(result.dtype.name, 0) + result.size
            return result

        return counted

    with patch.object(np, "exp", counter(np.exp)), patch.object(np, "log", counter(np.log)):
        yield seen


def _taken(case: Case) -> tuple[int, int]:
    """Exponentials and logarithms for each state: all, and those in single precision."""
    with _counting() as seen:
        case.ours()
    each = {name: count / STATES for name, count in seen.items()}
    if not each or set(each) - {"float32", "float64"} or any(count != round(count) for count in each.values()):
        raise SystemExit(f"{case.name}: exponentials for each state are {each}, which is no count")
    return round(sum(each.values())), round(each.get("float32", 0.0))


def _timed(call: Callable[[], Any]) -> float:
    start = time.thread_time()
    call()
    return time.thread_time() - start


def _looped(theirs: Callable[[int], float]) -> list[float]:
    return [theirs(i) for i in range(SAMPLE)]


def _run(cases: list[Case]) -> float:
    """Fill in what each case spends; the bare pass. [s] The first round warms up and is dropped."""
    values = np.random.default_rng(1).uniform(2.0, 9.0, STATES)
    bare: list[float] = []
    for turn in range(ROUNDS + 1):
        for number, case in enumerate(cases):
            if number % 4 == 0:
                bare.append(_timed(lambda: np.exp(values)))
            case.spent.append(_timed(case.ours))
            if case.theirs is not None and turn < LOOPS:
                case.loop.append(_timed(lambda theirs=case.theirs: _looped(theirs)))  # type: ignore[misc]
        if turn == 0:
            bare.clear()
            for case in cases:
                case.spent.clear()
    return median(bare)


def rows() -> list[Row]:
    """For each function its time in bare passes of `numpy.exp`, and its share of a loop over psychrolib."""
    cases = _cases()
    bare = _run(cases)
    found = []
    for case in cases:
        taken, single = _taken(case)
        what = f"{case.name}, {taken} exp" + (f" ({single} single)" if single else "")
        mine = median(case.spent)
        found.append(Row(what, mine / bare, TIMES_EXP * taken, "exp passes"))
        if case.loop:
            found.append(
                Row(
                    f"{case.name}, of psychrolib",
                    mine / (median(case.loop) * STATES / SAMPLE),
                    SHARE_OF_LOOP,
                    "its time",
                )
            )
    # psychrolib compiles itself where it finds numba, and we do not: with numba there the loop would be another peer.
    found.append(Row("numba installed", float(find_spec("numba") is not None), 0.0, "packages"))
    return found
