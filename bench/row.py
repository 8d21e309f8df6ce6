"""The one form in which a bench says what it measured."""

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Row:
    """What was measured against what is allowed; `unit` says of what: seconds, or times something slower or faster."""

    name: str
    ratio: float
    bound: float
    unit: str = ""

    @property
    def ok(self) -> bool:
        """Whether the bound holds."""
        return self.ratio <= self.bound


def best(call: Callable[[], object], repeats: int = 5) -> float:
    """Shortest of several runs, after one to warm up. [s]"""
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)
