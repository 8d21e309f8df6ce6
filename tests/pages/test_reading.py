"""How one reads: units, language, light and clock are kept through acts and hold on every page."""

import pytest
from django.test import Client
from tests.pages.filled import fields, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of

from chalaza.records import models as m


def test_preferences_are_kept_and_hold_at_once(pages: Client, shown: dict[str, m.Batch]) -> None:
    response = send(pages, "/reading/", units="us", theme="dark", zone="Asia/Tokyo", name="Kim {x}")
    assert response["Location"].split("?")[0] == "/reading/"
    keeper = m.Keeper.objects.the_one()
    assert (keeper.units, keeper.theme, keeper.zone, keeper.name) == ("us", "dark", "Asia/Tokyo", "Kim {x}")
    made = m.Act.objects.get(uid=response["Location"].partition("done=")[2])
    assert [change.model for change in made.changes.all()] == ["Keeper"]
    html = pages.get("/machines/").content.decode()
    assert 'data-theme="dark"' in html
    assert "459 ft" in text_of(html)
    assert "140 m" not in text_of(html)


@pytest.mark.parametrize(("units", "shows", "hides"), [("both", "°C", ""), ("metric", "°C", "°F"), ("us", "°F", "°C")])
def test_units_are_those_chosen(pages: Client, shown: dict[str, m.Batch], units: str, shows: str, hides: str) -> None:
    send(pages, "/reading/", units=units)
    text = text_of(pages.get("/machines/").content.decode())
    assert shows in text
    assert not hides or hides not in text


def test_light_is_as_the_device_has_it_until_it_is_chosen(pages: Client, shown: dict[str, m.Batch]) -> None:
    assert "data-theme" not in pages.get("/reading/").content.decode()
    send(pages, "/reading/", theme="light")
    assert 'data-theme="light"' in pages.get("/reading/").content.decode()


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("units", "cubits", "Choose one of the list."), ("language", "xx", "Choose one of the list."),
        ("zone", "Mars", "there is no time zone"), ("theme", "", "This is needed."),
    ],
)  # fmt: skip
def test_what_is_not_there_cannot_be_chosen(
    pages: Client, shown: dict[str, m.Batch], field: str, typed: str, says: str
) -> None:
    response = send(pages, "/reading/", **{field: typed})
    assert response.status_code == 422
    assert says in text_of(response.content.decode())


def test_a_language_of_which_the_catalog_is_gone_stays_chosen(pages: Client, shown: dict[str, m.Batch]) -> None:
    m.Keeper.objects.update(language="xx")
    assert fields(pages, "/reading/")["language"] == "xx"
    assert send(pages, "/reading/", units="us").status_code == 303


def test_every_word_can_be_translated(pages: Client, shown: dict[str, m.Batch]) -> None:
    speak_pseudo()
    known = (*keepers_words(), "English", "pseudo", "Europe/Berlin")
    assert unmarked(pages.get("/reading/").content.decode(), *known) == []
