"""Rows of the batch as the fit sees them: eggs as units, weighings as loads, looks under the lamp as groups.

Moments become hours since setting; what came after the moment of the assessment is not seen; what cannot be used is
left out with a reason that the answers show.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, log, sqrt

import numpy as np

from chalaza.facts import Kind
from chalaza.inference import clock, count
from chalaza.inference.unknowns import Prior
from chalaza.inference.water import EggUnit, Load, Mark, mass_key, session_key
from chalaza.physics import egg
from chalaza.values.beliefs import Belief, Key
from chalaza.values.estimate import Z90
from chalaza.values.evidence import (
    AirCellMark,
    Breakout,
    Candling,
    Egg,
    Event,
    EventSort,
    Hatch,
    HatchStage,
    Shell,
    Weighing,
)

HOUR_S = 3600.0
#: After misting an egg carries water on its shell for hours; a weighing then says nothing. Judgement.
_WET_H = 6.0
#: Day of a 21-day term from which the lamp tells anything; before it a finding is not used.
_FIRST_LOOK = 4.0
_SIZE_DOUBT = 0.04
#: Breadth over length of an egg: outside this the two were not measured on one.
_ROUND = (0.45, 0.98)
#: An egg on the scale is not lighter or heavier than these multiples of what its kind is known with.
_LIGHT, _HEAVY = 0.4, 2.0
#: Eggs on the scale gain by no more than this, whatever scale they lie on: more is another load. Judgement.
_GAIN = 0.03
#: Looking for the longest run takes the square of their number.
_MOST_WEIGHED = 5000
#: Findings of a group within so many hours are one look at it, and weighings one weighing. Judgement.
_ONE_LOOK_H = 12.0
_FINDINGS = ("live", "unsure", "clear", "dead")


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """Everything the fit takes from the batch's own rows; `left_out` names weighings not used and why."""

    units: Mapping[str, EggUnit]
    loads: tuple[Load, ...]
    marks: tuple[Mark, ...]
    mass_priors: tuple[Prior, ...]
    session_priors: tuple[Prior, ...]
    left_out: tuple[tuple[str, str], ...]
    total: int
    mean_mass_g: float


def gather(
    eggs: Sequence[Egg],
    weighings: Sequence[Weighing],
    marks: Sequence[AirCellMark],
    events: Iterable[Event],
    kind: Kind,
    *,
    set_at: int,
    now: int,
) -> Rows:
    """Units, loads and marks up to `now`, with the beliefs about masses and scales that go with them."""
    wet = [one.at for one in events if one.sort is EventSort.MISTED]
    counts = {one.uid: one.count for one in eggs}
    left_out: list[tuple[str, str]] = []
    used: list[tuple[Weighing, tuple[str, ...]]] = []
    for one in sorted(weighings, key=lambda w: (w.at, w.uid)):
        if one.at > now:
            continue
        if any(0 <= one.at - mist <= _WET_H * HOUR_S for mist in wet):
            left_out.append((one.uid, "wet"))
            continue
        names = _on_scale(one, eggs)
        if reason := _not_eggs(one, sum(counts[name] for name in names), kind):
            left_out.append((one.uid, reason))
        else:
            used.append((one, names))
    gains = _gains(used)
    left_out += [(uid, "gain") for uid in gains]
    used = [(one, names) for one, names in used if one.uid not in gains]
    seen = [one for one in marks if one.at <= now and one.egg in counts]
    total = sum(one.count for one in eggs)
    alone = {names[0] for _, names in used if len(names) == 1} | {one.egg for one in seen}
    units = {one.uid: _unit(one, kind, deviates=one.uid in alone and one.count < total) for one in eggs}
    loads = tuple(_load(one, names, set_at) for one, names in used)
    needed = {uid for load in loads for uid in load.units} | {one.egg for one in seen}
    sessions = {load.session: one.resolution_g for load, (one, _) in zip(loads, used, strict=True)}
    return Rows(
        units=units,
        loads=loads,
        marks=tuple(_mark(one, units[one.egg], eggs, set_at) for one in seen),
        mass_priors=tuple(_mass_prior(one, units[one.uid], kind) for one in eggs if one.uid in needed),
        session_priors=tuple(Prior(session_key(name), 0.0, 0.5 * step) for name, step in sorted(sessions.items())),
        left_out=tuple(left_out),
        total=total,
        mean_mass_g=_first_mean(used, eggs, kind),
    )


