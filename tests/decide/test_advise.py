"""Advice by situation: what is said, how urgently, and what must never be said.

Situations are an assessment of the small batch of the factory with parts of its answers replaced.
"""

import ast
import inspect
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza import facts
from chalaza.assess import assess, prior_beliefs
from chalaza.decide import advise
from chalaza.values.advice import Advice, Level
from chalaza.values.answers import Assessment, Odds, SpellSeen
from chalaza.values.estimate import Band, Basis, Estimate
from chalaza.values.evidence import Event, EventSort
from factory import DAY_S, HOUR_S, NOW, SET_AT, make_evidence

KIND = facts.kind("chicken")
BASIS = Basis("exposure")
SET_POINT = {"warmth.step_up", "warmth.step_down"}


@cache
def usual() -> Assessment:
    """Ten days in, candled and weighed, probe checked in ice."""
    return assess(prior_beliefs("chicken"), make_evidence(), NOW)


def about(value: float, half: float = 0.0, unit: str = "°C") -> Estimate:
    return Estimate(value, value - half, value + half, unit, BASIS)


def moment(hour: float, half_h: float = 0.0) -> Estimate:
    at = SET_AT + hour * HOUR_S
    return Estimate(at, at - half_h * HOUR_S, at + half_h * HOUR_S, "epoch_s", BASIS)


def say(
    *, warmth=None, water=None, clock=None, count=None, now: float = NOW, stopped: bool = False
) -> dict[str, Advice]:
    """Advice by code, the four answers being those of the usual batch but for what is replaced."""
    a = usual()
    found = advise.advise(
        replace(a.warmth, **(warmth or {})), replace(a.water, **(water or {})), replace(a.clock, **(clock or {})),
        replace(a.count, **(count or {})), KIND, now=int(now), set_at=SET_AT, turning_stopped=stopped,
    )  # fmt: skip
    levels = [one.level for one in found]
    assert levels == sorted(levels, reverse=True)
    assert len({one.code for one in found if one.code != "water.odd_egg"}) == len(
        [o for o in found if o.code != "water.odd_egg"]
    )
    return {one.code: one for one in found}


def shells(value: float, half: float, **more) -> dict:
    """Shell of the last day and hour; the probe shows what fits in a fan box."""
    band = Band(low=37.5, typical=37.8, high=38.1, unit="°C")
    return {
        "shell_now": about(value, half), "shell_latest": about(value, half), "wanted_now": band,
        "reading_latest": about(value - 0.3), "odds": (), "spells": (), "drifting": False, "gaps": (), "covered": 1.0,
        "still": False, "height_unknown": False,
    } | more  # fmt: skip


# --- warmth: the table of situations ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "half", "checked", "code", "level"),
    [
        (37.8, 0.3, True, "warmth.right", Level.GOOD),
        (37.8, 0.9, False, "warmth.right", Level.GOOD),
        (38.3, 0.3, True, "warmth.leave", Level.WATCH),
        (38.3, 0.9, False, "warmth.leave_unchecked", Level.WATCH),
        (37.3, 0.3, True, "warmth.leave", Level.WATCH),
        (38.5, 0.3, True, "warmth.step_down", Level.ACT),
        (37.0, 0.3, True, "warmth.step_up", Level.ACT),
        (38.5, 0.3, False, "warmth.check_first", Level.ACT),
        (37.0, 0.3, False, "warmth.check_first", Level.ACT),
        (34.0, 0.3, True, "warmth.too_cold", Level.NOW),
        (34.0, 0.9, False, "warmth.too_cold", Level.NOW),
        (41.0, 0.3, True, "warmth.too_hot", Level.NOW),
        (41.5, 0.9, False, "warmth.too_hot", Level.NOW),
    ],
)
def test_a_fan_box_by_its_shells(value, half, checked, code, level):
    found = say(warmth=shells(value, half, probe_checked=checked))
    assert [one for one in found if one.startswith("warmth.")] == [code]
    assert found[code].level == level


@given(st.floats(30.0, 45.0), st.floats(0.05, 1.5), st.booleans(), st.booleans())
def test_the_set_point_is_touched_in_small_steps_and_only_after_the_probe_was_checked(value, half, checked, still):
    """Whatever the shells: no step without a check, none over 0.2 K, always towards the band, none inside the doubt."""
    w = shells(value, half, probe_checked=checked, still=still, reading_latest=about(min(value + 0.7, 39.0)))
    found = say(warmth=w)
    steps = SET_POINT & set(found)
    assert len(steps) <= 1
    if not checked:
        assert not steps
    for code in steps:
        assert 0.0 < found[code].figures["step"] <= 0.2
        if code == "warmth.step_down":
            assert value - half > 38.1
        else:
            assert value + half < 37.5
        assert found[code].level == Level.ACT


