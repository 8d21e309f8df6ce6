"""Saying that a batch is over: what is still open is named, one act ends it, and undoing opens it again."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import acts, answers
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
QUAIL = "/batches/quail-batch/finish/"


def test_what_is_still_open_is_named_first(pages: Client, shown: Batches) -> None:
    text = text_of(pages.get("/batches/hens-batch/finish/").content.decode())
    assert "28 eggs are still in the box." in text
    assert "Stop turning" in text or "Candle" in text
    assert "Is this batch over?" in text


def test_one_act_ends_the_batch_and_its_stay(pages: Client, shown: Batches) -> None:
    before = m.Act.objects.count()
    answer = pages.post(QUAIL, {"at": "2026-04-17T18:30", "uid": "the-end"})
    assert (answer.status_code, answer["Location"]) == (303, "/batches/quail-batch/?done=the-end")
    batch = m.Batch.objects.get(uid="quail-batch")
    assert batch.finished_at == NOW - 600
    assert not m.Stay.objects.filter(batch=batch, end=None).exists()
    assert m.Act.objects.count() == before + 1
    assert answers.of("quail-batch", NOW + 86_400).as_of <= NOW + 600  # answered as of its end from now on


def test_an_end_before_the_newest_entry_is_asked_about(pages: Client, shown: Batches) -> None:
    early = {"at": "2026-04-10T12:00", "uid": "the-end"}
    told = pages.post(QUAIL, early)
    assert told.status_code == 422
    assert "Was the batch over before that?" in text_of(told.content.decode())
    assert pages.post(QUAIL, {**early, "keep_at": early["at"]}).status_code == 303


def test_sent_twice_it_is_ended_once(pages: Client, shown: Batches) -> None:
    for _ in range(2):
        assert pages.post(QUAIL, {"at": "2026-04-17T18:30", "uid": "the-end"}).status_code == 303
    assert m.Act.objects.filter(verb="finish").count() == 1


def test_undoing_opens_it_again_with_its_stay(pages: Client, shown: Batches) -> None:
    stays = list(m.Stay.objects.filter(batch__uid="quail-batch").order_by("id").values())
    pages.post(QUAIL, {"at": "2026-04-17T18:30", "uid": "the-end"})
    answer = pages.post(QUAIL, {"reopen": "1"})
    assert answer.status_code == 303
    assert m.Batch.objects.get(uid="quail-batch").finished_at is None
    assert list(m.Stay.objects.filter(batch__uid="quail-batch").order_by("id").values()) == stays
    assert m.Act.objects.get(uid="the-end").undone_by is not None


def test_where_something_later_rests_on_it_the_history_is_shown(pages: Client, shown: Batches) -> None:
    pages.post(QUAIL, {"at": "2026-04-17T18:30", "uid": "the-end"})
    batch = m.Batch.objects.get(uid="quail-batch")
    batch.note = "a good one"
    acts.act(m.Keeper.objects.the_one(), "edit", save=[batch])
    answer = pages.post(QUAIL, {"reopen": "1"})
    assert answer["Location"] == "/history/?batch=quail-batch"
    assert m.Batch.objects.get(uid="quail-batch").finished_at == NOW - 600


def test_a_batch_that_came_ended_can_be_opened(pages: Client, shown: Batches) -> None:
    m.Batch.objects.filter(uid="quail-batch").update(finished_at=NOW - 600)
    assert pages.post(QUAIL, {"reopen": "1"}).status_code == 303
    assert m.Batch.objects.get(uid="quail-batch").finished_at is None
    assert pages.post(QUAIL, {"reopen": "1"}).status_code == 303  # nothing to open: nothing happens


@pytest.mark.parametrize("at", ["2026-04-18T08:00", "2020-01-01T00:00", "", "tomorrow"])
def test_a_moment_that_cannot_be_keeps_what_was_typed_and_says_what_is_allowed(
    pages: Client, shown: Batches, at: str
) -> None:
    answer = pages.post(QUAIL, {"at": at, "uid": "the-end"})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert f'value="{at}"' in html or not at
    assert 'aria-invalid="true"' in html
    assert m.Batch.objects.get(uid="quail-batch").finished_at is None


def test_what_is_over_is_not_ended_anew(pages: Client, shown: Batches) -> None:
    pages.post(QUAIL, {"at": "2026-04-17T18:30", "uid": "the-end"})
    answer = pages.get(QUAIL)
    assert (answer.status_code, answer["Location"]) == (303, "/batches/quail-batch/")


def test_asking_changes_nothing_and_other_methods_are_refused(pages: Client, shown: Batches) -> None:
    before = m.Act.objects.count()
    assert pages.get(QUAIL).status_code == 200
    assert m.Act.objects.count() == before
    assert pages.put(QUAIL).status_code == 405
    assert pages.get("/batches/nothing/finish/").status_code == 404
    assert pages.post("/batches/nothing/finish/").status_code == 404


def test_every_text_went_through_a_lookup(pages: Client, shown: Batches) -> None:
    speak_pseudo()
    assert unmarked(pages.get("/batches/hens-batch/finish/").content.decode(), *keepers_words()) == []
    wrong = pages.post(QUAIL, {"at": "2026-04-18T08:00"}).content.decode()
    assert unmarked(wrong, *keepers_words()) == []