def _on_scale(one: Weighing, eggs: Sequence[Egg]) -> tuple[str, ...]:
    if one.eggs.strip() == "all":
        return tuple(e.uid for e in eggs if e.removed_at is None or e.removed_at > one.at)
    known = {e.uid for e in eggs}
    return tuple(dict.fromkeys(name for name in one.eggs.split() if name in known))


def _not_eggs(one: Weighing, n: int, kind: Kind) -> str:
    """Why what stood on the scale cannot be these eggs, or "" if it can: no eggs, only the tray, or another load."""
    net = one.gross_g - one.tare_g
    if n == 0:
        return "eggs"
    if net <= 0:
        return "tare"
    band = kind.egg_mass_g
    return "" if _LIGHT * band.low <= net / n <= _HEAVY * band.high else "mass"


def _gains(used: Sequence[tuple[Weighing, tuple[str, ...]]]) -> tuple[str, ...]:
    """Weighings (by uid) that do not go with the others of the same eggs: eggs only lose.

    As many are kept as fall from one to the next; of those that fall equally well, the earlier ones.
    """
    series: dict[tuple[str, ...], list[Weighing]] = {}
    for one, names in used:
        series.setdefault(tuple(sorted(names)), []).append(one)
    out: list[str] = []
    for listed in series.values():
        kept = _falling([(one.gross_g - one.tare_g, one.resolution_g) for one in listed])
        out += [one.uid for i, one in enumerate(listed) if i not in kept]
    return tuple(out)


def _falling(weighed: Sequence[tuple[float, float]]) -> frozenset[int]:
    """Places of the longest run of masses (with the scale's step) of which none is above the one before by more than
    scales may err. More of them than anybody weighs are taken as they are."""
    n = len(weighed)
    if n > _MOST_WEIGHED:
        return frozenset(range(n))
    mass, step = np.array(weighed, dtype=np.float64).reshape(n, 2).T
    length, before = np.ones(n, dtype=np.int64), np.full(n, -1)
    for i in range(1, n):
        fits = mass[i] <= mass[:i] * (1.0 + _GAIN) + step[i] + step[:i]
        longest = int(np.argmax(np.where(fits, length[:i], 0)))
        if fits[longest]:
            length[i], before[i] = length[longest] + 1, longest
    at, kept = int(np.argmax(length)) if n else -1, []
    while at >= 0:
        kept.append(at)
        at = int(before[at])
    return frozenset(kept)


def _unit(one: Egg, kind: Kind, *, deviates: bool) -> EggUnit:
    length, breadth = _size(one) or (kind.egg_length_mm.typical, kind.egg_breadth_mm.typical)
    return EggUnit(
        uid=one.uid, label=one.label, count=one.count, deviates=deviates, length_mm=length, breadth_mm=breadth
    )


def _size(one: Egg) -> tuple[float, float] | None:
    """Length and breadth as measured; None where one is missing or the two are not those of an egg."""
    if one.length_mm is None or one.breadth_mm is None:
        return None
    return (one.length_mm, one.breadth_mm) if _ROUND[0] <= one.breadth_mm / one.length_mm <= _ROUND[1] else None


def _load(one: Weighing, names: tuple[str, ...], set_at: int) -> Load:
    rounding = one.resolution_g / sqrt(12.0)
    sd = hypot(rounding, rounding) if one.tare_g > 0 else rounding
    session = one.session or f"at:{one.at}"
    return Load(
        hour=max(0.0, (one.at - set_at) / HOUR_S), units=names, net_g=one.gross_g - one.tare_g, sd_g=sd, session=session
    )


def _mark(one: AirCellMark, unit: EggUnit, eggs: Sequence[Egg], set_at: int) -> Mark:
    dark = next((e.shell for e in eggs if e.uid == one.egg), Shell.LIGHT) is Shell.DARK
    sd = 1.6 if dark else 1.0  # prior air_cell_reading, by shell (memory)
    return Mark(hour=max(0.0, (one.at - set_at) / HOUR_S), unit=unit.uid, depth_mm=one.depth_mm, sd_mm=sd)


