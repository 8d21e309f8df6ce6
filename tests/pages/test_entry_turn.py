"""Turning: turned, missed, stopped."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import DUCKS, done, opened, send
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import acts
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
TURN = f"{DUCKS}turn/"


@pytest.fixture
def by_hand(shown: Batches) -> m.Batch:
    """The ducks, turned twice a day by hand."""
    batch = m.Batch.objects.get(uid="ducks-batch")
    batch.turns_per_d = 2
    acts.act(m.Keeper.objects.the_one(), "change", save=[batch])
    return batch


def test_each_turn_is_noted_and_the_last_planned_one_ticks_the_job_of_the_day(pages: Client, by_hand: m.Batch) -> None:
    assert "Not noted as turned today" in text_of(pages.get(TURN).content.decode())
    assert send(pages, TURN, {"at": "2026-04-17T08:00"}).status_code == 303
    assert not m.Done.objects.filter(key="ducks-batch/turn/1").exists()
    second = send(pages, TURN)
    assert m.Done.objects.filter(key="ducks-batch/turn/1").exists()
    assert "Turned 2 times today: 08:00, 18:40" in text_of(pages.get(TURN).content.decode())
    pages.post(f"/undo/{done(second)}/")
    assert not m.Done.objects.filter(key="ducks-batch/turn/1").exists()
    assert "Turned once today: 08:00" in text_of(pages.get(TURN).content.decode())


def test_a_missed_turn_and_the_end_of_turning_are_events_of_the_batch(pages: Client, shown: Batches) -> None:
    assert send(pages, TURN, missed="1").status_code == 303
    assert send(pages, TURN, stop="1").status_code == 303
    sorts = set(m.Event.objects.filter(batch__uid="ducks-batch").values_list("sort", flat=True))
    assert {"turning_missed", "turning_stopped"} <= sorts
    assert "Turning was stopped" in text_of(pages.get(TURN).content.decode())


def test_a_double_tap_is_one_turn(pages: Client, shown: Batches) -> None:
    form = opened(pages, TURN)
    assert [pages.post(TURN, form).status_code for _ in range(2)] == [303, 303]
    assert m.Done.objects.filter(key__startswith="ducks-batch/turned/").count() == 1
    assert m.Done.objects.get(key__startswith="ducks-batch/turned/").at == NOW - NOW % 60
