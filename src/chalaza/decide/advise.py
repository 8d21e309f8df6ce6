"""Advice from the four answers: codes, how much they ask, and the figures their sentences need.

Two rules keep it harmless. A set point is touched in small steps and only after the probe was checked; and an egg is
never given up on one look, one chill or one hot spell: the advice is then to candle in some days.
"""

from collections.abc import Iterable

from chalaza.facts import Kind
from chalaza.values.advice import Advice, Level
from chalaza.values.answers import Clock, Count, Warmth, Water
from chalaza.values.estimate import Basis, Estimate, Figure, Figures, figures
from chalaza.values.evidence import Event, EventSort

_DAY_S = 86400.0
#: The second weighing is due this share of the term after the first: five days of a hen's. Judgement.
_WEIGH_AFTER = 5.0 / 21.0
#: A change of humidity smaller than this is not worth a hand in the box. [1]; judgement.
_RH_STEP = 0.03
#: Half-width of the humidity to run beyond which more eggs must be weighed first (worked example W2). [1]
_RH_SURE = 0.06
#: The set point is moved by no more than this at a time. [K]; common practice.
_STEP_K = 0.2
#: A mean loss this far outside the band asks for action; less is shallow. [1] van-der-pol-2013: 3 points cost 2.9.
_FAR = 0.01
#: Egg tops in still air: warn and alarm. [°C] 103 °F as printed (msu-factors); 40 °C judgement.
_STILL_WARN, _STILL_ALARM = 39.4, 40.0
#: Shell beyond the limit of sustained heat by this, or under the normal course by that, is for now. [K]; judgement.
_HARM_K, _COLD_K = 0.5, 1.5
#: Eggs that went in cold are at temperature after half a day; before that no verdict is given. [d]
_WARM_UP_D = 0.5


def turning_stopped(events: Iterable[Event], now: int) -> bool:
    """Whether turning has been stopped."""
    return any(one.sort is EventSort.TURNING_STOPPED and one.at <= now for one in events)


def advise(
    warmth: Warmth,
    water: Water,
    clock: Clock,
    count: Count,
    kind: Kind,
    *,
    now: int,
    set_at: int,
    turning_stopped: bool,
) -> tuple[Advice, ...]:
    """All advice, most urgent first."""
    found = [
        *_warmth(warmth, clock, now),
        *_water(water, clock, kind),
        *_clock(clock, now, turning_stopped),
        *([] if now > clock.last_hatch.high else _count(count, clock, kind, now, set_at)),
    ]
    return tuple(sorted(found, key=lambda one: -one.level))


def _give(code: str, level: Level, source: str, **items: Figure) -> Advice:
    found: Figures = figures(**items)
    return Advice(code, level, found, source)


def _warmth(w: Warmth, clock: Clock, now: int) -> list[Advice]:
    source = w.wanted.source
    out: list[Advice] = []
    over = now > clock.last_hatch.high
    if not over:
        out.append(_level(w, clock, source))
    if w.still and w.height_unknown and not over:
        out.append(_give("warmth.tell_height", Level.WATCH, source, reading=w.reading, shell=w.shell))
    for one in w.odds:
        code = "warmth.candle_after_spell" if one.regime == "spell" else "warmth.candle_after_heat"
        first, last = one.candle_after_d
        if not over:
            out.append(_give(code, Level.WATCH, source, survival=one.survival, first_d=first, last_d=last))
    spike = next((one for one in w.spells if one.sort == "air"), None)
    if spike is not None and not over:
        out.append(_give("warmth.air_spike", Level.GOOD, source, air=spike.air, shell=spike.shell, start=spike.start))
    if w.drifting and w.drift is not None and not over:
        out.append(_give("warmth.drifting", Level.WATCH, "iso-7870-6", drift=w.drift))
    if w.covered < 0.98 and w.gaps and not over:
        hours = sum(end - start for start, end in w.gaps) / 3600.0
        if w.covered > 0.0:
            out.append(_give("warmth.gaps", Level.WATCH, "practice", hours=hours, gaps=len(w.gaps)))
        else:
            out.append(_give("warmth.no_log", Level.WATCH, "practice", hours=hours))
    return out


def _level(w: Warmth, clock: Clock, source: str) -> Advice:
    """The last hour against what does harm, then the mean of the last day against what is wanted, with its doubt."""
    now, latest, band = w.shell_now, w.shell_latest, w.wanted_now
    if latest.low > w.limit + _HARM_K or (w.still and w.reading_latest.value > _STILL_ALARM):
        return _give("warmth.too_hot", Level.NOW, source, shell=latest, reading=w.reading_latest, limit=w.limit_reading)
    if clock.day < _WARM_UP_D:
        return _give("warmth.warming_up", Level.GOOD, source, shell=latest, low=band.low, high=band.high)
    if latest.high < band.low - _COLD_K:
        return _give("warmth.too_cold", Level.NOW, source, shell=latest, reading=w.reading_latest, low=band.low)
    if w.still and w.reading_latest.value > _STILL_WARN:
        return _give("warmth.still_high", Level.ACT, source, reading=w.reading_latest, warn=_STILL_WARN, shell=now)
    if band.low <= now.value <= band.high:
        return _give("warmth.right", Level.GOOD, source, shell=now, low=band.low, high=band.high)
    if now.low <= band.high and now.high >= band.low:
        code = "warmth.leave" if w.probe_checked else "warmth.leave_unchecked"
        return _give(code, Level.WATCH, source, shell=now, low=band.low, high=band.high)
    if not w.probe_checked:
        return _give("warmth.check_first", Level.ACT, source, shell=now, low=band.low, high=band.high)
    step = min(_STEP_K, abs(now.value - band.typical))
    code = "warmth.step_down" if now.value > band.high else "warmth.step_up"
    return _give(code, Level.ACT, source, shell=now, step=step, low=band.low, high=band.high)


