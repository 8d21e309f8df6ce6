"""Pips and young: counted or by name, since the last look, and a look without news."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import HENS, by_script, held, opened, send
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
HATCH = f"{HENS}hatch/"


def _rows() -> list[tuple[str, str | None, int]]:
    return list(m.Hatch.objects.filter(batch__uid="hens-batch").order_by("id").values_list("stage", "egg_id", "count"))


#: The hens of the demonstration are on their 16th day: that they hatch is questioned, and stands.
STANDS = {"keep_at": "2026-04-17T18:40"}


def test_young_long_before_any_come_are_asked_about(pages: Client, shown: Batches) -> None:
    told = send(pages, HATCH, {"pipped": "3"})
    assert told.status_code == 422
    assert "from about day 17 on, and this would be day 15" in text_of(told.content.decode())
    assert _rows() == []
    m.Batch.objects.filter(uid="hens-batch").update(set_at=NOW - 20 * 86_400)
    assert send(pages, HATCH, {"pipped": "3"}).status_code == 303


def test_young_are_counted_by_stage_since_the_last_look(pages: Client, shown: Batches) -> None:
    assert (
        send(pages, HATCH, {"pipped": "3", "at": "2026-04-17T08:00", "keep_at": "2026-04-17T08:00"}).status_code == 303
    )
    assert held(pages.get(HATCH).content.decode())["looked_before"] == "2026-04-17T08:00"
    assert send(pages, HATCH, {"pipped": "1", "out": "2", **STANDS}).status_code == 303
    assert _rows() == [("pipped", None, 3), ("pipped", None, 1), ("out", None, 2)]
    newest = m.Hatch.objects.order_by("-id")[0]
    assert (newest.at, newest.looked_before) == (NOW - NOW % 60, 1_776_405_600)
    assert "26 eggs are left; 4 pipped and 2 out" in text_of(pages.get(HATCH).content.decode())


def test_eggs_one_can_tell_are_rows_of_their_own(pages: Client, shown: Batches) -> None:
    answer = send(pages, HATCH, {"out": "3", "out_eggs": ["hens-egg2", "hens-egg7"], **STANDS})
    assert answer.status_code == 303
    assert sorted(_rows(), key=str) == [("out", "hens-egg2", 1), ("out", "hens-egg7", 1), ("out", None, 1)]
    assert 'value="hens-egg2"' not in pages.get(HATCH).content.decode()


def test_a_look_without_news_is_a_row_of_none(pages: Client, shown: Batches) -> None:
    assert send(pages, HATCH, nothing="1").status_code == 303
    assert _rows() == [("out", None, 0)]


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({}, "say that there is nothing new"),
        ({"out": "29"}, "29 are more than the 28"),
        ({"out": "1", "out_eggs": ["hens-egg1", "hens-egg2"]}, "2 eggs are chosen"),
        ({"nothing": "1", "pipped": "2"}, "either"),
        ({"out": "some"}, "whole number"),
        ({"out": "1", "looked_before": "2026-04-17T19:00"}, "before this one"),
        ({"out_eggs": ["ducks-egg1"]}, "ducks-egg1"),
    ],
)
def test_what_cannot_be_is_told_and_stays(pages: Client, shown: Batches, said: dict[str, object], says: str) -> None:
    answer = send(pages, HATCH, dict(said))
    assert answer.status_code == 422
    assert says in text_of(answer.content.decode())
    assert _rows() == []
    if "out" in said:
        assert held(answer.content.decode())["out"] == said["out"]


def test_sent_twice_it_was_seen_once_also_where_the_eggs_are_gone_by_then(pages: Client, shown: Batches) -> None:
    form = {**opened(pages, HATCH), "out": "28", **STANDS}
    assert [by_script(pages, HATCH, form).status_code for _ in range(2)] == [200, 200]
    assert _rows() == [("out", None, 28)]


def test_the_cautions_of_the_hatch_stand_there(pages: Client, shown: Batches) -> None:
    text = text_of(pages.get(HATCH).content.decode())
    assert "Keep the lid shut from the first pip" in text
    assert "Children under 5" in text
    assert "Help late and with skill" in text
