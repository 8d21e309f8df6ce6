import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.charts.forecast import Forecasted, hills, told
from chalaza.values.estimate import Z90, Basis, Estimate
from charts.drawings import curve

DAY = 86_400


def estimate(value: float, half: float) -> Estimate:
    return Estimate(value, value - half, value + half, "epoch_s", Basis("clock"))


def drawn(estimates, *, per_h: float = 8.0, narrow: float = 5.0):
    return hills(estimates, t0=0.0, x0=0.0, px_per_s=per_h / 3_600.0, foot=100.0, high=70.0, narrow=narrow)


def area(hill) -> float:
    """Under the edge as drawn. [px²]"""
    points = curve(hill.d(-1e6, 1e6))
    return float(np.trapezoid(100.0 - points[:, 1], points[:, 0]))


@given(st.lists(st.tuples(st.floats(200.0, 400.0), st.floats(4.0, 80.0)), min_size=1, max_size=4))
def test_every_hill_has_the_same_area_and_the_steepest_is_as_high_as_it_may_be(forecasts):
    found = drawn([estimate(3_600.0 * middle, 3_600.0 * half) for middle, half in forecasts])
    # A Gaussian drawn to 3.1 standard deviations by cubics between 13 places, written to 0.1 px, which on a hill 4 px
    # high (the flattest here) is 0.1 px over the whole width: 2.5 %.
    areas = [area(one) for one in found]
    assert areas == pytest.approx([areas[0]] * len(areas), rel=0.05)
    assert max(one.height for one in found) == pytest.approx(70.0)


@given(st.floats(200.0, 400.0), st.floats(6.0, 60.0))
def test_a_hill_says_what_its_estimate_says(middle, half):
    (hill,) = drawn([estimate(3_600.0 * middle, 3_600.0 * half)])
    points = curve(hill.d(-1e6, 1e6))
    x, y = points[:, 0], 100.0 - points[:, 1]
    mass = np.concatenate(([0.0], np.cumsum(0.5 * (y[1:] + y[:-1]) * np.diff(x))))
    low, centre, high = np.interp([0.05, 0.5, 0.95], mass / mass[-1], x)
    # To 3.1 standard deviations 0.2 % of the chance is not drawn, which moves the 5 % point by 0.01 of them; 0.3 px is
    # what rounding does.
    sd = 8.0 * half / Z90
    assert centre == pytest.approx(8.0 * middle, abs=0.3)
    assert low == pytest.approx(8.0 * (middle - half), abs=0.02 * sd + 0.3)
    assert high == pytest.approx(8.0 * (middle + half), abs=0.02 * sd + 0.3)


def test_a_hill_too_steep_for_a_stroke_is_as_narrow_as_a_stroke():
    sharp, wide = drawn([estimate(360_000.0, 60.0), estimate(360_000.0, 72_000.0)])
    assert sharp.sd == 5.0
    assert wide.height / sharp.height == pytest.approx(5.0 / (8.0 * 20.0 / Z90))


def test_a_hill_is_cut_at_the_edges_of_its_panel():
    (hill,) = drawn([estimate(360_000.0, 72_000.0)])
    points = curve(hill.d(700.0, 820.0))
    assert points[:, 0].min() == pytest.approx(700.0, abs=0.06)
    assert points[:, 0].max() == pytest.approx(820.0, abs=0.06)
    assert hill.d(2_000.0, 2_100.0) == ""
    assert hill.d(700.0, 820.0, closed=True).endswith("V100H700Z")


def test_three_are_told_the_first_one_since_and_the_latest():
    def on(day: float, middle_h: float, half_h: float) -> Forecasted:
        return Forecasted(int(day * DAY), estimate(3_600.0 * middle_h, 3_600.0 * half_h))

    earlier = [on(day, 510.0, half) for day, half in ((3, 34.0), (0.1, 44.0), (8, 30.0), (13, 26.5), (15.9, 26.0))]
    now = estimate(3_600.0 * 510.0, 3_600.0 * 26.0)
    found = told(now, 16 * DAY, earlier)
    assert found.first == earlier[1]
    assert found.since == earlier[2]
    assert found.now.half is now
    assert [one.at for one in found.listed()] == [8_640, 8 * DAY, 16 * DAY]
    # What says nothing new is not drawn twice, and what was told today is today's.
    assert told(now, 16 * DAY, earlier[3:4]).first == earlier[3]
    assert told(now, 16 * DAY, [earlier[1], on(8, 510.0, 44.0)]).since is None
    assert told(now, 16 * DAY, [earlier[4]]).first is None
    assert told(now, 16 * DAY, []).listed() == (found.now,)