def _water(w: Water, clock: Clock, kind: Kind) -> list[Advice]:
    source = w.wanted.source
    out: list[Advice] = []
    common: dict[str, Figure] = {
        "loss": w.loss_at_lockdown,
        "now": w.loss_now,
        "low": w.wanted.low,
        "high": w.wanted.high,
    }
    if w.reachable == "past":
        inside = w.wanted.low <= w.loss_now.value <= w.wanted.high
        out.append(_give("water.lockdown_right" if inside else "water.lockdown_past", Level.GOOD, source, **common))
        return out
    for one in (each for each in w.eggs if each.odd):
        out.append(_give("water.odd_egg", Level.WATCH, "meir-1984", egg=one.label, loss=one.loss_now, z=one.robust_z))
    if w.left_out:
        out.append(_give("water.left_out", Level.WATCH, "practice", n=len(w.left_out)))
    if w.weighings < 2 and w.marks == 0:
        return [*out, _weigh(w, clock, kind, common)]
    if w.rh_to_run.half_width > _RH_SURE and not w.wanted.low <= w.loss_at_lockdown.value <= w.wanted.high:
        out.append(_give("water.weigh_rest", Level.WATCH, source, rh=w.rh_to_run, **common))
        return out
    out.append(_run(w, source, common))
    return out


def _weigh(w: Water, clock: Clock, kind: Kind, common: dict[str, Figure]) -> Advice:
    """Before the second weighing: when it is due, some days after the first. Weighed late, the first is a beginning."""
    due = (w.last_weighed_d or 0.0) + kind.term_d.typical * _WEIGH_AFTER
    late = "water.weigh_now" if w.weighings else "water.weigh_first"
    code = late if clock.day > due else "water.start_and_weigh"
    when = _at(clock, min(due, w.target_day_d))
    return _give(code, Level.WATCH, w.wanted.source, rh=kind.rh_setting.typical, when=when, **common)


def _run(w: Water, source: str, common: dict[str, Figure]) -> Advice:
    loss, low, high = w.loss_at_lockdown.value, w.wanted.low, w.wanted.high
    change = w.rh_to_run.value - w.rh_now.value
    if low <= loss <= high or abs(change) < _RH_STEP:
        return _give("water.right", Level.GOOD, source, rh_now=w.rh_now, **common)
    far = max(low - loss, loss - high)
    level = Level.ACT if far > _FAR else Level.WATCH
    if w.reachable == "no":
        return _give("water.not_all", level, source, rh=w.best_rh, best=w.loss_at_best, rh_now=w.rh_now, **common)
    rh = w.rh_to_run if w.reachable == "yes" else w.best_rh
    code = "water.raise" if change > 0 else "water.lower"
    return _give(code, level, source, rh=rh, rh_now=w.rh_now, **common)


def _at(clock: Clock, day: float) -> Estimate:
    start = clock.usual.typical - clock.term_d * _DAY_S
    moment = start + day * _DAY_S
    return Estimate(moment, moment, moment, "epoch_s", Basis("plan"))


def _clock(c: Clock, now: int, stopped: bool) -> list[Advice]:
    source = c.usual.source
    due, pip = c.stop_turning, c.internal_pip
    out: list[Advice] = []
    over = now > c.last_hatch.high
    if not stopped and c.seen == 0 and not over:
        if now > pip.low:
            out.append(_give("clock.stop_turning_now", Level.NOW, "elibol-brake-2006", stop=due, pip=pip))
        elif now > due.low:
            out.append(_give("clock.stop_turning", Level.ACT, "elibol-brake-2006", stop=due, pip=pip))
        else:
            out.append(_give("clock.keep_turning", Level.GOOD, "elibol-brake-2006", stop=due, pip=pip))
    if over and c.seen == 0:
        out.append(_give("clock.overdue", Level.WATCH, source, half=c.half_hatched, last=c.last_hatch))
    elif over:
        out.append(_give("clock.over", Level.GOOD, source, last=c.last_hatch))
    elif now > c.first_pip.low:
        out.append(_give("clock.wait", Level.GOOD, source, first=c.first_pip, half=c.half_hatched, last=c.last_hatch))
    else:
        out.append(_give("clock.expect", Level.GOOD, source, half=c.half_hatched, behind=c.behind_h))
    return out


def _count(c: Count, clock: Clock, kind: Kind, now: int, set_at: int) -> list[Advice]:
    source = "practice"
    out: list[Advice] = []
    common: dict[str, Figure] = {"young": c.expected_young, "set": c.set}
    due = [day for day in kind.candle_d if day <= clock.day + 0.25 and day < kind.stop_turning_d.typical + 0.5]
    if (
        due
        and (c.last_look_d is None or c.last_look_d < due[-1] - 2.0)
        and clock.day < kind.stop_turning_d.typical + 1.0
    ):
        out.append(_give("count.candle", Level.WATCH, source, day=due[-1], alive=c.alive, **common))
    unsure = [one for one in c.eggs if 0.1 < one.alive < 0.9]
    if unsure and c.looks and clock.day <= kind.stop_turning_d.typical:
        labels = ", ".join(one.label for one in unsure[:8])
        n = sum(one.count for one in unsure)
        out.append(_give("count.leave_unsure", Level.WATCH, source, eggs=labels, n=n, **common))
    if c.wanted_young is not None and c.expected_young.high < c.wanted_young:
        out.append(_give("count.short", Level.WATCH, source, wanted=c.wanted_young, **common))
    elif not out:
        out.append(_give("count.expect", Level.GOOD, source, **common))
    return out
