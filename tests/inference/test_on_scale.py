"""What the scale is expected to show: it holds what a simulated scale does show."""

from dataclasses import replace

import pytest

from chalaza.assess import prior_beliefs, understand
from chalaza.inference import on_scale
from chalaza.scenario import demo
from chalaza.values.evidence import Evidence

NOW = 1_776_444_000
DAY_S = 86_400


@pytest.fixture(scope="module")
def hens() -> Evidence:
    return demo.batches(NOW)["speckled-hens"]


def _expected(one: Evidence, now: int) -> dict[str, on_scale.OnScale]:
    return dict(on_scale.expected(understand(prior_beliefs("chicken"), one, now)))


def test_the_last_weighing_lies_where_it_was_expected_before_it_was_made(hens: Evidence) -> None:
    # 28 eggs: nine of ten should lie within 90 % ranges. They share one scale zero and one hygrometer, so the count of
    # those within is wider than binomial: two thirds is asked for, and none may lie beyond twice its range.
    last = max(one.at for one in hens.weighings)
    before = replace(hens, weighings=tuple(one for one in hens.weighings if one.at < last))
    found = _expected(before, last)
    shown = {one.eggs: one.gross_g - one.tare_g for one in hens.weighings if one.at == last}
    assert len(shown) > 20
    within = [found[uid].now.low <= mass <= found[uid].now.high for uid, mass in shown.items()]
    assert sum(within) >= 2 * len(within) / 3
    assert all(abs(mass - found[uid].now.value) < 2.0 * found[uid].now.half_width + 0.1 for uid, mass in shown.items())


def test_an_egg_weighs_what_it_weighed_at_setting_less_its_loss(hens: Evidence) -> None:
    for one in _expected(hens, NOW).values():
        assert one.weighed
        assert one.now.value == pytest.approx(one.first_g * (1.0 - one.loss))
        assert 0.05 < one.loss < 0.25


def test_of_an_egg_nobody_weighed_only_its_mates_or_its_kind_are_known(hens: Evidence) -> None:
    uid = hens.eggs[0].uid
    alone = replace(hens, weighings=tuple(one for one in hens.weighings if one.eggs != uid))
    found = _expected(alone, NOW)
    assert not found[uid].weighed
    assert found[uid].now.half_width > 4.0 * found[hens.eggs[1].uid].now.half_width
    mates = [one.now.value for name, one in found.items() if name != uid]
    assert min(mates) < found[uid].now.value < max(mates)
    fresh = _expected(replace(hens, weighings=()), NOW)
    assert {one.weighed for one in fresh.values()} == {False}
    assert fresh[uid].now.low < 50.0 < fresh[uid].now.value < 62.0


def test_a_group_is_expected_as_the_sum_of_its_eggs(hens: Evidence) -> None:
    six = replace(hens, eggs=(replace(hens.eggs[0], count=6),), weighings=(), candlings=())
    one = replace(six, eggs=(replace(hens.eggs[0], count=1),))
    uid = hens.eggs[0].uid
    assert _expected(six, NOW)[uid].now.value == pytest.approx(6.0 * _expected(one, NOW)[uid].now.value, rel=0.01)


def test_weighing_the_others_narrows_the_loss_as_it_turns_out(hens: Evidence) -> None:
    # What is promised before is what the fit has afterwards: the same observations, linear about another point, and the
    # spread between eggs learnt anew, so a fifth of what is gained may differ.
    last = max(one.at for one in hens.weighings)
    now = [one for one in hens.weighings if one.at == last]
    half = replace(hens, weighings=tuple(one for one in hens.weighings if one.at < last or one in now[:14]))
    u = understand(prior_beliefs("chicken"), half, last)
    rest = [one.eggs for one in now[14:]]
    before, after = on_scale.narrowed(u, rest, session=now[0].session or f"at:{last}", resolution_g=0.1)
    then, _ = on_scale.narrowed(understand(prior_beliefs("chicken"), hens, last), (), session="", resolution_g=0.1)
    assert after < before
    assert then == pytest.approx(after, abs=0.2 * (before - after))
