"""A whole assessment: 30 days of readings a minute apart and 24 eggs weighed five times; then a million readings.

Seconds against the bound, and beside them a peer measured in the same run: one bare pass of `numpy.exp` over ten
columns of the readings (five trial offsets of two temperatures), the least that any way of doing it would cost.
"""

import numpy as np

from chalaza.assess import assess, prior_beliefs
from chalaza.scenario.simulate import Plan, Truth, simulate
from chalaza.values.evidence import Evidence
from row import Row, best

SET_AT, DAY = 1_770_000_000, 86400


def evidence_of(step_s: float) -> tuple[Evidence, int]:
    """A simulated batch of 24 eggs with the log at `step_s`."""
    plan = Plan(
        set_at=SET_AT,
        days=30.0,
        eggs=24,
        display=lambda h: 37.4 + 0.15 * np.sin(2 * np.pi * h / 24),
        rh=lambda h: 0.5 + 0.01 * np.sin(2 * np.pi * h / 24),
        log_step_s=int(step_s),
        weigh_days=(0.0, 4.0, 8.0, 12.0, 16.0),
        candle_days=(7.0, 14.0),
    )
    evidence, _ = simulate(Truth(), plan, np.random.default_rng(1))
    return evidence, SET_AT + 30 * DAY


def rows() -> list[Row]:
    """Time of an assessment, warm, on one core."""
    beliefs = prior_beliefs("chicken")
    out: list[Row] = []
    for name, step, bound, most in (
        ("a reading a minute", 60, 0.030, 200.0),
        ("a reading every two seconds", 2, 0.6, 20.0),
    ):
        evidence, now = evidence_of(step)
        n = sum(len(one) for one in evidence.setting.series.values())
        columns = np.random.default_rng(0).random((n, 10))
        spent = best(lambda e=evidence, t=now: assess(beliefs, e, t), 9)  # type: ignore[misc]
        peer = best(lambda c=columns: np.exp(c), 5)  # type: ignore[misc]
        out.append(Row(f"assess, {name} ({n:,} readings)", spent, bound, "s"))
        out.append(Row(f"assess, {name}, against bare exp", spent / peer, most, "times"))
    return out
