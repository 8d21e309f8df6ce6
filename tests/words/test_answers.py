"""The four answers in words."""

import re
from dataclasses import replace

import pytest
from tests.factory import NOW, make_evidence
from tests.words.codes import all_codes, sample

from chalaza.assess import assess, prior_beliefs
from chalaza.values.advice import Level
from chalaza.values.answers import Assessment
from chalaza.words.answers import ASKED, HEADLINES, answered, headline
from chalaza.words.numbers import NB, Voice


@pytest.fixture(scope="module")
def assessment() -> Assessment:
    """The small invented batch, ten days in."""
    return assess(prior_beliefs("chicken"), make_evidence(), NOW)


@pytest.fixture
def voice(assessment: Assessment) -> Voice:
    """Its keeper."""
    return Voice().of(assessment.zone, assessment.set_at)


def test_every_question_is_answered_by_a_sentence_and_figures(voice: Voice, assessment: Assessment) -> None:
    found = answered(voice, assessment)
    assert [one.question for one in found] == list(ASKED)
    for one in found:
        assert one.sentence.endswith(".")
        assert re.search(r"\d", one.sentence)
        assert one.lines
        assert all(line.label and line.figure for line in one.lines)


def test_each_answer_has_one_figure_against_its_band(voice: Voice, assessment: Assessment) -> None:
    for one in answered(voice, assessment):
        assert [line.wanted != "" for line in one.lines].count(True) == 1, one.question


def test_headlines_are_of_codes_that_exist() -> None:
    assert {code for code in HEADLINES if "." in code} - {"count.out"} <= all_codes()
    levels = {"warmth.right", "warmth.leave", "warmth.leave_unchecked", "warmth.check_first", "warmth.too_hot",
              "warmth.too_cold", "warmth.step_up", "warmth.step_down", "warmth.still_high", "warmth.warming_up"}  # fmt: skip
    assert levels <= set(HEADLINES)


@pytest.mark.parametrize("code", sorted(all_codes()))
def test_every_code_lets_its_question_be_answered(voice: Voice, assessment: Assessment, code: str) -> None:
    alone = replace(assessment, advice=(sample(code),))
    said = headline(voice, alone, code.partition(".")[0])
    assert re.match(r"[A-Z\d].*\.$", said, re.DOTALL)
    assert "{" not in said


def test_the_headline_follows_the_advice(voice: Voice, assessment: Assessment) -> None:
    dry = replace(assessment, advice=(sample("water.raise"),))
    assert headline(voice, dry, "water").startswith("Drying too fast:")
    assert dry.advice[0].level is Level.WATCH


def test_a_hatch_that_is_over_counts_the_young_that_are_out(voice: Voice, assessment: Assessment) -> None:
    nobody = replace(assessment.count.alive, value=0.0, low=0.0, high=0.0)
    over = replace(assessment, count=replace(assessment.count, out=9, alive=nobody))
    assert headline(voice, over, "count").replace(NB, " ") == "9 young are out, of 12 eggs set."
