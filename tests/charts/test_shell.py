from re import findall

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.charts import shell
from chalaza.physics import egg


def corners(d: str) -> np.ndarray:
    return np.array([[float(x), float(y)] for x, y in findall(r"(-?[\d.]+) (-?[\d.]+)", d)])


@given(st.floats(20.0, 160.0), st.floats(0.62, 0.85))
def test_the_outline_is_that_of_the_physics_in_any_unit(length, share):
    depth = np.linspace(0.0, length, 9)
    found = shell.half(depth, length, share * length)
    wanted = egg.outline(depth, length, share * length, egg.HEN_SHIFT_SHARE * length)
    assert found == pytest.approx(wanted, abs=1e-6 * length)


def test_a_path_is_as_long_and_broad_as_asked_for_and_blunt_end_up():
    points = corners(shell.path(300.0, 220.0, x=200.0, y=10.0, steps=90, digits=3))
    assert np.ptp(points[:, 1]) == pytest.approx(300.0, abs=0.01)
    assert np.ptp(points[:, 0]) == pytest.approx(220.0, abs=0.1)
    assert points[:, 0].mean() == pytest.approx(200.0, abs=0.1)
    assert points[np.argmax(points[:, 0]), 1] < 10.0 + 150.0


def test_a_cut_path_begins_at_its_depth_lower_on_the_right_when_tilted():
    points = corners(shell.path(100.0, 75.0, first=20.0, tilt=4.0, digits=3))
    assert points[0, 1] == pytest.approx(24.0)
    assert points[-1, 1] == pytest.approx(16.0)
    assert points[0, 0] == pytest.approx(egg.outline(24.0, 100.0, 75.0, 3.5), abs=0.001)


def test_hatching_stays_inside_the_shell():
    points = corners(shell.hatching(46.0, 36.0, apart=8.5))
    assert len(points) >= 12
    # Written to 0.1 px and cut at 400 depths.
    assert np.all(np.abs(points[:, 0]) <= shell.half(points[:, 1], 46.0, 36.0) + 0.35)
    strokes = points.reshape(-1, 2, 2)
    slope = np.diff(strokes[:, :, 1]) / np.diff(strokes[:, :, 0])
    assert slope[:, 0] == pytest.approx(-1.0, abs=0.05)
