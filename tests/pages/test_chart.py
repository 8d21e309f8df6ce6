"""Drawings as fragments: windows by links, a table for each, and an answer that need not be sent twice."""

import re
from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza import charts
from chalaza.pages.chart import WINDOWS
from chalaza.records import acts, answers
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
HX = {"HX-Request": "true"}


def _chart(name: str, query: str = "") -> str:
    return f"/batches/hens-batch/chart/{name}/{query}"


@pytest.mark.parametrize("name", charts.NAMES)
def test_each_drawing_has_its_label_and_its_table(pages: Client, shown: Batches, name: str) -> None:
    html = pages.get(_chart(name), headers=HX).content.decode()
    assert html.count("<figure") == 1
    assert re.search(r'<svg[^>]* role="img" aria-label="[^"]{10,}"', html)
    assert "As a table" in html
    assert html.count("<tr>") >= 2
    assert ('aria-label="How far back"' in html) == (name in charts.CLOSE)


def test_the_table_holds_the_figures_of_the_answer(pages: Client, shown: Batches) -> None:
    a = answers.of("hens-batch", NOW).assessment
    text = text_of(pages.get(_chart("count"), headers=HX).content.decode())
    young = a.count.expected_young
    assert f"young expected {young.value:.0f} {young.low:.0f} {young.high:.0f}" in text


@pytest.mark.parametrize("window", WINDOWS)
@pytest.mark.parametrize("name", charts.CLOSE)
def test_a_window_is_chosen_by_a_link_and_marked(pages: Client, shown: Batches, name: str, window: str) -> None:
    html = pages.get(_chart(name, f"?window={window}&width=350"), headers=HX).content.decode()
    here = re.findall(r'href="([^"]+)"[^>]*aria-current="true"', html)
    assert [f"window={window}" in one for one in here] == [True]
    assert html.count("hx-get=") == len(WINDOWS)


def test_a_shorter_window_shows_another_drawing(pages: Client, shown: Batches) -> None:
    drawn = {
        window: re.findall(
            r'<path[^>]* d="([^"]+)"', pages.get(_chart("warmth", f"?window={window}"), headers=HX).content.decode()
        )
        for window in WINDOWS
    }
    assert len({tuple(paths) for paths in drawn.values()}) == len(WINDOWS)


def test_a_window_longer_than_the_batch_is_all_of_it(pages: Client, shown: Batches) -> None:
    week, whole = (
        pages.get(f"/batches/ducks-batch/chart/warmth/?window={window}", headers=HX).content.decode()
        for window in ("week", "all")
    )
    assert re.findall(r"<path[^>]*>", week) == re.findall(r"<path[^>]*>", whole)


def test_it_is_not_sent_again_until_the_answer_moves(
    pages: Client, shown: Batches, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = pages.get(_chart("water"), headers=HX)
    tag = first["ETag"]
    assert "no-cache" in first["Cache-Control"]
    again = pages.get(_chart("water"), headers=HX | {"If-None-Match": tag})
    assert (again.status_code, again.content) == (304, b"")
    assert pages.get(_chart("water"), headers={"If-None-Match": tag}).status_code == 200  # the whole page is another
    assert pages.get(_chart("warmth"), headers=HX | {"If-None-Match": tag}).status_code == 200
    egg = m.Egg.objects.filter(batch__uid="hens-batch").first()
    assert egg is not None
    weighed = m.Weighing(batch_id="hens-batch", at=NOW - 60, eggs=egg.uid, gross_g=50.0)
    acts.act(m.Keeper.objects.the_one(), "weigh", save=[weighed])
    assert pages.get(_chart("water"), headers=HX | {"If-None-Match": tag}).status_code == 200


def test_another_reader_gets_it_in_other_words(pages: Client, shown: Batches) -> None:
    tag = pages.get(_chart("warmth"), headers=HX)["ETag"]
    speak_pseudo()
    answer = pages.get(_chart("warmth"), headers=HX | {"If-None-Match": tag})
    assert answer.status_code == 200


def test_without_htmx_it_is_a_page(pages: Client, shown: Batches) -> None:
    html = pages.get(_chart("clock")).content.decode()
    assert html.startswith("<!doctype html>")
    assert 'href="/batches/hens-batch/"' in html


@pytest.mark.parametrize(
    "path",
    [_chart("weather"), _chart("water", "?window=year"), _chart("water", "?width=9999"), _chart("water", "?width=x"),
     "/batches/nothing/chart/water/"],
)  # fmt: skip
def test_what_is_not_there_is_a_page_that_says_so(pages: Client, shown: Batches, path: str) -> None:
    assert pages.get(path, headers=HX).status_code == 404


def test_of_a_batch_that_cannot_be_assessed_it_says_why(pages: Client, shown: Batches) -> None:
    rows = [*m.Weighing.objects.filter(batch__uid="ducks-batch"), *m.Egg.objects.filter(batch__uid="ducks-batch")]
    acts.act(m.Keeper.objects.the_one(), "delete", delete=rows)
    answer = pages.get("/batches/ducks-batch/chart/water/", headers=HX)
    assert answer.status_code == 200
    assert "no eggs" in answer.content.decode()


def test_it_is_only_for_reading(pages: Client, shown: Batches) -> None:
    assert pages.post(_chart("water")).status_code == 405


@pytest.mark.parametrize("name", charts.NAMES)
@pytest.mark.parametrize("uid", ["hens-batch", "quail-batch", "ducks-batch"])
def test_every_word_in_a_drawing_went_through_a_lookup(pages: Client, shown: Batches, name: str, uid: str) -> None:
    speak_pseudo()
    for window in ("all", "day"):
        html = pages.get(f"/batches/{uid}/chart/{name}/?window={window}").content.decode()
        assert unmarked(html, *keepers_words()) == []
