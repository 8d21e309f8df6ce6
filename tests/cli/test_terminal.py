"""What a terminal can show."""

import pytest

from chalaza.cli.terminal import AXIS, PLAIN, Terminal, can_show
from chalaza.words.numbers import NB

WIDE = Terminal(80, True, False)


def test_what_belongs_together_stays_on_one_line() -> None:
    lines = WIDE.wrapped("x " * 33 + f"37.7{NB}°C{NB}(36.6–38.8)", 0)
    assert lines[-1] == "37.7 °C (36.6–38.8)"


def test_words_start_on_the_axis_and_names_hang_left_of_it() -> None:
    first, second = WIDE.hung("Water", "word " * 20)
    assert first.startswith("Water".ljust(AXIS) + "word")
    assert second.startswith(" " * AXIS + "word")


def test_a_narrow_terminal_puts_the_name_above() -> None:
    assert Terminal(50, True, False).hung("Water", "word")[:2] == ["Water", "  word"]


def test_bold_is_for_terminals_only() -> None:
    assert WIDE.strong("x") == "x"
    assert Terminal(80, True, True).strong("x") == "\x1b[1mx\x1b[0m"


@pytest.mark.parametrize(
    ("encoding", "can"), [("utf-8", True), ("ascii", False), ("latin-1", False), ("nonsense", False)]
)
def test_marks_are_used_only_where_they_can_be_printed(encoding: str, can: bool) -> None:
    assert can_show(encoding) is can


def test_plain_text_is_ascii() -> None:
    plain = Terminal(80, False, False)
    assert plain.shown(f"± 13{NB}h, 37.7{NB}°C (36.6–38.8)") == "+/- 13 h, 37.7 deg C (36.6-38.8)"
    assert all(plain.shown(chr(mark)).isascii() for mark in PLAIN)