def _mass_prior(one: Egg, unit: EggUnit, kind: Kind) -> Prior:
    band = kind.egg_mass_g
    size = _size(one)
    if size is not None:
        mean, sd = log(float(egg.mass_from_size(*size))), _SIZE_DOUBT
    else:
        mean, sd = log(band.typical), 1.5 * (log(band.high) - log(band.low)) / (2.0 * Z90)
    return Prior(mass_key(unit.uid), mean, sd)


def _first_mean(used: Sequence[tuple[Weighing, tuple[str, ...]]], eggs: Sequence[Egg], kind: Kind) -> float:
    """Mean mass of an egg at the first weighing, or of the kind: the size that extra grams are counted from."""
    counts = {one.uid: one.count for one in eggs}
    if not used:
        return kind.egg_mass_g.typical
    first = used[0][0].at
    rows = [(one, names) for one, names in used if one.at - first < 12 * HOUR_S]
    total = sum(counts[uid] for _, names in rows for uid in names)
    mean = sum(one.gross_g - one.tare_g for one, _ in rows) / max(total, 1)
    return float(min(max(mean, 0.5 * kind.egg_mass_g.low), 1.5 * kind.egg_mass_g.high))


def rounds(hours: Iterable[float]) -> int:
    """How often somebody went at it: entries of one round follow each other within hours, each with its own moment."""
    listed = sorted(hours)
    apart = [after - before > _ONE_LOOK_H for before, after in pairwise(listed)]
    return len(listed[:1]) + sum(apart)


def lamp_condition(shell: Shell, hen_day: float) -> str:
    """Which row of the candling beliefs holds at a day of a 21-day term."""
    if hen_day > 16.0:
        return "any_d18"
    if shell is Shell.DARK:
        return "dark_d7" if hen_day <= 8.5 else "dark_d10" if hen_day <= 12.0 else "dark_d14"
    return "light_d6" if hen_day <= 6.5 else "light_d7" if hen_day <= 10.5 else "light_d14"


def look(finding: str, shell: Shell, share: float, beliefs: Mapping[Key, Belief]) -> count.Look | None:
    """One finding as a look, or None where the lamp cannot tell yet."""
    hen_day = 21.0 * share
    if hen_day < _FIRST_LOOK:
        return None
    row = f"lamp:{lamp_condition(shell, hen_day)}"
    chances = tuple(beliefs[row, f"{finding}_if_{truth}"].a for truth in ("alive", "dead", "infertile"))
    return count.Look(share, (chances[0], chances[1], chances[2]), finding == "unsure")


def groups(
    eggs: Sequence[Egg],
    candlings: Sequence[Candling],
    hatches: Sequence[Hatch],
    breakouts: Sequence[Breakout],
    beliefs: Mapping[Key, Belief],
    *,
    set_at: int,
    now: int,
    term_h: float,
) -> tuple[tuple[str, count.Group], ...]:
    """Eggs with like findings and fate, each under the uid of its row.

    Of a counted group only its latest look counts, since nobody knows which egg is which. Young that came out or pipped
    without a name are taken from the eggs whose looks promised most.
    """
    out = [one for one in hatches if one.stage is HatchStage.OUT and one.at <= now]
    pipped = [one for one in hatches if one.stage is HatchStage.PIPPED and one.at <= now]
    opened = [one for one in breakouts if one.at <= now]
    rows: list[tuple[str, count.Group]] = []
    for one in eggs:
        mine = [c for c in candlings if c.egg == one.uid and c.at <= now]
        gone = one.removed_at is not None and one.removed_at <= now
        own = [(one.uid, group) for group in _looked(one, mine, beliefs, set_at, term_h, gone)]
        hatched, beaks = _named(out, one.uid), _named(pipped, one.uid)
        own = _assign(own, hatched, hatched=True)
        for found in (each for each in opened if each.egg == one.uid):
            own = _assign(own, found.count, opened=found.stage.value)
        rows += _assign(own, beaks - hatched, pipped=True)
    rows = _assign(rows, _nameless(out), hatched=True)
    for found in (each for each in opened if not each.egg):
        rows = _assign(rows, found.count, opened=found.stage.value)
    return tuple(_assign(rows, _nameless(pipped) - _nameless(out), pipped=True))


