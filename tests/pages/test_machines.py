"""Machines: the list of all places, the page of each, and its form with every unit there and back."""

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from tests.pages.filled import fields, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import models as m
from chalaza.records import series


def _text(pages: Client, url: str) -> str:
    return text_of(pages.get(url).content.decode())


def test_an_empty_notebook_names_the_first_useful_act(pages: Client, empty: None) -> None:
    html = pages.get("/machines/").content.decode()
    assert 'href="/begin/"' in html
    assert "No machine is noted yet." in text_of(html)


def test_each_place_shows_its_machines_what_is_in_them_and_what_probes_said_last(
    pages: Client, shown: dict[str, m.Batch]
) -> None:
    text = _text(pages, "/machines/")
    assert "Shed by the orchard 140 m (459 ft), Europe/Berlin" in text
    for batch in shown.values():
        assert batch.name in text
    for probe in m.Probe.objects.all():
        last = series.last(probe.uid, NOW)
        assert last is not None
        at, temp, rh = last
        assert probe.name in text
        assert f"{temp:.1f} °C" in text
        assert f"{100 * (rh or 0.0):.0f} %" in text
        assert at <= NOW
    assert "never checked" in text
    assert "Nothing is in it." not in text


def test_a_check_is_named_with_its_way_and_its_moment(pages: Client, shown: dict[str, m.Batch]) -> None:
    probe = m.Probe.objects.order_by("id").first()
    assert probe is not None
    send(pages, f"/probes/{probe.uid}/check/?sort=ice", reading="0.4", at="2026-04-12T10:00")
    assert "checked in ice water, Sun 12 April 2026, 10:00" in _text(pages, "/machines/")


def test_a_machine_shows_all_that_is_known_of_it(pages: Client, shown: dict[str, m.Batch]) -> None:
    text = _text(pages, "/machines/larder-box/")
    for said in (
        "Larder box", "Shed by the orchard", "a fan moves the air", "Speckled hens , since Wed 1 April, 19:00",
        "volume 40 L", "open water 80 cm², 230 cm²", "vents 4", "evenness not mapped", "no power", "water filled",
    ):  # fmt: skip
        assert said in text, said


def test_what_lay_in_it_before_is_told(pages: Client, shown: dict[str, m.Batch]) -> None:
    text = _text(pages, "/machines/small-box/")
    assert "What lay in it before" in text
    assert "Orchard quail" in text


def test_surfaces_are_read_in_the_keepers_unit(pages: Client, shown: dict[str, m.Batch]) -> None:
    m.Keeper.objects.update(units="us")
    assert "open water 12 in², 36 in²" in _text(pages, "/machines/larder-box/")
    assert fields(pages, "/machines/larder-box/edit/")["troughs_cm2"] == "12.4 35.65"


def test_a_new_machine_is_kept_as_it_was_typed(pages: Client, shown: dict[str, m.Batch]) -> None:
    response = send(
        pages, "/machines/new/", uid="fresh", name="Cupboard {1}", airflow="still", volume_l="62,5", troughs_cm2="80; 2.5 in²",
        vents="3", tray="5 × 8", mapped="on", note="Bought\nused.",
    )  # fmt: skip
    assert response["Location"].split("?")[0] == "/machines/fresh/"
    row = m.Machine.objects.get(uid="fresh")
    assert (row.place_id, row.name, row.airflow, row.volume_l, row.vents) == ("shed", "Cupboard {1}", "still", 62.5, 3)
    assert (row.troughs_cm2, row.tray, row.mapped) == ("80 16.129", "5x8", True)
    assert row.note.replace("\r", "") == "Bought\nused."
    text = _text(pages, "/machines/fresh/")
    assert "Cupboard {1}" in text
    assert "Nothing is in it." in text


@pytest.mark.parametrize("units", ["both", "metric", "us"])
def test_a_form_sent_as_it_came_changes_nothing(pages: Client, shown: dict[str, m.Batch], units: str) -> None:
    m.Keeper.objects.update(units=units)
    m.Machine.objects.filter(uid="larder-box").update(volume_l=40.123456789, troughs_cm2="80.2 230")
    before = m.Machine.objects.values().get(uid="larder-box")
    assert send(pages, "/machines/larder-box/edit/").status_code == 303
    assert m.Machine.objects.values().get(uid="larder-box") == before


def test_a_change_is_one_act_with_its_history(pages: Client, shown: dict[str, m.Batch]) -> None:
    response = send(pages, "/machines/larder-box/edit/", name="Pantry box", vents="")
    made = m.Act.objects.get(uid=response["Location"].partition("done=")[2])
    (change,) = made.changes.all()
    assert (made.verb, made.subject) == ("change", "Pantry box")
    assert {name for name in change.after if change.after[name] != change.before[name]} == {"name", "vents"}


def test_a_machine_with_eggs_is_not_taken_away_and_it_says_what_rests_on_it(
    pages: Client, shown: dict[str, m.Batch]
) -> None:
    response = pages.post("/machines/larder-box/edit/", {"away": "1"})
    assert response.status_code == 409
    assert "this rests on it: batch Speckled hens" in text_of(response.content.decode())
    assert m.Machine.objects.filter(uid="larder-box").exists()


def test_a_machine_nothing_rests_on_goes(pages: Client, shown: dict[str, m.Batch]) -> None:
    send(pages, "/machines/new/", uid="fresh", name="Cupboard", airflow="fan")
    response = pages.post("/machines/fresh/edit/", {"away": "1"})
    assert response["Location"].split("?")[0] == "/machines/"
    assert not m.Machine.objects.filter(uid="fresh").exists()


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("name", "", "This is needed."),
        ("volume_l", "-3", "cannot be the inner volume of a machine; allowed"),
        ("troughs_cm2", "80 wide", "is no open water surface"),
        ("vents", "many", "A whole number, please."),
        ("tray", "big", "like 4x7"),
        ("place", "nowhere", "Choose one of the list."),
    ],
)
def test_what_is_wrong_is_told_and_what_was_typed_stays(
    pages: Client, shown: dict[str, m.Batch], field: str, typed: str, says: str
) -> None:
    response = send(pages, "/machines/larder-box/edit/", **{field: typed})
    assert response.status_code == 422
    assert says in text_of(response.content.decode())
    assert m.Machine.objects.get(uid="larder-box").name == "Larder box"
    if typed and field != "place":
        assert f'value="{typed}"' in response.content.decode()


def test_a_machine_needs_a_place_first(pages: Client, empty: None) -> None:
    assert pages.get("/machines/new/")["Location"] == "/places/new/"


def test_every_word_can_be_translated(pages: Client, shown: dict[str, m.Batch]) -> None:
    speak_pseudo()
    known = (*keepers_words(), "Europe/Berlin", "hPa")
    for url in ("/machines/", "/machines/larder-box/", "/machines/larder-box/edit/", "/machines/new/", "/places/shed/"):
        assert unmarked(pages.get(url).content.decode(), *known) == [], url


def test_the_list_costs_the_same_queries_for_many_machines(pages: Client, shown: dict[str, m.Batch]) -> None:
    with CaptureQueriesContext(connection) as few:
        pages.get("/machines/")
    for number in range(10):
        m.Machine.objects.create(uid=f"more-{number}", place_id="shed", name=f"More {number}", airflow="fan")
    with CaptureQueriesContext(connection) as many:
        pages.get("/machines/")
    assert len(many) == len(few)