@given(st.floats(30.0, 45.0), st.floats(0.05, 1.5), st.booleans())
def test_one_verdict_on_warmth_at_a_time(value, half, checked):
    assert (
        len([code for code in say(warmth=shells(value, half, probe_checked=checked)) if code.startswith("warmth.")])
        == 1
    )


@pytest.mark.parametrize(
    ("reading", "code", "level"),
    [
        (38.9, "warmth.right", Level.GOOD),
        (39.4, "warmth.right", Level.GOOD),
        (39.5, "warmth.still_high", Level.ACT),
        (40.0, "warmth.still_high", Level.ACT),
        (40.1, "warmth.too_hot", Level.NOW),
    ],
)
@pytest.mark.parametrize("checked", [True, False])
def test_still_air_has_its_printed_limits(reading, code, level, checked):
    """103 °F = 39.4 °C at the egg tops is the most that is printed for still air (msu-factors); 40 °C is the alarm. They
    are limits of the reading itself, so they hold for an unchecked probe too, and ask only to come back under 39.4."""
    found = say(warmth=shells(37.8, 0.7, still=True, probe_checked=checked, reading_latest=about(reading)))
    assert [one for one in found if one.startswith("warmth.")] == [code]
    assert found[code].level == level
    assert facts.kind("chicken").temp_still_degc.high == 39.4


def test_the_limits_of_still_air_are_not_those_of_a_fan_box():
    found = say(warmth=shells(37.8, 0.7, still=False, reading_latest=about(39.5)))
    assert "warmth.still_high" not in found


def test_a_still_box_is_asked_for_the_height_of_its_probe():
    found = say(warmth=shells(37.8, 1.2, still=True, height_unknown=True, reading_latest=about(38.9)))
    assert found["warmth.tell_height"].level == Level.WATCH
    assert "warmth.tell_height" not in say(warmth=shells(37.8, 1.2, height_unknown=True))


def test_eggs_that_went_in_cold_are_given_half_a_day():
    cold = shells(28.0, 0.3, probe_checked=True)
    found = say(warmth=cold, clock={"day": 0.3})
    assert found["warmth.warming_up"].level == Level.GOOD
    assert "warmth.too_cold" not in found
    assert "warmth.too_cold" in say(warmth=cold, clock={"day": 0.6})
    assert "warmth.too_hot" in say(warmth=shells(41.0, 0.3), clock={"day": 0.3})


@pytest.mark.parametrize(
    ("regime", "code"), [("spell", "warmth.candle_after_spell"), ("sustained", "warmth.candle_after_heat")]
)
def test_a_hot_or_cold_spell_asks_for_the_lamp_and_gives_no_number_of_dead(regime, code):
    odds = Odds(regime=regime, survival=Estimate(0.6, 0.3, 0.9, "1", BASIS), candle_after_d=(2.0, 4.0))
    found = say(warmth=shells(37.8, 0.3, odds=(odds,)))[code]
    assert found.level == Level.WATCH
    assert set(found.figures) == {"survival", "first_d", "last_d"}
    assert found.figures["survival"].unit == "1"


def test_a_spike_of_the_air_is_no_cause_to_turn_the_dial():
    spike = SpellSeen(
        sort="air",
        start=moment(100),
        length_h=0.1,
        air=about(41.0, 0.5),
        shell=about(38.0, 0.5),
        dose=about(0.1, 0.1, "K h"),
    )
    found = say(warmth=shells(37.8, 0.3, spells=(spike,)))
    assert found["warmth.air_spike"].level == Level.GOOD
    assert not SET_POINT & set(found)


def test_drift_and_gaps_are_told():
    found = say(
        warmth=shells(
            37.8, 0.3, drifting=True, drift=about(0.3, 0.1, "K"), covered=0.9,
            gaps=((float(SET_AT), SET_AT + 3600.0), (SET_AT + 7200.0, SET_AT + 14400.0)),
        )
    )  # fmt: skip
    assert found["warmth.drifting"].level == Level.WATCH
    assert found["warmth.gaps"].figures == {"hours": 3.0, "gaps": 2}
    assert "warmth.gaps" not in say(warmth=shells(37.8, 0.3, covered=0.985, gaps=((0.0, 3600.0),)))


