"""What a check says of an offset: signs, doubts, drift. Offsets are true minus reading, once and everywhere.

Outside figures: salt fixed points and test assertion S7 of the machine fact pack; steam points of IAPWS-95 by CoolProp.
"""

import csv
from math import hypot

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st

from chalaza.assess import prior_beliefs, understand
from chalaza.inference.fit import fit
from chalaza.inference.instruments import OffsetSeen, SideBySide, apart, checks_seen, linear_terms, probe_priors
from chalaza.inference.published import published
from chalaza.inference.unknowns import Prior, Unknowns
from chalaza.values.beliefs import Belief, Shape
from chalaza.values.evidence import Airflow, CheckSort, Mount, Probe, ProbeCheck, ProbeSort
from factory import DAY_S, NOW, SET_AT, make_evidence, make_series

BELIEFS = published("chicken")
YEAR_S = 365.25 * 86400
T, RH = ("probe:p", "temp_offset"), ("probe:p", "rh_offset")


def check(sort: CheckSort, *, uid: str = "k", at: int = NOW, probe: str = "p", **values) -> ProbeCheck:
    return ProbeCheck(uid=uid, probe=probe, at=at, sort=sort, **values)


def only(*checks: ProbeCheck) -> OffsetSeen:
    (found,) = checks_seen(checks, BELIEFS, NOW)
    return found


# --- signs -----------------------------------------------------------------------------------------------------------


def test_a_probe_that_shows_too_much_in_ice_has_a_negative_offset():
    """Ice is at 0 °C; a reading of +0.4 is 0.4 too high, true minus reading is -0.4."""
    found = only(check(CheckSort.ICE, reading_degc=0.4))
    assert (found.key, found.offset) == (T, pytest.approx(-0.4))
    assert found.sd == pytest.approx(0.17)


def test_a_display_that_reads_low_has_a_positive_offset_and_the_box_is_warmer_than_it_says():
    """Display 37.5 against a compared thermometer at 37.9: the air is 0.4 K warmer than the display says, the hatch early."""
    found = only(check(CheckSort.COMPARE, reading_degc=37.5, reference_degc=37.9))
    assert found.offset == pytest.approx(0.4)
    assert found.sd == pytest.approx(hypot(0.10, 0.004 * 0.4))
    late = ProbeCheck(uid="x", probe="p1", at=NOW - 60, sort=CheckSort.COMPARE, reading_degc=37.5, reference_degc=37.9)
    plain, warm = (understand(prior_beliefs("chicken"), make_evidence(checks=checks), NOW) for checks in ((), (late,)))
    assert warm.half.hour < plain.half.hour - 4.0


def test_a_comparison_far_from_incubation_is_worth_less():
    near = only(check(CheckSort.COMPARE, reading_degc=37.0, reference_degc=37.2))
    room = only(check(CheckSort.COMPARE, reading_degc=20.0, reference_degc=20.2))
    assert room.offset == pytest.approx(near.offset)
    assert room.sd == pytest.approx(hypot(0.10, 0.004 * 17.3))


def test_a_hygrometer_over_salt(shared):
    """75.3 % over sodium chloride at 25 °C (salt_fixed_points.csv, Greenspan 1977); a display of 70 % is 5.3 points low."""
    with (shared / "facts/machine/salt_fixed_points.csv").open() as file:
        point = next(row for row in csv.DictReader(file) if (row["salt"], row["T_C"]) == ("NaCl", "25.0"))
    percent = float(point["RH_Greenspan1977_pct"])
    found = only(check(CheckSort.SALT, reading_rh=0.70, reference_rh=percent / 100))
    assert (found.key, found.sort) == (RH, "salt")
    assert found.offset == pytest.approx(0.053, abs=5e-4)
    assert found.sd == pytest.approx(0.025)


def test_two_salts_average_and_are_surer():
    found = only(
        check(CheckSort.SALT, uid="a", at=NOW - 2 * DAY_S, reading_rh=0.70, reference_rh=0.753),
        check(CheckSort.SALT, uid="b", at=NOW, reading_rh=0.30, reference_rh=0.328),
    )
    assert found.offset == pytest.approx(0.5 * (0.053 + 0.028))
    assert found.sd == pytest.approx(0.015)
    assert found.check == "b"


