"""What people typed, on one line of paper."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.sheets.typed import cleaned


@pytest.mark.parametrize(
    "text", ["A1", "#let x = 1", "*b* _i_ $x$ `c`", "\"q\" 's'", "Großmutters Hühner", "привет", "42 %"]
)
def test_what_can_be_seen_stays_as_it_was_typed(text: str) -> None:
    assert cleaned(text, 60) == text


def test_lines_tabs_and_control_signs_become_one_blank() -> None:
    assert cleaned(" a\r\n\tb\x00c\u2028d ", 60) == "a b c d"


def test_signs_that_steer_the_direction_of_others_go() -> None:
    assert cleaned("gpj.\u202eegg\u202c \u2066x\u2069\u200f", 60) == "gpj.egg x"


def test_half_a_pair_and_signs_without_meaning_show_that_something_stood_there() -> None:
    assert cleaned("a\ud800b\ue000", 60) == "a\ufffdb\ufffd"


def test_text_that_is_too_long_says_so() -> None:
    assert cleaned("abcdefg", 5) == "abcd…"
    assert cleaned("abcde", 5) == "abcde"


def test_a_long_word_may_be_broken() -> None:
    assert cleaned("Wahrscheinlichkeit", 60).replace("\u200b", "|") == "Wahrscheinlichke|it"
    assert cleaned("W" * 20, 60, run=8).replace("\u200b", "|") == "WWWWWWWW|WWWWWWWW|WWWW"


def test_text_from_right_to_left_is_set_apart() -> None:
    assert cleaned("שלום 7", 60) == "\u2068שלום 7\u2069"


@given(st.text(max_size=80), st.integers(2, 40))
def test_any_text_is_one_short_line_that_can_be_written(text: str, most: int) -> None:
    out = cleaned(text, most)
    bare = out.replace("\u200b", "").removeprefix("\u2068").removesuffix("\u2069")
    assert len(bare) <= most
    assert out.encode("utf-8").decode("utf-8") == out
    assert not any(sign in bare for sign in "\n\r\t\x00\u202e\u2028")
    assert cleaned(bare, most) == out
