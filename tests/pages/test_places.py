"""Places: altitude in the keeper's unit, a clock that exists, the pressure of the station."""

import pytest
from django.test import Client
from tests.pages.filled import fields, send
from tests.pages.reading import text_of

from chalaza.records import models as m

pytestmark = pytest.mark.usefixtures("stopped")


def test_a_place_is_kept_as_typed(pages: Client) -> None:
    response = send(
        pages, "/places/new/", uid="barn", name="Barn", altitude_m="460 ft", zone="Europe/Lisbon", pressure_pa="998,4"
    )
    assert response["Location"].split("?")[0] == "/machines/"
    place = m.Place.objects.get(uid="barn")
    assert (place.name, place.zone) == ("Barn", "Europe/Lisbon")
    assert place.altitude_m == pytest.approx(140.208)
    assert place.pressure_pa == pytest.approx(99_840.0)


@pytest.mark.parametrize(("units", "altitude", "pressure"), [("metric", "140", "998.4"), ("us", "460", "29.5")])
def test_it_is_shown_in_the_keepers_unit_and_comes_back_unchanged(
    pages: Client, units: str, altitude: str, pressure: str
) -> None:
    send(pages, "/places/new/", uid="barn", name="Barn", altitude_m="460 ft", zone="Europe/Lisbon", pressure_pa="998.4")
    m.Keeper.objects.update(units=units)
    held = fields(pages, "/places/barn/")
    assert (held["altitude_m"], held["pressure_pa"]) == (altitude, pressure)
    before = m.Place.objects.values().get(uid="barn")
    assert send(pages, "/places/barn/").status_code == 303
    assert m.Place.objects.values().get(uid="barn") == before


def test_an_empty_place_goes_and_one_with_machines_stays(pages: Client) -> None:
    send(pages, "/places/new/", uid="barn", name="Barn", altitude_m="0", zone="UTC")
    send(pages, "/machines/new/", uid="box", name="Box", airflow="fan")
    held = pages.post("/places/barn/", {"away": "1"})
    assert (held.status_code, "machines" in text_of(held.content.decode())) == (409, True)
    pages.post("/machines/box/edit/", {"away": "1"})
    assert pages.post("/places/barn/", {"away": "1"}).status_code == 303
    assert not m.Place.objects.exists()


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("zone", "CEST", "there is no time zone"),
        ("altitude_m", "9000", "allowed: -430"),
        ("pressure_pa", "20", "allowed: 500"),
    ],
)
def test_what_cannot_be_is_refused(pages: Client, field: str, typed: str, says: str) -> None:
    response = send(pages, "/places/new/", name="Barn", **{"altitude_m": "0", "zone": "UTC", field: typed})
    assert response.status_code == 422
    assert says in text_of(response.content.decode())
    assert not m.Place.objects.exists()
