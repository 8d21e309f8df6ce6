"""Notes."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import HENS, by_script, done, held, opened, send
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
NOTE = f"{HENS}note/"


def test_a_note_is_kept_word_by_word_and_can_be_undone(pages: Client, shown: Batches) -> None:
    text = 'C4 has a hairline <crack>, "waxed" — {so be it}'
    answer = send(pages, NOTE, {"text": text})
    assert answer.status_code == 303
    row = m.Note.objects.order_by("-id")[0]
    assert (row.text, row.at, row.batch_id) == (text, NOW - NOW % 60, "hens-batch")
    led = pages.get(answer["Location"]).content.decode()
    assert "hairline" in text_of(led)
    undone = pages.post(f"/undo/{done(answer)}/", {"back": HENS})
    assert undone.status_code == 303
    assert not m.Note.objects.filter(uid=row.uid).exists()


def test_an_hour_that_was_is_taken_and_one_that_never_comes_is_refused(pages: Client, shown: Batches) -> None:
    assert send(pages, NOTE, {"text": "earlier", "at": "2026-04-16T07:30"}).status_code == 303
    assert m.Note.objects.order_by("-id")[0].at == 1_776_317_400
    never = send(pages, NOTE, {"text": "x", "at": "2026-03-29T02:30"})
    assert "does not exist" in text_of(never.content.decode())


def test_an_empty_note_is_told_and_the_rest_stays(pages: Client, shown: Batches) -> None:
    answer = send(pages, NOTE, {"text": "  ", "at": "2026-04-16T07:30"})
    assert answer.status_code == 422
    assert held(answer.content.decode())["at"] == "2026-04-16T07:30"
    said = by_script(pages, NOTE, {**opened(pages, NOTE), "text": ""})
    assert said.json() == {"refused": ["This is needed."], "ways": []}


@pytest.mark.parametrize("uid", ["with blanks", "x" * 101, "new\nline"])
def test_a_uid_no_row_may_have_is_refused(pages: Client, shown: Batches, uid: str) -> None:
    assert send(pages, NOTE, {"text": "x", "uid": uid}).status_code == 422
    assert not m.Note.objects.filter(text="x").exists()


def test_a_note_without_a_uid_gets_one(pages: Client, shown: Batches) -> None:
    assert send(pages, NOTE, {"text": "x", "uid": ""}).status_code == 303
    assert m.Note.objects.filter(text="x").count() == 1


def test_a_clock_of_a_page_that_runs_ahead_is_not_believed(pages: Client, shown: Batches) -> None:
    assert by_script(pages, NOTE, {"uid": "a", "text": "x", "at_s": str(NOW + 120)}).status_code == 200
    assert m.Note.objects.get(uid="a").at == NOW
    ahead = by_script(pages, NOTE, {"uid": "b", "text": "x", "at_s": str(NOW + 5000)})
    assert ahead.status_code == 422
    assert "runs ahead" in " ".join(ahead.json()["refused"])