def test_the_same_salt_twice_is_one_point():
    found = only(
        check(CheckSort.SALT, uid="a", at=NOW - 2 * DAY_S, reading_rh=0.60, reference_rh=0.753),
        check(CheckSort.SALT, uid="b", at=NOW, reading_rh=0.70, reference_rh=0.751),
    )
    assert found.offset == pytest.approx(0.051)
    assert found.sd == pytest.approx(0.025)


def test_a_dry_box_shows_the_zero_of_a_hygrometer():
    found = only(check(CheckSort.DRY_BOX, reading_rh=0.14, reference_rh=0.10))
    assert (found.key, found.offset, found.sd) == (RH, pytest.approx(-0.04), pytest.approx(0.025))


def test_half_filled_rows_say_nothing():
    assert checks_seen([check(CheckSort.COMPARE, reading_degc=37.0)], BELIEFS, NOW) == ()
    assert checks_seen([check(CheckSort.BOIL, reading_degc=99.0)], BELIEFS, NOW) == ()
    assert checks_seen([check(CheckSort.SALT, reading_rh=0.7)], BELIEFS, NOW) == ()
    assert checks_seen([check(CheckSort.ICE)], BELIEFS, NOW) == ()
    assert checks_seen([check(CheckSort.DRY_BOX, reference_rh=0.1)], BELIEFS, NOW) == ()


def test_what_comes_after_the_moment_is_not_seen():
    assert checks_seen([check(CheckSort.ICE, at=NOW + 1, reading_degc=0.4)], BELIEFS, NOW) == ()


# --- ice and boiling -------------------------------------------------------------------------------------------------


def s7(shared) -> dict:
    with (shared / "facts/machine/test_assertions.csv").open() as file:
        return next(row for row in csv.DictReader(file) if row["id"] == "S7")


def test_ice_and_boiling_point_are_joined_by_a_straight_line(shared):
    """Assertion S7 of the machine pack: ice reads 0.3, boiling water 95.6 at 1500 m; a reading of 37.8 then means
    37.375 °C (two points), 37.500 by the ice alone. Water boils there at the pressure of the standard atmosphere
    (CoolProp, IAPWS-95). Ours is told at a true 37.5 and not at 37.375: 0.001 K."""
    row = s7(shared)
    assert "ice reads 0.3, boil reads 95.6 at 1500 m ISA; reading 37.8" in row["input"]
    two_point, offset_only = 37.375, 37.500
    assert f"{two_point} °C (two-point), {offset_only:.3f} (offset only)" in row["expected"]
    pressure = 101325.0 * (1 - 2.25577e-5 * 1500) ** 5.25588
    boils = PropsSI("T", "P", pressure, "Q", 0, "Water") - 273.15
    ice = check(CheckSort.ICE, uid="i", reading_degc=0.3, reference_degc=0.0)
    boil = check(CheckSort.BOIL, uid="b", reading_degc=95.6, reference_degc=boils)
    found = only(ice, boil)
    assert 37.8 + found.offset == pytest.approx(two_point, abs=0.002)
    assert 37.8 + only(ice).offset == pytest.approx(offset_only)
    assert found.sd == pytest.approx(0.10)
    assert found.sd > 0.066  # what the two baths alone leave (same row); the curvature between them is not checked


def test_the_boiling_point_alone_is_far_from_where_it_matters():
    found = only(check(CheckSort.BOIL, reading_degc=99.5, reference_degc=100.0))
    assert found.offset == pytest.approx(0.5)
    assert found.sd == pytest.approx(hypot(0.1, 0.004 * 62.5))
    assert found.sd > 0.17


def test_ice_alone_proves_zero_and_leaves_the_gain():
    """A gain doubt of 0.4 % leaves 0.15 K at 37.5 °C; with 0.08 K of the bath that is the 0.17 K of the beliefs."""
    found = only(check(CheckSort.ICE, reading_degc=0.0))
    assert found.sd == pytest.approx(hypot(0.004 * 37.5, 0.08), abs=0.005)


# --- time ------------------------------------------------------------------------------------------------------------


