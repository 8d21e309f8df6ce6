"""Checks of a probe: what is true is worked out and shown with its source; slips of unit and hand are asked about."""

import pytest
from django.test import Client
from tests.pages.filled import again, fields, form_of, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.physics.probe import boiling_point, salt_rh
from chalaza.records import answers
from chalaza.records import models as m
from chalaza.values.estimate import Estimate
from chalaza.values.evidence import CheckSort
from chalaza.words.basis import cited
from chalaza.words.checks import WAYS
from chalaza.words.numbers import Voice


def _url(sort: CheckSort | str) -> str:
    return f"/probes/p1/check/?sort={sort}"


def test_the_ways_are_offered_with_what_each_proves(pages: Client, shown: dict[str, m.Batch]) -> None:
    html = pages.get("/probes/p1/check/").content.decode()
    for sort, way in WAYS.items():
        assert f'href="{_url(sort)}"' in html
        assert way.proves in text_of(html)


@pytest.mark.parametrize("sort", list(CheckSort))
def test_each_way_says_how_what_spoils_it_what_to_mind_and_who_says_so(
    pages: Client, shown: dict[str, m.Batch], sort: CheckSort
) -> None:
    html, way = pages.get(_url(sort)).content.decode(), WAYS[sort]
    text = text_of(html)
    for said in (*way.steps, *way.spoils, *(cited(Voice(), key).cite for key in way.sources)):
        assert " ".join(said.split()) in text
    if sort is CheckSort.BOIL:
        assert "steam and boiling water burn" in text
    if sort is CheckSort.SALT:
        assert "away from the eggs and from children" in text


def test_ice_is_true_at_nought(pages: Client, shown: dict[str, m.Batch]) -> None:
    response = send(pages, _url("ice"), uid="c", reading="0.42", at="2026-04-17T10:00", note="crushed")
    assert response["Location"].split("?")[0] == "/probes/p1/"
    row = m.ProbeCheck.objects.get(uid="c")
    assert (row.sort, row.reading_degc, row.reference_degc, row.note) == ("ice", 0.42, 0.0, "crushed")
    assert row.at == NOW - 8 * 3600 - 40 * 60


# IF97 and IAPWS-95 agree on these within 0.001 K; the page shows one decimal and keeps all.
@pytest.mark.parametrize(("altitude_m", "boils_degc"), [(0, 99.974), (500, 98.313), (1500, 94.983)])
def test_water_boils_by_the_altitude_of_the_place(
    pages: Client, shown: dict[str, m.Batch], altitude_m: float, boils_degc: float
) -> None:
    m.Place.objects.update(altitude_m=altitude_m)
    text = text_of(pages.get(_url("boil")).content.decode())
    assert f"water boils at {boils_degc:.1f} °C" in text
    assert "IAPWS R7-97" in text
    send(pages, _url("boil"), uid="c", reading=f"{boils_degc - 0.3:.2f}")
    assert m.ProbeCheck.objects.get(uid="c").reference_degc == pytest.approx(boils_degc, abs=0.003)


def test_water_boils_by_the_pressure_where_it_is_known(pages: Client, shown: dict[str, m.Batch]) -> None:
    m.Place.objects.update(pressure_pa=96_000.0)
    assert "At the air pressure noted for" in text_of(pages.get(_url("boil")).content.decode())
    send(pages, _url("boil"), uid="noted", reading="98.5")
    send(pages, _url("boil"), uid="typed", reading="98.9", pressure_pa="980")
    assert m.ProbeCheck.objects.get(uid="noted").reference_degc == pytest.approx(float(boiling_point(96_000.0)))
    assert m.ProbeCheck.objects.get(uid="typed").reference_degc == pytest.approx(float(boiling_point(98_000.0)))


def test_a_comparison_keeps_both_readings(pages: Client, shown: dict[str, m.Batch]) -> None:
    m.Keeper.objects.update(units="us")
    send(pages, _url("compare"), uid="c", reading="100.4", reference="99.5")
    row = m.ProbeCheck.objects.get(uid="c")
    assert row.reading_degc == pytest.approx(38.0)
    assert row.reference_degc == pytest.approx(37.5)


# Greenspan 1977 at 25 °C: 75.30 and 32.79 %; two decimals of the printed table.
@pytest.mark.parametrize(("salt", "true"), [("sodium_chloride", 0.7530), ("magnesium_chloride", 0.3279)])
def test_air_over_a_salt_is_true_by_its_temperature(
    pages: Client, shown: dict[str, m.Batch], salt: str, true: float
) -> None:
    send(pages, _url("salt"), uid="c", salt=salt, temp_degc="25", reading=f"{100 * true - 3:.0f}")
    assert m.ProbeCheck.objects.get(uid="c").reference_rh == pytest.approx(true, abs=1e-4)


