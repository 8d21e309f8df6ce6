"""What to measure next, in words."""

import ast
import inspect
from dataclasses import replace

import pytest

from chalaza.decide import measure
from chalaza.errors import ChalazaError
from chalaza.values.answers import Offer
from chalaza.words.measures import CHECKS, say
from chalaza.words.numbers import NB, Voice

ICE = Offer(
    code="ice", minutes=10.0, hatch_before_h=23.94, hatch_after_h=16.38, loss_before=0.00332, loss_after=0.00332,
    young_before=3.586, young_after=3.586, score=0.06,
)  # fmt: skip


def codes_in_source() -> set[str]:
    """Codes handed to `Check(code=...)`, the loop over probe checks included."""
    tree = ast.parse(inspect.getsource(measure))
    return {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and n.value in measure.MINUTES}


def test_every_check_of_decide_has_words_and_no_other() -> None:
    assert set(CHECKS) == set(measure.MINUTES) == codes_in_source()


def test_an_offer_says_what_time_it_takes_and_what_it_narrows() -> None:
    said = say(Voice(), ICE)
    text = f"{said.do} {said.time} {said.narrows[0]}".replace(NB, " ")
    assert text == (
        "Check the thermometer in ice water. 10 minutes. It would narrow the hatch forecast from ± 24 h to ± 16 h."
    )
    assert len(said.narrows) == 1


def test_all_that_narrows_is_named_one_sentence_each() -> None:
    said = say(Voice(), replace(ICE, code="weigh_all", loss_after=0.001, young_after=2.0))
    assert [each.replace(NB, " ") for each in said.narrows[1:]] == [
        "It would narrow the loss by lockdown from ± 0.3 % to ± 0.1 %.",
        "It would narrow the number of young from ± 3.6 to ± 2.0.",
    ]


def test_what_would_not_be_seen_is_not_promised() -> None:
    assert say(Voice(), replace(ICE, hatch_after_h=23.8)).narrows == ()


def test_one_minute_is_one_minute() -> None:
    assert [say(Voice(), replace(ICE, minutes=m)).time for m in (0.2, 1.0, 6.0)] == [
        "1 minute.",
        "1 minute.",
        "6 minutes.",
    ]


def test_a_check_without_words_is_refused() -> None:
    with pytest.raises(ChalazaError, match="no words for the check 'boil'"):
        say(Voice(), replace(ICE, code="boil"))
