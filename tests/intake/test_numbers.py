"""Cells to numbers: the same floats as Python's own, whichever way they were read."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.intake import numbers


def _column(texts: list[str], decimal: str = ".") -> tuple[list[float], list[bool]]:
    raw = [text.encode() for text in texts]
    ends = np.cumsum([len(text) for text in raw])
    starts = np.concatenate(([0], ends[:-1])).astype(np.int64)
    window = np.frombuffer(b"".join(raw) or b" ", np.uint8)
    values, plain = numbers.column(window, starts, ends.astype(np.int64), decimal)
    return values.tolist(), plain.tolist()


_PLAIN = st.builds(
    lambda sign, whole, part: f"{sign}{whole}" + (f".{part}" if part else ""),
    st.sampled_from(["", "-", "+"]), st.from_regex(r"[0-9]{1,8}", fullmatch=True),
    st.one_of(st.just(""), st.from_regex(r"[0-9]{1,7}", fullmatch=True)),
)  # fmt: skip


# `float` of the standard library rounds correctly; a column read at once must give the very same bits.
@given(st.lists(_PLAIN, min_size=1, max_size=40))
def test_a_column_gives_the_floats_of_python(texts: list[str]) -> None:
    values, plain = _column(texts)
    assert all(plain)
    assert values == [float(text) for text in texts]
    assert _column([text.replace(".", ",") for text in texts], ",")[0] == values


@given(st.lists(st.text(alphabet="0123456789.,-+ e°CF<x'", max_size=18), min_size=1, max_size=20))
def test_what_a_column_takes_for_plain_a_single_cell_reads_alike(texts: list[str]) -> None:
    values, plain = _column(texts)
    for text, value, good in zip(texts, values, plain, strict=True):
        if good:
            assert numbers.cell(text, ".").value == value
        else:
            assert math.isnan(value)


@pytest.mark.parametrize(("text", "decimal", "value"), [
    ("37.5", ".", 37.5), ("37,5", ",", 37.5), ("37,5", ".", 37.5), (".5", ".", 0.5), ("-0.25", ".", -0.25),
    ("1,013.25", ".", 1013.25), ("1.013,25", ",", 1013.25), ("1 013,25", ",", 1013.25), ("1'013.25", ".", 1013.25),
    ("37,512", ",", 37.512), ("1,234,567", ".", 1234567.0), ("\u221237.5", ".", -37.5), ("'37.5", ".", 37.5),
    ("\u00a037.5", ".", 37.5), ("1\u202f013,25", ",", 1013.25), ("3.75E+01", ".", 37.5),
])  # fmt: skip
def test_marks_signs_and_grouping(text: str, decimal: str, value: float) -> None:
    assert numbers.cell(text, decimal).value == value


@pytest.mark.parametrize(("text", "reason"), [
    ("", "blank"), ("   ", "blank"), ("NA", "missing"), ("---", "missing"), ("n/a", "missing"), ("Err", "sensor-error"),
    ("#DIV/0!", "sensor-error"), ("####", "sensor-error"), ("<10", "censored"), (">= 95", "censored"),
    ("22-May", "spreadsheet-damage"),
    ("May-22", "spreadsheet-damage"), ("37.", "half-number"), ("3 75", "text"), ("1,2,3", "text"), ("37.5.1", "text"),
    ("=1+1", "text"), ("37\x1f5", "text"), ("37.5\x1f", "text"), ("x" * 500, "text"), ("9" * 100, "text"),
])  # fmt: skip
def test_what_is_no_number_has_a_reason(text: str, reason: str) -> None:
    assert numbers.cell(text, ".").reason == reason


@pytest.mark.parametrize(("text", "unit"), [
    ("37.5 °C", "°C"), ("99.5F", "°F"), ("37.5ºC", "°C"), ("310.6 K", "kelvin"), ("55 %RH", "%"), ("55%", "%"),
    ("37.5 deg C", "°C"), ("37.5", ""),
])  # fmt: skip
def test_a_unit_may_stand_behind_the_number(text: str, unit: str) -> None:
    read = numbers.cell(text, ".")
    assert (read.unit, read.reason) == (unit, "")
    assert not math.isnan(read.value)
