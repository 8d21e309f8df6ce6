import pytest

from chalaza.charts import warmth
from charts.cases import CASES, understood
from charts.reading import layers, said
from factory import DAY_S, SET_AT


def test_a_gap_is_a_gap_and_has_a_name():
    u, a = understood("still")
    definition = warmth.definition(u, a)
    rows = definition["datasets"]["hours"]
    inside = [row for row in rows if 6.1 < row["day"] < 9.4]
    assert inside
    assert all(row["shell"] is None and row["air"] is None for row in inside)
    assert all(row["wanted_low"] is not None for row in inside)
    assert "no log" in said(definition)


def test_without_any_log_no_line_is_drawn_and_no_dose_is_claimed():
    u, a = understood("none")
    definition = warmth.definition(u, a)
    assert all(row["shell"] is None for row in definition["datasets"]["hours"])
    assert {"no log", "no log: doses unknown"} <= said(definition)
    assert not {"shell", "air", "centre"} & said(definition)


def test_hours_not_logged_are_not_said_to_be_within_the_limits():
    assert "no logged hour beyond the limits" in said(warmth.definition(*understood("still")))
    assert "no hour beyond the limits" in said(warmth.definition(*understood("day3")))


@pytest.mark.parametrize("width", [350, 420])
def test_spells_and_lines_carry_their_names(width):
    u, a = understood("day12")
    found = said(warmth.definition(u, a, width=width))
    assert {"shell", "air", "centre", "cold 11 h", "cold 8 h", "warm 4 h"} <= found
    assert "worst day: cold 51, warm 2.8 °C·h" in found


@pytest.mark.parametrize("name", CASES)
def test_the_table_lists_the_spells_of_the_answer(name):
    u, a = understood(name)
    rows = warmth.table(u, a).rows
    assert len(rows) == len(a.warmth.spells)
    assert sorted(row[5] for row in rows) == pytest.approx(sorted(one.dose.value for one in a.warmth.spells))
    assert [row[1] for row in rows] == sorted(row[1] for row in rows)


def test_the_worst_of_a_spell_in_the_table_is_on_the_line():
    u, a = understood("day12")
    rows = warmth.definition(u, a)["datasets"]["hours"]
    coldest = min(row[4] for row in warmth.table(u, a).rows)
    # The line holds hourly means, the spell the coldest twelve minutes.
    assert min(row["shell"] for row in rows) == pytest.approx(coldest, abs=0.3)


def test_long_logs_are_drawn_with_few_points():
    u, a = understood("after")
    assert len(warmth.definition(u, a)["datasets"]["hours"]) <= 600


def test_the_label_counts_spells_and_hours_without_a_log():
    u, a = understood("still")
    assert warmth.label(u, a).endswith("Spells beyond the limits: 0. Hours without a log: 94.")


def window(first: float, last: float) -> tuple[float, float]:
    return SET_AT + first * DAY_S, SET_AT + last * DAY_S


def test_in_a_window_only_its_hours_and_spells_are_shown():
    u, a = understood("day12")
    near = warmth.definition(u, a, window=window(7.5, 10.0))
    days = [row["day"] for row in near["datasets"]["hours"]]
    assert days[0] == pytest.approx(7.5)
    assert days[-1] == pytest.approx(10.0)
    assert "cold 11 h" in said(near)
    assert not {"cold 8 h", "warm 4 h", "now"} & said(near)
    assert near["datasets"]["now"] == []
    rows = warmth.table(u, a, window=window(7.5, 10.0)).rows
    assert [row[0] for row in rows] == ["too cold"]


def test_a_close_look_shows_the_same_line_as_the_term():
    u, a = understood("day12")
    near = {row["day"]: row["shell"] for row in warmth.definition(u, a, window=window(3.0, 5.0))["datasets"]["hours"]}
    far = {row["day"]: row["shell"] for row in warmth.definition(u, a)["datasets"]["hours"]}
    shared = near.keys() & far.keys()
    assert len(shared) > 40
    assert all(near[day] == far[day] for day in shared)


def test_a_short_window_tells_its_dose_and_draws_no_days():
    u, a = understood("day12")
    near = warmth.definition(u, a, window=window(8.0, 9.5))
    dose = next(row[5] for row in warmth.table(u, a, window=window(8.0, 9.5)).rows)
    (word,) = (one for one in said(near) if one.startswith("in this time"))
    # The spell alone; the hours of the window beyond the limit outside it are few.
    assert float(word.split("cold ")[1].split(" ")[0].rstrip(",")) == pytest.approx(dose, rel=0.1)
    assert "no hour beyond the limits here" in said(warmth.definition(u, a, window=window(4.0, 6.0)))
    bars = [one for one in layers(near) if one["data"]["name"] == "doses"]
    assert bars == []
    week = warmth.definition(u, a, window=window(5.0, 12.0))
    assert week["datasets"]["doses"][0]["from"] == 5.0


def test_the_label_of_a_window_tells_when_and_what():
    u, a = understood("day12")
    text = warmth.label(u, a, window=window(8.0, 9.0))
    assert text.startswith("Temperature of the shell from Mon 9, 09:00 to Tue 10, 09:00: ")
    assert text.endswith("Spells beyond the limits: 1.")
    assert warmth.label(*understood("none"), window=window(8.0, 9.0)).endswith("to Tue 10, 09:00: no log.")
