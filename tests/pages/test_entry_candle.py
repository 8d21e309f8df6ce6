"""Candling egg by egg: marks, counted groups, what the look says so far, and cautions where the act is."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import HENS, by_script, done, held, opened, send
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import acts, answers
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
CANDLE = f"{HENS}candle/"


@pytest.fixture
def group(empty: None) -> str:
    """A batch of one counted group of ten."""
    batch = m.Batch(uid="b", name="Counted", kind="chicken", set_at=NOW - 8 * 86_400)
    acts.act(m.Keeper.objects.the_one(), "make", save=[batch, m.Egg(uid="ten", batch_id="b", label="tray", count=10)])
    return "/batches/b/candle/"


def test_the_page_shows_the_tray_what_to_expect_and_the_cautions(pages: Client, shown: Batches) -> None:
    html = pages.get(CANDLE).content.decode()
    text = text_of(html)
    assert html.count("data-jump") == 28
    assert html.count('type="radio" name="f-hens-egg1"') == 4
    assert "Expect:" in text
    assert "Salmonella" in text
    assert "Nothing is thrown away on one look" in text


def test_a_mark_is_stored_and_a_second_one_puts_it_right(pages: Client, shown: Batches) -> None:
    form = opened(pages, CANDLE)
    first = by_script(pages, CANDLE, {**form, "f-hens-egg1": "live", "at_s": str(NOW - 60)})
    assert first.json() == {"done": form["uid"]}
    again = {**form, "uid": "again", "f-hens-egg1": "dead", "at_s": str(NOW - 30)}
    assert by_script(pages, CANDLE, again).status_code == 200
    assert by_script(pages, CANDLE, again).status_code == 200
    row = m.Candling.objects.get(uid__startswith=form["session"])
    assert (row.egg_id, row.finding, row.at) == ("hens-egg1", "dead", NOW - 30)
    acts.undo(m.Keeper.objects.the_one(), m.Act.objects.get(uid="again"))
    assert m.Candling.objects.get(uid__startswith=form["session"]).finding == "live"


def test_all_marks_sent_at_once_are_one_act_and_what_was_seen_before_keeps_its_hour(
    pages: Client, shown: Batches
) -> None:
    form = opened(pages, CANDLE)
    by_script(pages, CANDLE, {**form, "f-hens-egg1": "live", "at_s": str(NOW - 500)})
    marks = {f"f-hens-egg{n}": "live" for n in range(1, 29)} | {"f-hens-egg2": "unsure"}
    answer = send(pages, CANDLE, marks)
    assert answer.status_code == 303
    rows = {row.egg_id: row for row in m.Candling.objects.filter(uid__startswith=form["session"])}
    assert len(rows) == 28
    assert rows["hens-egg1"].at == NOW - 500
    assert rows["hens-egg2"].finding == "unsure"
    assert m.Act.objects.get(uid=done(answer)).changes.count() == 27


def test_the_look_is_told_so_far_with_the_young_before_and_after(pages: Client, shown: Batches) -> None:
    answers.remember("hens-batch", NOW - 86_400)
    form = opened(pages, CANDLE)
    so_far = f"{CANDLE}so-far/?session={form['session']}"
    assert text_of(pages.get(so_far).content.decode()).strip() == ""
    for n, finding in enumerate(["live", "live", "dead", "unsure"], start=1):
        by_script(pages, CANDLE, {**form, "uid": f"c{n}", f"f-hens-egg{n}": finding})
    text = text_of(pages.get(so_far).content.decode())
    assert "2 alive, 1 unsure, 1 stopped" in text
    young = answers.of("hens-batch", NOW).assessment.count.expected_young
    assert f"{young.value:.0f}" in text
    assert "before" in text


def test_a_counted_group_says_how_many_of_each_and_never_more_than_there_are(pages: Client, group: str) -> None:
    form = opened(pages, group)
    counts = {"f-ten-live": "7", "f-ten-unsure": "1", "f-ten-dead": "0", "f-ten-clear": "2"}
    assert by_script(pages, group, {**form, **counts}).status_code == 200
    assert {(row.finding, row.count) for row in m.Candling.objects.all()} == {("live", 7), ("unsure", 1), ("clear", 2)}
    put_right = {**form, **counts, "uid": "right", "f-ten-unsure": "0", "f-ten-live": "8"}
    assert by_script(pages, group, put_right).status_code == 200
    assert {(row.finding, row.count) for row in m.Candling.objects.all()} == {("live", 8), ("clear", 2)}
    many = send(pages, group, {**counts, "f-ten-live": "70"})
    assert many.status_code == 422
    assert "73 eggs are marked, and there are 10 in tray" in text_of(many.content.decode())
    assert held(many.content.decode())["f-ten-live"] == "70"


def test_what_is_no_mark_and_a_strange_egg_are_refused(pages: Client, shown: Batches) -> None:
    assert "Mark at least one" in text_of(send(pages, CANDLE).content.decode())
    wrong = by_script(pages, CANDLE, {**opened(pages, CANDLE), "f-hens-egg1": "sleeping"})
    assert wrong.status_code == 422
    assert wrong.json()["refused"] == ["Choose one of the list."]
    strange = by_script(pages, CANDLE, {**opened(pages, CANDLE), "f-ducks-egg1": "live"})
    assert strange.status_code == 422
    assert not m.Candling.objects.filter(egg="ducks-egg1").exists()


def test_eggs_taken_out_are_shown_as_out_and_cannot_be_marked(pages: Client, shown: Batches) -> None:
    egg = m.Egg.objects.get(uid="hens-egg5")
    egg.removed_at = NOW - 3600
    acts.act(m.Keeper.objects.the_one(), "change", save=[egg])
    html = pages.get(CANDLE).content.decode()
    assert html.count('class="out"') == 1
    assert 'name="f-hens-egg5"' not in html
    assert by_script(pages, CANDLE, {**opened(pages, CANDLE), "f-hens-egg5": "live"}).status_code == 422


def test_an_unknown_kind_has_no_picture_and_can_be_candled(pages: Client, empty: None) -> None:
    batch = m.Batch(uid="b", name="Odd", kind="phoenix", set_at=NOW - 600)
    acts.act(m.Keeper.objects.the_one(), "make", save=[batch, m.Egg(uid="e", batch_id="b", label="A1")])
    assert "Expect:" not in text_of(pages.get("/batches/b/candle/").content.decode())
    assert send(pages, "/batches/b/candle/", {"f-e": "unsure"}).status_code == 303


def test_no_such_batch_and_no_such_way(pages: Client, shown: Batches) -> None:
    assert pages.get("/batches/nobody/candle/").status_code == 404
    assert pages.delete(CANDLE).status_code == 405
