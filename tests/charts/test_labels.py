from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.charts.labels import Board, Label, apart, inside, text_width
from charts.reading import measured

_WORDS = (
    "13.4 as it is", "12.2 advised", "wanted", "turning stops", "no logged hour beyond the limits", "no log", "Sun 22",
    "half out", "first pip", "shell", "centre", "37.0 °C", "−10 h", "+5 h", "worst day: cold 51, warm 2.8 °C·h",
    "8 asked for", "young expected", "out of the shell", "255–282", "day 7", "Wed 30", "cold 11 h", "10.0 %",
)  # fmt: skip


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("word", _WORDS)
def test_no_word_runs_wider_than_the_room_it_gets(word, bold):
    # Against the compiler's own measurer with whatever serif this machine has.
    assert measured(word, bold) <= text_width(word, bold=bold)


def test_room_for_words_is_not_wasted():
    # Room is given for the widest face of the list. A machine may have that one (slack of 1.35 at most) or one with the
    # advance widths of a newspaper serif, narrower by up to a third: 1.35 x 1.33.
    assert all(text_width(word) <= 1.8 * measured(word, False) for word in _WORDS if measured(word, False) > 20.0)


def test_a_word_that_would_cover_another_or_be_cut_is_not_placed():
    board = Board(200.0, 50.0)
    assert board.place([Label(x=10.0, y=30.0, text="wanted")]) is not None
    assert board.place([Label(x=40.0, y=33.0, text="shell")]) is None
    assert board.place([Label(x=190.0, y=30.0, text="shell")]) is None
    assert board.place([Label(x=40.0, y=33.0, text="shell"), Label(x=120.0, y=30.0, text="shell")]) is not None


def test_a_word_keeps_clear_of_lines_and_of_bold_ones_before_faint_ones():
    board = Board(200.0, 100.0)
    board.draw([0.0, 200.0], [30.0, 30.0])
    board.draw([0.0, 200.0], [60.0, 60.0], faint=True)
    first, second = Label(x=10.0, y=33.0, text="no log"), Label(x=10.0, y=63.0, text="no log")
    assert board.place([first, second]) == second
    assert board.place([Label(x=100.0, y=33.0, text="air")]) is None
    assert board.place([Label(x=100.0, y=33.0, text="air")], cross=True) is not None


def test_a_missing_value_breaks_the_line_words_avoid():
    board = Board(200.0, 100.0)
    board.draw([0.0, 50.0, 100.0, 150.0, 200.0], [30.0, 30.0, np.nan, 30.0, 30.0])
    assert not board.crossed(Label(x=100.0, y=33.0, text="no log", align="center"))
    assert board.crossed(Label(x=25.0, y=33.0, text="no log", align="center"))


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=5).map(sorted))
def test_words_at_line_ends_stand_a_line_apart_in_order_and_inside(places):
    out = apart(places, 17.0, low=0.0, high=100.0)
    assert all(b - a >= 17.0 - 1e-9 for a, b in pairwise(out))
    assert out[0] >= -1e-9
    assert out[-1] <= 100.0 + 1e-9


def test_words_already_apart_stay_where_they_are():
    assert apart([10.0, 40.0], 17.0, low=0.0, high=100.0) == [10.0, 40.0]


@given(st.floats(-50.0, 250.0), st.sampled_from(["left", "center", "right"]))
def test_a_word_moved_inside_is_not_cut(x, align):
    left, _, right, _ = inside(Label(x=x, y=20.0, text="now", align=align), 200.0).box
    assert left >= -1e-9
    assert right <= 200.0 + 1e-9
