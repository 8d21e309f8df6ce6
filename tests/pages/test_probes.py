"""Probes: hung up, moved and taken down in one act each, with their place and height; their page and their checks."""

import pytest
from django.test import Client
from tests.pages.filled import fields, form_of, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import models as m
from chalaza.records import series
from chalaza.words import numbers
from chalaza.words.numbers import Voice


def _text(pages: Client, url: str) -> str:
    return text_of(pages.get(url).content.decode())


def test_a_new_probe_hangs_where_it_was_said(pages: Client, shown: dict[str, m.Batch]) -> None:
    held = fields(pages, "/probes/new/?where=machine:small-box")
    assert held["where"] == "machine:small-box"
    response = send(
        pages, "/probes/new/", uid="tip", name="Tip {2}", sort="glass", where="machine:small-box", start="2026-04-17T08:00",
        height_mm="-12", position="between A2 and A3", controls="on",
    )  # fmt: skip
    assert response["Location"].split("?")[0] == "/probes/tip/"
    probe, mount = m.Probe.objects.get(uid="tip"), m.Mount.objects.get(probe__uid="tip")
    assert (probe.name, probe.sort, probe.controls) == ("Tip {2}", "glass", True)
    assert (mount.machine_id, mount.place_id, mount.start) == ("small-box", None, NOW - 10 * 3600 - 40 * 60)
    assert (mount.height_mm, mount.position, mount.end) == (-12.0, "between A2 and A3", None)
    text = _text(pages, "/probes/tip/")
    for said in (
        "Tip {2}",
        "a glass thermometer; it also steers the heater",
        "no reading yet",
        "Small box",
        "never checked",
    ):
        assert said in text, said
    assert "−12.0 mm (−0.47 in) over the egg tops" in text


def test_a_probe_may_hang_in_the_room_or_nowhere_yet(pages: Client, shown: dict[str, m.Batch]) -> None:
    send(pages, "/probes/new/", uid="room-2", name="Room", sort="digital", where="room:shed")
    assert m.Mount.objects.get(probe__uid="room-2").place_id == "shed"
    send(pages, "/probes/new/", uid="loose", name="Loose", sort="digital", where="")
    assert not m.Mount.objects.filter(probe__uid="loose").exists()
    assert "It hangs nowhere." in _text(pages, "/probes/loose/")
    assert "Hanging nowhere" in _text(pages, "/machines/")


def test_hung_elsewhere_one_mount_ends_and_the_next_begins_in_one_act(pages: Client, shown: dict[str, m.Batch]) -> None:
    old = m.Mount.objects.get(probe__uid="p1", end=None)
    response = send(
        pages, "/probes/p1/hang/", uid="hung", where="machine:hatching-box", start="2026-04-17T12:00", height_mm="0"
    )
    assert response["Location"].split("?")[0] == "/probes/p1/"
    made = m.Act.objects.get(uid=response["Location"].partition("done=")[2])
    assert {change.model for change in made.changes.all()} == {"Mount"}
    old.refresh_from_db()
    new = m.Mount.objects.get(probe__uid="p1", end=None)
    assert old.end == new.start == 1_776_420_000
    assert (new.machine_id, new.height_mm) == ("hatching-box", 0.0)
    assert "Where it hung before" in _text(pages, "/probes/p1/")


def test_taken_down_it_hangs_nowhere(pages: Client, shown: dict[str, m.Batch]) -> None:
    send(pages, "/probes/p1/hang/", where="", start="2026-04-17T12:00")
    assert not m.Mount.objects.filter(probe__uid="p1", end=None).exists()
    again = send(pages, "/probes/p1/hang/", where="", start="2026-04-17T13:00")
    assert "It hangs nowhere already." in text_of(again.content.decode())


def test_it_cannot_be_hung_elsewhere_before_it_was_hung_where_it_is(pages: Client, shown: dict[str, m.Batch]) -> None:
    response = send(pages, "/probes/p1/hang/", where="machine:small-box", start="2020-01-01T12:00")
    assert response.status_code == 422
    assert "It was hung where it is only at" in text_of(response.content.decode())


