"""Batches to draw, all invented: nothing logged, the moment of setting, the third day, the twelfth with cold and hot
spells and too dry, still air with a long gap, the day of the hatch, and after it.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np

from chalaza import facts
from chalaza.assess import prior_beliefs, read, understand
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment
from chalaza.values.evidence import (
    Airflow,
    Breakout,
    Candling,
    DeathStage,
    Evidence,
    Finding,
    Hatch,
    HatchStage,
    Machine,
    Series,
    Weighing,
)
from factory import DAY_S, HOUR_S, SET_AT, make_evidence

_START_G = (58.2, 60.1, 61.4, 59.0, 62.7, 57.5, 63.3, 60.8, 59.9, 61.0, 58.8, 62.1)


def log(days: float, *, temp_degc: float = 37.6, rh: float = 0.45, seed: int = 1) -> Series:
    """A reading every ten minutes, with the noise and the daily swing of a plain box."""
    rng = np.random.default_rng(seed)
    t = np.arange(SET_AT, SET_AT + int(days * DAY_S), 600, dtype=np.int64)
    swing = np.sin(2.0 * np.pi * (t - SET_AT) / DAY_S)
    temp = temp_degc + 0.12 * swing + rng.normal(0.0, 0.06, len(t))
    damp = rh - 0.02 * swing + rng.normal(0.0, 0.01, len(t))
    return Series(t, temp.astype(np.float32), np.clip(damp, 0.05, 0.95).astype(np.float32))


def without(series: Series, first_d: float, last_d: float) -> Series:
    """The log with a stretch cut out."""
    day = (series.t - SET_AT) / DAY_S
    keep = (day < first_d) | (day > last_d)
    return Series(series.t[keep], series.temp_degc[keep], series.rh[keep])


def bent(series: Series, first_d: float, hours: float, to_degc: float) -> Series:
    """The log with a spell at another temperature, reached and left by e-folding in an hour and a half."""
    h = (series.t - SET_AT) / HOUR_S - first_d * 24.0
    down = np.where(h > 0.0, 1.0 - np.exp(-np.clip(h, 0.0, hours) / 1.5), 0.0)
    back = np.where(h > hours, np.exp(-np.clip(h - hours, 0.0, None) / 1.5), 1.0)
    temp = series.temp_degc + (to_degc - series.temp_degc) * down * back
    return Series(series.t, temp.astype(np.float32), series.rh)


def weighed(day: float, loss_by_day: float, *, eggs: int = 12) -> tuple[Weighing, ...]:
    """A session of weighing; eggs differ by what their shells let through."""
    spread = np.linspace(-0.25, 0.25, 12)
    return tuple(
        Weighing(
            uid=f"w{day:g}-{i}", at=SET_AT + int(day * DAY_S), eggs=f"e{i + 1}", session=f"day{day:g}",
            gross_g=round(_START_G[i] * (1.0 - loss_by_day * day * (1.0 + float(spread[i]))), 1),
        )
        for i in range(eggs)
    )  # fmt: skip


def _none() -> tuple[Evidence, float]:
    return make_evidence(series={}, weighings=(), candlings=(), machine_events=(), events=(), checks=()), 10.0


def _set() -> tuple[Evidence, float]:
    return make_evidence(series={}, weighings=(), candlings=(), machine_events=(), events=(), checks=()), 0.0


def _start() -> tuple[Evidence, float]:
    return make_evidence(series={"p1": log(0.25)}, weighings=weighed(0.0, 0.0), candlings=(), events=()), 0.25


def _day3() -> tuple[Evidence, float]:
    series = {"p1": log(3.0)}
    return make_evidence(series=series, weighings=weighed(0.0, 0.0), candlings=(), machine_events=(), events=()), 3.0


def _day12() -> tuple[Evidence, float]:
    series = bent(bent(bent(log(12.0, rh=0.30), 2.3, 6.0, 34.5), 8.2, 7.0, 29.0), 10.4, 3.0, 41.0)
    sessions = (
        *weighed(0.0, 0.0),
        *weighed(5.0, 0.0078, eggs=12),
        *weighed(9.0, 0.0078),
        *weighed(11.5, 0.0078, eggs=5),
    )
    return make_evidence(series={"p1": series}, weighings=sessions), 12.0


def _still() -> tuple[Evidence, float]:
    box = (Machine(uid="box", name="Box", airflow=Airflow.STILL, volume_l=30.0),)
    series = without(log(14.0, temp_degc=38.4, rh=0.55), 6.0, 9.5)
    sessions = (*weighed(0.0, 0.0), *weighed(7.0, 0.0052))
    return make_evidence(machines=box, series={"p1": without(series, 11.0, 11.4)}, weighings=sessions), 14.0


def _many() -> tuple[Evidence, float]:
    """Three hundred eggs in counted groups, one of them candled."""
    one = make_evidence(series={"p1": log(17.6)}, weighings=(), events=())
    eggs = tuple(replace(one.eggs[0], uid=f"e{i}", label=f"T{i}", count=100) for i in (1, 2, 3))
    seen = (
        Candling(uid="c1", at=SET_AT + 10 * DAY_S, egg="e1", finding=Finding.LIVE, count=88),
        Candling(uid="c2", at=SET_AT + 10 * DAY_S, egg="e1", finding=Finding.CLEAR, count=12),
    )
    return replace(one, eggs=eggs, candlings=seen), 17.6


def _hatching() -> tuple[Evidence, float]:
    series = log(20.6)
    sessions = (*weighed(0.0, 0.0), *weighed(7.0, 0.0065), *weighed(17.0, 0.0065))
    seen = (Hatch(uid="h1", at=SET_AT + int(20.4 * DAY_S), stage=HatchStage.PIPPED, count=2),)
    return make_evidence(series={"p1": series}, weighings=sessions, hatches=seen), 20.6


def _after() -> tuple[Evidence, float]:
    series = log(23.5)
    sessions = (*weighed(0.0, 0.0), *weighed(7.0, 0.0065), *weighed(17.0, 0.0065))
    seen = tuple(
        Hatch(uid=f"h{i}", at=SET_AT + int(day * DAY_S), stage=HatchStage.OUT, count=n)
        for i, (day, n) in enumerate(((20.9, 2), (21.3, 5), (21.8, 2)))
    )
    opened = (Breakout(uid="b1", at=SET_AT + int(23.2 * DAY_S), stage=DeathStage.LATE, egg="e3"),)
    return make_evidence(series={"p1": series}, weighings=sessions, hatches=seen, breakouts=opened), 23.5


CASES: dict[str, Callable[[], tuple[Evidence, float]]] = {
    "none": _none,
    "start": _start,
    "day3": _day3,
    "day12": _day12,
    "still": _still,
    "many": _many,
    "hatching": _hatching,
    "after": _after,
}
#: The same before anything has lasted: no window can be looked at closely.
_BEGUN = {"set": _set}


@cache
def evidence(name: str) -> tuple[Evidence, int]:
    """A batch and the moment it is looked at."""
    found, day = {**CASES, **_BEGUN}[name]()
    return found, SET_AT + int(day * DAY_S)


@cache
def understood(name: str) -> tuple[Understanding, Assessment]:
    """What is understood of a batch, and its answers."""
    found, now = evidence(name)
    u = understand(prior_beliefs("chicken"), found, now)
    return u, read(u, found)


@cache
def of_kind(kind: str, share: float) -> tuple[Understanding, Assessment]:
    """A logged batch of another kind at a share of its term, nothing weighed or candled."""
    bird = facts.kind(kind)
    days = share * bird.term_d.typical
    one = make_evidence(
        series={"p1": log(days, temp_degc=bird.temp_forced_degc.typical)}, weighings=(), candlings=(), events=()
    )
    eggs = tuple(replace(egg, length_mm=None, breadth_mm=None) for egg in one.eggs)
    batch = replace(one.batch, kind=kind, planned_temp_degc=None, planned_rh=None)
    found = replace(one, batch=batch, eggs=eggs)
    u = understand(prior_beliefs(kind), found, SET_AT + int(days * DAY_S))
    return u, read(u, found)
