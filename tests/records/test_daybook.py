"""The daybook: the same rows as the evidence of a batch, and no more queries for ten batches than for one."""

from dataclasses import replace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from chalaza.records import acts
from chalaza.records import models as m
from chalaza.records.daybook import daybook, daybooks
from chalaza.records.gather import evidence
from chalaza.scenario import demo

from .demo import NOW, put, put_all

pytestmark = pytest.mark.django_db


def test_it_holds_the_rows_of_the_evidence() -> None:
    put_all()
    found = daybooks(list(m.Batch.objects.all()))
    assert len(found) == 3
    for uid, one in found.items():
        whole = evidence(uid)
        assert one.batch == whole.batch
        assert sum(map(len, (one.eggs, one.weighings, one.candlings))) >= 18
        for name in ("stays", "eggs", "weighings", "air_cells", "candlings", "hatches", "breakouts"):
            assert tuple(getattr(one, name)) == getattr(whole, name), name
        assert one.events == (*whole.setting.events, *whole.events)


def test_an_event_after_the_batch_left_its_machine_is_not_its_own() -> None:
    batch = put_all()["orchard-quail"]
    machine = m.Stay.objects.filter(batch=batch).order_by("start").first()
    assert machine is not None
    keeper = m.Keeper.objects.the_one()
    stay = m.Stay.objects.filter(batch=batch, end=None).first()
    assert stay is not None
    stay.end = NOW - 3600
    acts.act(keeper, "edit", save=[stay])
    later = m.Event(machine_id=stay.machine_id, at=NOW - 60, sort="water")
    acts.act(keeper, "event", save=[later])
    assert daybook(batch).events == (*evidence(batch.uid).setting.events, *evidence(batch.uid).events)
    assert later.uid not in {one.uid for one in daybook(batch).events}


def test_ten_batches_cost_no_more_queries_than_one() -> None:
    first = demo.batches(NOW)["pond-ducks"]
    for i in range(10):
        uids = {egg.uid: f"{egg.uid}-{i}" for egg in first.eggs}
        put(
            replace(
                first,
                batch=replace(first.batch, uid=f"batch-{i}"),
                stays=tuple(replace(one, uid=f"{one.uid}-{i}", batch=f"batch-{i}") for one in first.stays),
                lots=(),
                eggs=tuple(replace(one, uid=uids[one.uid], lot=None) for one in first.eggs),
                weighings=(), candlings=(), notes=(), events=(),
            )
        )  # fmt: skip
    batches = list(m.Batch.objects.all())
    assert len(batches) == 10
    with CaptureQueriesContext(
        connection,
    ) as few:
        daybooks(batches[:1])
    with CaptureQueriesContext(connection) as many:
        found = daybooks(batches)
    assert len(few) == len(many) <= 9
    assert all(len(one.eggs) == len(first.eggs) for one in found.values())


def test_the_machine_of_a_moment_is_named() -> None:
    batch = put_all()["orchard-quail"]
    found = daybook(batch)
    assert len(found.stays) == 2
    assert found.machine_at(found.stays[0].start) == "Small box"
    assert found.machine_at(NOW) == "Hatching box"
    assert found.machine_at(0) == "Small box"
