"""Truths drawn from the published beliefs, for measuring whether intervals hold what they promise.

`wrong` draws from other laws than inference believes: wider spreads, a shifted placement, correlated candlings; a
program that is only tested against its own beliefs tests itself against itself.
"""

from dataclasses import replace

import numpy as np

from chalaza import facts
from chalaza.inference.published import plain, published
from chalaza.scenario.simulate import Truth
from chalaza.values.beliefs import Belief


def truth(rng: np.random.Generator, kind: str = "chicken", *, wrong: bool = False, airflow: str = "fan") -> Truth:
    """One batch's truth. The wrong generator: sigma x 1.5, placement 0.6 K, a fifth of findings repeated unseen."""
    rows = published(facts.kind(kind).key)
    bird = f"kind:{facts.kind(kind).key}"
    wide = 1.5 if wrong else 1.0

    def normal(one: Belief) -> float:
        value = rng.normal(one.a, wide * one.b)
        return float(np.exp(value)) if one.scale == "log" else float(value)

    def share(name: str) -> float:
        one = rows[f"{bird}:own", name]
        return float(rng.beta(one.a / wide, one.b / wide))

    placement = rows[f"air:{airflow}" if airflow == "fan" else "air:still_egg_top", "placement"]
    heat = rows[f"air:{airflow}", "heat_ratio"]
    first = normal(rows[bird, "rate_age_first"])
    drawn = Truth(
        temp_offset_k=float(rng.normal(0.0, wide * rows["sort:display", "temp_offset"].sd)),
        rh_offset=float(rng.normal(0.0, wide * rows["sort:display", "rh_offset"].sd)),
        placement_k=float(rng.normal(placement.mean, placement.sd)),
        conductance=normal(rows[bird, "conductance"]),
        conductance_cv=normal(rows[bird, "conductance_cv"]),
        conductance_rise=normal(rows[bird, "conductance_rise"]),
        heat_ratio=normal(heat),
        rate_slope=normal(rows[bird, "rate_slope"]),
        age_first=min(first, 2.4),
        hatch_hours=normal(rows[bird, "hatch_hours"]),
        hatch_spread_h=float(
            np.hypot(normal(rows[bird, "hatch_spread"]), 21.0 * plain(rows["air:fan", "position_spread"]))
        ),
        storage_delay_h=normal(rows[bird, "storage_delay"]),
        fertility=share("fertility"),
        survival=(share("survival_early"), share("survival_middle"), share("survival_late")),
        pip_h=(rows[bird, "external_pip"].mean, rows[bird, "external_pip"].sd),
    )
    if wrong:
        drawn = replace(drawn, placement_k=float(rng.normal(0.25, 0.6)), lamp_repeat=0.2)
    return replace(drawn, rate_slope=max(drawn.rate_slope, 0.01))
