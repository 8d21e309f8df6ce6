"""Who was where, when: stretches of one machine and one pair of probes, over moves, gaps and probes hung again."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.assess import prior_beliefs, understand
from chalaza.inference import stays
from chalaza.inference.fit import fit
from chalaza.inference.instruments import SideBySide, linear_terms
from chalaza.inference.published import published
from chalaza.inference.readings import clean
from chalaza.inference.stays import Choice, segments, side_by_side
from chalaza.inference.unknowns import Prior, Unknowns
from chalaza.values.beliefs import Belief, Shape
from chalaza.values.evidence import Airflow, Machine, Mount, Series, Stay
from factory import DAY_S, HOUR_S, NOW, SET_AT, make_evidence, make_series

BELIEFS = published("chicken")
BOX = Machine(uid="box", name="Box", airflow=Airflow.FAN)
HATCHER = Machine(uid="hatcher", name="Hatcher", airflow=Airflow.STILL)
MACHINES = {"box": BOX, "hatcher": HATCHER}
END = SET_AT + 25 * DAY_S


def at(day: float) -> int:
    return int(SET_AT + day * DAY_S)


def stay(machine: str, start: float, end: float | None = None) -> Stay:
    return Stay(
        uid=f"{machine}{start}", batch="b", machine=machine, start=at(start), end=None if end is None else at(end)
    )


def mount(probe: str, machine: str | None, start: float = -1.0, end: float | None = None, **changes) -> Mount:
    return Mount(
        uid=f"{probe}{start}",
        probe=probe,
        machine=machine,
        start=at(start),
        end=None if end is None else at(end),
        **changes,
    )


def reads(first: float = 0.0, last: float = 10.0, *, temp: float = 37.6, rh: float | None = 0.45) -> Series:
    t = np.arange(at(first), at(last), 600, dtype=np.int64)
    damp = np.nan if rh is None else rh
    return Series(t, np.full(len(t), temp, np.float32), np.full(len(t), damp, np.float32))


def choice(**sds: float) -> Choice:
    places = {uid: stays.placement(one, (), BELIEFS, 43.0) for uid, one in MACHINES.items()}
    return Choice(
        plan_degc=37.5, plan_rh=0.5, offset_mean=dict.fromkeys(sds, 0.1), offset_sd=sds, placement=places, plan_sd=0.6
    )


def stretches(where, mounts, series, sds=None, now=NOW):
    cleaned = {uid: clean(one) for uid, one in series.items()}
    chosen = choice(**(sds or dict.fromkeys(series, 0.5)))
    return segments(where, mounts, MACHINES, cleaned, chosen, start=SET_AT, end=END, now=now)


def days(found) -> list:
    return [
        ((one.start - SET_AT) / DAY_S, (one.end - SET_AT) / DAY_S, one.machine, one.temp_probe, one.rh_probe)
        for one in found
    ]


def test_one_stay_with_one_probe_is_one_stretch():
    found = stretches([stay("box", 0)], [mount("p", "box")], {"p": reads()})
    assert days(found) == [(0.0, 25.0, "box", "p", "p")]
    assert found[0].plan_degc == 37.5
    assert found[0].center_k == pytest.approx(0.1)
    assert found[0].step_k == pytest.approx(np.hypot(0.5, 0.25))
    assert (found[0].rh_center_k, found[0].rh_step_k) == (0.1, 0.5)


def test_a_move_to_the_hatching_box_cuts_and_changes_air_and_probe():
    found = stretches(
        [stay("box", 0, 8), stay("hatcher", 8)],
        [mount("p", "box"), mount("q", "hatcher", 7)],
        {"p": reads(), "q": reads(7, 10)},
    )
    assert days(found) == [(0.0, 8.0, "box", "p", "p"), (8.0, 25.0, "hatcher", "q", "q")]
    assert [one.airflow for one in found] == [Airflow.FAN, Airflow.STILL]


def test_a_probe_that_goes_along_reads_both():
    found = stretches(
        [stay("box", 0, 8), stay("hatcher", 8)],
        [mount("p", "box", -1, 8), mount("p", "hatcher", 8)],
        {"p": reads()},
    )
    assert days(found) == [(0.0, 8.0, "box", "p", "p"), (8.0, 25.0, "hatcher", "p", "p")]


def test_a_probe_left_in_the_empty_box_does_not_speak_for_the_eggs():
    found = stretches([stay("box", 0, 8), stay("hatcher", 8)], [mount("p", "box")], {"p": reads()})
    assert days(found)[1] == (8.0, 25.0, "hatcher", None, None)
    assert found[1].step_k == pytest.approx(np.hypot(0.6, found[1].step_k ** 2 and 0.8))


def test_between_two_stays_the_eggs_are_taken_to_be_where_they_were():
    found = stretches(
        [stay("box", 0, 5), stay("hatcher", 6)],
        [mount("p", "box"), mount("q", "hatcher")],
        {"p": reads(), "q": reads()},
    )
    assert days(found) == [(0.0, 6.0, "box", "p", "p"), (6.0, 25.0, "hatcher", "q", "q")]


def test_a_stay_entered_late_holds_from_setting_on():
    found = stretches([stay("box", 1.0)], [mount("p", "box")], {"p": reads()})
    assert days(found) == [(0.0, 25.0, "box", "p", "p")]


def test_the_probe_that_is_known_best_speaks():
    hung = [mount("display", "box"), mount("p", "box")]
    series = {"display": reads(), "p": reads()}
    assert days(stretches([stay("box", 0)], hung, series, {"display": 0.6, "p": 0.1}))[0][3] == "p"
    assert days(stretches([stay("box", 0)], hung, series, {"display": 0.1, "p": 0.6}))[0][3] == "display"


def test_of_two_probes_known_alike_the_one_with_more_readings_speaks():
    hung = [mount("a", "box"), mount("b", "box")]
    assert days(stretches([stay("box", 0)], hung, {"a": reads(0, 3), "b": reads()}))[0][3] == "b"


def test_a_thermometer_without_humidity_leaves_that_to_the_other():
    hung = [mount("a", "box"), mount("b", "box")]
    found = stretches([stay("box", 0)], hung, {"a": reads(rh=None), "b": reads()}, {"a": 0.1, "b": 0.6})
    assert days(found) == [(0.0, 25.0, "box", "a", "b")]
    assert found[0].rh_step_k == pytest.approx(0.6)


def test_a_better_probe_hung_up_later_takes_over_then():
    found = stretches(
        [stay("box", 0)], [mount("display", "box"), mount("p", "box", 4)], {"display": reads(), "p": reads(4)},
        {"display": 0.6, "p": 0.1},
    )  # fmt: skip
    assert days(found) == [(0.0, 4.0, "box", "display", "display"), (4.0, 25.0, "box", "p", "p")]


def test_a_probe_taken_out_for_a_day_and_hung_again():
    """Display all along; the better probe is out from day 4 to 5: three stretches, the same probe before and after."""
    found = stretches(
        [stay("box", 0)],
        [mount("display", "box"), mount("p", "box", -1, 4), mount("p", "box", 5)],
        {"display": reads(), "p": reads()},
        {"display": 0.6, "p": 0.1},
    )
    assert [row[3] for row in days(found)] == ["p", "display", "p"]
    assert [row[:2] for row in days(found)] == [(0.0, 4.0), (4.0, 5.0), (5.0, 25.0)]


def test_hanging_a_probe_elsewhere_does_not_cut_the_stretch():
    found = stretches(
        [stay("box", 0)],
        [mount("p", "box"), mount("room", None, 3), mount("q", "hatcher", 4)],
        {"p": reads(), "room": reads(3), "q": reads(4)},
    )
    assert days(found) == [(0.0, 25.0, "box", "p", "p")]


def test_overlapping_mounts_of_one_probe_do_no_harm():
    found = stretches([stay("box", 0)], [mount("p", "box", -1), mount("p", "box", 2)], {"p": reads()})
    assert days(found) == [(0.0, 25.0, "box", "p", "p")]


def test_without_any_probe_the_plan_speaks_with_its_doubt():
    (only,) = stretches([stay("box", 0)], [], {})
    assert (only.temp_probe, only.rh_probe) == (None, None)
    assert (only.center_k, only.step_k) == (pytest.approx(0.0), pytest.approx(np.hypot(0.6, 0.25)))
    assert (only.plan_degc, only.plan_rh) == (37.5, 0.5)


@pytest.mark.parametrize("what", ["silent", "one reading", "all set aside"])
def test_a_probe_that_read_nothing_is_none(what):
    t = np.arange(at(0), at(10), 600, dtype=np.int64)
    series = {
        "silent": reads(0, 0.0),
        "one reading": Series(t[:1], np.array([37.5], np.float32), np.array([0.5], np.float32)),
        "all set aside": Series(t, np.full(len(t), 85.0, np.float32), np.full(len(t), np.nan, np.float32)),
    }[what]
    assert days(stretches([stay("box", 0)], [mount("p", "box")], {"p": series}))[0][3] is None


@given(
    st.lists(st.tuples(st.floats(0, 20), st.sampled_from(["box", "hatcher"])), min_size=1, max_size=4),
    st.lists(
        st.tuples(
            st.sampled_from("pq"), st.sampled_from(["box", "hatcher", None]), st.floats(-1, 12), st.floats(0.01, 8)
        ),
        max_size=5,
    ),
    st.floats(0.5, 12),
)
def test_stretches_cover_all_the_time_once_and_name_only_probes_that_hung_there(moves, hung, day):
    where = [stay(machine, start) for start, machine in sorted(moves)]
    mounts = [mount(probe, machine, start, start + length) for probe, machine, start, length in hung]
    series = {"p": reads(0, day), "q": reads(1, day) if day > 1.1 else reads(0, day)}
    found = stretches(where, mounts, series, now=at(day))
    assert (found[0].start, found[-1].end) == (SET_AT, END)
    assert all(left.end == right.start for left, right in pairwise(found))
    for left, right in pairwise(found):
        assert (left.machine, left.temp_probe, left.rh_probe) != (right.machine, right.temp_probe, right.rh_probe)
    for one in found:
        for probe in {one.temp_probe, one.rh_probe} - {None}:
            assert any(m.probe == probe and m.machine == one.machine for m in mounts)


# --- where the probe hangs -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("machine", "heights", "row"),
    [
        (BOX, (), "fan"), (Machine(uid="box", name="B", airflow=Airflow.FAN, mapped=True), (), "fan_mapped"),
        (HATCHER, (), "still_unknown"), (HATCHER, (0.0,), "still_egg_top"), (HATCHER, (15.0,), "still_egg_top"),
        (HATCHER, (-12.0,), "still_egg_top"), (HATCHER, (60.0,), "still_unknown"), (HATCHER, (60.0, 5.0), "still_egg_top"),
    ],
)  # fmt: skip
def test_which_belief_about_the_place_holds(machine, heights, row):
    mounts = [mount(f"p{i}", machine.uid, height_mm=height) for i, height in enumerate(heights)]
    assert stays.condition(machine, mounts) == row
    one = stays.placement(machine, mounts, BELIEFS, 43.0)
    assert (one.mean, one.sd) == (BELIEFS[f"air:{row}", "placement"].mean, BELIEFS[f"air:{row}", "placement"].sd)


def test_a_height_in_another_box_says_nothing_about_this_one():
    assert stays.condition(HATCHER, [mount("p", "box", height_mm=0.0)]) == "still_unknown"


def test_still_air_is_layered_over_the_height_of_the_egg():
    """The lean of -1.0 K was told for hens' eggs of 43 mm; a quail's 24 mm lie in less of the slope. A fan mixes."""
    hen, quail = (stays.placement(HATCHER, [mount("p", "hatcher", height_mm=0.0)], BELIEFS, mm) for mm in (43.0, 24.0))
    assert quail.mean == pytest.approx(hen.mean * 24 / 43)
    assert stays.placement(BOX, (), BELIEFS, 24.0).mean == stays.placement(BOX, (), BELIEFS, 43.0).mean


def test_what_was_learnt_of_a_box_replaces_its_sort():
    learnt = BELIEFS | {("machine:box", "placement"): Belief(shape=Shape.NORMAL, a=0.3, b=0.1, unit="K")}
    one = stays.placement(BOX, (), learnt, 43.0)
    assert (one.mean, one.sd) == (0.3, 0.1)


# --- probes side by side ---------------------------------------------------------------------------------------------


def pairs(mounts, series, machines=None, start=SET_AT, end=NOW) -> tuple[SideBySide, ...]:
    cleaned = {uid: clean(one) for uid, one in series.items()}
    return side_by_side(mounts, machines or MACHINES, cleaned, start, end)


def test_two_probes_of_one_box_are_compared_over_their_hours():
    found = pairs(
        [mount("b", "box"), mount("a", "box")], {"a": reads(temp=37.9, rh=0.50), "b": reads(temp=37.6, rh=0.45)}
    )
    temp, damp = found
    assert (temp.left, temp.right) == (("probe:a", "temp_offset"), ("probe:b", "temp_offset"))
    assert (temp.difference, temp.sd) == (pytest.approx(0.3, abs=1e-5), 0.2)
    assert (damp.difference, damp.sd) == (pytest.approx(0.05, abs=1e-6), 0.02)


@pytest.mark.parametrize(("hours", "compared"), [(5.0, False), (7.0, True)])
def test_six_hours_together_are_needed(hours, compared):
    mounts = [mount("a", "box", -1, hours / 24), mount("b", "box")]
    assert bool(pairs(mounts, {"a": reads(), "b": reads()})) == compared


def test_probes_of_two_boxes_or_of_the_room_are_not_compared():
    series = {"a": reads(), "b": reads(), "c": reads()}
    assert pairs([mount("a", "box"), mount("b", "hatcher"), mount("c", None)], series) == ()


def test_still_air_ties_probes_loosely():
    found = pairs([mount("a", "hatcher"), mount("b", "hatcher")], {"a": reads(rh=None), "b": reads(rh=None)})
    assert [one.sd for one in found] == [0.6]


def test_a_probe_hung_again_is_one_comparison_over_all_its_hours():
    mounts = [mount("a", "box"), mount("b", "box", -1, 2), mount("b", "box", 3, 7)]
    warm = reads(temp=37.9)
    warm.temp_degc[: 2 * 144] += 0.3
    (temp, _) = pairs(mounts, {"a": warm, "b": reads(temp=37.6)})
    assert temp.difference == pytest.approx((0.6 * 2 + 0.3 * 4) / 6, abs=0.01)
    assert temp.sd == 0.2


def test_three_probes_say_no_more_than_three_places():
    """Each probe hangs at a place of its own, off by 0.2/sqrt(2) K; all three pairs are told. The unknown third offset,
    with the first two known, is 0.2 x sqrt(3/4) = 0.173 K sure (numpy, places written out), not 0.2/sqrt(2)."""
    mounts = [mount(uid, "box") for uid in "abc"]
    found = list(pairs(mounts, {uid: reads(temp=37.6 + 0.1 * i, rh=None) for i, uid in enumerate("abc")}))
    assert len(found) == 3
    keys = [(f"probe:{uid}", "temp_offset") for uid in "abc"]
    unknowns = Unknowns.of([Prior(keys[0], 0.0, 1e-4), Prior(keys[1], 0.0, 1e-4), Prior(keys[2], 0.0, 5.0)])
    ours = fit(unknowns, [linear_terms(unknowns, (), found)])
    place = 0.2 / 2**0.5
    # Readings r_i = air - offset_i - place_i with a free air: information of the three offsets with the air taken out.
    information = (np.eye(3) - np.ones((3, 3)) / 3) / place**2 + np.diag([1e8, 1e8, 1 / 25])
    assert ours.sd(keys[2]) == pytest.approx(np.linalg.inv(information)[2, 2] ** 0.5, rel=1e-4)
    assert ours.sd(keys[2]) == pytest.approx(0.2 * 0.75**0.5, rel=0.01)


def test_a_move_reaches_the_fit():
    """Half way the eggs move to a still box with a probe of its own: both probes and both places are unknowns."""
    evidence = make_evidence(
        machines=(BOX, HATCHER),
        mounts=(mount("p1", "box"), mount("display", "hatcher", 4, height_mm=0.0)),
        stays=(
            Stay(uid="s1", batch="spring", machine="box", start=SET_AT, end=at(5)),
            Stay(uid="s2", batch="spring", machine="hatcher", start=at(5)),
        ),
        machine_events=(),
        series={"p1": make_series(), "display": make_series(temp_degc=38.8)},
    )
    u = understand(prior_beliefs("chicken"), evidence, NOW)
    for key in (
        ("probe:p1", "temp_offset"),
        ("probe:display", "temp_offset"),
        ("machine:box", "placement"),
        ("machine:hatcher", "placement"),
    ):
        assert key in u.felt.unknowns
    warm = u.exposure.shell_degc + u.felt.offsets(u.posterior.mean)[0]
    day = u.exposure.age_d
    assert warm[(day > 6) & (day < 9)].mean() == pytest.approx(37.8, abs=0.6)
    assert abs(day[u.exposure.segment == 1].min() - 5.0) < 0.05
    assert u.exposure.t0 + 5 * 24 * HOUR_S == u.exposure.segments[1].start