def test_without_any_log_nobody_is_asked_what_happened_in_its_gap():
    found = say(warmth=shells(37.8, 0.3, covered=0.0, gaps=((float(SET_AT), SET_AT + 86_400.0),)))
    assert found["warmth.no_log"].figures == {"hours": 24.0}
    assert "warmth.gaps" not in found


# --- water -----------------------------------------------------------------------------------------------------------


def drying(loss: float, **more) -> dict:
    target = KIND.loss_target
    band = Band(low=target.low, typical=target.typical, high=target.high, unit="1", source=target.source)
    return {
        "loss_at_lockdown": about(loss, 0.005, "1"), "loss_now": about(loss / 2, 0.002, "1"), "wanted": band,
        "rh_now": about(0.50, 0.0, "1"), "rh_to_run": about(0.50, 0.02, "1"), "best_rh": about(0.5, 0.0, "1"),
        "loss_at_best": about(0.12, 0.0, "1"), "reachable": "yes", "marks": 0, "eggs": (),
        "weighings": 3, "last_weighed_d": 9.0, "left_out": (),
    } | more  # fmt: skip


_BEST = about(0.75, 0.0, "1")


@pytest.mark.parametrize(
    ("loss", "more", "code", "level"),
    [
        (0.122, {}, "water.right", Level.GOOD),
        (0.140, {"rh_to_run": about(0.58, 0.02, "1")}, "water.raise", Level.WATCH),
        (0.155, {"rh_to_run": about(0.65, 0.02, "1")}, "water.raise", Level.ACT),
        (0.105, {"rh_to_run": about(0.42, 0.02, "1")}, "water.lower", Level.WATCH),
        (0.090, {"rh_to_run": about(0.30, 0.02, "1")}, "water.lower", Level.ACT),
        (0.136, {"rh_to_run": about(0.52, 0.02, "1")}, "water.right", Level.GOOD),
        (0.155, {"rh_to_run": about(0.65, 0.10, "1")}, "water.weigh_rest", Level.WATCH),
        (0.122, {"rh_to_run": about(0.50, 0.10, "1")}, "water.right", Level.GOOD),
        (0.170, {"rh_to_run": about(0.90, 0.02, "1"), "reachable": "band", "best_rh": _BEST}, "water.raise", Level.ACT),
        (0.190, {"rh_to_run": about(1.00, 0.0, "1"), "reachable": "no", "best_rh": _BEST}, "water.not_all", Level.ACT),
        (0.120, {"reachable": "past"}, "water.lockdown_right", Level.GOOD),
        (0.190, {"reachable": "past"}, "water.lockdown_past", Level.GOOD),
    ],
)  # fmt: skip
def test_water_by_its_loss(loss, more, code, level):
    if more.get("reachable") == "past":
        more = more | {"loss_now": about(loss, 0.003, "1")}
    found = say(water=drying(loss, **more))
    assert [one for one in found if one.startswith("water.")] == [code]
    assert found[code].level == level
    if code == "water.raise":
        assert found[code].figures["rh"].value > found[code].figures["rh_now"].value


@given(st.floats(0.03, 0.25), st.floats(0.0, 1.0), st.floats(0.0, 0.3), st.sampled_from(["yes", "band", "no", "past"]))
def test_humidity_is_never_turned_the_wrong_way(loss, rh, half, reachable):
    """Eggs that dry too fast are never dried further: to raise stands only with more water to run than now."""
    low, high = max(rh - half, 0.0), min(rh + half, 1.0)
    found = say(
        water=drying(
            loss,
            reachable=reachable,
            rh_to_run=Estimate(rh, low, high, "1", BASIS),
            best_rh=about(min(max(rh, 0.2), 0.75), 0, "1"),
        )
    )
    if "water.raise" in found:
        assert rh > 0.53
    if "water.lower" in found:
        assert rh < 0.47
    assert len([code for code in found if code.startswith("water.")]) == 1