@given(st.floats(0, 10))
def test_a_check_wears_off_as_a_random_walk(years):
    at = int(NOW - years * YEAR_S)
    found = only(check(CheckSort.ICE, at=at, reading_degc=0.1))
    assert found.sd == pytest.approx(hypot(0.17, 0.12 * ((NOW - at) / YEAR_S) ** 0.5), rel=1e-9)
    damp = only(check(CheckSort.SALT, at=at, reading_rh=0.7, reference_rh=0.75))
    assert damp.sd == pytest.approx(hypot(0.025, 0.018 * ((NOW - at) / YEAR_S) ** 0.5), rel=1e-9)


def test_only_the_latest_of_each_sort_counts():
    """Two ice points share the ice: a second one replaces the first and does not halve its doubt."""
    old = check(CheckSort.ICE, uid="old", at=NOW - 30 * DAY_S, reading_degc=1.0)
    new = check(CheckSort.ICE, uid="new", at=NOW, reading_degc=0.2)
    found = only(new, old)
    assert (found.check, found.offset, found.sd) == ("new", pytest.approx(-0.2), pytest.approx(0.17))


def test_different_sorts_add_up():
    found = checks_seen(
        [
            check(CheckSort.ICE, uid="a", reading_degc=0.2),
            check(CheckSort.COMPARE, uid="b", reading_degc=37.0, reference_degc=37.1),
        ],
        BELIEFS,
        NOW,
    )
    assert {one.sort for one in found} == {"ice", "compare"}
    unknowns = Unknowns.of([Prior(T, 0.0, 0.6)])
    after = fit(unknowns, [linear_terms(unknowns, found, ())])
    expected = 1 / (1 / 0.36 + sum(1 / one.sd**2 for one in found))
    assert after.sd(T) == pytest.approx(expected**0.5, rel=1e-6)


def test_each_probe_has_its_own_checks():
    found = checks_seen(
        [check(CheckSort.ICE, uid="a", reading_degc=0.2), check(CheckSort.ICE, uid="b", probe="q", reading_degc=-0.3)],
        BELIEFS, NOW,
    )  # fmt: skip
    assert {one.key: one.offset for one in found} == {T: -0.2, ("probe:q", "temp_offset"): 0.3}


# --- before any check ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sort", "airflow", "temp_sd", "rh"),
    [
        (ProbeSort.DISPLAY, Airflow.FAN, 0.6, (0.0, 0.06)),
        (ProbeSort.DIGITAL, Airflow.FAN, 0.45, (0.0, 0.035)),
        (ProbeSort.GLASS, Airflow.FAN, 0.6, (0.0, 0.06)),
        (ProbeSort.WICK, Airflow.FAN, 0.6, (0.0, 0.03)),
        (ProbeSort.WICK, Airflow.STILL, 0.6, (-0.06, 0.03)),
    ],
)
def test_an_unchecked_probe_is_believed_by_its_sort(sort, airflow, temp_sd, rh):
    """A wick without wind is not cooled enough and shows 4 to 8 points too humid: its offset leans to -6 %."""
    temp, damp = probe_priors(Probe(uid="p", name="p", sort=sort), airflow, BELIEFS, temperature=True, humidity=True)
    assert (temp.key, temp.mean, temp.sd, temp.tail) == (T, 0.0, pytest.approx(temp_sd), 4.0)
    assert (damp.key, damp.mean, damp.sd) == (RH, pytest.approx(rh[0]), pytest.approx(rh[1]))


def test_what_was_learnt_of_a_probe_replaces_its_sort():
    learnt = BELIEFS | {T: Belief(shape=Shape.NORMAL, a=-0.2, b=0.12, unit="K")}
    (temp,) = probe_priors(
        Probe(uid="p", name="p", sort=ProbeSort.DISPLAY), Airflow.FAN, learnt, temperature=True, humidity=False
    )
    assert (temp.mean, temp.sd, temp.tail) == (-0.2, 0.12, None)


# --- side by side ----------------------------------------------------------------------------------------------------


