"""Who is at the page: before a place is set the computer's own clock is the keeper's, after it what they said."""

from pathlib import Path

import pytest
from django.test import Client

from chalaza.pages.keeper import voice_of
from chalaza.records import models as m
from chalaza.records.acts import act
from chalaza.records.clock import VARIABLE


def test_the_first_page_shows_the_hour_of_the_computers_clock(pages: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "Europe/Berlin")
    monkeypatch.setenv(VARIABLE, "1754550000")
    assert "Thu 7 August, 09:00" in pages.get("/").content.decode().replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.django_db
def test_once_there_is_a_place_the_keepers_own_zone_holds(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "Europe/Berlin")
    keeper = m.Keeper.objects.the_one()
    assert voice_of(keeper).zone == "Europe/Berlin"
    act(keeper, "place", save=[m.Place(uid="p", name="Hut", altitude_m=0.0, zone="UTC")])
    assert voice_of(keeper).zone == "UTC"


@pytest.mark.django_db
def test_a_computer_that_does_not_tell_its_zone_is_read_in_utc(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "")
    monkeypatch.setattr("chalaza.intake.typed._CLOCK", Path("/"))  # a link that leads to no zone
    assert voice_of(m.Keeper.objects.the_one()).zone == "UTC"
