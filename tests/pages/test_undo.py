"""Undo: one bar after any act, the act taken back, and the later act named that stands on it."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import HENS, by_script, done, opened, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import acts
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
NOTE = f"{HENS}note/"


def _note(pages: Client, text: str = "a crack") -> str:
    return done(send(pages, NOTE, {"text": text}))


def _twice(uid: str = "n") -> tuple[m.Act, m.Act]:
    """A note, and a later act that changed it."""
    keeper = m.Keeper.objects.the_one()
    row = m.Note(uid=uid, batch_id="hens-batch", at=NOW, text="first")
    first = acts.act(keeper, "note", save=[row], subject="Speckled hens")
    row.text = "second"
    return first, acts.act(keeper, "change", save=[row], subject="Speckled hens")


def test_every_page_led_to_by_an_act_offers_to_undo_it(pages: Client, shown: Batches) -> None:
    uid = _note(pages)
    for page in ("/", HENS, "/machines/", "/history/", f"{HENS}weigh/"):
        html = pages.get(f"{page}?done={uid}").content.decode()
        assert html.count(f'action="/undo/{uid}/"') >= 1
        assert "Wrote a note: a crack" in text_of(html)
        assert "at-thumb" in html
    assert "at-thumb" not in pages.get(HENS).content.decode()
    assert "at-thumb" not in pages.get(f"{HENS}?done=nothing").content.decode()


def test_an_undone_act_is_gone_and_can_be_done_after_all(pages: Client, shown: Batches) -> None:
    uid = _note(pages)
    answer = pages.post(f"/undo/{uid}/", {"back": f"{HENS}?done={uid}&as=table"})
    assert answer.status_code == 303
    assert answer["Location"].startswith(f"{HENS}?as=table&done=")
    assert not m.Note.objects.filter(text="a crack").exists()
    html = pages.get(answer["Location"]).content.decode()
    assert "Do it after all" in text_of(html)
    assert "Undid “Wrote a note: a crack”" in text_of(html)
    again = pages.post(f"/undo/{done(answer)}/", {"back": "/"})
    assert again.status_code == 303
    assert m.Note.objects.filter(text="a crack").exists()


def test_undone_twice_is_undone_once(pages: Client, shown: Batches) -> None:
    uid = _note(pages)
    first, second = (pages.post(f"/undo/{uid}/", {"uid": name}) for name in ("a", "b"))
    assert done(first) == done(second) == "a"


def test_an_act_under_a_later_one_names_it_and_offers_that_first(pages: Client, shown: Batches) -> None:
    first, later = _twice()
    answer = pages.post(f"/undo/{first.uid}/", {"back": HENS})
    html = answer.content.decode()
    assert answer.status_code == 409
    assert "Changed: second" in text_of(html)
    assert f'action="/undo/{later.uid}/"' in html
    assert m.Note.objects.get(uid="n").text == "second"
    assert pages.post(f"/undo/{later.uid}/", {"back": HENS}).status_code == 303
    assert pages.post(f"/undo/{first.uid}/", {"back": HENS}).status_code == 303
    assert not m.Note.objects.filter(uid="n").exists()


def test_a_script_is_told_in_words_what_stands_in_the_way(pages: Client, shown: Batches) -> None:
    first, later = _twice()
    held = by_script(pages, f"/undo/{first.uid}/", {"uid": "u"})
    assert held.status_code == 422
    assert any("Changed: second" in text for text in held.json()["refused"])
    assert by_script(pages, f"/undo/{later.uid}/", {"uid": "u2"}).json() == {"done": "u2"}


def test_letting_a_phone_in_is_not_undone(pages: Client, shown: Batches) -> None:
    phone = m.Device(name="phone", proof="x", let_in=NOW)
    act = acts.act(m.Keeper.objects.the_one(), "let_in", save=[phone])
    answer = pages.post(f"/undo/{act.uid}/")
    assert answer.status_code == 409
    assert "not undone" in text_of(answer.content.decode())
    assert m.Device.objects.exists()


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)", ""])
def test_the_way_back_never_leads_elsewhere(pages: Client, shown: Batches, back: str) -> None:
    answer = pages.post(f"/undo/{_note(pages)}/", {"back": back})
    assert answer["Location"].startswith("/history/?done=")


def test_no_such_act_and_no_such_way(pages: Client, shown: Batches) -> None:
    assert pages.post("/undo/nothing/").status_code == 404
    assert pages.get(f"/undo/{_note(pages)}/").status_code == 405
    assert m.Note.objects.filter(text="a crack").exists()


def test_the_bar_and_the_page_of_what_is_held_speak_the_keepers_language(pages: Client, shown: Batches) -> None:
    first, later = _twice()
    speak_pseudo()
    known = (*keepers_words(), "first", "second")
    assert unmarked(pages.get(f"{HENS}note/?done={later.uid}").content.decode(), *known) == []
    assert unmarked(pages.post(f"/undo/{first.uid}/").content.decode(), *known) == []


def test_undoing_in_a_session_takes_back_the_egg(pages: Client, shown: Batches) -> None:
    url = f"{HENS}candle/"
    form = opened(pages, url)
    by_script(pages, url, {**form, "f-hens-egg1": "clear"})
    assert by_script(pages, f"/undo/{form['uid']}/", {"uid": "back"}).json() == {"done": "back"}
    assert not m.Candling.objects.filter(uid__startswith=form["session"]).exists()
