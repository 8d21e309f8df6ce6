"""Figures of a kind in words: all of them, each with source and status, and disagreement as a range."""

import pytest

from chalaza import facts
from chalaza.errors import EvidenceError
from chalaza.words.fact_names import BELIEVED, CONDITIONS, PUBLISHED, TOPICS, WANTED
from chalaza.words.facts import GROUPS, known, span_words, spans
from chalaza.words.numbers import NB, Voice

VOICE = Voice()
CHICKEN = known(VOICE, "hen")


def test_every_quantity_of_the_tables_has_a_name() -> None:
    assert set(WANTED) == {row["quantity"] for row in facts.table("kind_values")} | {"loss_target"}
    assert set(PUBLISHED) == {row["matter"] for row in facts.table("advice_ranges")} | {"loss_literature"}
    assert set(BELIEVED) == set(facts.quantities())
    assert set(CONDITIONS) == {c for q in facts.quantities() for c in facts.conditions(q)} - {""}
    assert set(TOPICS) == {row["topic"] for row in facts.table("kind_notes")}


@pytest.mark.parametrize("kind", list(facts.kinds()))
def test_every_figure_of_every_kind_has_words_source_and_status(kind: str) -> None:
    rows = known(VOICE, kind)
    assert {row.group for row in rows} >= {"wanted", "limits", "believed"}
    assert [group for group in GROUPS if group in {row.group for row in rows}] == list(
        dict.fromkeys(r.group for r in rows)
    )
    for row in rows:
        assert row.words
        assert row.sources
        assert row.status in ("checked", "memory", "practice", "computed")
        assert row.group == "notes" or any(letter.isdigit() for letter in row.figure), row


def test_nothing_the_tables_trace_is_left_out() -> None:
    # `facts.trace` walks the same tables on its own; what it lists of a kind must all be here.
    traced = facts.trace("hen")
    here = [row for row in CHICKEN if row.group in ("wanted", "believed") or row.quantity == "loss_literature"]
    assert len(here) == len(traced)


def test_disagreeing_sources_are_shown_as_a_range() -> None:
    # Published advice for hens until the last days runs from 20-30 % (dry hatching) to 66 % (old layers).
    low, high, n = spans(CHICKEN)["rh_setting"]
    assert (low, high, n) == (0.20, 0.66, 13)
    assert span_words(VOICE, "rh_setting", low, high).replace(NB, " ") == "20–66 %"


def test_figures_are_read_with_unit_and_range() -> None:
    found = {row.quantity: row.figure.replace(NB, " ") for row in CHICKEN if row.group == "wanted"}
    assert found["temp_forced"] == "37.5 °C (37.2–37.8; 99.5 °F)"
    assert found["loss_target"] == "12.2 % (11.0–13.5)"
    assert found["turns"] == "8 (3–24)"


def test_a_kind_that_is_not_there_is_refused_with_the_nearest() -> None:
    with pytest.raises(EvidenceError, match="nearest: chicken"):
        known(VOICE, "chickn")
