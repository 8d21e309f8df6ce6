from math import log

import numpy as np
import pytest

from chalaza.charts.losses import advised, course, sessions
from chalaza.inference.read_water import loss_at
from chalaza.values.estimate import Z90
from charts.cases import CASES, evidence, understood


@pytest.mark.parametrize("name", CASES)
def test_the_course_is_the_model_hour_by_hour(name):
    u, _ = understood(name)
    hours = np.array([0.5, 7.25, 100.0, 300.0, 431.9])
    found = course(u, hours)
    for i, hour in enumerate(hours.tolist()):
        line = loss_at(u, hour)
        assert found.loss[i] == pytest.approx(line.value, rel=1e-12)
        assert log(found.high[i] / found.loss[i]) == pytest.approx(Z90 * line.sd / line.value, rel=1e-9)
        assert found.low[i] * found.high[i] == pytest.approx(found.loss[i] ** 2, rel=1e-9)


@pytest.mark.parametrize("name", ["none", "start", "day3", "day12", "still", "many"])
def test_the_course_ends_at_the_answers(name):
    u, a = understood(name)
    found = course(u, np.array([u.now_h, a.water.target_day_d * 24.0]))
    for i, answer in enumerate((a.water.loss_now, a.water.loss_at_lockdown)):
        assert (found.loss[i], found.low[i], found.high[i]) == pytest.approx((answer.value, answer.low, answer.high))


def test_a_session_of_all_eggs_is_what_the_scale_lost():
    u, _ = understood("day12")
    rows, _ = evidence("day12")
    start = sum(one.gross_g for one in rows.weighings if one.session == "day0")
    for found, session in zip(sessions(u)[:2], ("day5", "day9"), strict=True):
        plain = 1.0 - sum(one.gross_g for one in rows.weighings if one.session == session) / start
        # Eggs count by mass on the scale and by number in the mean, and each mass at setting is known to a tenth of a
        # gram: together under 2 % of the loss.
        assert found.loss == pytest.approx(plain, rel=0.02)
        assert found.eggs == 12
        assert found.low < found.loss < found.high


def test_a_session_of_few_eggs_tells_the_mean_of_all():
    # The five eggs of day 11.5 are the five with the tightest shells; all twelve lose 0.78 % a day by construction.
    u, _ = understood("day12")
    rows, _ = evidence("day12")
    last = sessions(u)[-1]
    five = [f"e{i}" for i in range(1, 6)]
    own = 1.0 - sum(w.gross_g for w in rows.weighings if w.session == "day11.5") / sum(
        w.gross_g for w in rows.weighings if w.session == "day0" and w.eggs in five
    )
    assert last.eggs == 5
    assert own < 0.85 * last.loss
    assert last.loss == pytest.approx(0.0078 * 11.5, rel=0.03)


def test_the_start_itself_is_no_session():
    assert sessions(understood("day3")[0]) == ()


def test_the_advised_course_starts_now_and_ends_where_the_advice_says():
    u, a = understood("day12")
    found = advised(u, a)
    assert found is not None
    assert (found.day[0], found.day[-1]) == pytest.approx((12.0, a.water.target_day_d))
    assert found.loss[0] == pytest.approx(a.water.loss_now.value, rel=1e-9)
    assert found.loss[-1] == pytest.approx(a.water.loss_at_best.value, rel=1e-9)


@pytest.mark.parametrize("name", ["none", "still", "after"])
def test_no_advice_on_humidity_no_second_course(name):
    assert advised(*understood(name)) is None
