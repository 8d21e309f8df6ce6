from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from chalaza.charts import clock, hill
from chalaza.charts.base import Panel
from charts.cases import CASES, understood
from charts.reading import layers, said


def data_of(name: str, **options) -> dict:
    return clock.definition(*understood(name), **options)["datasets"]


@pytest.mark.parametrize("name", CASES)
def test_nine_tenths_of_the_hill_lie_over_the_bar_of_half_out(name):
    data = data_of(name)
    hour = np.array([row["hour"] for row in data["hill"]])
    chance = np.array([row["chance"] for row in data["hill"]])
    bar = data["half_out"][0]
    whole = np.linspace(bar["low"], bar["high"], 2_001)
    inside = np.trapezoid(np.interp(whole, hour, chance), whole)
    # The hill is drawn to 3.3 standard deviations where the panel has room: 0.1 % is beyond.
    area = np.sqrt(2.0 * np.pi) * (bar["high"] - bar["low"]) / (2.0 * 1.6449)
    assert inside / area == pytest.approx(0.90, abs=0.004)
    assert hour[np.argmax(chance)] == pytest.approx(bar["middle"], abs=0.05 * (bar["high"] - bar["low"]))


@pytest.mark.parametrize("name", CASES)
def test_bars_are_the_answers(name):
    _, a = understood(name)
    data = data_of(name)
    for key, answer in (
        ("first_pip", a.clock.first_pip), ("half_out", a.clock.half_hatched), ("last_out", a.clock.last_hatch)
    ):  # fmt: skip
        bar = data[key][0]
        hours = [(moment - a.set_at) / 3_600 for moment in (answer.low, answer.value, answer.high)]
        assert (bar["low"], bar["middle"], bar["high"]) == pytest.approx(hours, rel=1e-6)


def test_ticks_are_midnights_where_the_keeper_lives():
    u, a = understood("day12")
    where = ZoneInfo("Europe/Berlin")
    ticks = next(
        one["encoding"]["x"]["axis"]["values"]
        for one in layers(clock.definition(u, a))
        if one["data"]["name"] == "hill"
    )
    assert ticks
    for hour in ticks:
        at = datetime.fromtimestamp(round(u.moment(hour)), UTC).astimezone(where)
        assert (at.hour, at.minute) == (0, 0)


def test_midnights_follow_a_change_of_clocks():
    # IANA: the clocks of Berlin go forward on 29 March 2026, whose day has 23 hours; day 28 of this batch.
    u, _ = understood("day12")
    panel = Panel(left=0.0, right=1.0, top=0.0, bottom=1.0, x=(26.0 * 24.0, 31.0 * 24.0), y=(0.0, 1.0))
    assert np.diff(hill._midnights(u, panel, ZoneInfo("Europe/Berlin"))).tolist() == [24.0, 23.0, 24.0, 24.0]


def test_days_are_named_between_their_midnights():
    assert {"Sat 21", "Sun 22", "Mon 23"} <= said(clock.definition(*understood("day12")))


def test_the_hill_is_filled_until_the_last_is_out():
    def filled(name):
        marks = [one for one in layers(clock.definition(*understood(name))) if one["data"]["name"] == "hill"]
        return any(one["mark"]["type"] == "area" for one in marks)

    assert filled("hatching")
    assert not filled("after")


def test_now_stands_on_the_hill_once_it_is_near():
    assert data_of("hatching")["now_hatch"] == [{"hour": pytest.approx(20.6 * 24.0, abs=0.01), "chance": 0.0}]
    assert data_of("day3")["now_hatch"] == []
