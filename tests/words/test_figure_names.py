"""Every figure of an answer has a path, a name and a style."""

from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass, replace
from typing import Any, get_args, get_origin, get_type_hints

import pytest
from tests.factory import NOW, make_evidence

from chalaza.assess import assess, prior_beliefs
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Basis, Estimate
from chalaza.words.figure_names import ANSWERS, FIGURES, every, name_of, path_of, paths, said
from chalaza.words.numbers import NB, STYLES, Voice

_OWN = {"moment", "lag", ""}


@pytest.fixture(scope="module")
def assessment() -> Assessment:
    """The small invented batch, ten days in."""
    return assess(prior_beliefs("chicken"), make_evidence(), NOW)


def _declared(kind: Any, path: str) -> Iterator[str]:
    """The path of every field that is, or may hold, an estimate, as the types declare it."""
    if kind is Estimate:
        yield path
    elif get_origin(kind) is tuple:
        yield from _declared(get_args(kind)[0], f"{path}.*")
    elif get_origin(kind) is not None and isinstance(get_origin(kind), type) and issubclass(get_origin(kind), Mapping):
        yield from _declared(get_args(kind)[1], f"{path}.?")
    elif get_args(kind):
        for one in get_args(kind):
            yield from _declared(one, path)
    elif isinstance(kind, type) and is_dataclass(kind):
        hints = get_type_hints(kind)
        for one in fields(kind):
            yield from _declared(hints[one.name], f"{path}.{one.name}")


def test_every_figure_the_answers_can_hold_has_a_name() -> None:
    hints = get_type_hints(Assessment)
    declared = {path for answer in ANSWERS for path in _declared(hints[answer], answer)}
    open_ended = {path for path in declared if path.endswith(".?")}
    assert open_ended == {"count.stages.?"}
    assert declared - open_ended == {path for path in FIGURES if not path.startswith("count.stages.")}


def test_every_figure_of_an_assessment_can_be_said(assessment: Assessment) -> None:
    found = every(assessment)
    assert len(found) > 40
    voice = Voice().of(assessment.zone, assessment.set_at)
    for path, figure in found.items():
        name = name_of(path)
        assert name.words
        assert name.style in STYLES or name.style in _OWN
        assert any(sign.isdigit() for sign in said(voice, path, figure))


def test_a_figure_is_found_by_itself_and_by_what_it_says(assessment: Assessment) -> None:
    loss = assessment.water.loss_at_lockdown
    assert paths(assessment)[id(loss)] == "water.loss_at_lockdown"
    assert path_of(assessment, replace(loss)) == "water.loss_at_lockdown"
    assert path_of(assessment, 12.0) == ""
    assert path_of(assessment, replace(loss, value=loss.low)) == ""
    assert path_of(assessment, assessment.water.eggs[1].loss_now) == "water.eggs.1.loss_now"


def test_an_unnamed_path_is_our_fault() -> None:
    with pytest.raises(KeyError):
        name_of("water.colour")


def test_a_figure_without_a_style_keeps_its_own_unit() -> None:
    figure = Estimate(0.277, 0.238, 0.324, "mg/(d g torr)", Basis("fit"))
    assert said(Voice(), "water.conductance", figure) == f"0.28{NB}mg/(d g torr){NB}(0.24–0.32)"
