"""Simulated batches assessed, and how often their 90 % intervals held: shared by the short and the long form."""

from collections import defaultdict
from dataclasses import dataclass, field

import numpy as np

from chalaza import facts
from chalaza.assess import assess, prior_beliefs, understand
from chalaza.inference.count import mean_of
from chalaza.scenario.draw import truth
from chalaza.scenario.simulate import Plan, simulate
from chalaza.values.evidence import Airflow, CheckSort

HOUR, DAY = 3600, 86400
SET_AT = 1_770_000_000


@dataclass
class Held:
    """Hits, widths and standardised misses of one figure; for counts also the randomised PIT."""

    hits: list[bool] = field(default_factory=list)
    widths: list[float] = field(default_factory=list)
    misses: list[float] = field(default_factory=list)
    pit: list[float] = field(default_factory=list)

    @property
    def cover(self) -> float:
        return float(np.mean(self.hits))


def display(hours):
    return 37.4 + 0.15 * np.sin(2 * np.pi * hours / 24)


def humidity(hours):
    """Drier for two days, then as it stays: the projection is for settings that stay."""
    return np.where(hours < 48, 0.42, 0.5) + 0.01 * np.sin(2 * np.pi * hours / 24)


def plan_of(rng: np.random.Generator, index: int, kind: str, airflow: str) -> Plan:
    """What this keeper does: some weigh all, some three, some a tray, some nothing; some check, some look."""
    weigh = rng.random()
    about = facts.kind(kind)
    still = airflow == "still" and about.temp_still_degc is not None
    level = about.temp_still_degc.typical - 0.2 if still else about.temp_forced_degc.typical - 0.1
    stretch = about.term_d.typical / 21.0
    mass = about.egg_mass_g.typical
    return Plan(
        kind=kind,
        set_at=SET_AT,
        days=float(stretch * rng.choice([4.0, 8.0, 12.0, 16.0])),
        eggs=int(rng.choice([8, 12, 24])),
        mass_g=60.0 if kind == "chicken" else mass,
        mass_sd_g=0.067 * mass,
        resolution_g=0.1 if mass > 20 else 0.01,
        airflow=Airflow(airflow),
        height_mm=0.0 if still else None,
        display=lambda hours: level + display(hours) - 37.4,
        rh=humidity,
        weigh_days=(0.0,) if weigh < 0.3 else tuple(stretch * day for day in (0.0, 3.5, 7.0, 11.5, 15.0)),
        weigh_eggs=3 if 0.3 < weigh < 0.5 else None,
        weigh_tray=bool(weigh > 0.85),
        candle_days=((), (7.0 * stretch,), (7.0 * stretch, 14.0 * stretch))[int(rng.integers(3))],
        check=(None, CheckSort.ICE, CheckSort.COMPARE)[int(rng.integers(3))],
        prefix=f"b{index}",
    )


def randomised_pit(distribution, value: int, rng: np.random.Generator) -> float:
    below = float(distribution[:value].sum())
    return below + float(rng.random()) * float(distribution[value])


def run(n: int, *, wrong: bool, seed: int, kind: str = "chicken", airflow: str = "fan") -> dict[str, Held]:
    """Simulate and assess `n` batches; the truths come from the priors, or from the wrong generator."""
    rng = np.random.default_rng(seed)
    beliefs = prior_beliefs(kind)
    due_h = facts.kind(kind).loss_target.day_d * 24.0
    held: dict[str, Held] = defaultdict(Held)
    for index in range(n):
        plan = plan_of(rng, index, kind, airflow)
        evidence, lived = simulate(truth(rng, kind, wrong=wrong, airflow=airflow), plan, rng)
        now = int(SET_AT + plan.days * DAY)
        a = assess(beliefs, evidence, now)
        hour = plan.days * 24
        figures = [
            ("loss now", a.water.loss_now, lived.loss(hour)),
            ("loss at lockdown", a.water.loss_at_lockdown, lived.loss(due_h)),
            ("half hatched", a.clock.half_hatched, SET_AT + HOUR * _half(lived)),
            ("age", a.clock.age_d, lived.age_h(hour) / 24),
            ("shell", a.warmth.shell, lived.shell_mean(hour)),
        ]
        if lived.young:
            figures += [
                ("first pip", a.clock.first_pip, SET_AT + HOUR * lived.first_pip_h),
                ("last hatch", a.clock.last_hatch, SET_AT + HOUR * float(np.nanmax(lived.out_h))),
            ]
        for name, estimate, value in figures:
            _note(held[name], estimate, value)
        counts = understand(beliefs, evidence, now).counts
        for name, estimate, distribution, value in (
            ("fertile", a.count.fertile, counts.fertile, lived.fertile),
            ("alive", a.count.alive, counts.alive, lived.alive(hour)),
            ("young", a.count.expected_young, counts.young, lived.young),
        ):
            _note(held[name], estimate, float(value))
            held[name].pit.append(randomised_pit(distribution, value, rng))
            assert abs(mean_of(distribution) - estimate.value) < 1e-9
    return dict(held)


def _half(lived) -> float:
    return float(np.nanmedian(lived.out_h)) if lived.young else lived.half_hatched_h


def _note(one: Held, estimate, value: float) -> None:
    one.hits.append(bool(estimate.low <= value <= estimate.high))
    one.widths.append(estimate.high - estimate.low)
    one.misses.append((value - estimate.value) / max((estimate.high - estimate.low) / 3.29, 1e-9))


def table(title: str, held: dict[str, Held]) -> str:
    """The coverage figures as people read them."""
    units = {"half hatched": (3600, "h"), "first pip": (3600, "h"), "last hatch": (3600, "h"), "age": (1, "d"),
             "shell": (1, "K"), "loss now": (0.01, "points"), "loss at lockdown": (0.01, "points")}  # fmt: skip
    lines = [f"{title}: share of 90 % intervals that held, mean width"]
    for name, one in held.items():
        scale, unit = units.get(name, (1, ""))
        lines.append(f"  {name:<15} {one.cover:6.1%}   {np.mean(one.widths) / scale:7.2f} {unit}")
    return "\n".join(lines)
