"""Letting a phone in: a code at the computer, a press on the phone, a line in the list, and out again."""

import re
from html import unescape
from typing import Any

import pytest
import segno
from django.conf import settings
from tests.browser import Browser
from tests.records.demo import NOW

from chalaza.pages import gate, phones
from chalaza.records import devices
from chalaza.records import models as m

OWN, OTHER, PHONE = "192.168.7.5", "10.0.0.9", "192.168.7.23"

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CHALAZA_CLOCK", str(NOW))


def _computer(*addresses: str, **more: Any) -> Browser:
    return Browser(**{gate.ADDRESSES: addresses or (OWN,)} | more)


def _phone(**more: Any) -> Browser:
    return Browser(OWN, **{"REMOTE_ADDR": PHONE, gate.ADDRESSES: (OWN,)} | more)


def _code(computer: Browser, **typed: str) -> str:
    """The path that the code shown at the computer leads to."""
    text = computer.post("/phones/", typed).content.decode()
    found = re.search(r'<code class="long">http://[\d.]+:8765(/let-in/[a-z2-7]{26}/)</code>', text)
    assert found is not None
    return found[1]


def test_a_phone_comes_in_by_the_code_shown_at_the_computer() -> None:
    computer, phone = _computer(), _phone()
    path = _code(computer)
    assert phone.get("/nowhere/").status_code == 403
    assert "Let this phone in" in phone.get(path).content.decode()
    answer = phone.post(path, {"name": "Shed <phone>"})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/")
    cookie = phone.cookies[settings.DEVICE_COOKIE_NAME]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Lax"
    assert cookie["max-age"] > 300 * 86_400
    assert phone.get("/nowhere/").status_code == 404
    text = unescape(computer.get("/phones/").content.decode())
    assert "Shed <phone>" in text
    assert "Fri 17 April" in text.replace("\xa0", " ")
    assert m.Act.objects.get().subject == "Shed <phone>"


def test_looking_at_the_code_uses_nothing_up_and_pressing_does() -> None:
    path, first, second = _code(_computer()), _phone(), _phone()
    for _ in range(3):
        assert first.get(path).status_code == 200
    assert first.post(path, {"name": "One"}).status_code == 303
    answer = second.post(path, {"name": "Two"})
    assert answer.status_code == 403
    assert "This code lets nobody in" in answer.content.decode()
    assert settings.DEVICE_COOKIE_NAME not in second.cookies
    assert second.get(path).status_code == 403


def test_a_code_is_over_after_five_minutes(monkeypatch: pytest.MonkeyPatch) -> None:
    path, phone = _code(_computer()), _phone()
    monkeypatch.setenv("CHALAZA_CLOCK", str(NOW + 301))
    assert phone.get(path).status_code == 403
    assert phone.post(path, {"name": "Late"}).status_code == 403
    assert phone.get("/nowhere/").status_code == 403


@pytest.mark.parametrize("code", ["x", "a" * 26, "a" * 3000, "-_-"])
def test_a_guessed_code_lets_nobody_in(code: str) -> None:
    _code(_computer())
    answer = _phone().post(f"/let-in/{code}/", {"name": "Guesser"})
    assert answer.status_code == 403
    assert "This code lets nobody in" in answer.content.decode()
    assert m.Device.objects.count() == 0


@pytest.mark.parametrize("name", ["", " ", "x" * 81, "a\x00b"])
def test_a_name_that_cannot_be_kept_is_said_so_and_the_code_still_holds(name: str) -> None:
    path, phone = _code(_computer()), _phone()
    answer = phone.post(path, {"name": name})
    assert answer.status_code == 422
    assert "wrongsay" in answer.content.decode()
    assert phone.post(path, {"name": "Shed"}).status_code == 303


def test_a_phone_that_is_put_out_is_out_at_once_and_needs_a_new_code() -> None:
    computer, phone = _computer(), _phone()
    path = _code(computer)
    phone.post(path, {"name": "Shed"})
    device = m.Device.objects.get()
    assert computer.post(f"/phones/{device.uid}/put-out/").status_code == 303
    assert phone.get("/nowhere/").status_code == 403
    assert "None so far." in computer.get("/phones/").content.decode()
    assert phone.get(path).status_code == 403
    assert phone.post(_code(computer), {"name": "Shed again"}).status_code == 303
    assert [one.name for one in devices.those_let_in()] == ["Shed again"]


