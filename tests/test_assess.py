"""The whole: evidence in, four answers out, and sentences for evidence that cannot be used."""

from dataclasses import fields, is_dataclass, replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from chalaza import facts
from chalaza.assess import assess, prior_beliefs, understand
from chalaza.errors import ChalazaError, EvidenceError
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Estimate
from chalaza.values.evidence import Series
from factory import NOW, evidences, make_evidence

BELIEFS = prior_beliefs("chicken")


def estimates(value: object) -> list[Estimate]:
    """All estimates within an answer."""
    if isinstance(value, Estimate):
        return [value]
    if is_dataclass(value):
        return [found for f in fields(value) for found in estimates(getattr(value, f.name))]
    if isinstance(value, (tuple, list)):
        return [found for item in value for found in estimates(item)]
    if isinstance(value, dict):
        return [found for item in value.values() for found in estimates(item)]
    return []


def test_every_figure_has_an_interval_a_unit_and_a_basis():
    found = estimates(assess(BELIEFS, make_evidence(), NOW))
    assert len(found) > 40
    for one in found:
        assert one.low <= one.value <= one.high
        assert one.unit
        assert one.basis.method


def test_every_source_of_a_figure_and_of_advice_is_known():
    answer = assess(BELIEFS, make_evidence(), NOW)
    known = set(facts.sources())
    cited = {key for one in estimates(answer) for key in one.basis.sources} | {one.source for one in answer.advice}
    assert cited
    assert cited <= known


def test_an_answer_holds_no_arrays():
    def walk(value: object) -> None:
        assert not isinstance(value, (np.ndarray, Series))
        if is_dataclass(value):
            for f in fields(value):
                walk(getattr(value, f.name))
        elif isinstance(value, (tuple, list)):
            for item in value:
                walk(item)

    walk(assess(BELIEFS, make_evidence(), NOW))


@pytest.mark.parametrize(
    ("changes", "now", "says"),
    [
        ({}, 1_000_000, "lies before the eggs were set"),
        ({"stays": ()}, NOW, "no stay says which machine"),
        (
            {"eggs": (), "weighings": (), "candlings": (), "air_cells": (), "hatches": (), "breakouts": ()},
            NOW,
            "no eggs",
        ),
    ],
)
def test_evidence_that_cannot_be_used_is_refused_in_words(changes, now, says):
    with pytest.raises(EvidenceError, match=says):
        assess(BELIEFS, make_evidence(**changes), now)


def test_an_unknown_kind_is_refused_with_what_is_near():
    evidence = make_evidence()
    with pytest.raises(EvidenceError, match="chicken"):
        assess(BELIEFS, replace(evidence, batch=replace(evidence.batch, kind="chiken")), NOW)


@settings(max_examples=50, suppress_health_check=list(HealthCheck))
@given(evidence=evidences())
def test_any_folder_that_can_be_read_is_assessed_or_refused_in_words(evidence):
    """Whatever well-formed rows say: an answer, or an error of ours with a sentence. Never a crash."""
    evidence = replace(evidence, batch=replace(evidence.batch, kind="chicken"))
    moment = max(NOW, evidence.batch.set_at)
    if evidence.stays and any(egg.count for egg in evidence.eggs):
        assert isinstance(assess(BELIEFS, evidence, moment), Assessment)
    else:
        with pytest.raises(EvidenceError, match=r".{20}"):
            assess(BELIEFS, evidence, moment)


def test_beliefs_of_the_folder_are_used_before_published_ones():
    evidence = make_evidence()
    key = ("kind:chicken", "hatch_hours")
    late = replace(BELIEFS, rows={**BELIEFS.rows, key: replace(BELIEFS[key], a=540.0)})
    assert (
        assess(late, evidence, NOW).clock.half_hatched.value
        > assess(BELIEFS, evidence, NOW).clock.half_hatched.value + 30 * 3600
    )


def test_understanding_and_answer_agree():
    u = understand(BELIEFS, make_evidence(), NOW)
    answer = assess(BELIEFS, make_evidence(), NOW)
    assert answer.as_of == u.exposure.now == NOW
    assert issubclass(EvidenceError, ChalazaError)
