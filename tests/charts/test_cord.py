import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.charts.cord import Cord
from charts.drawings import curve


def cord(days: float, *, day_px: float = 30.0) -> Cord:
    return Cord(14.0, 100.0, day_px, days, 14.0 + (days + 6.0) * day_px)


def crossings(c: Cord) -> list[float]:
    """Places where the strands meet after their start, as drawn. [px]"""
    up, down = (curve(d) for d in c.strands(c.left, c.right))
    gap = up[:, 1] - down[:, 1]
    assert np.allclose(up[:, 0], down[:, 0])
    met = np.flatnonzero(np.abs(gap) < 1e-6)[1:]
    return up[met, 0].tolist()


@pytest.mark.parametrize("days", [1.0, 7.0, 18.0, 39.0])
def test_one_crossing_is_one_day_of_turning(days):
    c = cord(days)
    assert c.crossings == days
    assert crossings(c) == pytest.approx([14.0 + 30.0 * (i + 1) for i in range(int(days))], abs=0.06)


@given(st.floats(0.3, 45.0))
def test_strands_meet_at_each_day_and_where_turning_stops(days):
    c = cord(days)
    met = crossings(c)
    whole = [14.0 + 30.0 * i for i in range(1, c.crossings + 1)]
    assert met[-1] == pytest.approx(c.stop, abs=0.06)
    assert abs(c.crossings - days) < 1.0 + 1e-9
    # What is left of a day is a loop of its own, or none where it is too short to be seen.
    assert len(met) in (len(whole), len(whole) + 1)
    assert met[: len(whole) - 1] == pytest.approx(whole[:-1], abs=0.06)


def test_strands_swing_as_far_as_the_cord_is_wide():
    up, down = (curve(d) for d in cord(5.0).strands(0.0, 1_000.0))
    for strand in (up, down):
        assert np.ptp(strand[:, 1]) == pytest.approx(14.0, abs=0.05)
        assert strand[:, 1].mean() == pytest.approx(100.0, abs=3.0)


@given(st.floats(0.0, 20.0))
def test_past_and_to_come_lie_on_one_line(day):
    # Cut anywhere, the two parts are the whole: nothing is moved by where now is.
    c = cord(18.4)
    at = c.left + day * c.day_px
    whole = curve(c.strands(c.left, c.right)[0])
    parts = [curve(d) for d in (c.strands(c.left, at)[0], c.strands(at, c.right)[0]) if d]
    for part in parts:
        # Places are written to a tenth of a pixel, and a strand rises no steeper than 1 to 1.
        assert np.abs(np.interp(part[:, 0], whole[:, 0], whole[:, 1]) - part[:, 1]).max() < 0.2


def test_it_lies_straight_once_turning_stops():
    c = cord(10.0)
    assert c.straight(c.left, c.right) == "M314 100H494"
    assert c.straight(c.left, 200.0) == ""
    assert c.straight(400.0, c.right) == "M400 100H494"


@pytest.mark.parametrize("days", [-3.0, 0.0])
def test_never_turned_is_straight_from_the_start(days):
    c = Cord(14.0, 100.0, 30.0, days, 200.0)
    assert c.crossings == 0
    assert c.strands(14.0, 200.0) == ("", "")
    assert c.straight(14.0, 200.0) == "M14 100H200"
