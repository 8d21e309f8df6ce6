"""The answers as pages show them: what is needed of each, and nothing where there is nothing."""

from dataclasses import replace

import pytest
from tests.factory import NOW, make_evidence

from chalaza.assess import assess, prior_beliefs
from chalaza.charts import NAMES
from chalaza.pages.answered import CSS, DRAWINGS, minis, shown
from chalaza.values.advice import Level
from chalaza.values.answers import Assessment
from chalaza.words.answers import ASKED
from chalaza.words.numbers import Voice


@pytest.fixture(scope="module")
def assessment() -> Assessment:
    """The small invented batch, ten days in."""
    return assess(prior_beliefs("chicken"), make_evidence(), NOW)


@pytest.fixture
def voice(assessment: Assessment) -> Voice:
    """Its keeper."""
    return Voice().of(assessment.zone, assessment.set_at)


def test_every_drawing_stands_beside_one_answer() -> None:
    assert sorted(name for names in DRAWINGS.values() for name in names) == sorted(NAMES)
    assert set(DRAWINGS) == set(ASKED)
    assert set(CSS) == set(Level)


def test_where_nothing_was_asked_for_there_is_no_reach(voice: Voice, assessment: Assessment) -> None:
    none = replace(assessment, count=replace(assessment.count, wanted_young=None))
    asked = replace(assessment, count=replace(assessment.count, wanted_young=8))
    assert minis(voice, none)[-1].reach == ""
    assert minis(voice, asked)[-1].reach.startswith("<svg")


def test_a_small_reach_is_not_read_aloud_and_a_large_one_is(voice: Voice, assessment: Assessment) -> None:
    assert all('aria-hidden="true"' in one.reach for one in minis(voice, assessment)[:3])
    for one in shown(voice, assessment):
        if one.main.band is not None:
            assert 'role="img"' in one.reach
            assert one.main.parts.value in one.reach


def test_the_main_figure_is_not_repeated_among_the_others(voice: Voice, assessment: Assessment) -> None:
    for one in shown(voice, assessment):
        assert one.main.label not in [line.label for line in one.lines]
        assert all(line.why for line in one.lines if "(" in line.figure)


def test_answers_without_advice_are_still_answers(voice: Voice, assessment: Assessment) -> None:
    found = shown(voice, replace(assessment, advice=()))
    assert [one.question for one in found] == list(ASKED)
    assert all(one.level == Level.GOOD and not one.advice for one in found)
