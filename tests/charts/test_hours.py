import numpy as np
import pytest

from chalaza.charts.hours import doses, hours
from chalaza.inference.read_warmth import lived_hours
from charts.cases import CASES, understood


@pytest.mark.parametrize("name", ["day3", "day12", "many", "hatching", "after"])
def test_the_mean_of_the_hours_is_the_answer(name):
    u, a = understood(name)
    found = hours(u, a)
    weight = lived_hours(u)[: len(found.day)]
    for values, answer in ((found.air, a.warmth.air), (found.shell, a.warmth.shell), (found.centre, a.warmth.centre)):
        assert not np.isnan(values).any()
        assert float(weight @ values / weight.sum()) == pytest.approx(answer.value, abs=1e-9)


@pytest.mark.parametrize("name", CASES)
def test_days_add_up_to_the_doses_of_the_answer(name):
    u, a = understood(name)
    found = doses(u)
    assert found.above.sum() == pytest.approx(sum(one.above.value for one in a.warmth.doses), abs=1e-9)
    assert found.below.sum() == pytest.approx(sum(one.below.value for one in a.warmth.doses), abs=1e-9)


def test_a_spell_lies_on_its_day():
    u, _ = understood("day12")
    found = doses(u)
    # 7 h at 29 °C from day 8.2 on, and 3 h at 41 °C from day 10.4 on.
    assert int(np.argmax(found.below)) == 8
    assert int(np.argmax(found.above)) == 10


def test_a_gap_in_the_log_is_missing_and_nothing_else_is():
    u, a = understood("still")
    found = hours(u, a)
    missing = np.isnan(found.shell)
    gap = ((found.day > 6.0) & (found.day < 9.5)) | ((found.day > 11.0) & (found.day < 11.4))
    assert missing[gap].mean() > 0.97
    edge = ((abs(found.day - 6.0) < 0.1) | (abs(found.day - 9.5) < 0.1)) | (
        (abs(found.day - 11.0) < 0.1) | (abs(found.day - 11.4) < 0.1)
    )
    assert not missing[~gap & ~edge].any()
    for values in (found.air, found.centre, found.air_low, found.air_high):
        assert np.array_equal(np.isnan(values), missing)


def test_hours_run_from_setting_to_now_and_no_further():
    u, a = understood("start")
    found = hours(u, a)
    assert found.day[0] == 0.0
    assert found.day[-1] == pytest.approx(0.25)
    assert np.all(np.diff(found.day) > 0)


def test_at_the_moment_of_setting_the_first_hour_stands_for_what_they_had():
    u, a = understood("set")
    found = hours(u, a)
    assert found.day.tolist() == [0.0]
    assert a.warmth.wanted.typical == pytest.approx(float(u.course.normal_shell(u.exposure.age_d)[0]))
    assert a.warmth.wanted.low > 35.0
    assert a.warmth.shell.value > 20.0


def test_air_shading_holds_the_air():
    u, a = understood("day12")
    found = hours(u, a)
    assert np.all(found.air_low <= found.air + 1e-6)
    assert np.all(found.air <= found.air_high + 1e-6)


def test_once_the_young_are_out_nothing_more_is_held_against_the_box():
    u, a = understood("after")
    found = hours(u, a)
    assert found.day[-1] < u.now_h / 24.0 - 0.5
    assert len(doses(u).above) == int(np.ceil(found.day[-1]))