@pytest.mark.parametrize(
    ("day", "weighed", "code"),
    [
        (1.0, 0.0, "water.start_and_weigh"),
        (1.0, None, "water.start_and_weigh"),
        (5.1, 0.0, "water.weigh_now"),
        (6.6, None, "water.weigh_first"),
        (6.6, 6.5, "water.start_and_weigh"),
        (11.6, 6.5, "water.weigh_now"),
    ],
)
def test_before_a_second_weighing_nothing_is_changed(day, weighed, code):
    """The kind alone may say 15 %: still the advice is to start at the usual humidity and weigh."""
    more = {"weighings": 0 if weighed is None else 1, "last_weighed_d": weighed, "rh_to_run": about(0.7, 0.02, "1")}
    found = say(water=drying(0.155, **more), clock={"day": day})
    assert code in found
    assert not {"water.raise", "water.lower", "water.not_all"} & set(found)
    assert found[code].figures["rh"] == KIND.rh_setting.typical
    if code == "water.start_and_weigh":
        assert found[code].figures["when"].value == pytest.approx(SET_AT + ((weighed or 0.0) + 5.0) * DAY_S)


def test_an_odd_egg_is_named_while_it_can_still_be_weighed():
    egg = replace(usual().water.eggs[0], odd=True, robust_z=5.0, label="7")
    assert say(water=drying(0.122, eggs=(egg,)))["water.odd_egg"].figures["egg"] == "7"
    assert "water.odd_egg" not in say(water=drying(0.122, eggs=(egg,), reachable="past"))


def test_weighings_that_were_not_used_are_counted():
    assert say(water=drying(0.122, left_out=(("a", "wet"), ("b", "tare"))))["water.left_out"].figures["n"] == 2


# --- clock -----------------------------------------------------------------------------------------------------------


def hours(stop: float, pip: float, first: float, half: float, last: float, **more) -> dict:
    return {
        "stop_turning": moment(stop, 10), "internal_pip": moment(pip, 10), "first_pip": moment(first, 10),
        "half_hatched": moment(half, 10), "last_hatch": moment(last, 10), "seen": 0,
    } | more  # fmt: skip


@pytest.mark.parametrize(
    ("hour", "code", "level"),
    [
        (300, "clock.keep_turning", Level.GOOD),
        (421, "clock.keep_turning", Level.GOOD),
        (423, "clock.stop_turning", Level.ACT),
        (459, "clock.stop_turning", Level.ACT),
        (461, "clock.stop_turning_now", Level.NOW),
    ],
)
def test_turning_stops_softly_and_firmly_before_the_first_beak(hour, code, level):
    """Stopping early costs nothing (elibol-brake-2006: day 8 to 14 alike); after internal pip it does harm."""
    clock = hours(432, 470, 485, 505, 525, day=hour / 24)
    found = say(clock=clock, now=SET_AT + hour * HOUR_S)
    turning = {one for one in found if "turning" in one}
    assert turning == {code}
    assert found[code].level == level
    assert not {one for one in say(clock=clock, now=SET_AT + hour * HOUR_S, stopped=True) if "turning" in one}


@pytest.mark.parametrize(
    ("hour", "seen", "code"),
    [
        (300, 0, "clock.expect"),
        (480, 0, "clock.wait"),
        (505, 5, "clock.wait"),
        (540, 8, "clock.over"),
        (540, 0, "clock.overdue"),
    ],
)
def test_the_hatch_by_the_hour(hour, seen, code):
    found = say(clock=hours(432, 470, 485, 505, 525, seen=seen), now=SET_AT + hour * HOUR_S, stopped=True)
    assert [one for one in found if one.startswith("clock.")] == [code]
    assert found[code].level <= Level.WATCH


def test_young_that_were_seen_end_the_talk_of_turning():
    found = say(clock=hours(432, 470, 485, 505, 525, seen=1), now=SET_AT + 480 * HOUR_S)
    assert not {one for one in found if "turning" in one}


def test_after_the_hatch_the_box_is_not_judged_and_nothing_is_to_be_done_to_eggs():
    """The keeper opens the box and switches it off: its log then is no cause for alarm, and no egg is to be weighed."""
    odds = (Odds(regime="spell", survival=Estimate(0.6, 0.3, 0.9, "1", BASIS), candle_after_d=(2.0, 4.0)),)
    egg = replace(usual().water.eggs[0], odd=True)
    for seen in (0, 8):
        found = say(
            warmth=shells(22.0, 0.3, odds=odds, drifting=True, drift=about(5, 1, "K"), covered=0.5, gaps=((0.0, 9e4),)),
            water=drying(0.122, reachable="past", eggs=(egg,), left_out=(("a", "wet"),)),
            clock=hours(432, 470, 485, 505, 525, seen=seen, day=24.0),
            now=SET_AT + 24 * DAY_S,
        )
        assert set(found) == {"clock.over" if seen else "clock.overdue", "water.lockdown_past"}
        assert max(one.level for one in found.values()) <= Level.WATCH


