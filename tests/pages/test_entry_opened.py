"""Opened eggs: stages egg by egg or counted, with the cautions."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import HENS, QUAIL, by_script, held, opened, send
from tests.pages.reading import text_of

from chalaza.records import acts
from chalaza.records import models as m
from chalaza.values.evidence import DeathStage

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
OPEN, COUNTED = f"{HENS}open/", f"{HENS}open/counted/"


def test_every_stage_is_a_mark_and_the_cautions_stand_there(pages: Client, shown: Batches) -> None:
    html = pages.get(OPEN).content.decode()
    assert all(f'data-mark="{one.value}"' in html for one in DeathStage)
    text = text_of(html)
    assert "Gloves on, outdoors" in text
    assert "A rotten egg can burst" in text
    assert "Never eat incubated eggs" in text


def test_an_opened_egg_is_stored_put_right_and_stays_on_the_map_of_its_session(pages: Client, shown: Batches) -> None:
    form = opened(pages, OPEN)
    for uid, stage in (("a", "early"), ("b", "late")):
        assert by_script(pages, OPEN, {**form, "uid": uid, "f-hens-egg1": stage}).status_code == 200
    row = m.Breakout.objects.get(batch__uid="hens-batch")
    assert (row.egg_id, row.stage, row.count) == ("hens-egg1", "late", 1)
    assert 'name="f-hens-egg1"' in pages.get(OPEN).content.decode()
    anew = pages.get(f"{OPEN}?new=1").content.decode()
    assert 'name="f-hens-egg1"' not in anew


def test_an_egg_that_was_taken_out_can_be_opened_and_one_that_hatched_cannot(pages: Client, shown: Batches) -> None:
    egg = m.Egg.objects.get(uid="hens-egg1")
    egg.removed_at = m.Batch.objects.get(uid="hens-batch").set_at + 86_400
    young = m.Hatch(batch_id="hens-batch", egg_id="hens-egg2", at=egg.removed_at, stage="out")
    acts.act(m.Keeper.objects.the_one(), "change", save=[egg, young])
    html = pages.get(OPEN).content.decode()
    assert 'name="f-hens-egg1"' in html
    assert 'name="f-hens-egg2"' not in html
    assert "Every egg hatched or was opened" in text_of(pages.get(f"{QUAIL}open/?new=1").content.decode())


def test_eggs_nobody_can_tell_apart_are_counted_and_never_more_than_are_left(pages: Client, shown: Batches) -> None:
    assert send(pages, COUNTED, {"infertile": "3", "late": "2", "note": "two dirty"}).status_code == 303
    rows = set(m.Breakout.objects.filter(batch__uid="hens-batch").values_list("stage", "count", "egg_id", "note"))
    assert rows == {("infertile", 3, None, "two dirty"), ("late", 2, None, "two dirty")}
    many = send(pages, COUNTED, {"early": "24"})
    assert "24 are more than the 23" in text_of(many.content.decode())
    assert held(many.content.decode())["early"] == "24"
    assert "at least one number" in text_of(send(pages, COUNTED).content.decode())


def test_counted_twice_is_counted_once(pages: Client, shown: Batches) -> None:
    form = {**opened(pages, COUNTED), "early": "20"}
    assert [pages.post(COUNTED, form).status_code for _ in range(2)] == [303, 303]
    assert m.Breakout.objects.filter(batch__uid="hens-batch").count() == 1
