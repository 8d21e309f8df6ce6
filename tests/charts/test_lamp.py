from re import findall

import numpy as np
import pytest

from chalaza import facts
from chalaza.charts import air_cell_of, air_cell_usual, lamp
from chalaza.charts.drawn import AirCell
from chalaza.physics import egg
from chalaza.values.evidence import Finding
from chalaza.words.language import pseudo
from charts.cases import understood
from charts.drawings import paths, sound

SHARES = tuple(float(row["share"]) for row in facts.table("candling"))


def corners(d: str) -> np.ndarray:
    return np.array([[float(x), float(y)] for x, y in findall(r"(-?[\d.]+) (-?[\d.]+)", d)])


def dark(svg: str) -> float:
    """How much of the egg is dark, by area of what is filled as shade. [1]"""

    def area(points: np.ndarray) -> float:
        x, y = points[:, 0], points[:, 1]
        return abs(float(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))) / 2.0

    bodies = [corners(d) for d in paths(svg, fill="var(--shade)")]
    whole = corners(paths(svg, fill="var(--lit)")[0])
    return sum(map(area, bodies)) / area(whole)


def level(svg: str) -> float:
    """Depth of the air cell's edge below the blunt pole where no dark hides it. [px]"""
    return float(findall(r"L[\d.]+ ([\d.]+)", paths(svg, stroke="var(--shade)", stroke_width="0.75")[0])[0]) - 8.0


@pytest.mark.parametrize("name", lamp.MARKS)
def test_every_mark_is_sound_small_and_differs_from_the_others(name):
    svg = lamp.mark(name)
    root = sound(svg)
    assert root.get("viewBox") == "0 0 44 52"
    assert root.get("aria-hidden") == "true"
    assert len(svg) < 2_200
    assert [other for other in lamp.MARKS if lamp.mark(other) == svg] == [name]
    assert sound(lamp.mark(name, label="A1, alive")).get("aria-label") == "A1, alive"
    assert sound(lamp.mark(name, width=34, height=40)).get("width") == "34"


def test_every_mark_has_a_word_and_every_finding_a_mark():
    assert set(lamp.words()) == set(lamp.MARKS)
    assert set(lamp.BY_FINDING) == set(Finding)
    assert set(lamp.BY_FINDING.values()) <= set(lamp.MARKS)
    assert all(
        word == pseudo(word_) for word, word_ in zip(lamp.words(pseudo).values(), lamp.words().values(), strict=True)
    )


def test_yolk_means_the_egg_at_hand_and_nothing_else():
    assert [name for name in lamp.MARKS if "yolk" in lamp.mark(name)] == ["at_hand"]


def test_alive_is_dark_below_a_lit_cell_and_clear_is_lit_throughout():
    assert 0.6 < dark(lamp.mark("alive")) < 0.9
    assert dark(lamp.mark("clear")) == 0.0


def test_what_is_expected_is_the_row_of_the_table_with_its_source():
    known = facts.sources()
    for share in SHARES:
        row = lamp.expected(share)
        assert row.share == share
        assert row.seen
        assert all(source in known or source == "practice" for source in row.sources), row.sources
    # Day 14 of 21 is 0.6667, told as 0.667.
    assert lamp.expected(14.0 / 21.0).share == 0.667
    assert lamp.expected(-1.0).share == 0.0
    assert lamp.expected(1.3).share == 1.0


@pytest.mark.parametrize("kind", ["chicken", "coturnix", "ostrich", "goose"])
@pytest.mark.parametrize("share", [*SHARES, 0.5, 0.62, 1.2])
def test_an_expected_egg_is_sound_and_says_what_the_table_says(kind, share):
    svg = lamp.expect(share, air_cell_usual(kind, share * 20.0))
    root = sound(svg)
    assert root.get("aria-label") == lamp.expected(share).seen
    points = np.vstack([corners(d) for d in paths(svg) if "l" not in d])
    assert points.min() >= 5.0
    assert points[:, 0].max() <= 105.0
    assert points[:, 1].max() <= 125.0


def test_dark_grows_with_age_as_the_table_words_it():
    cell = air_cell_usual("chicken", 14.0)
    room = 1.0 - cell.depth_mm / cell.length_mm
    seen = [dark(lamp.expect(share, cell)) for share in (0.571, 0.667, 0.762, 0.81)]
    assert seen == sorted(seen)
    # "About two thirds dark" at two thirds of the term, "dark up to the air cell" from 0.81 on; a cell of a fifth of the
    # length is a tenth of what is seen.
    assert seen[1] == pytest.approx(0.667, abs=0.08)
    assert seen[3] > 0.85 * room
    assert all(dark(lamp.expect(share, cell)) < 0.12 for share in SHARES if share < 0.5)


def test_vessels_reach_further_day_by_day():
    def reach(share: float) -> float:
        found = paths(lamp.expect(share, air_cell_usual("chicken", 7.0)), stroke="var(--shade)", stroke_width="1.5")
        return float(np.ptp(corners("".join(found))[:, 1])) if found else 0.0

    reaches = [reach(share) for share in (0.048, 0.143, 0.19, 0.238, 0.333, 0.476)]
    assert reaches[0] == 0.0
    assert reaches == sorted(reaches)


def test_the_air_cell_is_to_scale():
    u, a = understood("day12")
    cell = air_cell_of(u, a, "e1")
    svg = lamp.expect(0.3, cell, width=220, height=260)
    body = corners(paths(svg, fill="var(--lit)")[0])
    assert np.ptp(body[:, 1]) == pytest.approx(244.0, abs=0.3)
    assert level(svg) == pytest.approx(244.0 * cell.depth_mm / cell.length_mm, abs=0.1)
    assert np.ptp(body[:, 0]) / np.ptp(body[:, 1]) == pytest.approx(cell.breadth_mm / cell.length_mm, abs=0.01)


def test_a_typical_cell_grows_as_the_wanted_loss_does():
    cells = [air_cell_usual("hen", day) for day in (0.0, 7.0, 14.0, 18.0, 21.0)]
    assert [one.depth_mm for one in cells] == sorted(one.depth_mm for one in cells)
    assert cells[3] == cells[4]
    bird = facts.kind("chicken")
    assert cells[3].loss == pytest.approx(bird.loss_target.typical)
    # Tables of beliefs: offset 2 mm, slope 0.93; the cell at setting 0.45 mL for 60 g (geometric mean).
    volume = 0.45 * bird.egg_mass_g.typical / 60.0 + egg.air_cell_growth(bird.egg_mass_g.typical * cells[3].loss)
    flat = egg.air_cell_depth(volume, bird.egg_length_mm.typical, bird.egg_breadth_mm.typical)
    assert cells[3].depth_mm == pytest.approx(2.0 + 0.93 * flat, abs=0.05)
    assert isinstance(cells[0], AirCell)


def test_a_sentence_given_stands_for_the_label_and_the_table_is_translated():
    cell = air_cell_usual("chicken", 7.0)
    assert sound(lamp.expect(0.4, cell, label="As on day 8.")).get("aria-label") == "As on day 8."
    assert sound(lamp.expect(0.4, cell, say=pseudo)).get("aria-label") == pseudo(lamp.expected(0.4).seen)
