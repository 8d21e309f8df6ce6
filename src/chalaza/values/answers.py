"""What an assessment says: frozen, made of estimates and advice, without arrays and without prose.

Curves are not in it: `charts` draws them from what `understand` gives.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from chalaza.values.advice import Advice
from chalaza.values.estimate import Band, Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class StageDose:
    """Degree-hours of the shell beyond a limit in one third of the term."""

    stage: str
    above: Estimate
    below: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class SpellSeen:
    """A stretch beyond a limit. `sort`: "warm", "cold", or "air" for a spike the shell did not follow."""

    sort: str
    start: Estimate
    length_h: float
    air: Estimate
    shell: Estimate
    dose: Estimate


@dataclass(frozen=True, slots=True, kw_only=True)
class Odds:
    """Survival of a spell, relative to none, as odds from a table; `regime` is "spell" or "sustained". No number of dead."""

    regime: str
    survival: Estimate
    candle_after_d: tuple[float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Warmth:
    """Are the embryos as warm as they should be?

    Means since setting; `shell_now` over the last day, `shell_latest` and `reading_latest` over the last hour; `wanted` and
    `wanted_now` are this kind's normal course over the same stretches; `limit`: shell of sustained heat [°C].
    """

    reading: Estimate
    air: Estimate
    shell: Estimate
    centre: Estimate
    shell_now: Estimate
    shell_latest: Estimate
    reading_latest: Estimate
    wanted: Band
    wanted_now: Band
    limit: float
    limit_reading: Estimate
    doses: tuple[StageDose, ...]
    spells: tuple[SpellSeen, ...]
    odds: tuple[Odds, ...]
    delay_h: Estimate
    drift: Estimate | None
    drifting: bool
    swing: Estimate | None
    swing_with_room: bool
    covered: float
    gaps: tuple[tuple[float, float], ...]
    set_aside: Mapping[str, Mapping[str, int]]
    still: bool
    height_unknown: bool
    probe: str | None
    probe_checked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class EggLoss:
    """One egg's water: loss now and at the target's day, and how far its shell is from the others'."""

    uid: str
    label: str
    count: int
    loss_now: Estimate
    loss_at_lockdown: Estimate
    robust_z: float
    odd: bool
    outside: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Water:
    """Are the eggs losing the right amount of water? The target belongs to `target_day_d` and to the batch's mean.

    `weighings`: how often eggs were weighed, a tray weighed egg by egg being once; `last_weighed_d`: days since setting.
    """

    loss_now: Estimate
    loss_at_lockdown: Estimate
    wanted: Band
    target_day_d: float
    due: Estimate
    rh_now: Estimate
    rh_to_run: Estimate
    rh_true: Estimate
    reachable: str
    best_rh: Estimate
    loss_at_best: Estimate
    conductance: Estimate
    spread: Estimate
    eggs: tuple[EggLoss, ...]
    weighed: int
    weighings: int
    last_weighed_d: float | None
    marks: int
    planned: bool
    left_out: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Clock:
    """How far on are they, and when will they hatch? Moments in epoch_s; `usual` is this kind's own window."""

    age_d: Estimate
    behind_h: Estimate
    stop_turning: Estimate
    internal_pip: Estimate
    first_pip: Estimate
    half_hatched: Estimate
    last_hatch: Estimate
    usual: Band
    day: float
    term_d: float
    seen: int
    watched: bool
    probe_share_h: float


@dataclass(frozen=True, slots=True, kw_only=True)
class EggOdds:
    """How likely one egg is alive."""

    uid: str
    label: str
    count: int
    alive: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """How many are alive, how many will hatch? `stages`: expected eggs of those set lost by stage."""

    set: int
    fertile: Estimate
    alive: Estimate
    expected_young: Estimate
    out: int
    fertility: Estimate
    stages: Mapping[str, Estimate]
    eggs: tuple[EggOdds, ...]
    looks: int
    last_look_d: float | None
    wanted_young: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """A check that can be done now: minutes of work and what it would narrow. `score` ranks it."""

    code: str
    minutes: float
    hatch_before_h: float
    hatch_after_h: float
    loss_before: float
    loss_after: float
    young_before: float
    young_after: float
    score: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """The four answers, what to do, and what to measure next, as of one moment."""

    batch: str
    name: str
    kind: str
    kind_name: str
    zone: str
    set_at: int
    as_of: int
    warmth: Warmth
    water: Water
    clock: Clock
    count: Count
    advice: tuple[Advice, ...]
    measure_next: tuple[Offer, ...]
