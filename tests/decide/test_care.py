"""Care by the plan: turning by hand and by machine, lockdown, cooling of waterfowl, heat for the young."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.decide.asked import USUAL, at, clocked, moment, named, of, usual

from chalaza import facts
from chalaza.decide import today as today_module
from chalaza.decide.job import Day
from chalaza.decide.today import When
from chalaza.values.advice import Level
from chalaza.values.evidence import Event, EventSort
from factory import DAY_S, HOUR_S

BAND = next(row for row in facts.table("advice_ranges") if row["matter"] == "turns" and row["subject"] == "any")


def planned(turns: float | None, age_d: float = 6.0):
    batch = replace(USUAL, batch=replace(USUAL.batch, turns_per_d=turns))
    return named(of(batch, at(age_d), usual(at(age_d))))


@pytest.mark.parametrize(("turns", "asked"), [(5.0, 5), (3.0, 3), (7.0, 7), (4.0, 5), (2.0, 3), (1.0, 3), (8.0, 9)])
def test_turning_by_hand_is_asked_for_an_odd_number_of_times(turns: float, asked: int) -> None:
    job = planned(turns)["turn/6"]
    assert job.advice.figures["turns"] == asked
    assert asked % 2 == 1
    assert asked >= float(BAND["low"])
    assert job.code == ("job.turn" if asked == turns else "job.turn_odd")


def test_turning_by_hand_has_one_line_a_day_from_the_second_day_to_lockdown() -> None:
    for age in (0.2, 1.0, 6.0, 12.0):
        found = planned(5.0, age)
        turns = sorted((int(key.split("/")[1]), job.when) for key, job in found.items() if key.startswith("turn/"))
        number = int((at(age) - at(0.0)) // DAY_S)
        wanted = [(number, When.TODAY), (number + 1, When.TOMORROW)]
        assert turns == (wanted if number else wanted[1:]), age
    assert not any(key.startswith("turn/") for key in planned(5.0, 19.0))


@pytest.mark.parametrize("turns", [None, 24.0, 96.0, 0.0])
def test_where_it_is_not_by_hand_one_word_at_the_beginning_is_enough(turns: float | None) -> None:
    assert "turn_first/1" in planned(turns, 0.2)
    assert planned(turns, 1.0)["turn_first/1"].due == at(1.0)
    assert "turn_first/1" not in planned(turns, 3.1)
    assert not any(key.startswith("turn/") for key in planned(turns))


def test_turning_stopped_on_purpose_early_is_not_asked_for_again_and_lockdown_keeps_its_day() -> None:
    """Day 14 is printed as late enough for hens; the water still comes with lockdown."""
    now = at(14.5)
    stopped = replace(USUAL, events=(*USUAL.events, Event(uid="x", at=at(14.0), sort=EventSort.TURNING_STOPPED)))
    found = named(of(stopped, now, usual(now), later=True))
    assert not any(key.startswith("turn") for key in found)
    assert found["wetter/1"].due == named(of(USUAL, now, usual(now), later=True))["wetter/1"].due
    assert "lockdown/1" not in named(of(stopped, at(17.6), usual(at(17.6))))


def test_lockdown_is_when_turning_should_stop_and_by_tomorrow_when_the_advice_will_come() -> None:
    clock = {"internal_pip": moment(20.5, 12), "first_pip": moment(21, 12)}
    a = clocked(usual(at(12.0)), stop_turning=moment(18.0, 24), **clock)
    assert named(of(USUAL, at(12.0), a, later=True))["lockdown/1"].due == at(18.0)
    # The early edge is day 17.0, at 09:00: from the day before on it is planned for that evening.
    for age, when in ((16.0, When.TOMORROW), (17.2, When.TODAY)):
        job = named(of(USUAL, at(age), a))["lockdown/1"]
        assert (job.when, job.due) == (when, at(17.0) + 11 * HOUR_S)


def test_water_is_wetter_from_lockdown_until_the_display_shows_it_or_it_is_noted() -> None:
    now = at(18.6)
    kind = facts.kind("chicken")
    job = named(of(USUAL, now, usual(now)))["wetter/1"]
    assert (job.advice.figures["low"], job.advice.figures["high"]) == (kind.rh_hatching.low, kind.rh_hatching.high)
    a = usual(now)
    wet = replace(a.water.rh_now, value=0.7, low=0.7, high=0.7)
    assert "wetter/1" not in named(of(USUAL, now, replace(a, water=replace(a.water, rh_now=wet))))
    filled = Event(uid="x", at=now - HOUR_S, sort=EventSort.WATER, machine="box")
    box = replace(USUAL, setting=replace(USUAL.setting, events=(*USUAL.setting.events, filled)))
    assert named(of(box, now, usual(now)))["wetter/1"].done_at == now - HOUR_S


def test_a_planned_humidity_is_not_taken_for_a_reading() -> None:
    now = at(18.6)
    a = usual(now)
    wet = replace(a.water, rh_now=replace(a.water.rh_now, value=0.7, low=0.7, high=0.7), planned=True)
    assert "wetter/1" in named(of(USUAL, now, replace(a, water=wet)))


@pytest.mark.parametrize("kind", ["chicken", "coturnix", "duck", "ostrich"])
def test_heat_runs_two_days_before_half_of_the_young_are_expected(kind: str) -> None:
    bird = facts.kind(kind)
    a = clocked(usual(at(18.0)), half_hatched=moment(21.0, 12), last_hatch=moment(22.0, 12))
    found = named(
        today_module.today(a, bird=bird, batch=USUAL.batch, eggs=USUAL.eggs, stays=USUAL.stays, now=at(18.0),
                           zone="UTC", later=True)
    )  # fmt: skip
    assert found["heat/1"].due == at(19.0)
    assert found["heat/1"].level is Level.ACT


@pytest.mark.parametrize("kind", ["pigeon", "budgie", "cockatiel"])
def test_for_young_that_hatch_helpless_a_skilled_hand_is_asked_for_and_no_brooder(kind: str) -> None:
    a = clocked(usual(at(18.0)), half_hatched=moment(21.0, 12), last_hatch=moment(22.0, 12))
    found = named(
        today_module.today(a, bird=facts.kind(kind), batch=USUAL.batch, eggs=USUAL.eggs, stays=USUAL.stays,
                           now=at(18.0), zone="UTC", later=True)
    )  # fmt: skip
    assert found["heat/1"].code == "job.hand_feeder"


COOLED = {row["subject"]: float(row["value"]) for row in facts.table("limits") if row["limit"] == "cool_from"}


@given(age=st.floats(0.1, 24.0), kind=st.sampled_from(list(facts.kinds())))
def test_only_waterfowl_are_cooled_from_the_day_printed_for_them(age: float, kind: str) -> None:
    first = next((day for subject, day in COOLED.items() if kind in facts.members(subject)), None)
    a = clocked(
        usual(at(10.0)), stop_turning=moment(25.0, 1), internal_pip=moment(26, 1), first_pip=moment(27, 1),
        half_hatched=moment(28, 1), last_hatch=moment(29, 1),
    )  # fmt: skip
    found = named(
        today_module.today(a, bird=facts.kind(kind), batch=USUAL.batch, eggs=USUAL.eggs, stays=USUAL.stays,
                           now=at(age), zone="UTC")
    )  # fmt: skip
    numbers = {int(key.split("/")[1]) for key in found if key.startswith("cool/")}
    day = Day(a=a, bird=facts.kind(kind), batch=USUAL.batch, ticks={}, now=at(age), zone="UTC")
    wanted = {
        number
        for number in (day.number, day.number + 1)
        if first is not None and day.begins(number + 1) > at(first) and day.begins(number) < at(25.0)
    }
    assert numbers == wanted


def test_cooling_noted_today_is_done_and_one_of_yesterday_is_not() -> None:
    a = clocked(usual(at(10.0)), stop_turning=moment(25.0, 1), internal_pip=moment(26, 1))
    for sort in (EventSort.COOLED, EventSort.MISTED):
        for since, done in ((HOUR_S, True), (DAY_S, False)):
            event = Event(uid="x", at=at(10.0) - since, sort=sort)
            found = named(
                today_module.today(a, bird=facts.kind("duck"), batch=USUAL.batch, eggs=USUAL.eggs, stays=USUAL.stays,
                                   events=(event,), now=at(10.0), zone="UTC")
            )  # fmt: skip
            assert found["cool/10"].done is done
