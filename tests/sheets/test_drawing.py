"""One drawing in millimetres: outline, bands, levels, and words that do not cover each other."""

from dataclasses import replace

import numpy as np
import pytest

from chalaza.physics import egg
from chalaza.sheets.drawing import LINE_MM, PAD_MM, Band, Word, drawing
from sheets.test_sizes import cell

CELL = cell(57.0, 43.0)
WORDS = [Word(9.0, "day 7"), Word(9.5, "now"), Word(12.0, "to here")]


def test_the_outline_is_as_long_and_broad_as_the_egg_with_its_blunt_end_up() -> None:
    body = np.array(drawing(CELL, [], WORDS)["outline"])
    assert np.ptp(body[:, 1]) == pytest.approx(57.0, abs=0.001)
    assert np.ptp(body[:, 0]) == pytest.approx(43.0, abs=0.02)  # 90 corners a side: a flat of 0.01 mm at most
    assert body[np.argmax(body[:, 0]), 1] < 0.5 * 57.0
    assert body.min() >= PAD_MM - 1e-9


def test_the_expected_level_ends_at_the_shell_and_its_range_is_upright_in_the_middle() -> None:
    level = drawing(CELL, [], WORDS)["expected"]
    half = egg.outline(10.0, 57.0, 43.0, 0.035 * 57.0)
    assert level["y"] == pytest.approx(PAD_MM + 10.0)
    assert level["to"] - level["from"] == pytest.approx(2.0 * half)
    assert level["middle"] == pytest.approx(PAD_MM + 0.5 * 43.0)
    assert (level["low"], level["high"]) == (PAD_MM + 8.0, PAD_MM + 12.0)


def test_a_band_reaches_from_shell_to_shell_between_its_depths() -> None:
    (band,) = drawing(CELL, [Band(9.0, 11.0, now=True)], WORDS)["bands"]
    points = np.array(band["points"])
    assert band["now"] is True
    assert points[:, 1].min() == pytest.approx(PAD_MM + 9.0)
    assert points[:, 1].max() == pytest.approx(PAD_MM + 11.0)
    assert np.ptp(points[:, 0]) == pytest.approx(2.0 * egg.outline(11.0, 57.0, 43.0, 0.035 * 57.0), abs=0.001)


def test_what_would_lie_beyond_the_egg_is_drawn_at_its_end() -> None:
    tiny = replace(cell(15.0, 12.0), depth_mm=12.0, shallow_mm=0.0, reach_mm=19.0)
    made = drawing(tiny, [Band(14.0, 16.0)], [Word(12.0, "expected"), Word(19.0, "far")])
    assert made["expected"]["high"] == PAD_MM + 15.0
    assert np.array(made["bands"][0]["points"])[:, 1].max() <= PAD_MM + 15.0


def test_words_stand_a_line_apart_in_order_of_depth_clear_of_the_outline() -> None:
    made = drawing(CELL, [], [WORDS[2], WORDS[0], WORDS[1]])
    assert [one["text"] for one in made["words"]] == ["day 7", "now", "to here"]
    ys = [one["y"] for one in made["words"]]
    assert np.diff(ys).min() >= LINE_MM - 1e-6
    for one in made["words"]:
        assert made["edge"] > PAD_MM + 0.5 * 43.0 + egg.outline(one["y"], 57.0, 43.0, 0.035 * 57.0)


def test_a_small_egg_has_room_for_all_its_words() -> None:
    made = drawing(cell(18.6, 14.2), [], [Word(1.0 * i, f"{i}") for i in range(6)])
    ys = [one["y"] for one in made["words"]]
    assert np.diff(ys).min() >= LINE_MM - 1e-6
    assert made["height"] > ys[-1]
