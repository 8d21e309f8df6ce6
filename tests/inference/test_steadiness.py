"""Drift and swing on simulated hourly logs that are as alike from hour to hour as real ones (numpy, scipy.signal)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import signal, stats

from chalaza.inference import steadiness


def log(rng: np.random.Generator, days: int = 14, *, phi: float = 0.9, sd: float = 0.08, swing: float = 0.15):
    """Hourly means: first-order autoregression of stationary `sd` about a daily swing."""
    n = days * 24
    shocks = rng.normal(0.0, sd * np.sqrt(1 - phi**2), n + 200)
    noise = signal.lfilter([1.0], [1.0, -phi], shocks)[200:]
    return 37.5 + swing * np.sin(2 * np.pi * np.arange(n) / 24) + noise


def signalled(days: int, drift_k: float, runs: int, phi: float) -> float:
    rng = np.random.default_rng(8)
    hits = 0
    for _ in range(runs):
        course = log(rng, days, phi=phi) + drift_k * np.linspace(0, 1, days * 24)
        found = steadiness.drift(steadiness.daily(course, np.ones(len(course))))
        assert found is not None
        hits += found.signal
    return hits / runs


@pytest.mark.parametrize(("phi", "most"), [(0.0, 0.01), (0.5, 0.01), (0.9, 0.05)])
def test_a_steady_box_is_rarely_called_drifting(phi, most):
    """Share of steady fortnights that are signalled, 400 simulated each; measured 0.0 % at phi 0, 0.0 % at 0.5,
    2.8 % at 0.9. A chart made for 500 days between alarms gives 2.6 % in 13 days if the days are independent
    (1 - (1 - 1/500)^13); hours alike at 0.9 make days alike at about 0.15, and the limits are from twelve days only."""
    assert signalled(14, 0.0, 400, phi) <= most


def test_limits_from_hour_to_hour_would_cry_wolf_in_a_third_of_hours():
    """Why days: 3 sd limits with sd from the moving range (mean range / 1.128) on the same hours, phi 0.9 and no swing.
    The fact pack computes 34 % of points; the daily chart signals in a few per cent of whole fortnights."""
    rng = np.random.default_rng(9)
    shares = []
    for _ in range(50):
        course = log(rng, swing=0.0)
        sigma = np.mean(np.abs(np.diff(course))) / 1.128
        shares.append(np.mean(np.abs(course - course.mean()) > 3 * sigma))
    assert np.mean(shares) == pytest.approx(0.34, abs=0.05)
    assert signalled(14, 0.0, 200, 0.9) < 0.25 * np.mean(shares)


def test_a_drift_of_three_tenths_in_twelve_days_is_signalled():
    """Hours of sd 0.08 K: always where they are alike at 0.5. At 0.9 the box itself wanders by 0.06 K from day to day,
    and two creeps of three are signalled (measured 100 and 69 %; by the chart alone it was 82 and 41)."""
    assert signalled(13, 0.3, 200, 0.5) > 0.98
    assert signalled(13, 0.3, 200, 0.9) > 0.6


def test_the_size_of_the_drift_is_told():
    """Ordinary least squares on the days (scipy.stats.linregress) as the outside check of the slope."""
    rng = np.random.default_rng(4)
    course = log(rng, 13, phi=0.3) + 0.3 * np.linspace(0, 1, 13 * 24)
    days = steadiness.daily(course, np.ones(len(course)))
    found = steadiness.drift(days)
    assert found is not None
    line = stats.linregress(np.arange(len(days)), days)
    assert found.change == pytest.approx(line.slope * (len(days) - 1), abs=0.02)
    assert found.change == pytest.approx(0.3 * 11 / 13, abs=3 * found.sd)
    assert found.sd == pytest.approx(line.stderr * (len(days) - 1), rel=1.0)


def test_its_interval_holds():
    """Share of 90 % intervals of the change that hold the truth, 300 fortnights, phi 0.5: measured 97 %, since the
    scatter of days is not believed below 0.03 K."""
    rng, hits = np.random.default_rng(12), 0
    for _ in range(300):
        course = log(rng, 14, phi=0.5) + 0.2 * np.arange(14 * 24) / (14 * 24)
        found = steadiness.drift(steadiness.daily(course, np.ones(len(course))))
        assert found is not None
        hits += abs(found.change - 0.2 * 12 / 14) < 1.645 * found.sd
    assert hits / 300 > 0.86


def test_one_hot_day_is_not_a_drift():
    days = np.full(12, 37.5) + np.tile([0.01, -0.01], 6)
    days[5] += 2.0
    found = steadiness.drift(days)
    assert found is not None
    assert not found.signal
    assert abs(found.change) < 0.1


@pytest.mark.parametrize("n", [0, 1, 4])
def test_four_days_say_nothing(n):
    assert steadiness.drift(np.full(n, 37.5)) is None


def test_the_days_are_whole_ones_without_the_first():
    """The first day warms up; a day with under 18 covered hours is left out, a started one too."""
    hourly = np.repeat([30.0, 37.0, 38.0, 39.0, 40.0], 24)[: 4 * 24 + 10]
    cover = np.ones(len(hourly))
    cover[48 : 48 + 7] = 0.0
    assert steadiness.daily(hourly, cover).tolist() == [37.0, 39.0]
    cover[24:25] = 0.5
    assert steadiness.daily(hourly, cover) == pytest.approx([37.0, 39.0])


# --- how the box follows the room ------------------------------------------------------------------------------------


def room_and_box(rng: np.random.Generator, slope: float, days: int = 10):
    hours = np.arange(days * 24)
    weather = np.repeat(np.cumsum(rng.normal(0, 0.8, days)), 24)
    room = 18 + 3 * np.sin(2 * np.pi * (hours - 9) / 24) + weather + 0.2 * rng.normal(size=len(hours))
    noise = log(rng, days, phi=0.8, sd=0.06, swing=0.0) - 37.5
    return 37.5 + slope * (room - 18) + noise, room


@pytest.mark.parametrize("slope", [0.0, 0.05, 0.15])
def test_the_slope_of_box_on_room_is_recovered_with_an_honest_interval(slope):
    """200 simulated logs of ten days: mean estimate within 3 standard errors of the truth, and the 90 % intervals hold in
    85 to 96 %: two standard errors of a share of 0.9 in 200 are 4 %."""
    rng = np.random.default_rng(21)
    values, hits = [], []
    for _ in range(200):
        box, room = room_and_box(rng, slope)
        found = steadiness.follows(box, room, np.ones(len(box), dtype=bool))
        assert found is not None
        values.append(found.slope)
        hits.append(abs(found.slope - slope) < 1.645 * found.sd)
    error = np.std(values) / np.sqrt(200)
    assert np.mean(values) == pytest.approx(slope, abs=3 * error + 1e-4)
    assert 0.85 < np.mean(hits) < 0.96


def test_hours_are_not_taken_for_independent():
    """The naive error of least squares over 240 hours alike at 0.8 (scipy.stats.linregress) is too small by half."""
    rng = np.random.default_rng(2)
    ratios = []
    for _ in range(30):
        box, room = room_and_box(rng, 0.1)
        found = steadiness.follows(box, room, np.ones(len(box), dtype=bool))
        assert found is not None
        ratios.append(found.sd / stats.linregress(room, box).stderr)
    assert np.median(ratios) > 1.5


def test_a_lid_left_open_does_not_bend_the_slope():
    rng = np.random.default_rng(6)
    box, room = room_and_box(rng, 0.1)
    box[100:102] -= 12.0
    found = steadiness.follows(box, room, np.ones(len(box), dtype=bool))
    assert found is not None
    assert found.slope == pytest.approx(0.1, abs=0.04)


@pytest.mark.parametrize("case", ["no room probe", "two days", "a cellar"])
def test_without_a_moving_room_or_three_days_nothing_is_said(case):
    box, room = room_and_box(np.random.default_rng(1), 0.1)
    good = np.ones(len(box), dtype=bool)
    if case == "no room probe":
        room = np.full(len(room), np.nan)
    elif case == "two days":
        good[48:] = False
    else:
        room = 14 + 0.1 * np.sin(np.arange(len(room)))
    assert steadiness.follows(box, room, good) is None


def test_day_and_night_differ_by_the_swing():
    """A sine of 0.4 K amplitude has hourly extremes 0.8 K apart; noise of 0.02 K adds about four of its sd."""
    hours = np.arange(8 * 24)
    box = 37.5 + 0.4 * np.sin(2 * np.pi * hours / 24) + np.random.default_rng(3).normal(0, 0.02, len(hours))
    found = steadiness.day_night(box, np.ones(len(box), dtype=bool))
    assert found is not None
    assert found[0] == pytest.approx(0.82, abs=0.05)
    assert 0 < found[1] < 0.05


def test_day_and_night_need_three_whole_days():
    box, good = np.full(5 * 24, 37.5), np.ones(5 * 24, dtype=bool)
    good[10:] = False
    assert steadiness.day_night(box, good) is None


@given(st.integers(5, 40), st.floats(-1, 1), st.floats(30, 45))
def test_the_chart_does_not_mind_where_zero_is_and_turns_with_the_sign(n, drift_k, level):
    rng = np.random.default_rng(n)
    days = drift_k * np.arange(n) / n + rng.normal(0, 0.05, n)
    one, moved, turned = (steadiness.drift(x) for x in (days, days + level, -days))
    assert one is not None
    assert moved is not None
    assert turned is not None
    assert moved.change == pytest.approx(one.change, abs=1e-9)
    assert turned.change == pytest.approx(-one.change, abs=1e-9)
    assert one.signal == turned.signal
