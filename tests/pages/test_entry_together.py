"""A tray in one figure: all or some eggs, its tare, and what is asked about it."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import HENS, by_script, held, opened, send
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.pages.entry import expected
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
URL = f"{HENS}weigh/together/"


def _whole(*uids: str) -> float:
    batch = m.Batch.objects.get(uid="hens-batch")
    eggs = list(m.Egg.objects.filter(batch=batch))
    span = expected.whole(expected.masses(batch, eggs, NOW), uids or [one.uid for one in eggs]).expected
    return 0.5 * (span.low + span.high)


def test_the_whole_tray_is_one_weighing_of_all_that_are_in(pages: Client, shown: Batches) -> None:
    answer = send(pages, URL, {"gross": f"{_whole() + 420:.0f}", "tare": "420", "scale": "g:1", "which": "all"})
    assert answer.status_code == 303
    row = m.Weighing.objects.order_by("-id")[0]
    assert (row.eggs, row.tare_g, row.resolution_g) == ("all", 420.0, 1.0)
    assert held(pages.get(URL).content.decode())["tare"] == "420"


def test_some_eggs_are_named_and_none_is_refused(pages: Client, shown: Batches) -> None:
    uids = ["hens-egg1", "hens-egg2", "hens-egg3"]
    form = {**opened(pages, URL), "gross": f"{_whole(*uids):.1f}", "which": "some"}
    assert "Choose the eggs" in text_of(pages.post(URL, form).content.decode())
    assert pages.post(URL, {**form, "chosen": uids}).status_code == 303
    assert m.Weighing.objects.order_by("-id")[0].eggs.split() == uids
    foreign = pages.post(URL, {**form, "uid": "f", "chosen": ["ducks-egg1"]})
    assert foreign.status_code == 422


def test_a_tray_not_taken_off_is_asked_about_with_the_tare_of_the_last_time(pages: Client, shown: Batches) -> None:
    whole = _whole()
    send(pages, URL, {"gross": f"{whole + 620:.1f}", "tare": "620"})
    form = {**opened(pages, URL), "gross": f"{whole + 620:.1f}", "tare": "", "which": "all"}
    answer = by_script(pages, URL, form)
    assert answer.status_code == 422
    assert {"name": "answer_tare", "value": "620.0", "label": "620.0\u00a0g"} in answer.json()["ways"]
    assert by_script(pages, URL, {**form, "answer_tare": "620.0"}).status_code == 200
    assert m.Weighing.objects.order_by("-id")[0].tare_g == 620.0


def test_a_tare_taken_off_that_was_not_on_the_scale_is_asked_about(pages: Client, shown: Batches) -> None:
    answer = send(pages, URL, {"gross": f"{_whole():.1f}", "tare": "620"})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "it fits without taking anything off" in text_of(html)
    assert 'name="answer_tare" value="0.0"' in html
    assert 'name="keep_tare" value="620"' in html
    assert pages.post(URL, {**held(html), "which": "all", "keep_tare": "620"}).status_code == 303


def test_a_tray_heavier_than_its_load_and_a_lost_figure(pages: Client, shown: Batches) -> None:
    assert "no more than the tray" in text_of(send(pages, URL, {"gross": "300", "tare": "620"}).content.decode())
    whole = round(_whole())
    lost = by_script(pages, URL, {**opened(pages, URL), "gross": f"{whole / 10:.1f}", "which": "all", "scale": "g:0.1"})
    assert lost.status_code == 422
    assert lost.json()["ways"][0]["value"] == f"{whole:.1f}"


def test_it_is_stored_once_however_often_it_is_sent(pages: Client, shown: Batches) -> None:
    form = {**opened(pages, URL), "gross": f"{_whole():.1f}", "which": "all"}
    assert [pages.post(URL, form).status_code for _ in range(3)] == [303, 303, 303]
    assert m.Act.objects.filter(uid=form["uid"]).count() == 1
    assert m.Weighing.objects.filter(eggs="all", batch__uid="hens-batch", at__gte=NOW - 60).count() == 1
