"""A batch put right: its fields in every unit, its plan beside what is usual, its end, and taking it away."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from tests.pages.filled import again, fields, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza import facts
from chalaza.records import models as m


def _url(batch: m.Batch) -> str:
    return f"/batches/{batch.uid}/edit/"


@pytest.mark.parametrize("units", ["both", "us"])
@pytest.mark.parametrize("name", ["speckled-hens", "orchard-quail", "pond-ducks"])
def test_the_form_sent_as_it_came_changes_nothing(
    pages: Client, shown: dict[str, m.Batch], name: str, units: str
) -> None:
    m.Keeper.objects.update(units=units)
    m.Batch.objects.filter(uid=shown[name].uid).update(planned_temp_degc=37.123456)
    left_out = ("revision",)
    before = {k: v for k, v in m.Batch.objects.values().get(uid=shown[name].uid).items() if k not in left_out}
    assert send(pages, _url(shown[name])).status_code == 303
    after = {k: v for k, v in m.Batch.objects.values().get(uid=shown[name].uid).items() if k not in left_out}
    assert after == before


def test_what_is_typed_is_kept(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["pond-ducks"]
    response = send(
        pages, _url(batch), name="Pond ducks II", kind="barbary duck", planned_temp_degc="99.5 F", planned_rh="57",
        turns_per_d="5", wanted_young="7", zone="Europe/Lisbon", note="two lines\nof note",
    )  # fmt: skip
    assert response["Location"].split("?")[0] == f"/batches/{batch.uid}/"
    batch.refresh_from_db()
    assert (batch.name, batch.kind, batch.zone, batch.wanted_young) == ("Pond ducks II", "muscovy", "Europe/Lisbon", 7)
    assert batch.planned_temp_degc == pytest.approx(37.5)
    assert (batch.planned_rh, batch.turns_per_d) == (pytest.approx(0.57), 5.0)


def test_the_plan_stands_beside_what_is_usual_and_who_says_so(pages: Client, shown: dict[str, m.Batch]) -> None:
    html = pages.get(_url(shown["speckled-hens"])).content.decode()
    kind = facts.kind("chicken")
    assert "37.5 °C (99.5 °F) is planned, usual for this kind with a fan." in text_of(html)
    for key in (*kind.temp_forced_degc.sources, *kind.rh_setting.sources):
        assert f'href="/sources/#{key}"' in html


def test_a_new_hour_of_setting_moves_the_first_stay_with_it(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["speckled-hens"]
    stay = batch.stays.get()
    assert stay.start == batch.set_at
    send(pages, _url(batch), set_at="2026-04-01T20:30")
    batch.refresh_from_db()
    stay.refresh_from_db()
    assert stay.start == batch.set_at == 1_775_068_200


def test_a_probe_hung_up_for_a_batch_goes_along_with_an_earlier_setting_and_not_with_a_later_one(
    pages: Client, shown: dict[str, m.Batch]
) -> None:
    batch = shown["pond-ducks"]
    stay = batch.stays.get()
    hung = m.Mount.objects.filter(machine=stay.machine, start=batch.set_at)
    names = set(hung.values_list("uid", flat=True))
    assert names
    clock = datetime.fromtimestamp(batch.set_at, ZoneInfo(batch.zone))
    for hours, moves in ((-2, True), (-1, False)):
        assert send(pages, _url(batch), set_at=f"{clock + timedelta(hours=hours):%Y-%m-%dT%H:%M}").status_code == 303
        batch.refresh_from_db()
        found = set(m.Mount.objects.filter(machine=stay.machine, start=batch.set_at).values_list("uid", flat=True))
        assert found == (names if moves else set())


def test_a_setting_to_come_or_long_ago_is_asked_about(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["speckled-hens"]
    for typed, said in (("2026-06-01T10:00", "is still to come"), ("2025-06-01T10:00", "so long ago")):
        told = send(pages, _url(batch), set_at=typed)
        assert told.status_code == 422
        assert said in text_of(told.content.decode())
        assert again(pages, _url(batch), told, keep_set_at=typed).status_code == 303
        m.Batch.objects.filter(uid=batch.uid).update(set_at=batch.set_at)


def test_a_batch_that_runs_again_is_in_its_box_again(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["speckled-hens"]
    pages.post(f"/batches/{batch.uid}/finish/", {"at": "2026-04-17T12:00", "uid": "over"})
    assert batch.stays.get().end is not None
    assert send(pages, _url(batch), finished_at="").status_code == 303
    assert batch.stays.get().end is None


def test_a_batch_ends_after_it_began_and_not_before_now(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["speckled-hens"]
    assert "finished_at" not in fields(pages, _url(batch))  # ending has a page of its own
    m.Batch.objects.filter(uid=batch.uid).update(finished_at=NOW - 3600)
    early = send(pages, _url(batch), finished_at="2026-03-01T12:00")
    assert "over after it was set" in text_of(early.content.decode())
    late = send(pages, _url(batch), finished_at="2026-05-01T12:00")
    assert "still to come" in text_of(late.content.decode())
    assert send(pages, _url(batch), finished_at="2026-04-17T12:00").status_code == 303
    batch.refresh_from_db()
    assert batch.finished_at == NOW - 6 * 3600 - 40 * 60
    assert send(pages, _url(batch), finished_at="").status_code == 303
    batch.refresh_from_db()
    assert batch.finished_at is None


def test_fahrenheit_typed_for_celsius_is_asked_about(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["speckled-hens"]
    asked = send(pages, _url(batch), planned_temp_degc="100")
    assert "100 °F, that is 37.8 °C" in text_of(asked.content.decode())
    assert again(pages, _url(batch), asked, answer_planned_temp_degc="100 °F").status_code == 303
    batch.refresh_from_db()
    assert batch.planned_temp_degc == pytest.approx(37.778, abs=1e-3)


def test_lots_stays_and_eggs_are_listed_with_the_way_to_each(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["orchard-quail"]
    html = pages.get(_url(batch)).content.decode()
    for stay in batch.stays.all():
        assert f'href="/stays/{stay.uid}/"' in html
    for lot in batch.lots.all():
        assert f'href="/lots/{lot.uid}/"' in html
    for part in ("eggs/", "move/", "lots/new/"):
        assert f'href="/batches/{batch.uid}/{part}"' in html
    assert f"{sum(batch.eggs.values_list('count', flat=True))} eggs" in text_of(html)


def test_a_batch_with_entries_stays_and_says_what_rests_on_it(pages: Client, shown: dict[str, m.Batch]) -> None:
    response = pages.post(_url(shown["speckled-hens"]), {"away": "1"})
    assert response.status_code == 409
    assert "this rests on it: " in text_of(response.content.decode())
    assert m.Egg.objects.filter(batch__uid=shown["speckled-hens"].uid).exists()


def test_a_batch_set_by_mistake_goes_with_its_eggs_lots_and_stays(pages: Client, shown: dict[str, m.Batch]) -> None:
    send(
        pages,
        "/batches/new/",
        uid="slip",
        machine="small-box",
        kind="hen",
        eggs="6",
        batch_name="A slip",
        parents="None",
    )
    response = pages.post("/batches/slip/edit/", {"away": "1"})
    assert response["Location"].split("?")[0] == "/batches/"
    assert not m.Batch.objects.filter(uid="slip").exists()
    assert not m.Egg.objects.filter(uid__startswith="slip").exists()


def test_every_word_can_be_translated(pages: Client, shown: dict[str, m.Batch]) -> None:
    speak_pseudo()
    for batch in shown.values():
        assert unmarked(pages.get(_url(batch)).content.decode(), *keepers_words()) == []


def test_the_kind_is_held_by_its_name(pages: Client, shown: dict[str, m.Batch]) -> None:
    assert fields(pages, _url(shown["speckled-hens"]))["kind"] == "Chicken, large breeds"
