"""Devices: let in once by a code, known by a token, put out; neither code nor token is kept."""

import re
from itertools import pairwise

import pytest

from chalaza.errors import NotebookError
from chalaza.records import acts, devices
from chalaza.records import models as m
from chalaza.records.acts import ActError

from .demo import NOW

pytestmark = pytest.mark.django_db


def _let_in(now: int = NOW, name: str = "Shed phone") -> tuple[m.Device, str]:
    return devices.let_in(devices.new_code(now), name, m.Keeper.objects.the_one(), now)


def test_a_code_has_128_bits_in_letters_one_can_type() -> None:
    codes = {devices.new_code(NOW) for _ in range(20)}
    assert len(codes) == 20
    assert all(re.fullmatch("[a-z2-7]{26}", one) for one in codes)  # base 32, RFC 4648: 26 of 5 bits hold 128


def test_a_code_lets_one_device_in_once() -> None:
    code, keeper = devices.new_code(NOW), m.Keeper.objects.the_one()
    assert devices.holds(code, NOW)
    devices.let_in(code, "One", keeper, NOW)
    assert not devices.holds(code, NOW)
    with pytest.raises(NotebookError, match="was used, or is older than five minutes"):
        devices.let_in(code, "Two", keeper, NOW)
    assert [one.name for one in devices.those_let_in()] == ["One"]


def test_a_code_holds_for_five_minutes() -> None:
    code, keeper = devices.new_code(NOW), m.Keeper.objects.the_one()
    assert devices.holds(code, NOW + 300)
    assert not devices.holds(code, NOW + 301)
    with pytest.raises(NotebookError, match="older than five minutes"):
        devices.let_in(code, "Late", keeper, NOW + 301)
    assert m.Device.objects.count() == 0


def test_codes_that_are_over_are_not_kept() -> None:
    devices.new_code(NOW)
    devices.new_code(NOW + 400)
    assert m.Code.objects.count() == 1


def test_a_name_that_cannot_be_kept_does_not_use_the_code_up() -> None:
    code, keeper = devices.new_code(NOW), m.Keeper.objects.the_one()
    with pytest.raises(ActError):
        devices.let_in(code, "", keeper, NOW)
    assert devices.holds(code, NOW)


def test_neither_code_nor_token_lies_in_the_notebook() -> None:
    code = devices.new_code(NOW)
    assert code not in str(list(m.Code.objects.values()))
    _, token = devices.let_in(code, "Phone", m.Keeper.objects.the_one(), NOW)
    held = [list(model.objects.values()) for model in (m.Device, m.Code, m.Act, m.Change)]
    assert token not in str(held)
    assert code not in str(held)


def test_a_token_is_known_until_its_device_is_put_out() -> None:
    device, token = _let_in()
    assert devices.known(token, NOW) == device
    devices.put_out(device, m.Keeper.objects.the_one(), NOW + 5)
    assert devices.known(token, NOW + 6) is None
    assert devices.those_let_in() == []
    assert [one.verb for one in m.Act.objects.order_by("id")] == ["let in", "put out"]


@pytest.mark.parametrize("token", ["", "x", "\udcff", "a" * 10_000])
def test_any_other_token_is_not_known(token: str) -> None:
    _let_in()
    assert devices.known(token, NOW) is None


def test_when_a_device_was_last_seen_is_written_every_few_minutes_only() -> None:
    _, token = _let_in()
    seen = []
    for now in range(NOW, NOW + 1000, 50):
        devices.known(token, now)
        seen.append(m.Device.objects.get().seen)
    assert sorted(set(seen)) == seen[:1] + sorted(set(seen))[1:]
    assert all(after - before >= devices.SEEN_S for before, after in pairwise(sorted(set(seen))))
    assert seen[-1] >= NOW + 1000 - 50 - devices.SEEN_S


def test_nobody_is_let_in_or_put_out_by_undoing() -> None:
    device, token = _let_in()
    keeper = m.Keeper.objects.the_one()
    devices.put_out(device, keeper, NOW)
    devices.put_out(device, keeper, NOW)
    let_in, put_out = m.Act.objects.order_by("id")
    for act in (put_out, let_in):
        with pytest.raises(ActError, match="not undone"):
            acts.undo(keeper, act)
    assert devices.known(token, NOW) is None
