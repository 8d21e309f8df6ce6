"""Advice that asks for an act, as jobs of the day; the check worth making next; and what is best left alone.

Every code of `advise` stands in exactly one of the sets below, so that a new one cannot be forgotten. What is asked
again every day is numbered by the day since setting; a tick or a record of the act quiets it for some hours.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from chalaza.decide.job import HOUR_S, Day, Job, earliest, says
from chalaza.decide.measure import MINUTES
from chalaza.values.advice import Advice, Level
from chalaza.values.answers import Offer
from chalaza.values.evidence import EventSort


@dataclass(frozen=True, slots=True)
class Ask:
    """How an advice becomes a job: what it is about, the form that serves it, for how long a tick or a record of the
    act quiets it [h], and the events that are such a record."""

    what: str
    form: str
    quiet_h: float
    records: tuple[EventSort, ...] = ()


_DIAL = Ask("dial", "event:set_point", 24.0, (EventSort.SET_POINT,))
_HUMIDITY = Ask("humidity", "event:water", 24.0, (EventSort.WATER, EventSort.VENTS))
#: Hours for which a tick quiets. An alarm only for one: who ticks it and is wrong must hear it again. Judgement.
ASKS: Mapping[str, Ask] = MappingProxyType(
    {
        "warmth.too_hot": Ask("heat_off", "", 1.0),
        "warmth.too_cold": Ask("heat_on", "", 1.0),
        "warmth.still_high": replace(_DIAL, quiet_h=12.0),
        "warmth.step_down": _DIAL,
        "warmth.step_up": _DIAL,
        "warmth.tell_height": Ask("height", "mount", 72.0),
        "warmth.drifting": Ask("room", "", 72.0),
        "water.raise": _HUMIDITY,
        "water.lower": _HUMIDITY,
        "water.not_all": _HUMIDITY,
    }
)
#: Advice that a job of the plan, or another line of this module, already says.
PLANNED = frozenset(
    {
        "warmth.check_first", "warmth.candle_after_spell", "warmth.candle_after_heat", "water.odd_egg",
        "water.start_and_weigh", "water.weigh_first", "water.weigh_now", "water.weigh_rest", "clock.stop_turning",
        "clock.stop_turning_now", "clock.wait", "clock.overdue", "clock.over", "count.candle", "count.leave_unsure",
    }
)  # fmt: skip
#: "Leave the dial alone", the one that explains most first.
LEAVE = ("warmth.warming_up", "warmth.air_spike", "warmth.leave_unchecked", "warmth.leave", "warmth.right")
#: Advice that asks for nothing on a given day: the batch page says it.
QUIET = frozenset(
    {
        "warmth.gaps", "warmth.no_log", "water.left_out", "water.lockdown_right", "water.lockdown_past", "water.right",
        "clock.keep_turning", "clock.expect", "count.short", "count.expect",
    }
)  # fmt: skip

#: A check that would take less than this share off every width is not worth a line. Judgement.
_WORTH = 0.05
#: A check is asked for again after a week, an odd egg likewise. [h]
_WEEK_H = 168.0
#: A check is not offered where the plan has it within this, nor a weighing this soon after setting. [h]; judgement.
_SOON_H = 72.0
#: After a weighing nothing is gained by another for so long. [h]; as `measure` has it.
_WEIGHED_H = 48.0


def asked(day: Day, planned: Iterable[Job]) -> list[Job]:
    """The advice that asks for an act of its own."""
    if not day.running:
        return []
    jobs = [_ask(day, one, ASKS[one.code]) for one in day.a.advice if one.code in ASKS]
    return [*jobs, *_odd_eggs(day), *_weigh_rest(day, planned)]


def _ask(day: Day, advice: Advice, ask: Ask) -> Job:
    since = day.now - ask.quiet_h * HOUR_S
    done = earliest(day.tick_within(ask.what, ask.quiet_h), day.first_event(*ask.records, since=since))
    due = day.now if advice.level is Level.NOW else day.tonight
    return day.job(ask.what, day.number, advice, due, form=ask.form, done_at=done)


def _odd_eggs(day: Day) -> list[Job]:
    """One line for all eggs that lose water unlike the others; weighing any egg since quiets it for two days."""
    odd = [one for one in day.a.water.eggs if one.odd]
    if day.advised("water.odd_egg") is None or not odd:
        return []
    labels = ", ".join(one.label for one in odd[:8])
    worst = max(odd, key=lambda one: abs(one.robust_z)).robust_z
    said = says("job.odd_eggs", Level.WATCH, "meir-1984", n=len(odd), eggs=labels, z=worst)
    done = earliest(day.tick_within("odd", _WEEK_H), _weighed(day))
    minutes = MINUTES["weigh_all"] * len(odd) / 12.0
    return [day.job("odd", day.number, said, day.tonight, minutes=minutes, form="weigh", done_at=done)]


def _weighed(day: Day) -> int | None:
    """When the eggs were last weighed, if that is not long ago."""
    return max((row.at for row in day.weighings if row.at > day.now - _WEIGHED_H * HOUR_S), default=None)


def _weigh_rest(day: Day, planned: Iterable[Job]) -> list[Job]:
    """The loss is known too loosely to act on: weigh beside the plan, unless the plan has it today or tomorrow."""
    said = day.advised("water.weigh_rest")
    if said is None or any(one.what == "weigh" and not one.done and one.due < day.end_of_tomorrow for one in planned):
        return []
    done = earliest(day.tick_within("weigh_rest", _WEIGHED_H), _weighed(day))
    minutes = MINUTES["weigh_all"] * max(day.left, 1) / 12.0
    return [day.job("weigh_rest", day.number, said, day.tonight, minutes=minutes, form="weigh", done_at=done)]


# the check worth making next ------------------------------------------------------------------------------------------


def check(day: Day, planned: Iterable[Job]) -> list[Job]:
    """The check that would narrow most, as one line; or the check without which the dial must not be touched.

    Weighing and candling are not offered where a session of the plan is open or comes soon.
    """
    if not day.running or day.now >= day.lid_shut or day.a.clock.seen:
        return []
    forced = day.advised("warmth.check_first")
    offers = [one for one in day.a.measure_next if _narrows(one) is not None]
    if forced is not None:
        best = next((one.code for one in offers if one.code in ("ice", "compare")), "compare")
        return [_line(day, forced, f"check:{best}", MINUTES[best], quiet_h=24.0)]
    taken = {one.form for one in planned if not one.done and one.due < day.now + _SOON_H * HOUR_S}
    taken |= {"weigh"} if day.now < day.batch.set_at + _SOON_H * HOUR_S else set()
    best_left = next((one for one in offers if _form(one) not in taken), None)
    if best_left is None:
        return []
    return [_line(day, _offered(best_left), _form(best_left), best_left.minutes, quiet_h=_WEEK_H)]


def _line(day: Day, said: Advice, form: str, minutes: float, *, quiet_h: float) -> Job:
    done = day.tick_within("check", quiet_h)
    return day.job("check", day.number, said, day.tonight, minutes=minutes, form=form, done_at=done)


def _form(offer: Offer) -> str:
    plain = {"weigh_all": "weigh", "weigh_three": "weigh", "candle": "candle"}
    return plain.get(offer.code, f"check:{offer.code}")


def _narrows(offer: Offer) -> str | None:
    """The width that would shrink most of its size; None where none would by enough."""
    widths = {
        "hatch": (offer.hatch_before_h, offer.hatch_after_h),
        "loss": (offer.loss_before, offer.loss_after),
        "young": (offer.young_before, offer.young_after),
    }
    shares = {name: (before - after) / before for name, (before, after) in widths.items() if before > 0}
    best = max(shares, key=lambda name: shares[name], default=None)
    return best if best is not None and shares[best] >= _WORTH else None


def _offered(offer: Offer) -> Advice:
    code = f"job.{offer.code}"
    match _narrows(offer):
        case "hatch":
            before, after = offer.hatch_before_h, offer.hatch_after_h
            return says(f"{code}.hatch", Level.WATCH, "judgement", hatch_before=before, hatch_after=after)
        case "loss":
            before, after = offer.loss_before, offer.loss_after
            return says(f"{code}.loss", Level.WATCH, "judgement", loss_before=before, loss_after=after)
        case _:
            before, after = offer.young_before, offer.young_after
            return says(f"{code}.young", Level.WATCH, "judgement", young_before=before, young_after=after)


# what is best left alone ----------------------------------------------------------------------------------------------


def leave(day: Day) -> list[Job]:
    """The dial, where the assessment says to leave it alone."""
    given = {one.code: one for one in day.a.advice}
    if not day.running or not any(code in given for code in LEAVE if code != "warmth.air_spike"):
        return []
    said = next(given[code] for code in LEAVE if code in given)
    return [day.job("leave", day.number, said, day.end - 1, until=day.end)]
