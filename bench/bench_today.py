"""The jobs of the day of one batch, and of twenty together with their sentences: seconds against the bound.

The home page asks for them each time it is shown, so they must cost next to nothing beside the assessment, which is kept.
"""

from collections.abc import Callable

from chalaza import facts
from chalaza.assess import assess, prior_beliefs
from chalaza.decide.today import Job, merge, today
from chalaza.scenario import demo
from chalaza.words import today as words
from chalaza.words.numbers import Voice
from row import Row, best

NOW, DAY = 1_776_450_000, 86400


def asker(name: str, days_on: float) -> Callable[[], tuple[Job, ...]]:
    """Asks for the jobs of a batch of the demonstration, assessed beforehand."""
    one = demo.batches(NOW)[name]
    now = NOW + round(days_on * DAY)
    a = assess(prior_beliefs(one.batch.kind), one, now)
    bird = facts.kind(one.batch.kind)
    return lambda: today(
        a, bird=bird, batch=one.batch, eggs=one.eggs, weighings=one.weighings, air_cells=one.air_cells,
        candlings=one.candlings, hatches=one.hatches, breakouts=one.breakouts, stays=one.stays,
        events=(*one.setting.events, *one.events), now=now, zone=one.batch.zone,
    )  # fmt: skip


def rows() -> list[Row]:
    """Time of one batch, and of a home page of twenty with all their sentences."""
    hens, quail = asker("speckled-hens", 2.0), asker("orchard-quail", 0.0)
    voice = Voice(zone=demo.ZONE, set_at=NOW)

    def page() -> list[str]:
        jobs = merge([each() for each in (hens, quail) for _ in range(10)])
        return [words.say(voice, job).do for job in jobs]

    return [
        Row("jobs of the day, hens in lockdown", best(hens, 20), 0.005, "s"),
        Row("jobs of the day, quail after the hatch", best(quail, 20), 0.005, "s"),
        Row("jobs of twenty batches, with their words", best(page, 5), 0.060, "s"),
    ]
