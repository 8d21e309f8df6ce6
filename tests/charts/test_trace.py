import numpy as np
import pytest

from chalaza.charts import charts, window_of
from chalaza.charts.trace import MOST, trace
from chalaza.values.evidence import Series
from charts.cases import evidence, understood
from charts.reading import said
from factory import DAY_S, SET_AT


def readings(case: str):
    return evidence(case)[0].setting.series


def test_readings_are_drawn_as_they_were_shown():
    u, _ = understood("day12")
    (one,) = readings("day12").values()
    found = trace(u, readings("day12"), 11.0, 12.0)
    inside = (one.t >= SET_AT + 11 * DAY_S) & (one.t <= SET_AT + 12 * DAY_S)
    shown = found.value[~np.isnan(found.value)]
    assert len(shown) == np.count_nonzero(inside) == 144
    assert shown == pytest.approx(one.temp_degc[inside])
    assert found.day[0] == pytest.approx(11.0)
    damp = trace(u, readings("day12"), 11.0, 12.0, humidity=True)
    assert damp.value[~np.isnan(damp.value)] == pytest.approx(one.rh[inside])
    assert found.last == pytest.approx(float(one.temp_degc[inside][-1]))


def test_a_minute_log_is_thinned_and_keeps_its_extremes():
    u, _ = understood("day12")
    t = np.arange(SET_AT + 9 * DAY_S, SET_AT + 12 * DAY_S, 20, dtype=np.int64)
    temp = (37.5 + 0.2 * np.sin(t / 2_000.0)).astype(np.float32)
    temp[7_000:7_200], temp[3_000:3_200] = 38.9, 36.1
    found = trace(u, {"p1": Series(t, temp, np.full(len(t), 0.5, np.float32))}, 9.0, 12.0)
    assert len(found.day) <= MOST
    assert np.nanmin(found.value) == pytest.approx(36.1)
    assert np.nanmax(found.value) == pytest.approx(38.9)


def test_a_gap_in_the_log_is_a_gap_in_the_line():
    u, _ = understood("still")
    found = trace(u, readings("still"), 10.0, 12.0)
    hollow = found.day[np.isnan(found.value)]
    assert any(10.99 <= day <= 11.41 for day in hollow)
    before, after = found.day[found.day < 11.01], found.day[found.day > 11.39]
    assert before[-1] < 11.01
    assert after[0] > 11.39
    assert trace(u, readings("still"), 6.5, 9.0) is None


def test_what_no_sensor_can_mean_is_left_out_here_as_in_the_answers():
    u, _ = understood("day12")
    ((uid, one),) = readings("day12").items()
    temp = one.temp_degc.copy()
    temp[-20] = 150.0
    found = trace(u, {uid: replace_temp(one, temp)}, 11.0, 12.0)
    assert np.nanmax(found.value) < 45.0


def replace_temp(one: Series, temp: np.ndarray) -> Series:
    return Series(one.t, temp, one.rh)


def test_no_log_no_trace():
    u, _ = understood("day12")
    assert trace(u, None, 11.0, 12.0) is None
    assert trace(u, {}, 11.0, 12.0) is None
    assert trace(u, {"another": next(iter(readings("day12").values()))}, 11.0, 12.0) is None


def test_readings_stand_in_for_the_hourly_air_where_the_window_is_short():
    u, a = understood("day12")
    close = charts(u, a, window=window_of(u, "three_days"), readings=readings("day12"))["warmth"].definition
    assert len(close["datasets"]["readings"]) > 200
    assert "as read" in said(close)
    assert "air" not in said(close)
    week = charts(u, a, window=(SET_AT + 5 * DAY_S, SET_AT + 12 * DAY_S), readings=readings("day12"))[
        "warmth"
    ].definition
    assert "readings" not in week["datasets"]
    assert "air" in said(week)
    without = charts(u, a, window=window_of(u, "day"))["warmth"].definition
    assert "air" in said(without)
