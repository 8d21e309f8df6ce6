"""Depths of air cells, egg by egg, in millimetres or inches."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import HENS, by_script, held, opened, send
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.pages.entry import expected
from chalaza.records import models as m
from chalaza.words.numbers import Preference

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
MARK = f"{HENS}mark/"
FIELD = "g-hens-egg1"


def _depth() -> float:
    batch = m.Batch.objects.get(uid="hens-batch")
    return expected.cells(batch, [m.Egg.objects.get(uid="hens-egg1")], NOW)["hens-egg1"].depth_mm


def test_a_depth_is_stored_once_in_millimetres(pages: Client, shown: Batches) -> None:
    form = {**opened(pages, MARK), FIELD: f"{_depth():.1f}"}
    assert [by_script(pages, MARK, form).status_code for _ in range(2)] == [200, 200]
    row = m.AirCellMark.objects.get()
    assert (row.egg_id, row.at) == ("hens-egg1", NOW - NOW % 60)
    assert row.depth_mm == pytest.approx(_depth(), abs=2.0)  # the mark itself moves what is expected


def test_a_keeper_of_inches_marks_in_inches_and_millimetres_are_asked_about(pages: Client, shown: Batches) -> None:
    keeper = m.Keeper.objects.the_one()
    m.Keeper.objects.filter(pk=keeper.pk).update(units=Preference.US)
    inches = f"{_depth() / 25.4:.2f}"
    odd = by_script(pages, MARK, {**opened(pages, MARK), FIELD: f"{_depth():.2f}"})
    assert "Meant in millimetres?" in " ".join(odd.json()["refused"])
    assert by_script(pages, MARK, {**opened(pages, MARK), FIELD: inches}).status_code == 200
    assert m.AirCellMark.objects.get().depth_mm == pytest.approx(float(inches) * 25.4)


def test_centimetres_and_a_cell_that_shrank_are_asked_about(pages: Client, shown: Batches) -> None:
    answer = by_script(pages, MARK, {**opened(pages, MARK), FIELD: f"{_depth() / 10:.1f}"})
    assert answer.status_code == 422
    form = opened(pages, MARK)
    assert by_script(pages, MARK, {**form, FIELD: f"{_depth():.1f}"}).status_code == 200
    shrunk = by_script(
        pages, MARK, {**opened(pages, f"{MARK}?new=1"), FIELD: f"{m.AirCellMark.objects.get().depth_mm - 4:.1f}"}
    )
    assert "an air cell only grows" in " ".join(shrunk.json()["refused"])


def test_what_is_no_depth_stays_and_is_told(pages: Client, shown: Batches) -> None:
    answer = send(pages, MARK, {FIELD: "deep"})
    assert answer.status_code == 422
    assert held(answer.content.decode())[FIELD] == "deep"
    assert "write it like" in text_of(answer.content.decode())


def test_no_such_batch_and_no_such_way(pages: Client, shown: Batches) -> None:
    assert pages.get("/batches/nobody/mark/").status_code == 404
    assert pages.put(MARK).status_code == 405
