"""Rows of a batch as the fit sees them: what is on the scale, what is left out and why, whose fate is known."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza import facts
from chalaza.assess import assess, prior_beliefs
from chalaza.inference import rows
from chalaza.inference.count import assess_counts, mean_of
from chalaza.inference.published import published
from chalaza.inference.rows import Rows, gather, groups, hatch_looks, lamp_condition
from chalaza.values.evidence import (
    AirCellMark,
    Breakout,
    Candling,
    DeathStage,
    Egg,
    Event,
    EventSort,
    Finding,
    Hatch,
    HatchStage,
    Shell,
    Weighing,
)
from factory import DAY_S, HOUR_S, SET_AT, make_evidence

KIND = facts.kind("chicken")
BELIEFS = published("chicken")
DAY7 = SET_AT + 7 * DAY_S
NOW = SET_AT + 20 * DAY_S


def eggs(n: int = 6, **changes) -> tuple[Egg, ...]:
    return tuple(Egg(uid=f"e{i}", label=str(i), **changes) for i in range(1, n + 1))


def weigh(uid: str, names: str, gross_g: float, *, day: float = 7.0, **changes) -> Weighing:
    return Weighing(uid=uid, at=int(SET_AT + day * DAY_S), eggs=names, gross_g=gross_g, **changes)


def gathered(listed=None, weighings=(), marks=(), events=(), now=NOW) -> Rows:
    return gather(listed or eggs(), weighings, marks, events, KIND, set_at=SET_AT, now=now)


# --- weighings -------------------------------------------------------------------------------------------------------


def test_the_tray_is_taken_off_and_its_rounding_added():
    """A reading rounded to 0.1 g is good to 0.1/sqrt(12) = 0.029 g, a difference of two to 0.041 g (machine pack 8.4)."""
    bare, tared = gathered(weighings=[weigh("a", "e1", 60.0), weigh("b", "e1 e2", 150.0, tare_g=30.0)]).loads
    assert (bare.net_g, bare.units, bare.hour) == (60.0, ("e1",), 168.0)
    assert bare.sd_g == pytest.approx(0.029, abs=5e-4)
    assert (tared.net_g, tared.units) == (120.0, ("e1", "e2"))
    assert tared.sd_g == pytest.approx(0.041, abs=5e-4)


def test_all_means_those_still_in():
    listed = (*eggs(3), Egg(uid="gone", label="g", removed_at=SET_AT + 5 * DAY_S))
    first, last = gathered(listed, [weigh("a", "all", 240.0, day=2.0), weigh("b", " all ", 170.0)]).loads
    assert first.units == ("e1", "e2", "e3", "gone")
    assert last.units == ("e1", "e2", "e3")


def test_an_egg_weighed_at_the_very_moment_it_is_taken_out_is_out():
    listed = (*eggs(1), Egg(uid="gone", label="g", removed_at=DAY7))
    assert gathered(listed, [weigh("a", "all", 60.0)]).loads[0].units == ("e1",)


@pytest.mark.parametrize(("hours", "left_out"), [(0.0, True), (3.0, True), (6.0, True), (6.5, False), (-1.0, False)])
def test_an_egg_weighed_wet_is_left_out_with_its_reason(hours, left_out):
    mist = Event(uid="m", at=int(DAY7 - hours * HOUR_S), sort=EventSort.MISTED)
    found = gathered(weighings=[weigh("a", "e1", 60.0)], events=[mist])
    assert found.left_out == ((("a", "wet"),) if left_out else ())
    assert len(found.loads) == (0 if left_out else 1)


def test_a_tray_heavier_than_the_load_is_left_out_with_its_reason():
    found = gathered(weighings=[weigh("a", "e1", 30.0, tare_g=30.0), weigh("b", "e1", 60.0)])
    assert found.left_out == (("a", "tare"),)
    assert [load.net_g for load in found.loads] == [60.0]


@pytest.mark.parametrize(
    ("masses", "gone"),
    [
        ((60.0, 58.0, 56.0), ""), ((60.0, 58.0, 66.0), "c"), ((50.0, 58.0, 56.0), "a"), ((60.0, 66.0, 56.0), "b"),
        ((60.0, 66.0), "b"), ((60.0, 61.5), ""), ((60.0, 60.0, 60.0), ""),
    ],
)  # fmt: skip
def test_of_an_egg_that_seems_to_gain_the_odd_weighing_is_left_out(masses, gone):
    found = gathered(weighings=[weigh("abc"[i], "e1", mass, day=2.0 * i) for i, mass in enumerate(masses)])
    assert found.left_out == tuple((name, "gain") for name in gone)
    assert len(found.loads) == len(masses) - len(gone)


def test_a_coarse_scale_may_seem_to_show_a_gain_and_another_load_is_not_compared():
    coarse = [weigh("a", "e1", 41.0, day=1.0, resolution_g=1.0), weigh("b", "e1", 44.0, day=4.0, resolution_g=1.0)]
    assert gathered(weighings=coarse).left_out == ()
    assert gathered(weighings=[weigh("a", "e1", 55.0, day=1.0), weigh("b", "e1 e2", 120.0)]).left_out == ()


def test_what_was_weighed_later_is_not_seen():
    assert gathered(weighings=[weigh("a", "e1", 60.0)], now=DAY7 - 1).loads == ()
    assert len(gathered(weighings=[weigh("a", "e1", 60.0)], now=DAY7).loads) == 1


def test_weighings_of_one_session_share_its_zero():
    found = gathered(
        weighings=[
            weigh("a", "e1", 60.0, session="s"),
            weigh("b", "e2", 61.0, session="s"),
            weigh("c", "e3", 62.0),
            weigh("d", "e4", 62.0, resolution_g=1.0, day=8.0),
        ]
    )
    assert len({load.session for load in found.loads}) == 3
    assert sorted(prior.sd for prior in found.session_priors) == pytest.approx([0.05, 0.05, 0.5])


@pytest.mark.parametrize(
    ("hours", "n"),
    [([], 0), ([158.0], 1), ([158.0 + i / 120 for i in range(24)], 1), ([0.0, 0.1, 120.0, 120.2], 2)],
)
def test_a_tray_weighed_egg_by_egg_was_weighed_once(hours, n):
    assert rows.rounds(hours) == n


def test_only_eggs_that_were_weighed_or_marked_have_a_mass_of_their_own():
    found = gathered(weighings=[weigh("a", "e1", 60.0), weigh("b", "e2 e3", 120.0)])
    assert {prior.key[0] for prior in found.mass_priors} == {"egg:e1", "egg:e2", "egg:e3"}
    assert {uid for uid, unit in found.units.items() if unit.deviates} == {"e1"}


def test_a_measured_egg_has_a_surer_mass_than_one_of_its_kind():
    """Length and breadth give the mass to 4 %: 0.548 g/cm³ L B² (Hoyt 1979, The Auk 96:73-77), 57.2 g here."""
    known = Egg(uid="e1", label="1", length_mm=56.5, breadth_mm=43.0)
    listed = (known, *eggs(3)[1:])
    priors = {
        one.key[0]: one
        for one in gathered(listed, [weigh("a", "e1", 60.0, day=0), weigh("b", "e2", 60.0, day=0)]).mass_priors
    }
    assert priors["egg:e1"].sd == pytest.approx(0.04)
    assert np.exp(priors["egg:e1"].mean) == pytest.approx(0.548 * 5.65 * 4.3**2, rel=0.005)
    assert priors["egg:e2"].sd > 0.1
    assert np.exp(priors["egg:e2"].mean) == pytest.approx(KIND.egg_mass_g.typical)


def test_the_size_that_counts_is_that_of_the_first_weighing():
    found = gathered(weighings=[weigh("a", "e1 e2", 120.0, day=0.0), weigh("b", "e1", 57.0)])
    assert found.mean_mass_g == pytest.approx(60.0)
    assert gathered().mean_mass_g == KIND.egg_mass_g.typical
    slipped = gathered(weighings=[weigh("a", "e1", 6.0, day=0.0)])
    assert slipped.left_out == (("a", "mass"),)  # 6 g is no hen's egg: a digit lost, and said
    assert slipped.mean_mass_g == KIND.egg_mass_g.typical


def test_a_counted_group_weighs_as_its_eggs():
    tray = Egg(uid="tray", label="t", count=12)
    found = gathered((tray,), [weigh("a", "tray", 720.0, day=0.0)])
    assert found.total == 12
    assert found.mean_mass_g == pytest.approx(60.0)
    assert not found.units["tray"].deviates


def test_marks_are_surer_through_a_light_shell():
    listed = (Egg(uid="e1", label="1"), Egg(uid="e2", label="2", shell=Shell.DARK))
    marks = [
        AirCellMark(uid="m1", at=DAY7, egg="e1", depth_mm=6.0),
        AirCellMark(uid="m2", at=DAY7, egg="e2", depth_mm=6.5),
        AirCellMark(uid="m3", at=NOW + 1, egg="e2", depth_mm=9.0),
    ]
    found = gathered(listed, marks=marks)
    assert [(one.unit, one.hour, one.depth_mm, one.sd_mm) for one in found.marks] == [
        ("e1", 168.0, 6.0, 1.0), ("e2", 168.0, 6.5, 1.6),
    ]  # fmt: skip


# --- the lamp --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shell", "day", "row"),
    [
        (Shell.LIGHT, 4.0, "light_d6"), (Shell.LIGHT, 6.5, "light_d6"), (Shell.LIGHT, 6.6, "light_d7"),
        (Shell.LIGHT, 10.5, "light_d7"), (Shell.LIGHT, 10.6, "light_d14"), (Shell.LIGHT, 16.0, "light_d14"),
        (Shell.LIGHT, 16.1, "any_d18"), (Shell.DARK, 5.0, "dark_d7"), (Shell.DARK, 8.5, "dark_d7"),
        (Shell.DARK, 8.6, "dark_d10"), (Shell.DARK, 12.0, "dark_d10"), (Shell.DARK, 12.1, "dark_d14"),
        (Shell.DARK, 16.1, "any_d18"),
    ],
)  # fmt: skip
def test_which_error_rates_hold_when(shell, day, row):
    assert lamp_condition(shell, day) == row
    assert f"lamp:{row}" in {subject for subject, _ in BELIEFS}


@given(st.sampled_from(list(Shell)), st.floats(4.0, 21.0), st.sampled_from(["alive", "dead", "infertile"]))
def test_findings_are_a_distribution_at_every_day(shell, day, truth):
    place = ("alive", "dead", "infertile").index(truth)
    chances = [rows.look(finding.value, shell, day / 21, BELIEFS) for finding in Finding]
    assert sum(one.likelihood[place] for one in chances if one is not None) == pytest.approx(1.0, abs=1e-6)


def test_before_the_fourth_day_the_lamp_tells_nothing():
    assert rows.look("clear", Shell.LIGHT, 3.9 / 21, BELIEFS) is None
    assert rows.look("clear", Shell.LIGHT, 4.0 / 21, BELIEFS) is not None


# --- groups and fates ------------------------------------------------------------------------------------------------


def fates(listed, candlings=(), hatches=(), breakouts=(), now=NOW):
    return groups(listed, candlings, hatches, breakouts, BELIEFS, set_at=SET_AT, now=now, term_h=504.0)


def candled(egg: str, finding: Finding, day: float = 7.0, count: int = 1, hours: float = 0.0) -> Candling:
    at = int(SET_AT + day * DAY_S + hours * HOUR_S)
    return Candling(uid=f"c-{egg}-{day}-{finding}-{hours}", at=at, egg=egg, finding=finding, count=count)


def hatch(
    stage: HatchStage, *, egg: str | None = None, count: int = 1, hour: float = 470.0, before: float | None = None
):
    looked = None if before is None else int(SET_AT + before * HOUR_S)
    return Hatch(
        uid=f"h-{stage}-{egg}-{hour}-{count}", at=int(SET_AT + hour * HOUR_S), stage=stage, egg=egg, count=count,
        looked_before=looked,
    )  # fmt: skip


def total(found, **wanted) -> int:
    return sum(g.count for _, g in found if all(getattr(g, name) == value for name, value in wanted.items()))


def test_every_look_at_a_single_egg_counts():
    ((uid, one),) = fates(eggs(1), [candled("e1", Finding.LIVE, 14.0), candled("e1", Finding.UNSURE)])
    assert uid == "e1"
    assert [look.share for look in one.looks] == pytest.approx([7 / 21, 14 / 21])
    assert [look.unsure for look in one.looks] == [True, False]


def test_of_a_group_only_the_latest_look_counts():
    """Nobody knows which of the tray were clear the first time; findings of one evening are one look."""
    tray = (Egg(uid="tray", label="t", count=12),)
    looks = [
        candled("tray", Finding.LIVE, 7.0, 12),
        candled("tray", Finding.LIVE, 14.0, 9),
        candled("tray", Finding.CLEAR, 14.0, 2, hours=0.5),
    ]
    found = fates(tray, looks)
    assert sorted((g.count, len(g.looks)) for _, g in found) == [(1, 0), (2, 1), (9, 1)]
    assert all(look.share > 0.6 for _, g in found for look in g.looks)
    assert total(found) == 12


def test_more_findings_than_eggs_are_cut_to_the_group():
    found = fates(
        (Egg(uid="tray", label="t", count=4),),
        [candled("tray", Finding.LIVE, 14.0, 3), candled("tray", Finding.DEAD, 14.0, 3)],
    )
    assert total(found) == 4


def test_a_named_young_is_out_and_the_rest_of_its_tray_is_not():
    tray = (Egg(uid="tray", label="t", count=12),)
    found = fates(
        tray, hatches=[hatch(HatchStage.OUT, egg="tray", count=3), hatch(HatchStage.OUT, egg="tray", count=2, hour=475)]
    )
    assert total(found, hatched=True) == 5
    assert total(found, hatched=False) == 7
    assert total(fates(eggs(3), hatches=[hatch(HatchStage.OUT, egg="e2")]), hatched=True) == 1


def test_an_egg_cannot_hatch_twice():
    found = fates(eggs(2), hatches=[hatch(HatchStage.OUT, egg="e1"), hatch(HatchStage.OUT, egg="e1", hour=480)])
    assert total(found, hatched=True) == 1
    assert total(found) == 2


def test_nameless_young_are_taken_from_the_eggs_that_promised_most():
    looks = [candled("e1", Finding.CLEAR), candled("e2", Finding.LIVE), candled("e3", Finding.UNSURE)]
    found = fates(eggs(3), looks, [hatch(HatchStage.OUT, count=1)])
    assert [uid for uid, g in found if g.hatched] == ["e2"]
    assert total(fates(eggs(3), looks, [hatch(HatchStage.OUT, count=99)]), hatched=True) == 3


def test_a_young_seen_later_is_not_out_yet():
    assert (
        total(fates(eggs(2), hatches=[hatch(HatchStage.OUT, egg="e1")], now=SET_AT + 469 * HOUR_S), hatched=True) == 0
    )


def test_a_pipped_egg_is_alive_for_certain():
    found = fates(eggs(4), [candled("e1", Finding.UNSURE)], [hatch(HatchStage.PIPPED, egg="e1")])
    assert [uid for uid, g in found if g.pipped] == ["e1"]
    names = ("fertility", "survival_early", "survival_middle", "survival_late")
    from chalaza.inference.count import Stages

    pairs = [(BELIEFS["kind:chicken:own", name].a, BELIEFS["kind:chicken:own", name].b) for name in names]
    stages = Stages(fertility=pairs[0], early=pairs[1], middle=pairs[2], late=pairs[3])
    counts = assess_counts(stages, [g for _, g in found], 0.95, silence=0.02)
    at = [uid for uid, _ in found].index("e1")
    assert counts.alive_by_group[at] == pytest.approx(1.0)
    assert counts.alive[0] == pytest.approx(0.0, abs=1e-9)
    assert mean_of(counts.young) > 0.85


def test_pips_of_young_already_out_are_not_counted_again():
    out = [hatch(HatchStage.PIPPED, count=5, hour=465), hatch(HatchStage.OUT, count=3, hour=475)]
    found = fates(eggs(8), hatches=out)
    assert (total(found, hatched=True), total(found, pipped=True), total(found)) == (3, 2, 8)
    own = [hatch(HatchStage.PIPPED, egg="e1", hour=465), hatch(HatchStage.OUT, egg="e1", hour=475)]
    found = fates(eggs(2), hatches=own)
    assert (total(found, hatched=True), total(found, pipped=True)) == (1, 0)


def opened(stage: DeathStage, *, egg: str | None = None, count: int = 1) -> Breakout:
    return Breakout(uid=f"b-{egg}-{stage}-{count}", at=NOW, stage=stage, egg=egg, count=count)


def test_an_opened_egg_has_its_stage_and_the_rest_of_its_group_keeps_theirs():
    tray = (Egg(uid="tray", label="t", count=12),)
    found = fates(tray, breakouts=[opened(DeathStage.EARLY, egg="tray", count=2), opened(DeathStage.LATE, egg="tray")])
    assert (total(found, opened="early"), total(found, opened="late"), total(found, opened=None)) == (2, 1, 9)


def test_a_removed_egg_may_be_opened_and_nameless_ones_are_sought_there_first():
    listed = (Egg(uid="out", label="o", removed_at=DAY7), *eggs(3))
    named = fates(listed, breakouts=[opened(DeathStage.INFERTILE, egg="out")])
    assert [uid for uid, g in named if g.opened] == ["out"]
    nameless = fates(listed, [candled("e1", Finding.CLEAR)], breakouts=[opened(DeathStage.INFERTILE, count=2)])
    assert [uid for uid, g in nameless if g.opened] == ["out", "e1"]


def test_a_hatched_egg_is_not_opened_as_well():
    found = fates(eggs(2), hatches=[hatch(HatchStage.OUT, egg="e1")], breakouts=[opened(DeathStage.LATE, egg="e1")])
    assert total(found, hatched=True) == 1
    assert total(found, opened="late") == 0


def test_removed_eggs_are_marked_so_from_their_hour_on():
    listed = (Egg(uid="e1", label="1", removed_at=DAY7),)
    assert fates(listed, now=DAY7 - 1)[0][1].removed is False
    assert fates(listed, now=DAY7)[0][1].removed is True


@given(
    st.lists(st.integers(1, 5), min_size=1, max_size=4),
    st.lists(
        st.tuples(st.sampled_from(list(HatchStage)), st.none() | st.integers(1, 4), st.integers(1, 4)), max_size=5
    ),
    st.lists(
        st.tuples(st.sampled_from(list(DeathStage)), st.none() | st.integers(1, 4), st.integers(1, 3)), max_size=3
    ),
)
def test_no_egg_is_lost_or_made_whatever_is_entered(sizes, seen, broken):
    listed = tuple(Egg(uid=f"e{i}", label=str(i), count=n) for i, n in enumerate(sizes, start=1))
    hatches = [
        hatch(stage, egg=None if i is None else f"e{i}", count=n, hour=460 + k) for k, (stage, i, n) in enumerate(seen)
    ]
    breakouts = [opened(stage, egg=None if i is None else f"e{i}", count=n) for stage, i, n in broken]
    found = fates(listed, hatches=hatches, breakouts=breakouts)
    assert total(found) == sum(sizes)
    for uid, one in found:
        assert one.count > 0
        assert one.hatched + one.pipped + (one.opened is not None) <= 1
        assert uid in {egg.uid for egg in listed}


# --- looks at the hatch ----------------------------------------------------------------------------------------------


def test_a_look_tells_between_which_hours():
    looks, watched = hatch_looks(
        [hatch(HatchStage.OUT, count=3, hour=480, before=474), hatch(HatchStage.OUT, count=2, hour=486)],
        SET_AT,
        NOW + DAY_S,
    )
    assert [(one.count, one.after_h, one.until_h, one.pipped) for one in looks] == [
        (3, 474.0, 480.0, False), (2, 480.0, 486.0, False),
    ]  # fmt: skip
    assert watched == 486.0


def test_without_a_look_before_it_was_some_time_in_the_last_day():
    looks, _ = hatch_looks([hatch(HatchStage.OUT, hour=480)], SET_AT, NOW)
    assert (looks[0].after_h, looks[0].until_h) == (456.0, 480.0)
    clash, _ = hatch_looks([hatch(HatchStage.OUT, hour=480, before=480)], SET_AT, NOW)
    assert clash[0].after_h < clash[0].until_h


def test_a_look_that_found_none_is_a_look():
    looks, watched = hatch_looks([hatch(HatchStage.OUT, count=0, hour=472)], SET_AT, NOW)
    assert (looks, watched) == ((), 472.0)
    assert hatch_looks([], SET_AT, NOW) == ((), None)


def test_each_young_is_seen_once():
    """Five pips, then three out: three of the pips are those three, two are still waiting."""
    rows_ = [
        hatch(HatchStage.PIPPED, count=2, hour=462, before=456),
        hatch(HatchStage.PIPPED, count=3, hour=468, before=462),
        hatch(HatchStage.OUT, count=3, hour=480, before=474),
    ]
    looks, _ = hatch_looks(rows_, SET_AT, NOW)
    assert sum(one.count for one in looks) == 5
    assert [(one.count, one.pipped, one.until_h) for one in looks] == [(2, True, 468.0), (3, False, 480.0)]


def test_looks_come_in_order_of_time_and_not_after_the_moment():
    rows_ = [hatch(HatchStage.OUT, hour=486), hatch(HatchStage.OUT, count=2, hour=480)]
    looks, watched = hatch_looks(rows_, SET_AT, SET_AT + 482 * HOUR_S)
    assert [one.count for one in looks] == [2]
    assert watched == 480.0


# --- through the whole ------------------------------------------------------------------------------------------------


def test_half_a_tray_hatched_leaves_the_other_half_to_come():
    """A counted tray of twelve of which three are out: the program does not call all twelve hatched."""
    evidence = make_evidence(
        weighings=(), candlings=(), hatches=(hatch(HatchStage.OUT, egg="tray", count=3, hour=490, before=484),)
    )
    evidence = replace(evidence, eggs=(Egg(uid="tray", label="tray", lot="l1", count=12),))
    found = assess(prior_beliefs("chicken"), evidence, SET_AT + 491 * HOUR_S).count
    assert found.out == 3
    assert 4.0 < found.expected_young.value < 12.0
    assert found.expected_young.low < 11