def test_putting_out_whom_nobody_knows_is_answered_not_found() -> None:
    assert _computer().post("/phones/nobody/put-out/").status_code == 404


def test_the_list_alone_shows_who_came_in_while_the_code_is_shown() -> None:
    computer, phone = _computer(), _phone()
    text = computer.post("/phones/").content.decode()
    assert 'hx-get="/phones/list/"' in text
    assert 'hx-get="/phones/list/"' not in computer.get("/phones/").content.decode()
    phone.post(_code(computer), {"name": "Shed"})
    part = computer.get("/phones/list/").content.decode()
    assert "Shed" in part
    assert "<html" not in part


def test_while_only_this_computer_is_served_the_page_says_how_to_begin(pages: Browser) -> None:
    text = pages.get("/phones/").content.decode()
    assert "chalaza serve --home" in text
    assert "could read along" in text
    assert "Show a code" not in text
    assert pages.post("/phones/").status_code == 422
    assert m.Code.objects.count() == 0


def test_the_page_says_plainly_who_could_read_along() -> None:
    text = _computer().get("/phones/").content.decode()
    assert "Whoever listens on that network could read along" in text
    assert "nothing is encrypted" in text


def test_a_computer_with_several_addresses_asks_which_one_the_phone_can_reach() -> None:
    computer = _computer(OWN, OTHER)
    text = computer.get("/phones/").content.decode()
    assert OWN in text
    assert OTHER in text
    assert f"http://{OTHER}:8765/let-in/" in computer.post("/phones/", {"address": OTHER}).content.decode()
    assert f"http://{OWN}:8765/let-in/" in computer.post("/phones/").content.decode()
    refused = computer.post("/phones/", {"address": "evil.example"})
    assert refused.status_code == 422
    assert "/let-in/" not in refused.content.decode()


def test_a_code_opened_at_the_computer_or_by_a_phone_that_is_in_is_not_used_up() -> None:
    computer, phone = _computer(), _phone()
    path = _code(computer)
    assert "This code is for a phone" in computer.get(path).content.decode()
    assert computer.post(path, {"name": "Computer"}).status_code == 200
    phone.post(path, {"name": "Shed"})
    another = _code(computer)
    assert "let in already" in phone.post(another, {"name": "Again"}).content.decode()
    assert m.Device.objects.count() == 1
    assert devices.holds(another.split("/")[2], NOW)


def test_what_is_drawn_is_the_code_of_the_address_with_its_quiet_zone() -> None:
    address = f"http://{OWN}:8765/let-in/{'a' * 26}/"
    drawing = str(phones.drawn(address))
    size = int(re.findall(r'viewBox="0 0 (\d+) \1"', drawing)[0])
    dark = {(int(x), int(y)) for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", drawing)}
    wanted = segno.make_qr(address, error="m").matrix
    assert size == len(wanted) + 2 * 4  # four light modules on every side: ISO/IEC 18004
    assert dark == {(x + 4, y + 4) for y, row in enumerate(wanted) for x, one in enumerate(row) if one & 1}
    assert "style=" not in drawing


def test_the_history_tells_of_phones_and_undoing_lets_nobody_in() -> None:
    computer, phone, helper = _computer(), _phone(), _phone()
    phone.post(_code(computer), {"name": "Shed"})
    helper.post(_code(computer), {"name": "Helper"})
    computer.post(f"/phones/{m.Device.objects.get(name='Shed').uid}/put-out/")
    text = computer.get("/history/").content.decode()
    assert "Let a phone in: Shed" in text
    assert "Put a phone out: Shed" in text
    assert m.Device.objects.get(name="Shed").proof not in text
    put_out = m.Act.objects.get(verb=devices.PUT_OUT)
    for one in (helper, computer):
        answer = one.post(f"/undo/{put_out.uid}/")
        assert answer.status_code in (200, 409, 422)
        assert "not undone" in answer.content.decode()
    assert phone.get("/nowhere/").status_code == 403
