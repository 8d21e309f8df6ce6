"""Readings made fit for arithmetic, against sums taken second by second (numpy.trapezoid, numpy.interp)."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.inference import readings
from chalaza.physics import air
from chalaza.values.evidence import Series

EDGES = np.arange(0, 3901, 300, dtype=np.int64)


@st.composite
def logs(draw):
    """An irregular log over about an hour, some readings missing, some stretches long."""
    steps = draw(st.lists(st.integers(1, 900), min_size=1, max_size=14))
    t = np.cumsum([draw(st.integers(-600, 600)), *steps]).astype(np.int64)
    values = draw(st.lists(st.floats(20, 45) | st.just(float("nan")), min_size=len(t), max_size=len(t)))
    return t, np.array(values)


def by_seconds(t, values, edges, gap):
    """Mean and cover of each bin, second by second: covered where the two readings about it are no further apart."""
    good = ~np.isnan(values)
    t, values = t[good], values[good]
    means, covers = [], []
    for a, b in itertools.pairwise(edges):
        seconds = np.arange(a, b)
        held = np.zeros(len(seconds), dtype=bool)
        for left, right in itertools.pairwise(t):
            if right - left <= gap:
                held |= (seconds >= left) & (seconds < right)
        area = sum(np.trapezoid(np.interp([s, s + 1], t, values)) for s in seconds[held])
        means.append(area / held.sum() if held.any() else np.nan)
        covers.append(held.mean())
    return np.array(means), np.array(covers)


@given(logs(), st.sampled_from([120.0, 500.0, 1800.0]))
def test_a_bin_is_the_integral_of_the_straight_course(log, gap):
    t, values = log
    mean, cover = readings.binned(t, values, EDGES, gap)
    expected, covered = by_seconds(t, values, EDGES, gap)
    assert cover == pytest.approx(covered, abs=1e-9)
    assert mean == pytest.approx(expected, abs=1e-9, nan_ok=True)


@given(logs(), st.data())
def test_a_reading_more_on_the_straight_line_changes_nothing(log, data):
    t, values = log
    good = ~np.isnan(values)
    t, values = t[good], values[good]
    places = [i for i in range(len(t) - 1) if t[i + 1] - t[i] >= 2]
    if not places:
        return
    i = data.draw(st.sampled_from(places))
    at = data.draw(st.integers(int(t[i]) + 1, int(t[i + 1]) - 1))
    value = float(np.interp(at, t, values))
    more, more_values = np.insert(t, i + 1, at), np.insert(values, i + 1, value)
    for one, other in zip(
        readings.binned(t, values, EDGES, 1e9), readings.binned(more, more_values, EDGES, 1e9), strict=True
    ):
        assert other == pytest.approx(one, abs=1e-9, nan_ok=True)


def test_an_irregular_log_counts_as_long_as_it_lasted():
    """Ten readings in one second at 40 °C, then 30 °C for the rest of the bin: the bin is at 30, not at 39."""
    t = np.array([*range(10), 10, 300], dtype=np.int64)
    values = np.array([40.0] * 10 + [30.0, 30.0])
    mean, _ = readings.binned(t, values, np.array([0, 300]), 1800.0)
    assert mean[0] == pytest.approx((9 * 40 + 35 + 290 * 30) / 300)


def test_a_gap_covers_nothing_and_nothing_is_made_up_across_it():
    t = np.array([0, 300, 3300, 3600], dtype=np.int64)
    mean, cover = readings.binned(t, np.array([37.0, 37.0, 39.0, 39.0]), EDGES, 1800.0)
    assert cover.tolist() == [1.0, *[0.0] * 10, 1.0, 0.0]
    assert np.isnan(mean[1:11]).all()
    assert (mean[0], mean[11]) == (37.0, 39.0)
    assert readings.gaps(t, np.array([37.0, 37, 39, 39]), 0, 3600, 1800.0) == ((300.0, 3300.0),)


def test_gaps_at_the_ends_and_a_missing_reading_are_gaps_too():
    t = np.array([4000, 4100, 6500, 8000], dtype=np.int64)
    values = np.array([37.0, 37.0, np.nan, 37.0])
    assert readings.gaps(t, values, 0, 12000, 1800.0) == ((0.0, 4000.0), (4100.0, 8000.0), (8000.0, 12000.0))
    assert readings.gaps(t, np.full(4, np.nan), 0, 12000, 1800.0) == ((0.0, 12000.0),)


@given(logs())
def test_extremes_are_those_of_the_readings_in_the_bin(log):
    t, values = log
    low, high = readings.extremes(t, values, EDGES)
    for i, (a, b) in enumerate(itertools.pairwise(EDGES)):
        inside = values[(t >= a) & (t < b) & ~np.isnan(values)]
        expected = (inside.min(), inside.max()) if len(inside) else (np.nan, np.nan)
        assert (low[i], high[i]) == pytest.approx(expected, nan_ok=True)


def series(temp, rh=None, step=60) -> Series:
    t = np.arange(len(temp), dtype=np.int64) * step
    damp = np.full(len(temp), 0.5) if rh is None else np.array(rh)
    return Series(t, np.array(temp, dtype=np.float32), damp.astype(np.float32))


def test_one_spike_of_150_degrees_is_set_aside_with_reason_and_count():
    temp = [37.5] * 1000
    temp[400] = 150.0
    found = readings.clean(series(temp))
    assert dict(found.set_aside) == {"temperature outside -15 to 54 °C": 1}
    assert np.isnan(found.temp_degc[400])
    assert np.isnan(found.vapour_pa[400])
    assert np.count_nonzero(np.isnan(found.temp_degc)) == 1
    assert found.rh[400] == pytest.approx(0.5)


def test_a_jump_there_and_back_faster_than_air_is_set_aside_and_a_lid_is_not():
    """10 K in a minute is the limit; a lid that lets the air fall 6 K and takes minutes to come back stays."""
    spike, lid = [37.5] * 60, [37.5] * 60
    spike[30] = 49.0
    lid[30:34] = [31.0, 33.0, 35.0, 36.5]
    assert dict(readings.clean(series(spike)).set_aside) == {"temperature jumped and came back at once": 1}
    assert not readings.clean(series(lid)).set_aside
    assert not readings.clean(series(spike, step=600)).set_aside


@pytest.mark.parametrize("code", [-127.0, 85.0, 998.0])
def test_codes_of_absent_sensors_are_outside_the_believable(code):
    """85, -127 °C: one-wire codes for no conversion and no sensor; 998: a common over-range code (import hazards list)."""
    temp = [37.5] * 20
    temp[7:9] = [code, code]
    assert sum(readings.clean(series(temp)).set_aside.values()) == 2


def test_humidity_out_of_span_is_set_aside_and_its_temperature_kept():
    rh = [0.5] * 10
    rh[3:5] = [1.2, -0.1]
    found = readings.clean(series([37.5] * 10, rh))
    assert dict(found.set_aside) == {"humidity outside 0 to 100 %": 2}
    assert np.isnan(found.rh[3:5]).all()
    assert not np.isnan(found.temp_degc).any()
    assert np.isnan(found.vapour_pa[3:5]).all()
    assert found.vapour_pa[0] == pytest.approx(0.5 * float(air.saturation_pressure(37.5)))


def test_nothing_but_missing_readings_covers_nothing():
    found = readings.clean(series([float("nan")] * 50, [float("nan")] * 50))
    mean, cover = readings.binned(found.t, found.temp_degc, EDGES, 1800.0)
    assert np.isnan(mean).all()
    assert not cover.any()
    assert not found.set_aside
    assert np.isnan(readings.extremes(found.t, found.temp_degc, EDGES)).all()


@pytest.mark.parametrize("n", [0, 1, 2])
def test_a_log_of_hardly_a_reading_is_no_error(n):
    found = readings.clean(series([37.5] * n))
    mean, cover = readings.binned(found.t, found.temp_degc, EDGES, 1800.0)
    assert cover.sum() == pytest.approx({0: 0.0, 1: 0.0, 2: 0.2}[n])
    assert np.count_nonzero(~np.isnan(mean)) == (n == 2)
    assert found.step_s == {0: 0.0, 1: 0.0, 2: 60.0}[n]