def test_two_times_that_overlap_are_refused_in_words(pages: Client, shown: dict[str, m.Batch]) -> None:
    send(pages, "/probes/p1/hang/", uid="second", where="machine:small-box", start="2026-04-17T12:00")
    response = send(pages, "/mounts/second-mount/", start="2026-04-16T12:00")
    assert response.status_code == 422
    assert "The two times overlap" in text_of(response.content.decode())


def test_a_mount_is_put_right_or_taken_away(pages: Client, shown: dict[str, m.Batch]) -> None:
    mount = m.Mount.objects.get(probe__uid="p3", end=None)
    m.Keeper.objects.update(units="us")
    send(pages, f"/mounts/{mount.uid}/", height_mm="0.5", position="back left")
    mount.refresh_from_db()
    assert mount.height_mm == pytest.approx(12.7)
    assert mount.position == "back left"
    assert form_of(pages.get(f"/mounts/{mount.uid}/").content.decode()).values["height_mm"] == "0.5"
    assert pages.post(f"/mounts/{mount.uid}/", {"away": "1"}).status_code == 303
    assert not m.Mount.objects.filter(uid=mount.uid).exists()


def test_in_still_air_the_height_is_asked_for(pages: Client, shown: dict[str, m.Batch]) -> None:
    mount = m.Mount.objects.get(probe__uid="p3", end=None)
    assert mount.machine is not None
    assert (mount.machine.airflow, mount.height_mm is None) == ("still", False)
    send(pages, f"/mounts/{mount.uid}/", height_mm="")
    for url in ("/probes/p3/", "/machines/"):
        assert "ote how high it hangs over the egg tops" in _text(pages, url), url


def test_the_form_sent_as_it_came_changes_nothing(pages: Client, shown: dict[str, m.Batch]) -> None:
    mount = m.Mount.objects.get(probe__uid="p3", end=None)
    before = (m.Mount.objects.values().get(uid=mount.uid), m.Probe.objects.values().get(uid="p3"))
    assert send(pages, f"/mounts/{mount.uid}/").status_code == 303
    assert send(pages, "/probes/p3/edit/").status_code == 303
    assert (m.Mount.objects.values().get(uid=mount.uid), m.Probe.objects.values().get(uid="p3")) == before


def test_a_probe_with_readings_stays_and_one_without_goes(pages: Client, shown: dict[str, m.Batch]) -> None:
    held = pages.post("/probes/p1/edit/", {"away": "1"})
    assert held.status_code == 409
    send(pages, "/probes/new/", uid="loose", name="Loose", sort="digital", where="")
    assert pages.post("/probes/loose/edit/", {"away": "1"}).status_code == 303
    assert not m.Probe.objects.filter(uid="loose").exists()


def test_the_page_shows_the_last_reading_with_its_hour(pages: Client, shown: dict[str, m.Batch]) -> None:
    text = _text(pages, "/probes/p1/")
    assert "Display P1 the display of the machine" in text
    last = series.last("p1", NOW)
    assert last is not None
    assert numbers.moment(Voice(zone="Europe/Berlin"), last[0]).replace("\u00a0", " ") in text


def test_a_check_can_be_taken_away(pages: Client, shown: dict[str, m.Batch]) -> None:
    send(pages, "/probes/p1/check/?sort=ice", uid="ice", reading="0.4")
    assert "0.4 °C (32.7 °F)" in _text(pages, "/probes/p1/")
    assert "−0.4 °C" in _text(pages, "/probes/p1/")
    assert pages.get("/checks/ice/away/").status_code == 405
    assert pages.post("/checks/ice/away/").status_code == 303
    assert not m.ProbeCheck.objects.exists()


def test_every_word_can_be_translated(pages: Client, shown: dict[str, m.Batch]) -> None:
    send(pages, "/probes/p1/check/?sort=ice", reading="0.4")
    mount = m.Mount.objects.get(probe__uid="p1", end=None)
    known = (*keepers_words(), *m.Mount.objects.values_list("position", flat=True))
    speak_pseudo()
    for url in ("/probes/p1/", "/probes/new/", "/probes/p1/edit/", "/probes/p1/hang/", f"/mounts/{mount.uid}/"):
        assert unmarked(pages.get(url).content.decode(), *[one for one in known if one]) == [], url
