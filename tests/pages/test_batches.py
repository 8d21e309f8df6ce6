"""The list of batches: what runs and where it stands, what is over and what came of it."""

from collections.abc import Mapping

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import acts
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]


def _over(uid: str) -> None:
    batch = m.Batch.objects.get(uid=uid)
    batch.finished_at = NOW - 600
    acts.act(m.Keeper.objects.the_one(), "finish", save=[batch])


def test_running_batches_stand_with_their_day_and_their_hatch(pages: Client, shown: Batches) -> None:
    html = pages.get("/batches/").content.decode()
    text = text_of(html)
    for one in shown.values():
        assert f'<a href="/batches/{one.uid}/">{one.name}</a>' in html
    assert "day 15 (of 21)" in text
    assert text.count("half out") == 3
    assert "None is over yet." in text


def test_what_is_over_stands_with_what_came_of_it(pages: Client, shown: Batches) -> None:
    _over("quail-batch")
    text = text_of(pages.get("/batches/").content.decode())
    young = sum(m.Hatch.objects.filter(batch__uid="quail-batch", stage="out").values_list("count", flat=True))
    assert young > 0
    assert f"over since Fri 17 April 2026, 18:30; {young} young of 24 eggs" in text


def test_a_batch_nobody_assessed_yet_is_listed_all_the_same(pages: Client, unknown: Batches) -> None:
    text = text_of(pages.get("/batches/").content.decode())
    assert "Speckled hens" in text
    assert "half out" not in text


def test_more_batches_cost_no_more_queries(pages: Client, shown: Batches) -> None:
    with CaptureQueriesContext(connection) as running:
        pages.get("/batches/")
    for uid in ("quail-batch", "hens-batch"):
        _over(uid)
    with CaptureQueriesContext(connection) as over:
        pages.get("/batches/")
    assert len(running) <= 6
    assert len(over) <= 6


def test_an_empty_notebook_is_led_to_its_first_batch(pages: Client, empty: None) -> None:
    html = pages.get("/batches/").content.decode()
    assert 'class="press" href="/begin/"' in html
    assert "No batch is running." in html


def test_it_is_only_for_reading(pages: Client, shown: Batches) -> None:
    assert pages.post("/batches/").status_code == 405


def test_every_text_went_through_a_lookup(pages: Client, shown: Batches) -> None:
    speak_pseudo()
    _over("quail-batch")
    assert unmarked(pages.get("/batches/").content.decode(), *keepers_words()) == []
