"""The jobs of a batch for tests: assessed as of a moment and asked for, with rows or parts of the answers replaced."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import cache
from typing import Any

from chalaza import facts
from chalaza.assess import assess, prior_beliefs
from chalaza.decide.today import Job, today
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Basis, Estimate
from chalaza.values.evidence import Evidence
from factory import DAY_S, HOUR_S, SET_AT, make_evidence

BASIS = Basis("exposure")
USUAL = make_evidence()


@cache
def usual(now: int) -> Assessment:
    """The small batch of the factory as of `now`."""
    return assess(prior_beliefs("chicken"), USUAL, now)


def at(days: float) -> int:
    """A moment so many days after setting."""
    return SET_AT + round(days * DAY_S)


def moment(days: float, half_h: float = 0.0) -> Estimate:
    """A moment about so many days after setting, with its doubt."""
    middle = float(at(days))
    return Estimate(middle, middle - half_h * HOUR_S, middle + half_h * HOUR_S, "epoch_s", BASIS)


def clocked(a: Assessment, **changes: Any) -> Assessment:
    """The assessment with parts of its clock replaced."""
    return replace(a, clock=replace(a.clock, **changes))


def without(a: Assessment, *codes: str) -> Assessment:
    """The assessment without some of its advice."""
    return replace(a, advice=tuple(one for one in a.advice if one.code not in codes))


def of(
    evidence: Evidence,
    now: int,
    a: Assessment | None = None,
    *,
    done: Mapping[str, int] | None = None,
    silenced: Iterable[tuple[str, str]] = (),
    zone: str | None = None,
    later: bool = False,
) -> tuple[Job, ...]:
    """The jobs of a batch as of `now`; assessed afresh where no assessment is given."""
    one = evidence
    return today(
        a if a is not None else assess(prior_beliefs(one.batch.kind), one, now),
        bird=facts.kind(one.batch.kind), batch=one.batch, eggs=one.eggs, weighings=one.weighings,
        air_cells=one.air_cells, candlings=one.candlings, hatches=one.hatches, breakouts=one.breakouts,
        stays=one.stays, events=(*one.setting.events, *one.events), done=done or {}, silenced=tuple(silenced), now=now,
        zone=zone or one.batch.zone, later=later,
    )  # fmt: skip


def named(jobs: Iterable[Job]) -> dict[str, Job]:
    """The jobs by what they are about and their number: the key without the batch."""
    return {job.key.split("/", 1)[1]: job for job in jobs}
