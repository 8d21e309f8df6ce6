"""Weighing and candling: the sessions of each kind, what counts for one, and looks beside the plan."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.decide.asked import USUAL, at, clocked, moment, named, of, usual

from chalaza import facts
from chalaza.decide.job import Day
from chalaza.decide.looks import looked_at, sessions, weighing_days
from chalaza.decide.measure import MINUTES
from chalaza.decide.today import When
from chalaza.facts.limits import limit
from chalaza.values.advice import Advice, Level
from chalaza.values.answers import Odds, SpellSeen
from chalaza.values.estimate import Basis, Estimate, figures
from chalaza.values.evidence import AirCellMark, Candling, Finding
from factory import DAY_S, HOUR_S

KINDS = list(facts.kinds().values())


def day_of(kind: facts.Kind, age_d: float = 1.0) -> Day:
    """The batch of the factory as if it were of another kind; its lockdown on the day of that kind."""
    a = clocked(
        usual(at(1.0)), stop_turning=moment(kind.stop_turning_d.typical), internal_pip=moment(kind.term_d.typical - 1),
        first_pip=moment(kind.term_d.typical - 0.5),
    )  # fmt: skip
    return Day(a=a, bird=kind, batch=USUAL.batch, eggs=USUAL.eggs, ticks={}, now=at(age_d), zone="UTC")


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.key)
def test_every_kind_is_weighed_at_setting_early_and_then_about_weekly_until_lockdown(kind: facts.Kind) -> None:
    ages = [(one - USUAL.batch.set_at) / DAY_S for one in weighing_days(day_of(kind))]
    first, last = limit("weigh_first_from", kind.key), limit("weigh_first_to", kind.key)
    assert first is not None
    assert last is not None
    scale = kind.term_d.typical / 21.0  # the days of the table are a hen's
    assert ages[0] == 0.0
    assert first.value * scale - 0.01 <= ages[1] <= last.value * scale + 0.01
    assert ages[-1] == pytest.approx(kind.stop_turning_d.typical, abs=1e-4)
    assert all(2.0 <= later - earlier <= 10.0 for earlier, later in pairwise(ages[1:])), ages


@given(
    st.lists(st.integers(0, 40 * DAY_S), min_size=1, max_size=6, unique=True).map(sorted), st.integers(0, 50 * DAY_S)
)
def test_sessions_keep_their_numbers_and_leave_no_hole_before_the_last(dues: list[int], lid_shut: int) -> None:
    found = sessions(dues, lid_shut)
    assert found[-1].number == len(dues)
    assert [one.due for one in found] == [dues[one.number - 1] for one in found]
    for one, after in pairwise(found):
        assert one.due <= one.ends == after.due
        assert one.due <= after.begins <= after.due
        assert one.begins < after.begins
    assert found[-1].ends >= found[-1].due
    assert [one.last for one in found] == [False] * (len(found) - 1) + [True]


def test_a_session_that_would_fall_behind_lockdown_is_left_out() -> None:
    found = sessions([7 * DAY_S, 14 * DAY_S, 12 * DAY_S], 20 * DAY_S)
    assert [(one.number, one.due // DAY_S) for one in found] == [(1, 7), (3, 12)]


def test_a_look_in_time_for_the_next_session_makes_good_the_missed_one() -> None:
    """Nobody candled on day 14 of the factory's batch, and lockdown is for the evening of day 17: a look on day 16
    settles both, and one line asked for it. On the last day the line of that day asks."""
    now = at(16.5)
    before = named(of(USUAL, now, usual(now), later=True))
    assert "candle/2" in before
    assert "candle/3" not in before
    rows = tuple(Candling(uid=f"z{n}", at=now, egg=f"e{n}", finding=Finding.LIVE) for n in range(1, 11))
    after = named(of(replace(USUAL, candlings=(*USUAL.candlings, *rows)), now, usual(now), later=True))
    assert after["candle/2"].done
    assert after["candle/3"].done
    last = named(of(USUAL, at(17.1), usual(at(17.1)), later=True))
    assert "candle/2" not in last
    assert not last["candle/3"].done


def test_minutes_grow_with_the_eggs_that_are_in() -> None:
    job = named(of(USUAL, at(6.9), usual(at(6.9))))["candle/1"]
    assert job.minutes == MINUTES["candle"] * len(USUAL.eggs) / 12.0
    fewer = replace(USUAL, eggs=(*USUAL.eggs[:6], *(replace(egg, removed_at=at(1.0)) for egg in USUAL.eggs[6:])))
    assert named(of(fewer, at(6.9), usual(at(6.9))))["candle/1"].minutes == MINUTES["candle"] * 6 / 12.0


def test_who_marks_air_cells_and_never_weighed_is_asked_for_marks() -> None:
    marks = tuple(AirCellMark(uid=f"m{n}", at=at(0.1), egg=f"e{n}", depth_mm=3.0) for n in range(1, 5))
    marked = replace(USUAL, weighings=(), air_cells=marks)
    found = named(of(marked, at(4.9), usual(at(4.9)), later=True))
    assert (found["weigh/2"].form, found["weigh/2"].code) == ("mark", "job.mark")
    again = (*marks, *(replace(one, uid=f"{one.uid}b", at=at(5.1)) for one in marks))
    assert named(of(replace(marked, air_cells=again), at(5.2), usual(at(4.9))))["weigh/2"].done


@given(st.lists(st.tuples(st.integers(1, 12), st.integers(0, 100)), max_size=20))
def test_half_of_the_tray_is_a_look_whatever_the_order_of_the_rows(rows: list[tuple[int, int]]) -> None:
    day = Day(a=usual(at(1.0)), bird=KINDS[0], batch=USUAL.batch, eggs=USUAL.eggs, ticks={}, now=at(20.0), zone="UTC")
    made = sorted(
        (Candling(uid=str(i), at=when, egg=f"e{n}", finding=Finding.LIVE) for i, (n, when) in enumerate(rows)),
        key=lambda one: one.at,
    )
    found = looked_at(day, made)
    enough = len({n for n, _ in rows}) >= 6
    assert (found is not None) == enough
    if found is not None:
        assert len({n for n, when in rows if when <= found}) >= 6


def test_a_counted_group_is_looked_at_by_its_findings() -> None:
    group = replace(USUAL.eggs[0], uid="g", count=40)
    day = Day(a=usual(at(1.0)), bird=KINDS[0], batch=USUAL.batch, eggs=(group,), ticks={}, now=at(20.0), zone="UTC")
    one = Candling(uid="c", at=at(7.0), egg="g", finding=Finding.LIVE, count=19)
    assert looked_at(day, [one]) is None
    assert looked_at(day, [one, replace(one, uid="d", finding=Finding.CLEAR, count=1)]) == at(7.0)


# --- looks beside the plan --------------------------------------------------------------------------------------------


def test_eggs_that_could_not_be_told_are_looked_at_again_in_two_to_four_days() -> None:
    """Candled on day 7 with one unsure; the look of the plan is a week on."""
    codes = {age: {job.code: job for job in of(USUAL, at(age), usual(at(age)))} for age in (7.5, 9.0, 11.0, 13.0, 14.2)}
    assert "count.leave_unsure" not in codes[7.5], "not before the day before"
    job = codes[9.0]["count.leave_unsure"]
    assert (job.due, job.until) == (at(9.0), at(11.0))
    assert job.form == "candle"
    assert "count.leave_unsure" in codes[11.0]
    for age in (13.0, 14.2):
        assert "count.leave_unsure" not in codes[age], "the look of the plan comes tomorrow, or is due"


def test_a_spell_is_followed_by_a_look_on_the_days_of_the_table() -> None:
    basis = Basis("exposure")

    def about(value: float, unit: str) -> Estimate:
        return Estimate(value, value, value, unit, basis)

    began = float(at(7.2))
    spell = SpellSeen(
        sort="cold", start=about(began, "epoch_s"), length_h=6.0, air=about(20.0, "°C"), shell=about(24.0, "°C"),
        dose=about(80.0, "K h"),
    )  # fmt: skip
    odds = Odds(regime="spell", survival=Estimate(0.9, 0.8, 0.95, "1", basis), candle_after_d=(4.0, 6.0))
    a = usual(at(10.0))
    chilled = replace(a, warmth=replace(a.warmth, spells=(spell,), odds=(odds,)))
    job = named(of(USUAL, at(10.0), chilled, later=True))["spell-cold/7"]
    assert job.due == began + 6 * HOUR_S + 4 * DAY_S
    assert job.until == began + 6 * HOUR_S + 6 * DAY_S
    assert (job.code, job.form) == ("job.candle_spell", "candle")
    assert not any("spell" in key for key in named(of(USUAL, at(13.0), chilled))), "the look of the plan is tomorrow's"
    late = replace(spell, start=about(float(at(8.0)), "epoch_s"))
    covered = replace(a, warmth=replace(a.warmth, spells=(late,), odds=(odds,)))
    assert not any("spell" in key for key in named(of(USUAL, at(10.0), covered, later=True))), "day 14 is in its days"
    rows = tuple(Candling(uid=f"z{n}", at=at(11.3), egg=f"e{n}", finding=Finding.LIVE) for n in range(1, 11))
    seen = replace(USUAL, candlings=(*USUAL.candlings, *rows))
    assert named(of(seen, at(11.4), chilled))["spell-cold/7"].done_at == at(11.3)


def test_a_loss_known_too_loosely_asks_for_a_weighing_beside_the_plan() -> None:
    a = usual(at(9.5))
    loose = replace(a, advice=(*a.advice, Advice("water.weigh_rest", Level.WATCH, figures(rh=0.5), "meir-ar-2008")))
    job = named(of(USUAL, at(9.5), loose))["weigh_rest/9"]
    assert (job.code, job.form, job.when) == ("water.weigh_rest", "weigh", When.TODAY)
    for age in (11.5, 12.5):
        found = named(of(USUAL, at(age), loose))
        assert "weigh/3" in found
        assert not any(key.startswith("weigh_rest") for key in found), "the plan has it today or tomorrow"
    assert named(of(USUAL, at(7.3), loose))["weigh_rest/7"].done, "weighed this morning"
    assert "weigh_rest/8" not in named(of(USUAL, at(8.5), loose)), "weighed a day and a half ago"
