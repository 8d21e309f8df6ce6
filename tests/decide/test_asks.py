"""Advice as jobs: each once, quieted by its record for its hours; the check worth making; the dial left alone."""

from dataclasses import replace

import pytest
from tests.decide.asked import BASIS, USUAL, at, named, of, usual, without

from chalaza.decide import asks
from chalaza.decide.today import When
from chalaza.values.advice import Advice, Level
from chalaza.values.answers import Assessment, Offer
from chalaza.values.estimate import Estimate, figures
from chalaza.values.evidence import Event, EventSort, Weighing
from factory import HOUR_S

NOW = at(10.0)


def advised(code: str, level: Level = Level.ACT) -> Assessment:
    """The usual batch with this advice in place of all advice of its subject."""
    a = usual(NOW)
    subject = code.split(".")[0]
    kept = tuple(one for one in a.advice if not one.code.startswith(subject))
    return replace(a, advice=(Advice(code, level, figures(), "judgement"), *kept))


@pytest.mark.parametrize("code", sorted(asks.ASKS))
@pytest.mark.parametrize("level", [Level.WATCH, Level.ACT, Level.NOW])
def test_an_advice_that_asks_becomes_one_line_of_its_level(code: str, level: Level) -> None:
    ask = asks.ASKS[code]
    job = named(of(USUAL, NOW, advised(code, level)))[f"{ask.what}/10"]
    assert (job.code, job.level, job.form) == (code, level, ask.form)
    assert job.when is (When.NOW if level is Level.NOW else When.TODAY)


@pytest.mark.parametrize("code", sorted(asks.ASKS))
def test_a_tick_quiets_for_its_hours_whatever_the_day_it_was_numbered_by(code: str) -> None:
    ask = asks.ASKS[code]
    key = f"{USUAL.batch.uid}/{ask.what}/9"
    for since, quiet in ((ask.quiet_h * HOUR_S - 60, True), (ask.quiet_h * HOUR_S + 60, False)):
        found = named(of(USUAL, NOW, advised(code), done={key: round(NOW - since)}, later=True))
        still = [one for one in found.values() if one.what == ask.what and not one.done]
        assert (not still) is quiet


@pytest.mark.parametrize(
    ("code", "sort"),
    [
        ("warmth.step_down", EventSort.SET_POINT), ("warmth.step_up", EventSort.SET_POINT),
        ("water.raise", EventSort.WATER), ("water.lower", EventSort.VENTS), ("water.not_all", EventSort.WATER),
    ],
)  # fmt: skip
def test_the_act_noted_is_done_and_for_a_day_not_asked_for_again(code: str, sort: EventSort) -> None:
    ask = asks.ASKS[code]
    for hours, done in ((2, True), (25, False)):
        event = Event(uid="x", at=NOW - hours * HOUR_S, sort=sort, machine="box")
        box = replace(USUAL, setting=replace(USUAL.setting, events=(*USUAL.setting.events, event)))
        found = named(of(box, NOW, advised(code)))
        assert found[f"{ask.what}/10"].done is done


def test_an_alarm_ticked_is_heard_again_after_an_hour() -> None:
    assert {asks.ASKS[code].quiet_h for code in ("warmth.too_hot", "warmth.too_cold")} == {1.0}
    assert not any(asks.ASKS[code].records for code in ("warmth.too_hot", "warmth.too_cold"))


def test_odd_eggs_have_one_line_together() -> None:
    a = usual(NOW)
    eggs = tuple(replace(one, odd=n < 3, robust_z=4.0 + n) for n, one in enumerate(a.water.eggs))
    one = Advice("water.odd_egg", Level.WATCH, figures(egg="1"), "meir-1984")
    odd = replace(a, water=replace(a.water, eggs=eggs), advice=(one, one, one, *a.advice))
    job = named(of(USUAL, NOW, odd))["odd/10"]
    assert (job.code, job.form) == ("job.odd_eggs", "weigh")
    assert (job.advice.figures["n"], job.advice.figures["eggs"], job.advice.figures["z"]) == (3, "1, 2, 3", 6.0)
    weighed = replace(USUAL, weighings=(*USUAL.weighings, Weighing(uid="z", at=NOW - 60, eggs="e1", gross_g=50.0)))
    assert named(of(weighed, NOW, odd))["odd/10"].done


# --- the check worth making -------------------------------------------------------------------------------------------


def offer(code: str, hatch: float = 0.0, loss: float = 0.0, young: float = 0.0, score: float = 1.0) -> Offer:
    """An offer that takes these shares off the three widths."""
    return Offer(
        code=code, minutes=10.0, hatch_before_h=20.0, hatch_after_h=20.0 * (1 - hatch), loss_before=0.02,
        loss_after=0.02 * (1 - loss), young_before=3.0, young_after=3.0 * (1 - young), score=score,
    )  # fmt: skip


