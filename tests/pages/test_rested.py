"""The records a figure rests on, as they were written down."""

from collections.abc import Mapping

import pytest
from tests.records.demo import NOW

from chalaza.pages import rested
from chalaza.pages.rested import MOST, records
from chalaza.records import acts, answers
from chalaza.records import models as m
from chalaza.records.daybook import daybook
from chalaza.words.basis import INPUTS
from chalaza.words.numbers import Voice

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]


def _listed(uid: str, *inputs: str) -> dict[str, rested.Records]:
    a = answers.of(uid, NOW).assessment
    found = records(Voice().of(a.zone, a.set_at), daybook(m.Batch.objects.get(uid=uid)), a, inputs)
    return {one.key: one for one in found}


def test_every_input_a_figure_can_name_has_its_list() -> None:
    assert set(rested.LISTS) == set(INPUTS)


def test_lists_stand_in_one_order_and_hold_every_row(shown: Batches) -> None:
    found = _listed("quail-batch", *reversed(INPUTS))
    assert list(found) == list(INPUTS)
    assert len(found["candlings"].rows) == m.Candling.objects.filter(egg__batch__uid="quail-batch").count()
    assert len(found["hatches"].rows) == m.Hatch.objects.filter(batch__uid="quail-batch").count()
    assert len(found["weighings"].rows) == m.Weighing.objects.filter(batch__uid="quail-batch").count()
    assert len(found["readings"].rows) == 2  # it lay in two boxes, each with its probe
    assert all(len(row) == len(one.head) for one in found.values() for row in one.rows)


def test_what_was_written_later_than_the_answer_is_not_in_it(shown: Batches) -> None:
    egg = m.Egg.objects.filter(batch__uid="hens-batch").first()
    assert egg is not None
    before = len(_listed("hens-batch", "candlings")["candlings"].rows)
    later = m.Candling(egg=egg, at=NOW + 86_400, finding="live")
    acts.act(m.Keeper.objects.the_one(), "candle", save=[later])
    assert len(_listed("hens-batch", "candlings")["candlings"].rows) == before


def test_of_very_many_the_newest_are_shown_and_the_number_is_told(
    shown: Batches, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rested, "MOST", 5)
    found = _listed("hens-batch", "weighings")["weighings"]
    n = m.Weighing.objects.filter(batch__uid="hens-batch").count()
    assert len(found.rows) == 5 < n <= MOST
    assert found.n == f"The newest 5 of {n}."


def test_a_log_that_was_withdrawn_is_not_listed(shown: Batches) -> None:
    assert _listed("hens-batch", "readings")["readings"].rows
    m.Source.objects.update(withdrawn=True)
    assert _listed("hens-batch", "readings")["readings"].rows == ()


def test_a_weighing_of_all_eggs_says_so(shown: Batches) -> None:
    whole = m.Weighing(batch_id="ducks-batch", at=NOW - 600, eggs="all", gross_g=900.0, tare_g=250.0)
    acts.act(m.Keeper.objects.the_one(), "weigh", save=[whole])
    row = _listed("ducks-batch", "weighings")["weighings"].rows[-1]
    assert [str(cell).replace("\u00a0", " ") for cell in row[1:]] == [
        "all eggs",
        "900.0 g (31.75 oz)",
        "250.0 g (8.82 oz)",
    ]