def _named(hatches: Iterable[Hatch], uid: str) -> int:
    return sum(one.count for one in hatches if one.egg == uid)


def _nameless(hatches: Iterable[Hatch]) -> int:
    return sum(one.count for one in hatches if not one.egg)


def _looked(
    one: Egg, mine: Sequence[Candling], beliefs: Mapping[Key, Belief], set_at: int, term_h: float, gone: bool
) -> list[count.Group]:
    if one.count == 1:
        looks = [
            look(c.finding.value, one.shell, (c.at - set_at) / HOUR_S / term_h, beliefs)
            for c in sorted(mine, key=lambda c: (c.at, c.uid))
        ]
        return [count.Group(1, tuple(each for each in looks if each is not None), removed=gone)]
    last = max((c.at for c in mine), default=None)
    out: list[count.Group] = []
    left = one.count
    for c in (c for c in mine if last is not None and c.at > last - _ONE_LOOK_H * HOUR_S):
        seen = look(c.finding.value, one.shell, (c.at - set_at) / HOUR_S / term_h, beliefs)
        n = min(c.count, left)
        left -= n
        if n > 0:
            out.append(count.Group(n, () if seen is None else (seen,), removed=gone))
    if left > 0:
        out.append(count.Group(left, (), removed=gone))
    return out


def _promise(group: count.Group) -> float:
    odds = 1.0
    for one in group.looks:
        odds *= one.likelihood[0] / max(one.likelihood[1] + one.likelihood[2], 1e-9)
    return odds


def _assign(
    rows: list[tuple[str, count.Group]],
    n: int,
    *,
    hatched: bool = False,
    pipped: bool = False,
    opened: str | None = None,
) -> list[tuple[str, count.Group]]:
    """Give `n` eggs without a known fate one: best promise first for young; for opened eggs those taken out before, then
    the worst promise."""
    order = sorted(
        (i for i, (_, g) in enumerate(rows) if not (g.hatched or g.pipped or g.opened) and (opened or not g.removed)),
        key=lambda i: (not rows[i][1].removed, _promise(rows[i][1]) if opened else -_promise(rows[i][1]), i),
    )
    out = list(rows)
    for i in order:
        if n <= 0:
            break
        uid, group = out[i]
        take = min(n, group.count)
        n -= take
        looks = () if hatched else group.looks
        out[i] = (uid, count.Group(take, looks, hatched=hatched, opened=opened, pipped=pipped))
        if take < group.count:
            out.append((uid, count.Group(group.count - take, group.looks, removed=group.removed)))
    return out


def hatch_looks(hatches: Sequence[Hatch], set_at: int, now: int) -> tuple[tuple[clock.Look, ...], float | None]:
    """Young seen, as looks between hours since setting, and the last hour somebody looked (None: nobody did).

    Young out count as such; pips count only where more have pipped than are out. A row with count 0 says that somebody
    looked and saw none.
    """
    rows = sorted((one for one in hatches if one.at <= now), key=lambda one: (one.at, one.uid))
    if not rows:
        return (), None
    out: list[clock.Look] = []
    previous: dict[HatchStage, float] = {}
    totals = {HatchStage.OUT: 0, HatchStage.PIPPED: 0}
    for one in rows:
        hour = (one.at - set_at) / HOUR_S
        before = (one.looked_before - set_at) / HOUR_S if one.looked_before is not None else None
        after = before if before is not None else previous.get(one.stage, hour - 24.0)
        if after >= hour:
            after = hour - 1.0
        if one.count > 0:
            out.append(clock.Look(one.count, after, hour, one.stage is HatchStage.PIPPED))
        totals[one.stage] += one.count
        previous[one.stage] = hour
    return _without_double(out, totals), (rows[-1].at - set_at) / HOUR_S


def _without_double(looks: list[clock.Look], totals: Mapping[HatchStage, int]) -> tuple[clock.Look, ...]:
    """Each young once: the earliest pips are those of the young already out."""
    spare = totals[HatchStage.OUT]
    kept: list[clock.Look] = []
    for one in looks:
        if one.pipped:
            drop = min(spare, one.count)
            spare -= drop
            if one.count > drop:
                kept.append(clock.Look(one.count - drop, one.after_h, one.until_h, True))
        else:
            kept.append(one)
    return tuple(kept)