#: No look under the lamp is due about this moment, and the next weighing of the plan is half a week off.
CALM = at(8.4)


def offered(*offers: Offer) -> Assessment:
    """Nothing is unsure, so that no look beside the plan takes the place of an offer."""
    return replace(without(usual(CALM), "count.leave_unsure"), measure_next=offers)


@pytest.mark.parametrize(
    ("one", "code", "form"),
    [
        (offer("ice", hatch=0.2), "job.ice.hatch", "check:ice"),
        (offer("compare", hatch=0.1, loss=0.3), "job.compare.loss", "check:compare"),
        (offer("salt", loss=0.2), "job.salt.loss", "check:salt"),
        (offer("weigh_three", loss=0.4), "job.weigh_three.loss", "weigh"),
        (offer("candle", young=0.3), "job.candle.young", "candle"),
    ],
)
def test_the_best_check_is_one_line_and_says_what_it_narrows_most(one: Offer, code: str, form: str) -> None:
    job = named(of(USUAL, CALM, offered(one, offer("ice", hatch=0.06, score=0.1))))["check/8"]
    assert (job.code, job.form, job.level, job.minutes) == (code, form, Level.WATCH, 10.0)
    width = code.rsplit(".", 1)[1]
    before, after = (job.advice.figures[f"{width}_{end}"] for end in ("before", "after"))
    assert isinstance(before, float)
    assert isinstance(after, float)
    assert after < before


def test_a_check_that_narrows_nothing_to_be_seen_is_not_a_line() -> None:
    assert not any(key.startswith("check/") for key in named(of(USUAL, CALM, offered(offer("ice", hatch=0.04)))))
    assert not any(key.startswith("check/") for key in named(of(USUAL, CALM, offered())))


def test_what_the_plan_has_soon_is_not_offered_beside_it() -> None:
    """Weighing is planned for day 12 and the look for day 14."""
    both = offered(offer("weigh_all", loss=0.5), offer("candle", young=0.5), offer("ice", hatch=0.1))
    assert named(of(USUAL, CALM, both))["check/8"].form == "weigh"
    assert named(of(USUAL, NOW, both))["check/10"].form == "candle"
    assert named(of(USUAL, at(12.0), both))["check/12"].form == "check:ice"


def test_a_check_ticked_is_not_asked_for_again_that_week() -> None:
    key = f"{USUAL.batch.uid}/check/4"
    ice = offered(offer("ice", hatch=0.2))
    assert named(of(USUAL, NOW, ice, done={key: at(4.0)})).get("check/10") is None
    assert not named(of(USUAL, NOW, ice, done={key: at(2.5)}))["check/10"].done


def test_the_check_without_which_the_dial_must_not_be_touched_takes_the_line() -> None:
    forced = replace(
        advised("warmth.check_first"), measure_next=(offer("weigh_all", loss=0.5), offer("ice", hatch=0.2))
    )
    found = named(of(USUAL, NOW, forced))
    assert (found["check/10"].code, found["check/10"].level, found["check/10"].form) == (
        "warmth.check_first", Level.ACT, "check:ice",
    )  # fmt: skip
    assert sum(key.startswith("check/") for key in found) == 1
    bare = named(of(USUAL, NOW, replace(forced, measure_next=())))["check/10"]
    assert bare.form == "check:compare"


def test_near_the_hatch_no_probe_is_taken_out() -> None:
    a = usual(at(20.5))
    near = replace(a, measure_next=(offer("ice", hatch=0.2),))
    assert a.clock.first_pip.low < at(20.5)
    assert not any(key.startswith("check/") for key in named(of(USUAL, at(20.5), near)))


# --- what is left alone -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", [code for code in asks.LEAVE if code != "warmth.air_spike"])
def test_the_dial_is_left_alone_where_the_assessment_says_so(code: str) -> None:
    job = named(of(USUAL, NOW, advised(code, Level.GOOD)))["leave/10"]
    assert (job.code, job.leaves, job.form, job.done) == (code, True, "", False)


def test_a_spike_explains_itself_only_where_the_dial_is_to_be_left_alone() -> None:
    spike = Advice("warmth.air_spike", Level.GOOD, figures(air=Estimate(40, 39, 41, "°C", BASIS)), "judgement")
    for code, said in (("warmth.right", "warmth.air_spike"), ("warmth.warming_up", "warmth.warming_up")):
        a = advised(code, Level.GOOD)
        assert named(of(USUAL, NOW, replace(a, advice=(spike, *a.advice))))["leave/10"].code == said
    moved = advised("warmth.step_down")
    assert "leave/10" not in named(of(USUAL, NOW, replace(moved, advice=(spike, *moved.advice))))
