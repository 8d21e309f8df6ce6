import numpy as np
import pytest

from chalaza.charts import charts, water, window_of
from chalaza.charts.losses import course
from chalaza.words.language import OPEN, pseudo
from charts.cases import evidence, understood
from charts.reading import said
from factory import DAY_S, SET_AT


def close(case: str, first: float, last: float, **options):
    u, a = understood(case)
    window = (SET_AT + first * DAY_S, SET_AT + last * DAY_S)
    return charts(u, a, window=window, readings=evidence(case)[0].setting.series, only=("water",), **options)["water"]


def test_the_loss_in_the_window_is_that_of_the_answer():
    u, a = understood("day12")
    rows = close("day12", 9.0, 12.0).definition["datasets"]["lived"]
    wanted = course(u, np.array([9.0 * 24.0, 12.0 * 24.0]))
    assert rows[0]["loss"] == pytest.approx(wanted.loss[0], rel=1e-5)
    assert rows[-1]["loss"] == pytest.approx(a.water.loss_now.value, rel=1e-5)
    assert (rows[-1]["low"], rows[-1]["high"]) == pytest.approx((a.water.loss_now.low, a.water.loss_now.high), rel=1e-4)


def test_the_wanted_pace_is_even_up_to_lockdown_and_then_stays():
    _, a = understood("after")
    due, wanted = a.water.target_day_d, a.water.wanted
    band = close("after", due - 2.0, due + 2.0).definition["datasets"]["wanted"]
    for row in band:
        share = min(row["day"] / due, 1.0)
        assert row["low"] == pytest.approx(wanted.low * share, rel=1e-5)
        assert row["high"] == pytest.approx(wanted.high * share, rel=1e-5)


def test_weighings_of_the_window_are_drawn_and_no_others():
    drawn = close("day12", 8.0, 12.0).definition["datasets"]["weighed"]
    assert [row["day"] for row in drawn] == pytest.approx([9.0, 11.5], abs=0.01)
    assert close("day12", 5.5, 8.5).definition["datasets"]["weighed"] == []


def test_humidity_is_drawn_as_shown_with_its_gaps():
    data = close("still", 9.7, 12.0).definition["datasets"]
    shown = {round(row["day"], 2): row["rh"] for row in data["humidity"]}
    assert any(value is None for day, value in shown.items() if 11.05 < day < 11.35)
    assert all(0.4 < value < 0.7 for value in shown.values() if value is not None)
    assert len(data["readings"]) > 200


def test_without_a_log_it_says_so():
    one = close("none", 7.0, 10.0)
    assert "no humidity logged" in said(one.definition)
    assert one.label.endswith("No humidity was logged.")
    assert one.definition["datasets"]["readings"] == []


def test_the_label_tells_what_was_lost_and_what_was_wanted_meanwhile():
    u, a = understood("day12")
    one = close("day12", 9.0, 12.0)
    lost = 100.0 * (a.water.loss_now.value - float(course(u, np.array([216.0])).loss[0]))
    share = 3.0 / a.water.target_day_d
    assert one.label.startswith(
        f"Loss of weight from Tue 10, 09:00 to Fri 13, 09:00: {lost:.1f} %; "
        f"{100 * a.water.wanted.low * share:.1f} to {100 * a.water.wanted.high * share:.1f} % wanted in this time."
    )
    assert "Humidity shown: 2" in one.label


def test_the_table_has_beginning_end_weighings_and_humidity():
    found = close("day12", 8.0, 12.0).table
    assert [row[0] for row in found.rows] == ["from", "weighed", "weighed", "now"]
    assert [row[1] for row in found.rows] == pytest.approx([8.0, 9.0, 11.5, 12.0], abs=0.01)
    assert all(0.2 < row[-1] < 0.5 for row in found.rows)
    assert found.head()[-1] == "humidity, %"


def test_a_given_sentence_stands_for_the_label_and_nothing_is_left_in_english():
    u, a = understood("day12")
    assert water.definition(u, a, window=window_of(u, "day"), text="Too dry.")["description"] == "Too dry."
    one = close("day12", 11.0, 12.0, say=pseudo)
    assert one.label.startswith(OPEN)
    figures = {word for word in said(one.definition) if OPEN not in word}
    assert all(set(word) <= set("0123456789.: %") for word in figures), figures
