from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from chalaza.charts import clock
from charts.cases import CASES, understood
from charts.reading import said


@pytest.mark.parametrize("name", ["none", "day12", "still", "many"])
def test_the_line_ends_at_the_lag_of_the_answer(name):
    u, a = understood(name)
    last = clock.definition(u, a)["datasets"]["lived"][-1]
    behind = a.clock.behind_h
    assert (-last["ahead_h"], -last["high"], -last["low"]) == pytest.approx(
        (behind.value, behind.low, behind.high), rel=1e-5, abs=1e-6
    )
    assert last["day"] == pytest.approx(a.clock.day)
    assert last["day"] + last["ahead_h"] / 24.0 == pytest.approx(a.clock.age_d.value, rel=1e-6)


def test_the_lag_starts_at_nothing_and_grows_by_the_cold_spells():
    u, _ = understood("day12")
    found = clock.lag(u, np.array([0.0, 8.0 * 24.0, 8.8 * 24.0]))
    assert found.ahead_h[0] == 0.0
    # 7 h at 29 °C cost at least half of their length (embryo.rate_of_development at 29-34 °C).
    assert found.ahead_h[2] < found.ahead_h[1] - 3.5


@pytest.mark.parametrize(
    ("hours", "words"), [(9.4, "9 h behind"), (-3.2, "3 h ahead"), (0.3, "on time"), (-0.4, "on time")]
)
def test_a_lag_in_words(hours, words):
    assert clock.lag_words(hours, str) == words


@pytest.mark.parametrize("name", CASES)
def test_the_table_says_what_the_drawing_shows(name):
    u, a = understood(name)
    data = clock.definition(u, a)["datasets"]
    rows = {row[0]: row for row in clock.table(u, a).rows}
    for word, key in (("first pip", "first_pip"), ("half out", "half_out"), ("last out", "last_out")):
        assert rows[word][1] == pytest.approx(data[key][0]["middle"] / 24.0, rel=1e-6)
    assert rows["turning stops"][1] == pytest.approx(data["stop"][0]["day"], rel=1e-6)


def test_moments_are_told_in_the_zone_asked_for():
    u, a = understood("day12")
    home, away = ({row[0]: row[2] for row in clock.table(u, a, zone=zone).rows} for zone in (None, "Asia/Kathmandu"))
    at = datetime.fromtimestamp(a.clock.half_hatched.value, ZoneInfo("Europe/Berlin"))
    assert home["half out"] == f"{at:%a} {at.day}, {at:%H:%M}"
    assert away["half out"] != home["half out"]


def test_what_was_lived_is_drawn_no_further_than_half_out():
    u, a = understood("after")
    data = clock.definition(u, a)["datasets"]
    assert data["lived"][-1]["day"] == pytest.approx((a.clock.half_hatched.value - a.set_at) / 86_400, rel=1e-6)
    assert data["now"] == []


@pytest.mark.parametrize("name", CASES)
def test_every_bar_and_the_post_have_their_names(name):
    for width in (350, 420):
        found = said(clock.definition(*understood(name), width=width))
        assert {"first pip", "half out", "last out", "turning stops", "set", "usual"} <= found
