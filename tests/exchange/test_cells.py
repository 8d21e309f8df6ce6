"""One cell: text and value are inverse, and no text of a cell is a formula to a spreadsheet."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from chalaza.exchange.cells import (
    FORMULA_RULE,
    FORMULA_STARTS,
    Refused,
    guarded,
    moment,
    number,
    stamp,
    text_of,
    unguarded,
    value_of,
)
from chalaza.exchange.schema import TABLES, specs

_EGG = {spec.name: spec for spec in specs(TABLES["eggs"])}
_BATCH = {spec.name: spec for spec in specs(TABLES["batch"])}


@given(start=st.sampled_from(["", *FORMULA_STARTS]), rest=st.text(max_size=8))
@example(start="'", rest="'=1")
def test_the_formula_rule_is_undone_by_reading(start: str, rest: str) -> None:
    text = start + rest
    assert unguarded(guarded(text)) == text
    assert not guarded(text).startswith(tuple(mark for mark in FORMULA_STARTS if mark != "'"))


@pytest.mark.parametrize(
    ("text", "cell"),
    [
        ("=1+1", "'=1+1"),
        ("+49", "'+49"),
        ("-", "'-"),
        ("@home", "'@home"),
        ("'tis", "''tis"),
        ("\tx", "'\tx"),
        ("\rx", "'\rx"),
        ("a=1", "a=1"),
        (" =1", " =1"),
        ("", ""),
    ],
)
def test_text_that_looks_like_a_formula_gets_one_apostrophe(text: str, cell: str) -> None:
    assert text_of(_EGG["note"], text) == cell
    assert value_of(_EGG["note"], cell) == text


def test_text_from_other_hands_that_looks_like_a_formula_is_taken_as_it_is() -> None:
    assert value_of(_EGG["note"], "=1+1") == "=1+1"


def test_the_rule_is_said_with_every_mark() -> None:
    assert all(mark in FORMULA_RULE for mark in ("=", "+", "-", "@", "'", "tab", "carriage return"))


def test_numbers_below_zero_carry_no_apostrophe() -> None:
    place = {spec.name: spec for spec in specs(TABLES["place"])}
    assert text_of(place["altitude_m"], -3.5) == "-3.5"


@given(value=st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_keeps_every_bit(value: float) -> None:
    assert repr(number(repr(value))) == repr(value)


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "1e400", "1,5", "1_0", " 1", "1 ", "0x1", "", "--1", "1e", "²"])
def test_what_is_no_finite_number_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        number(text)


@given(seconds=st.integers(0, 4_102_444_800))
def test_a_moment_comes_back_from_its_stamp(seconds: int) -> None:
    assert moment(stamp(seconds)) == seconds


# ISO 8601-1:2019 and RFC 3339, section 5.8: examples of one moment in several zones.
@pytest.mark.parametrize(
    "text",
    [
        "1996-12-20T00:39:57Z",
        "1996-12-19T16:39:57-08:00",
        "1996-12-19T16:39:57-0800",
        "1996-12-20 00:39:57Z",
        "1996-12-20T00:39:57.000Z",
    ],
)
def test_a_moment_is_read_in_any_zone(text: str) -> None:
    assert moment(text) == 851_042_397


@pytest.mark.parametrize(
    "text",
    [
        "1996-12-20T00:39:57",
        "1996-12-20",
        "19961220T003957Z",
        "1996-W51-5T00:39:57Z",
        "1996-12-20T24:00:01Z",
        "1996-12-20T00:39:57.5Z",
        "1996-02-30T00:00:00Z",
        "1996-12-20T00:39:60Z",
        "851042397",
        "20/12/1996 00:39Z",
    ],
)
def test_a_moment_without_zone_or_in_another_form_is_refused(text: str) -> None:
    with pytest.raises(Refused):
        moment(text)


@pytest.mark.parametrize(
    ("column", "value", "problem"),
    [
        ("uid", "", "is empty"),
        ("label", "", "is empty"),
        ("uid", "a b", "not a name without blanks"),
        ("uid", "x" * 101, "not a name without blanks"),
        ("length_mm", float("nan"), "not a number"),
        ("length_mm", float("inf"), "not a number"),
        ("length_mm", 7.9, "outside what can be true"),
        ("length_mm", 200.1, "outside what can be true"),
        ("count", 1.5, "not a whole number"),
        ("count", True, "not a whole number"),
        ("count", None, "cannot be written without loss"),
        ("removed_at", 0.5, "cannot be written without loss"),
        ("removed_at", 10**12, "no such moment"),
        ("note", "a\0b", "holds a NUL character"),
        ("note", "\ud800", "half a character"),
        ("shell", "green", "not one of the words allowed"),
    ],
)
def test_what_could_not_be_read_again_is_not_written(column: str, value: object, problem: str) -> None:
    with pytest.raises(Refused, match=problem):
        text_of(_EGG[column], value)


def test_an_empty_text_is_not_written_where_an_empty_cell_means_something_else() -> None:
    assert value_of(_BATCH["zone"], "") == "UTC"
    with pytest.raises(Refused, match="cannot be written without loss"):
        text_of(_BATCH["zone"], "")
