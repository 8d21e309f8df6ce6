"""Ticking a job: once, for good, and back again."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.pages.home import jobs_of, seen_of, ticks_since
from chalaza.pages.keeper import Asked, voice_of
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
KEY = "hens-batch/candle/2"


def _jobs(uid: str) -> dict[str, bool]:
    """Key of each job of a batch -> whether it is done."""
    request = Asked()
    request.keeper = m.Keeper.objects.the_one()
    request.voice, request.now = voice_of(request.keeper), NOW
    seen = seen_of(request, m.Batch.objects.get(uid=uid))
    return {one.key: one.done for one in jobs_of(seen, ticks_since(0), NOW, "Europe/Berlin")}


@pytest.fixture
def key(shown: Batches) -> str:
    """A job that is open and can be ticked."""
    return next(key for key, done in _jobs("hens-batch").items() if not done and "/leave/" not in key)


def test_a_tick_makes_the_job_done_by_one_act(pages: Client, key: str) -> None:
    before = m.Act.objects.count()
    answer = pages.post("/done/", {"key": key, "uid": "a-tick"})
    assert (answer.status_code, answer["Location"]) == (303, "/?done=a-tick")
    assert _jobs("hens-batch")[key]
    assert m.Act.objects.count() == before + 1
    act = m.Act.objects.get(uid="a-tick")
    assert (act.verb, act.subject) == ("tick", "Speckled hens")
    text = text_of(pages.get("/?fresh=1").content.decode())
    assert "Done today" in text
    assert "Not done after all" in text


def test_sent_twice_it_is_ticked_once(pages: Client, key: str) -> None:
    for _ in range(2):
        assert pages.post("/done/", {"key": key, "uid": "a-tick"}).status_code == 303
    assert pages.post("/done/", {"key": key, "uid": "another"}).status_code == 303
    assert m.Done.objects.filter(key=key).count() == 1
    assert m.Act.objects.filter(verb="tick").count() == 1


def test_a_tick_is_taken_back_by_undoing_it(pages: Client, key: str) -> None:
    pages.post("/done/", {"key": key, "uid": "a-tick"})
    answer = pages.post("/done/", {"key": key, "untick": "1"})
    assert (answer.status_code, answer["Location"]) == (303, "/")
    assert not m.Done.objects.exists()
    assert not _jobs("hens-batch")[key]
    assert m.Act.objects.get(uid="a-tick").undone_by is not None
    assert pages.post("/done/", {"key": key, "untick": "1"}).status_code == 303


def test_after_it_was_taken_back_it_can_be_ticked_anew(pages: Client, key: str) -> None:
    pages.post("/done/", {"key": key, "uid": "first"})
    pages.post("/done/", {"key": key, "untick": "1"})
    pages.post("/done/", {"key": key, "uid": "second"})
    assert m.Done.objects.filter(key=key).count() == 1


def test_a_uid_no_row_may_have_is_not_believed(pages: Client, key: str) -> None:
    for uid in ("a b", "x" * 400, "\x00", ""):
        assert pages.post("/done/", {"key": key, "uid": uid}).status_code == 303
        assert pages.post("/done/", {"key": key, "untick": "1"}).status_code == 303
    assert not m.Act.objects.filter(uid__in=["a b", ""]).exists()


@pytest.mark.parametrize(
    "key",
    ["", "nothing/weigh/1", "hens-batch", "hens-batch/weigh", "hens-batch//1", "hens-batch/weigh/x", "hens-batch/weigh/",
     "\x00/weigh/1", "hens-batch/" + "w" * 300 + "/1", "hens-batch/weigh/²"],
)  # fmt: skip
def test_a_key_of_no_running_batch_is_no_job(pages: Client, shown: Batches, key: str) -> None:
    assert pages.post("/done/", {"key": key}).status_code == 404
    assert not m.Done.objects.exists()


def test_it_is_for_posting_only(pages: Client, shown: Batches) -> None:
    assert pages.get("/done/").status_code == 405


def test_in_place_the_answer_is_the_part_that_changed(pages: Client, key: str) -> None:
    pages.get("/?fresh=1")
    answer = pages.post("/done/", {"key": key, "uid": "a-tick"}, headers={"HX-Request": "true"}, follow=True)
    html = answer.content.decode()
    assert html.lstrip().startswith('<div id="today"')
    assert "Not done after all" in html
    bar = html.split('<div id="undo-bar" hx-swap-oob="true">')[1]
    assert 'action="/undo/a-tick/"' in bar
