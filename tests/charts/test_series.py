import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.charts.series import HALVES, QUARTERS, thinned, three_lines


@given(st.integers(0, 3_000), st.integers(0, 2**31))
def test_a_thinned_series_keeps_its_extremes_ends_and_at_most_so_many(n, seed):
    rng = np.random.default_rng(seed)
    values = rng.normal(37.5, 1.0, n)
    keep = thinned(values)
    assert len(keep) <= 600
    assert np.all(np.diff(keep) > 0)
    if n:
        assert {keep[0], keep[-1]} == {0, n - 1}
        assert values[keep].min() == values.min()
        assert values[keep].max() == values.max()


def test_a_gap_in_a_long_series_stays_a_gap():
    values = np.sin(np.arange(5_000) / 30.0)
    values[2_000:2_400] = np.nan
    keep = thinned(values)
    before, after = keep[keep < 2_000].max(), keep[keep >= 2_400].min()
    assert np.isnan(values[keep][(keep > before) & (keep < after)]).any()


@given(st.floats(-50.0, 50.0), st.floats(1e-3, 100.0), st.sampled_from([HALVES, QUARTERS]))
def test_three_lines_are_even_inside_and_round(low, span, sizes):
    lines = three_lines(low, low + span, sizes)
    step = lines[1] - lines[0]
    assert lines[2] - lines[1] == pytest.approx(step, abs=1e-8)
    assert low - 1e-8 <= lines[0]
    assert lines[2] <= low + span + 1e-8
    assert any(step / 10.0**p == pytest.approx(s) for p in range(-6, 3) for s in sizes)
    # Three steps in the span always hold three lines, and the next smaller round step is 2.5 times smaller at most.
    assert step >= span / 7.5 * (1.0 - 1e-9)


def test_lines_of_degrees_need_one_decimal_at_most():
    assert three_lines(37.0, 37.9, HALVES) == (37.2, 37.4, 37.6)
    assert three_lines(0.01, 0.151) == (0.05, 0.1, 0.15)
