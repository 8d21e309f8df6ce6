"""The course between five trial offsets: exact at them, smooth between, straight beyond.

Outside check: scipy.interpolate.CubicHermiteSpline through the same five points; polynomials in closed form.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import CubicHermiteSpline

from chalaza.inference.grid import NODES, Floats, Grid

FIVE = st.lists(st.floats(-50, 50), min_size=5, max_size=5)
CENTER = st.floats(-1, 1)
STEP = st.floats(0.05, 2.0)


def grid(center: float, step: float, values: list) -> Grid:
    return Grid.of(np.array([center]), np.array([step]), np.array([values], dtype=np.float64))


def at(one: Grid, offset: float) -> tuple[float, float]:
    value, slope = one.at(np.array([offset]))
    return float(value[0]), float(slope[0])


@given(CENTER, STEP, FIVE)
def test_at_the_nodes_it_is_what_was_given(center, step, values):
    one = grid(center, step, values)
    for node, value in zip(NODES, values, strict=True):
        assert at(one, center + step * node)[0] == pytest.approx(value, abs=1e-9)


@given(CENTER, STEP, st.tuples(*[st.floats(-5, 5)] * 3), st.floats(-2, 2))
def test_a_parabola_is_reproduced_with_its_slope(center, step, c, u):
    """Central slopes are those of any parabola, the ends' are made so; hence exact, up to rounding."""
    one = grid(center, step, c[0] + c[1] * NODES + c[2] * NODES**2)
    value, slope = at(one, center + step * u)
    assert value == pytest.approx(c[0] + c[1] * u + c[2] * u * u, abs=1e-8)
    assert slope * step == pytest.approx(c[1] + 2 * c[2] * u, abs=1e-7)


@given(st.floats(-3, 3), st.floats(-1, 1))
def test_a_cubic_is_missed_by_a_tenth_of_its_coefficient_inside(c3, u):
    """Central slopes of x³ are too high by 1 at both ends of a cell: t(1-t)(1-2t) is left, at most sqrt(3)/18 = 0.0962."""
    value, _ = at(grid(0.0, 1.0, c3 * NODES**3), u)
    assert abs(value - c3 * u**3) <= abs(c3) * 3**0.5 / 18 + 1e-12


@given(CENTER, STEP, FIVE, st.floats(-2, 2))
def test_between_the_nodes_it_is_hermites_cubic(center, step, values, u):
    y = np.array(values)
    ends = (-1.5 * y[0] + 2 * y[1] - 0.5 * y[2], 1.5 * y[4] - 2 * y[3] + 0.5 * y[2])
    spline = CubicHermiteSpline(NODES, y, np.array([ends[0], *(0.5 * (y[2:] - y[:-2])), ends[1]]))
    value, slope = at(grid(center, step, values), center + step * u)
    assert value == pytest.approx(float(spline(u)), abs=1e-8)
    assert slope * step == pytest.approx(float(spline(u, 1)), abs=1e-6)


@given(CENTER, STEP, FIVE, st.floats(-4, 4))
def test_the_slope_is_the_derivative_of_the_value(center, step, values, u):
    """Central difference over 1e-5 steps. Its error: third derivative x h²/6 < 1e-7, rounding 1e-14/1e-5 = 1e-9 a step;
    at a node the curvature jumps by at most a few hundred, which over 1e-5 is 1e-2 at values of 50."""
    one, h = grid(center, step, values), 1e-5
    up, down = at(one, center + step * (u + h))[0], at(one, center + step * (u - h))[0]
    assert at(one, center + step * u)[1] * step == pytest.approx((up - down) / (2 * h), abs=1e-2)


@given(CENTER, STEP, FIVE, st.sampled_from([-2.0, 2.0]), st.floats(0, 3))
def test_beyond_the_outer_nodes_it_goes_on_straight(center, step, values, end, far):
    one = grid(center, step, values)
    edge, slope = at(one, center + step * end)
    beyond, same = at(one, center + step * (end + np.sign(end) * far))
    assert same == pytest.approx(slope, abs=1e-7 / step)
    assert beyond == pytest.approx(edge + slope * step * np.sign(end) * far, abs=1e-7)


@given(CENTER, STEP, FIVE, st.sampled_from(list(NODES)))
def test_value_and_slope_are_continuous_at_every_node(center, step, values, node):
    one, h = grid(center, step, values), 1e-9
    left, right = at(one, center + step * (node - h)), at(one, center + step * (node + h))
    assert left[0] == pytest.approx(right[0], abs=1e-5)
    assert left[1] * step == pytest.approx(right[1] * step, abs=1e-5)


def test_every_hour_has_its_own_centre_step_and_course():
    rng = np.random.default_rng(1)
    n = 40
    center, step, values = rng.normal(size=n), rng.uniform(0.2, 1.0, n), rng.normal(size=(n, 5))
    offset: Floats = rng.normal(size=n)
    value, slope = Grid.of(center, step, values).at(offset)
    for i in range(n):
        alone = at(Grid.of(center[i : i + 1], step[i : i + 1], values[i : i + 1]), float(offset[i]))
        assert (value[i], slope[i]) == pytest.approx(alone)