# --- count -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("day", "last_look", "due"),
    [
        (5.0, None, False),
        (6.8, None, True),
        (8.0, 7.0, False),
        (8.0, 4.9, True),
        (14.0, 7.0, True),
        (14.0, 13.0, False),
        (19.5, 7.0, False),
    ],
)
def test_a_look_under_the_lamp_is_due_on_its_days(day, last_look, due):
    found = say(count={"last_look_d": last_look, "eggs": ()}, clock={"day": day}, now=SET_AT + day * DAY_S)
    assert ("count.candle" in found) == due


def test_unsure_eggs_stay_in_and_are_looked_at_again_while_that_is_still_wise():
    eggs = tuple(
        replace(usual().count.eggs[0], label=str(i), alive=p, count=1) for i, p in enumerate((0.05, 0.4, 0.8, 0.97))
    )
    found = say(count={"eggs": eggs, "looks": 1})
    assert found["count.leave_unsure"].figures["eggs"] == "1, 2"
    assert found["count.leave_unsure"].figures["n"] == 2
    assert "count.leave_unsure" not in say(
        count={"eggs": eggs, "looks": 1}, clock={"day": 18.6}, now=SET_AT + 18.6 * DAY_S
    )
    assert "count.leave_unsure" not in say(count={"eggs": eggs, "looks": 0})


def test_too_few_young_are_told_in_time():
    few = about(4.0, 2.0, "young")
    assert say(count={"expected_young": few, "wanted_young": 8})["count.short"].level == Level.WATCH
    assert "count.short" not in say(count={"expected_young": few, "wanted_young": 6})
    assert "count.short" not in say(count={"expected_young": few, "wanted_young": None})


# --- over all --------------------------------------------------------------------------------------------------------


@given(st.floats(0.2, 26), st.booleans(), st.floats(25, 43), st.floats(0.05, 0.2), st.integers(0, 12))
def test_no_advice_counts_the_dead_and_none_gives_up_an_egg(day, checked, shell, loss, seen):
    """No figure is a number of dead; every survival is a share; nothing says so much as a code of throwing away."""
    odds = (Odds(regime="spell", survival=Estimate(0.1, 0.0, 0.3, "1", BASIS), candle_after_d=(2.0, 4.0)),)
    found = say(
        warmth=shells(shell, 0.3, probe_checked=checked, odds=odds), water=drying(loss), now=SET_AT + day * DAY_S,
        clock=hours(432, 470, 485, 505, 525, seen=seen, day=day),
    )  # fmt: skip
    for one in found.values():
        assert not {"dead", "deaths", "died", "lost_eggs", "kill"} & set(one.figures)
        assert not any(word in one.code for word in ("discard", "throw", "dead", "remove"))
        assert "survival" not in one.figures or one.figures["survival"].unit == "1"


def test_every_source_of_advice_written_in_the_module_is_known():
    """Literal sources of `_give`, and those handed over from kinds and targets."""
    tree = ast.parse(inspect.getsource(advise))
    given_ = {
        call.args[2].value
        for call in ast.walk(tree)
        if isinstance(call, ast.Call)
        and isinstance(call.func, ast.Name)
        and call.func.id == "_give"
        and isinstance(call.args[2], ast.Constant)
    }
    known = set(facts.sources())
    assert given_
    assert given_ <= known
    for kind in facts.kinds().values():
        assert {kind.temp_forced_degc.source, kind.loss_target.source, kind.term_d.source} <= known, kind.key
    assert {one.source for one in usual().advice} <= known


def test_figures_cannot_be_changed_afterwards():
    one = usual().advice[0]
    with pytest.raises(TypeError):
        one.figures["shell"] = 1.0  # type: ignore[index]


def test_whether_turning_was_stopped():
    stop = Event(uid="s", at=NOW, sort=EventSort.TURNING_STOPPED)
    assert advise.turning_stopped([stop], NOW)
    assert not advise.turning_stopped([stop], NOW - 1)
    assert not advise.turning_stopped([replace(stop, sort=EventSort.TURNING_MISSED)], NOW)
