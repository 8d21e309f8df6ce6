"""How fast the lag of the egg runs along a log, exact for steps of any length, against a filter for equal steps.

    python bench bench_egg_heat

The peer is `scipy.signal.lfilter` of the first order over as many values, run in turn with ours: one multiplication and
addition a reading with weights made once. Ours makes three weights for each step (an exponential and its like) and
solves a bidiagonal system. The other bound is the time a keeper waits, in seconds. Medians of processor time on one
thread; the first round warms up.
"""

import time
from collections.abc import Callable
from statistics import median
from typing import Any

import numpy as np
from scipy.signal import lfilter

from chalaza.physics import egg_heat
from row import Row

ROUNDS = 15
TAU_S, STEP_S = 1700.0, 60.0
TIMES_FILTER = 20.0
#: readings -> s
WAIT_S = {43_200: 0.004, 1_000_000: 0.2}


def _timed(call: Callable[[], Any]) -> float:
    start = time.thread_time()
    call()
    return time.thread_time() - start


def rows() -> list[Row]:
    """A month of minutes and a million readings: times the filter, and seconds."""
    rng = np.random.default_rng(0)
    keep = float(np.exp(-STEP_S / TAU_S))
    found = []
    for n, wait_s in WAIT_S.items():
        moments, driver = np.cumsum(rng.uniform(30.0, 90.0, n)), rng.normal(37.5, 0.3, n)
        ours, filtered = [], []
        for _ in range(ROUNDS + 1):
            filtered.append(_timed(lambda x=driver: lfilter([1.0 - keep], [1.0, -keep], x)))  # type: ignore[misc]
            ours.append(_timed(lambda t=moments, x=driver: egg_heat.lagged(t, x, TAU_S)))  # type: ignore[misc]
        mine, peer = median(ours[1:]), median(filtered[1:])
        found.append(Row(f"lagged, {n:,} readings, times lfilter", mine / peer, TIMES_FILTER, "times"))
        found.append(Row(f"lagged, {n:,} readings", mine, wait_s, "s"))
    return found
