import pytest

from chalaza.charts import water
from chalaza.values.estimate import Estimate
from charts.cases import CASES, understood
from charts.reading import said


@pytest.mark.parametrize("name", CASES)
def test_the_table_says_what_the_drawing_shows(name):
    u, a = understood(name)
    data = water.definition(u, a)["datasets"]
    rows = {row[0]: row for row in water.table(u, a).rows}
    weighed = [row for row in water.table(u, a).rows if row[0] == "weighed"]
    assert len(weighed) == len(data["weighed"])
    for row, drawn in zip(weighed, data["weighed"], strict=True):
        assert row[1:5] == pytest.approx((drawn["day"], drawn["loss"], drawn["low"], drawn["high"]), rel=1e-6)
    last = data["as_it_is"][-1] if data["as_it_is"] else data["last"][0]
    assert rows["lockdown"][1:5] == pytest.approx((last["day"], last["loss"], last["low"], last["high"]), rel=1e-6)
    assert ("lockdown, as advised" in rows) == bool(data["as_advised"])
    if data["as_advised"]:
        assert rows["lockdown, as advised"][2] == pytest.approx(data["as_advised"][-1]["loss"], rel=1e-6)
    assert rows["lockdown"][5:] == pytest.approx((data["post"][0]["low"], data["post"][0]["high"]))


def test_the_line_starts_at_nothing_lost_and_meets_now():
    u, a = understood("day12")
    data = water.definition(u, a)["datasets"]
    assert data["lived"][0]["loss"] == 0.0
    assert data["lived"][-1]["loss"] == data["last"][0]["loss"] == data["as_it_is"][0]["loss"]
    assert data["as_advised"][0]["loss"] == pytest.approx(data["last"][0]["loss"], rel=1e-6)


def test_the_wanted_band_opens_from_setting_to_its_day():
    u, a = understood("day12")
    first, last = water.definition(u, a)["datasets"]["wanted"]
    assert first == {"day": 0.0, "low": 0.0, "high": 0.0}
    assert last == {"day": a.water.target_day_d, "low": a.water.wanted.low, "high": a.water.wanted.high}


def test_lines_are_named_where_they_end_and_the_two_courses_apart():
    u, a = understood("day12")
    found = said(water.definition(u, a, width=350))
    as_it_is, advised = (f"{100 * one.value:.1f}" for one in (a.water.loss_at_lockdown, a.water.loss_at_best))
    assert as_it_is != advised
    assert {f"{as_it_is} as it is", f"{advised} advised", "wanted", "set", "now", "lock"} <= found


def test_after_lockdown_nothing_is_to_come_and_nothing_is_now():
    u, a = understood("after")
    definition = water.definition(u, a)
    assert definition["datasets"]["as_it_is"] == []
    assert "var(--yolk)" not in str(definition)
    assert "now" not in said(definition)
    assert f"{100 * a.water.loss_at_lockdown.value:.1f} %" in said(definition)


def _shares(one: Estimate) -> str:
    return f"{100 * one.value:.1f} % ({100 * one.low:.1f}–{100 * one.high:.1f})"


def test_the_label_says_the_finding():
    u, a = understood("day12")
    assert water.label(u, a) == (
        f"Loss of weight against the wanted band. Now {_shares(a.water.loss_now)}; at lockdown "
        f"{_shares(a.water.loss_at_lockdown)} if nothing changes; wanted 11 to 13.5 %."
    )
