import pytest

from chalaza.charts import count
from charts.cases import CASES, understood
from charts.reading import said


@pytest.mark.parametrize("name", CASES)
def test_the_table_says_what_the_drawing_shows(name):
    u, a = understood(name)
    drawn = count.definition(u, a)["datasets"]["stages"]
    rows = count.table(u, a).rows
    assert [row[0] for row in rows] == [one["stage"] for one in drawn]
    for row, one in zip(rows, drawn, strict=True):
        assert row[1:] == pytest.approx((one["value"], one["low"], one["high"]), rel=1e-6)


def test_stages_go_from_all_set_to_the_young_and_never_grow():
    _, a = understood("day12")
    found = count.stages(a)
    assert [one[0] for one in found] == ["set", "fertile", "alive now", "young expected"]
    assert [one[1] for one in found] == sorted((one[1] for one in found), reverse=True)
    assert found[3][1:] == (a.count.expected_young.value, a.count.expected_young.low, a.count.expected_young.high)


def test_once_young_are_out_they_stand_for_those_alive_in_the_shell():
    _, a = understood("after")
    assert count.stages(a)[2] == ("out of the shell", 9.0, 9.0, 9.0)


def test_figures_ranges_and_what_was_asked_for_are_written():
    found = said(count.definition(*understood("day12"), width=350))
    assert {"12", "set", "11", "fertile", "10–12", "9", "young expected", "6–11", "8 asked for"} <= found


def test_the_label_says_the_stages():
    u, a = understood("day12")
    assert count.label(u, a) == "set: 12; fertile: 11 (10–12); alive now: 11 (9–12); young expected: 9 (6–11)."