def test_an_unchecked_display_is_tied_to_a_checked_probe_beside_it():
    """Two probes at two places of one fan box agree to 0.2 K, so the display ends at hypot(0.10, 0.20) = 0.22 K, a hair
    less for what was believed of it before."""
    evidence = make_evidence(
        checks=(check(CheckSort.COMPARE, uid="c", probe="p1", at=SET_AT - DAY_S, reading_degc=37.4, reference_degc=37.5),),
        weighings=(), candlings=(),
    )  # fmt: skip
    u = understand(prior_beliefs("chicken"), evidence, NOW)
    free, tied = ("probe:p1", "temp_offset"), ("probe:display", "temp_offset")
    unknowns = Unknowns.of([Prior(free, 0.0, 0.45), Prior(tied, 0.0, 0.6)])
    seen = [OffsetSeen(key=free, offset=0.1, sd=0.1, check="c", sort="compare")]
    pair = SideBySide(left=tied, right=free, difference=0.1, sd=apart(Airflow.FAN, humidity=False))
    after = fit(unknowns, [linear_terms(unknowns, seen, [pair])])
    assert after.sd(tied) == pytest.approx(
        1 / (1 / 0.6**2 + 1 / (0.2**2 + 1 / (1 / 0.45**2 + 1 / 0.01))) ** 0.5, rel=1e-6
    )
    assert after.sd(tied) == pytest.approx(hypot(0.1, 0.2), rel=0.1)
    # Display 37.7, probe 37.6, probe +0.1: the display is at 0.0, pulled a little to its own zero.
    assert after.value(tied) == pytest.approx(0.0, abs=0.03)
    worn = hypot(0.1, 0.12 * (11 / 365.25) ** 0.5)
    assert u.posterior.sd(free) == pytest.approx(1 / (1 / 0.45**2 + 1 / worn**2) ** 0.5, rel=0.01)


def test_the_sign_of_a_comparison_side_by_side():
    """Left shows 0.5 more than right in the same air: left's true-minus-reading is 0.5 less than right's."""
    left, right = ("probe:l", "temp_offset"), ("probe:r", "temp_offset")
    unknowns = Unknowns.of([Prior(left, 0.0, 5.0), Prior(right, 0.3, 1e-3)])
    pair = SideBySide(left=left, right=right, difference=0.5, sd=1e-3)
    after = fit(unknowns, [linear_terms(unknowns, (), [pair])])
    assert after.value(left) == pytest.approx(0.3 - 0.5, abs=1e-3)


def test_checking_the_other_probe_narrows_the_one_that_reads():
    """Through the whole model: only the display hangs in the box with the eggs and reads; the checked probe hung beside
    it for the first two days and was then taken out. The display's doubt falls to hypot(0.10, 0.2) or so, and the clock
    with it."""
    mounts = (
        Mount(uid="m1", probe="display", machine="box", start=SET_AT - DAY_S),
        Mount(uid="m2", probe="p1", machine="box", start=SET_AT - DAY_S, end=SET_AT + 2 * DAY_S),
    )
    checks = (check(CheckSort.COMPARE, uid="c", probe="p1", at=SET_AT - DAY_S, reading_degc=37.5, reference_degc=37.5),)
    base = {"mounts": mounts, "weighings": (), "candlings": ()}
    series = {"display": make_series(temp_degc=37.7), "p1": make_series(days=2.0)}
    tied = understand(prior_beliefs("chicken"), make_evidence(checks=checks, series=series, **base), NOW)
    alone = understand(
        prior_beliefs("chicken"), make_evidence(checks=(), series={"display": series["display"]}, **base), NOW
    )
    key = ("probe:display", "temp_offset")
    assert alone.posterior.sd(key) == pytest.approx(0.6, rel=0.01)
    assert tied.posterior.sd(key) == pytest.approx(hypot(0.1, 0.2), rel=0.1)
    assert tied.posterior.value(key) == pytest.approx(-0.09, abs=0.03)
    assert tied.half.sd < 0.75 * alone.half.sd


def test_checks_of_probes_that_read_nothing_here_are_left_out():
    unknowns = Unknowns.of([Prior(T, 0.0, 0.6)])
    other = OffsetSeen(key=("probe:elsewhere", "temp_offset"), offset=1.0, sd=0.1, check="c", sort="ice")
    residual, jacobian = linear_terms(unknowns, [other], ())(unknowns.mean)
    assert residual.shape == (0,)
    assert jacobian.shape == (0, 1)
    assert np.array_equal(fit(unknowns, [linear_terms(unknowns, [other], ())]).mean, [0.0])
