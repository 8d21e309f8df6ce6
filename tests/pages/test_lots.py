"""Lots: parents by name, days of laying before the setting, the store in the keeper's unit."""

import pytest
from django.test import Client
from tests.pages.filled import again, fields, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of

from chalaza.records import models as m


def test_a_further_lot_is_kept_as_typed(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["speckled-hens"]
    response = send(
        pages, f"/batches/{batch.uid}/lots/new/", uid="two", parents="Neighbour’s hens", origin="posted",
        laid_first="2026-03-24", laid_last="2026-03-28", store_temp_degc="59 F", laid_at="lowland", parents_weeks="40,5",
        one_hen="on",
    )  # fmt: skip
    assert response["Location"].split("?")[0] == f"/batches/{batch.uid}/edit/"
    lot = m.Lot.objects.get(uid="two")
    assert (lot.batch_id, lot.parents.name, lot.origin, lot.laid_at) == (
        batch.uid,
        "Neighbour’s hens",
        "posted",
        "lowland",
    )
    assert (lot.store_temp_degc, lot.parents_weeks, lot.one_hen) == (pytest.approx(15.0), 40.5, True)
    assert (lot.laid_last - lot.laid_first) / 86_400 == pytest.approx(
        4.0, abs=0.05
    )  # the clock was put forward on 29 March


def test_a_known_flock_is_taken_by_its_name(pages: Client, shown: dict[str, m.Batch]) -> None:
    before = m.Parents.objects.count()
    send(pages, f"/batches/{shown['pond-ducks'].uid}/lots/new/", uid="two", parents="Speckled hens")
    assert m.Parents.objects.count() == before
    assert m.Lot.objects.get(uid="two").parents.name == "Speckled hens"


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_form_sent_as_it_came_changes_nothing(pages: Client, shown: dict[str, m.Batch], units: str) -> None:
    m.Keeper.objects.update(units=units)
    lot = m.Lot.objects.filter(batch__uid=shown["speckled-hens"].uid).get()
    m.Lot.objects.filter(uid=lot.uid).update(store_temp_degc=14.33333)
    before = m.Lot.objects.values().get(uid=lot.uid)
    assert send(pages, f"/lots/{lot.uid}/").status_code == 303
    after = m.Lot.objects.values().get(uid=lot.uid)
    days = ("laid_first", "laid_last")
    assert {k: v for k, v in after.items() if k not in days} == {k: v for k, v in before.items() if k not in days}
    assert all(after[day] == before[day] for day in days)


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("laid_last", "2026-04-02", "is after setting"),
        ("laid_last", "tomorrow", "That is no day."),
        ("laid_last", "2026-03-01..2026-03-02", "That is no day."),
        ("parents", "", "This is needed."),
        ("store_temp_degc", "80 °C", "allowed: -30 to 50 °C"),
        ("parents_weeks", "young", "is no age of the parents in weeks"),
    ],
)
def test_what_is_wrong_is_told(pages: Client, shown: dict[str, m.Batch], field: str, typed: str, says: str) -> None:
    lot = m.Lot.objects.filter(batch__uid=shown["speckled-hens"].uid).get()
    response = send(pages, f"/lots/{lot.uid}/", **{field: typed})
    assert response.status_code == 422
    assert says in text_of(response.content.decode())


def test_a_store_in_fahrenheit_is_asked_about(pages: Client, shown: dict[str, m.Batch]) -> None:
    lot = m.Lot.objects.filter(batch__uid=shown["speckled-hens"].uid).get()
    asked = send(pages, f"/lots/{lot.uid}/", store_temp_degc="60")
    assert "60 °F, that is 15.6 °C" in text_of(asked.content.decode())
    assert again(pages, f"/lots/{lot.uid}/", asked, answer_store_temp_degc="60 °F").status_code == 303


def test_a_lot_with_eggs_stays_and_one_without_goes(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["speckled-hens"]
    lot = batch.lots.get()
    assert pages.post(f"/lots/{lot.uid}/", {"away": "1"}).status_code == 409
    send(pages, f"/batches/{batch.uid}/lots/new/", uid="two", parents="Speckled hens")
    assert pages.post("/lots/two/", {"away": "1"}).status_code == 303


def test_a_lot_in_store_belongs_to_no_batch_yet(pages: Client, shown: dict[str, m.Batch]) -> None:
    parents = m.Parents.objects.order_by("id").first()
    assert parents is not None
    m.Lot.objects.create(uid="kept", parents_id=parents.uid)
    assert fields(pages, "/lots/kept/")["parents"] == parents.name
    assert send(pages, "/lots/kept/", laid_first="2026-04-10")["Location"].split("?")[0] == "/parents/"


def test_every_word_can_be_translated(pages: Client, shown: dict[str, m.Batch]) -> None:
    lot = m.Lot.objects.filter(batch__uid=shown["speckled-hens"].uid).get()
    speak_pseudo()
    for url in (f"/lots/{lot.uid}/", f"/batches/{shown['speckled-hens'].uid}/lots/new/"):
        assert unmarked(pages.get(url).content.decode(), *keepers_words(), "wk") == [], url
