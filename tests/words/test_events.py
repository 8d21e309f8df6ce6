"""Words for what happened and what was seen: none is missing."""

import ast
import inspect

from chalaza.inference import exposure
from chalaza.values.evidence import DeathStage, EventSort, Finding, HatchStage
from chalaza.words.answers import ASKED
from chalaza.words.events import DEATH_STAGES, EVENTS, FINDINGS, HATCH_STAGES, QUESTIONS, SPELLS


def test_every_choice_has_its_word() -> None:
    assert set(EVENTS) == set(EventSort)
    assert set(FINDINGS) == set(Finding)
    assert set(HATCH_STAGES) == set(HatchStage)
    assert set(DEATH_STAGES) == set(DeathStage)
    assert set(QUESTIONS) == set(ASKED)


def test_every_sort_of_spell_has_its_word() -> None:
    strings = {n.value for n in ast.walk(ast.parse(inspect.getsource(exposure))) if isinstance(n, ast.Constant)}
    assert set(SPELLS) <= strings