def test_the_table_of_salts_is_that_of_physics_and_ends_where_it_ends(pages: Client, shown: dict[str, m.Batch]) -> None:
    text = text_of(pages.get(_url("salt")).content.decode())
    row = [f"{100 * float(salt_rh('sodium_chloride', temp)):.1f} %" for temp in (20.0, 25.0, 30.0, 37.5)]
    assert f"table salt (sodium chloride) {' '.join(row)}" in text
    assert "potash (potassium carbonate) 43.2 % 43.2 % 43.2 % —" in text


def test_a_salt_beyond_what_is_known_of_it_is_refused(pages: Client, shown: dict[str, m.Batch]) -> None:
    response = send(pages, _url("salt"), salt="potassium_carbonate", temp_degc="37.5", reading="43")
    assert "known from 0 °C to 30.0 °C" in text_of(response.content.decode())
    assert not m.ProbeCheck.objects.exists()


def test_a_dry_box_keeps_what_was_taken_as_true(pages: Client, shown: dict[str, m.Batch]) -> None:
    send(pages, _url("dry_box"), uid="c", reading="9", reference="5")
    row = m.ProbeCheck.objects.get(uid="c")
    assert (row.reading_rh, row.reference_rh) == (pytest.approx(0.09), pytest.approx(0.05))


@pytest.mark.parametrize(
    ("sort", "written", "likely", "kept"),
    [
        ("ice", {"reading": "32.5"}, "32.5 °F", 0.2778),
        ("boil", {"reading": "211"}, "211 °F", 99.444),
        ("compare", {"reading": "100.4", "reference": "37.9"}, "100.4 °F", 38.0),
    ],
)
def test_fahrenheit_typed_for_celsius_is_asked_about(
    pages: Client, shown: dict[str, m.Batch], sort: str, written: dict[str, str], likely: str, kept: float
) -> None:
    asked = send(pages, _url(sort), uid="c", **written)
    assert asked.status_code == 422
    assert ("answer_reading", likely) in form_of(asked.content.decode()).buttons
    assert again(pages, _url(sort), asked, answer_reading=likely).status_code == 303
    assert m.ProbeCheck.objects.get(uid="c").reading_degc == pytest.approx(kept, abs=1e-3)


def test_a_reading_far_from_what_is_true_is_asked_about_and_can_stand(pages: Client, shown: dict[str, m.Batch]) -> None:
    asked = send(pages, _url("ice"), uid="c", reading="9")
    assert "far from what is true, 0.0 °C" in text_of(asked.content.decode())
    assert again(pages, _url("ice"), asked, keep_reading="9").status_code == 303
    damp = send(pages, _url("salt"), uid="d", salt="sodium_chloride", temp_degc="25", reading="40")
    assert "Did it really show 40 %" in text_of(damp.content.decode())


def test_a_comparison_narrows_what_is_believed_of_the_eggs(pages: Client, shown: dict[str, m.Batch]) -> None:
    """The display of a running batch is believed within a few tenths once it was compared: the hatch is surer."""
    batch = shown["speckled-hens"].uid
    before = answers.of(batch, NOW).assessment
    send(pages, _url("compare"), reading="37.6", reference="37.5")
    after = answers.of(batch, NOW).assessment

    def width(one: Estimate) -> float:
        return one.high - one.low

    assert width(after.warmth.shell) < 0.8 * width(before.warmth.shell)
    assert width(after.clock.half_hatched) < width(before.clock.half_hatched)


def test_a_way_that_is_none_is_not_found(pages: Client, shown: dict[str, m.Batch]) -> None:
    for url in (_url("taste"), "/probes/nothing/check/", "/probes/nothing/check/?sort=ice"):
        assert pages.get(url).status_code == 404
    assert pages.post("/probes/p1/check/", {"reading": "0"}).status_code == 404


def test_a_probe_that_never_hung_boils_at_the_only_place_or_at_sea_level(
    pages: Client, shown: dict[str, m.Batch]
) -> None:
    send(pages, "/probes/new/", uid="loose", name="Loose", sort="glass", where="")
    url = "/probes/loose/check/?sort=boil"
    assert "as noted for Shed by the orchard" in text_of(pages.get(url).content.decode())
    send(pages, "/places/new/", name="Barn", altitude_m="800", zone="Europe/Berlin")
    assert "At sea level water boils at 100.0 °C" in text_of(pages.get(url).content.decode())


def test_the_hour_held_is_now(pages: Client, shown: dict[str, m.Batch]) -> None:
    assert fields(pages, _url("ice"))["at"] == "2026-04-17T18:40"


def test_every_word_can_be_translated(pages: Client, shown: dict[str, m.Batch]) -> None:
    speak_pseudo()
    for sort in ("", *CheckSort):
        html = pages.get(_url(sort) if sort else "/probes/p1/check/").content.decode()
        assert unmarked(html, *keepers_words(), "hPa") == [], sort
