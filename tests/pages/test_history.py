"""The history: newest first, in words, by batch, page by page, with undo."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import DUCKS, HENS, by_script, opened, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import acts
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]


def _text(pages: Client, query: str = "") -> str:
    return text_of(pages.get(f"/history/{query}").content.decode())


def test_acts_stand_newest_first_with_what_differs(pages: Client, shown: Batches) -> None:
    send(pages, f"{HENS}note/", {"text": "older"})
    egg = m.Egg.objects.get(uid="hens-egg1")
    egg.label, egg.length_mm = "A9", 57.25
    acts.act(m.Keeper.objects.the_one(), "change", save=[egg], subject="Speckled hens")
    html = pages.get("/history/").content.decode()
    text = text_of(html)
    assert text.index("Changed: A9") < text.index("Wrote a note: older")
    assert "<del>A1</del>" in html
    assert "<ins>A9</ins>" in html
    assert "57.2" in text
    assert "Brought in" in text


def test_a_batch_has_its_own_history_also_of_what_was_undone(pages: Client, shown: Batches) -> None:
    answer = send(pages, f"{HENS}note/", {"text": "of hens"})
    send(pages, f"{DUCKS}note/", {"text": "of ducks"})
    pages.post(f"/undo/{answer['Location'].rpartition('=')[2]}/")
    text = _text(pages, "?batch=hens-batch")
    assert "Wrote a note: of hens" in text
    assert "Undid “Wrote a note: of hens”" in text
    assert "of ducks" not in text
    assert "of ducks" in _text(pages)


def test_an_undone_act_says_when_and_offers_no_undo(pages: Client, shown: Batches) -> None:
    answer = send(pages, f"{HENS}note/", {"text": "x"})
    uid = answer["Location"].rpartition("=")[2]
    assert f'action="/undo/{uid}/"' in pages.get("/history/").content.decode()
    pages.post(f"/undo/{uid}/", {"uid": "undoing"})
    html = pages.get("/history/").content.decode()
    assert f'action="/undo/{uid}/"' not in html
    assert 'action="/undo/undoing/"' in html
    assert "undone Fri" in text_of(html)


def test_a_long_history_comes_in_pages(pages: Client, empty: None) -> None:
    keeper = m.Keeper.objects.the_one()
    batch = m.Batch(uid="b", name="Long", kind="chicken", set_at=NOW - 600)
    acts.act(keeper, "make", save=[batch])
    for n in range(60):
        acts.act(keeper, "note", save=[m.Note(batch_id="b", at=NOW, text=f"note {n}.")])
    first, last = pages.get("/history/").content.decode(), pages.get("/history/?batch=b&page=3").content.decode()
    assert 'href="/history/?page=2"' in first
    assert "Newer" not in text_of(first)
    assert "note 59." in text_of(first)
    assert "note 34." not in text_of(first)
    assert "note 0." in text_of(last)
    assert 'href="/history/?batch=b&amp;page=2"' in last
    assert "Older" not in text_of(last)


@pytest.mark.parametrize(
    "query", ["?page=0", "?page=-3", "?page=x", "?page=99999999999999", "?page=7777", "?batch=nobody", "?batch=%00"]
)
def test_whatever_is_asked_there_is_an_answer(pages: Client, shown: Batches, query: str) -> None:
    assert pages.get(f"/history/{query}").status_code == 200


def test_an_empty_notebook_says_what_will_stand_here(pages: Client, empty: None) -> None:
    assert "Nothing was done yet" in _text(pages)


def test_what_is_only_remembered_is_not_shown(pages: Client, shown: Batches) -> None:
    url = f"{HENS}weigh/"
    by_script(pages, url, {**opened(pages, url), "g-hens-egg1": "48.9", "scale": "g:0.5", "keep_g-hens-egg1": "48.9"})
    assert m.Act.objects.filter(verb="remember").exists()
    assert "Remembered" not in _text(pages)


def test_an_act_of_many_rows_shows_some_and_says_how_many_more(pages: Client, shown: Batches) -> None:
    total = m.Act.objects.filter(verb="import", subject="Speckled hens").order_by("id")[0].changes.count()
    assert f"and {total - 40} rows more" in _text(pages)


def test_it_speaks_the_keepers_language(pages: Client, shown: Batches) -> None:
    send(pages, f"{HENS}event/?sort=set_point", {"set_point_degc": "37.6"})
    assert send(pages, f"{HENS}hatch/", {"nothing": "1"}).status_code == 303
    speak_pseudo()
    html = pages.get("/history/").content.decode()
    assert unmarked(html, *keepers_words(), "Europe/Berlin", "all", "x", "4x7") == []


def test_asking_changes_nothing_and_only_asking_is_allowed(pages: Client, shown: Batches) -> None:
    before = m.Act.objects.count()
    pages.get("/history/")
    assert m.Act.objects.count() == before
    assert pages.post("/history/").status_code == 405
