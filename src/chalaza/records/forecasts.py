"""What was forecast on each day, kept for good: some twenty figures of the first answer of the day."""

from typing import Any

from chalaza.records import models as m
from chalaza.records.codec import plain
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Estimate
from chalaza.words.jsonable import iso


def figures(a: Assessment) -> dict[str, Estimate]:
    """The figures kept of an answer."""
    return {
        "shell": a.warmth.shell, "shell_now": a.warmth.shell_now, "air": a.warmth.air, "delay_h": a.warmth.delay_h,
        "loss_now": a.water.loss_now, "loss_at_lockdown": a.water.loss_at_lockdown, "rh_now": a.water.rh_now,
        "rh_to_run": a.water.rh_to_run, "conductance": a.water.conductance, "age_d": a.clock.age_d,
        "behind_h": a.clock.behind_h, "stop_turning": a.clock.stop_turning, "internal_pip": a.clock.internal_pip,
        "first_pip": a.clock.first_pip, "half_hatched": a.clock.half_hatched, "last_hatch": a.clock.last_hatch,
        "fertile": a.count.fertile, "alive": a.count.alive, "expected_young": a.count.expected_young,
        "fertility": a.count.fertility,
    }  # fmt: skip


def keep(a: Assessment, engine: str) -> None:
    """Keep the forecast of this local day, unless there is one already."""
    day = iso(a.as_of, a.zone)[:10]
    if not m.Forecast.objects.filter(batch=a.batch, day=day).exists():
        values: dict[str, Any] = {name: plain(one) for name, one in figures(a).items()}
        m.Forecast.objects.get_or_create(
            batch=a.batch, day=day, defaults={"as_of": a.as_of, "engine": engine, "figures": values}
        )
