from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.charts.reach import HEIGHT, LEAST_PX, MINI_PX, Labels, reach, scale
from chalaza.values.estimate import Band, Basis, Estimate
from chalaza.words.language import OPEN, pseudo
from charts.drawings import sound
from charts.reading import SVG, measured, tree

WANTED = Band(low=11.0, typical=12.0, high=13.0, unit="%")
ASKED = Band(low=18.0, typical=18.0, high=18.0, unit="")
MOMENTS = Labels(low="Wed 14:00", high="Thu 16:00", band_low="Wed 06:00", band_high="Thu 06:00", word="usual")


def estimate(value: float, low: float, high: float, unit: str = "%") -> Estimate:
    return Estimate(value, low, high, unit, Basis("water"))


def boxes(svg: str, fill: str) -> list[tuple[float, float]]:
    """From where to where each box of this colour reaches. [per cent]"""
    found = [one for one in tree(svg).iter(f"{SVG}rect") if one.get("fill") == f"var(--{fill})"]
    return [(x := float(one.get("x")[:-1]), x + float(one.get("width")[:-1])) for one in found]


def ticks(svg: str) -> list[float]:
    """Places of what is drawn in px about a place in per cent: the tick and arrow points."""
    return [float(one.get("x")[:-1]) for one in tree(svg) if one.tag == f"{SVG}svg"]


def arrows(svg: str) -> int:
    return sum("L" in one.get("d", "") for one in tree(svg).iter(f"{SVG}path"))


def legible(svg: str, width: float) -> list[str]:
    """The words, once it is known that at this width none covers another and none is cut."""
    placed = []
    for one in tree(svg).iter(f"{SVG}text"):
        wide = measured(one.text or "", False)
        share = {"middle": 0.5, "end": 1.0}.get(one.get("text-anchor", ""), 0.0)
        left = float(one.get("x")[:-1]) / 100.0 * width - share * wide
        placed.append((one.text, one.get("y"), left, left + wide))
    for word, _, left, right in placed:
        assert left >= -0.5, word
        assert right <= width + 0.5, word
    for a, b in combinations(placed, 2):
        assert a[1] != b[1] or a[3] <= b[2] or b[3] <= a[2], (a, b)
    return [one[0] for one in placed]


@given(st.floats(-50.0, 50.0), st.floats(0.01, 30.0), st.floats(-60.0, 60.0), st.floats(0.0, 30.0), st.booleans())
def test_the_band_is_the_middle_third_and_the_drawing_sound(low, width, value, half, mini):
    band = Band(low=low, typical=low, high=low + width, unit="%")
    svg = reach(estimate(value, value - half, value + half), band, mini=mini)
    root = sound(svg)
    ((first, last),) = boxes(svg, "want")
    assert first == pytest.approx(100.0 / 3.0, abs=0.02)
    assert last == pytest.approx(200.0 / 3.0, abs=0.03)
    assert root.get("width") == "100%"
    assert root.get("viewBox") is None
    for fill in ("paper", "ink"):
        assert all(-0.01 <= a <= b + 0.011 <= 100.03 for a, b in boxes(svg, fill))
    if not mini:
        legible(svg, LEAST_PX)
        legible(svg, 640.0)


def test_solid_inside_hollow_outside_and_a_tick_at_the_value():
    svg = reach(estimate(12.9, 12.2, 13.7), WANTED)
    assert boxes(svg, "paper") == [pytest.approx((100 * 3.2 / 6, 100 * 4.7 / 6), abs=0.02)]
    assert boxes(svg, "ink") == [pytest.approx((100 * 3.2 / 6, 100 * 4.0 / 6), abs=0.02)]
    assert ticks(svg) == [pytest.approx(65.0)]
    assert legible(svg, 350.0) == ["12.2", "13.7", "11", "13", "wanted"]
    outside = reach(estimate(13.9, 13.4, 14.5), WANTED)
    assert boxes(outside, "ink") == []
    wider = reach(estimate(12.1, 10.0, 14.3), WANTED)
    assert boxes(wider, "ink") == [pytest.approx((100 / 3, 200 / 3), abs=0.02)]


def test_beyond_the_scale_an_arrow_and_the_range():
    svg = reach(estimate(18.0, 17.2, 18.9), WANTED)
    assert boxes(svg, "paper") == []
    assert ticks(svg) == [100.0]
    assert arrows(svg) == 1
    assert legible(svg, LEAST_PX)[0] == "17.2–18.9"
    left = reach(estimate(6.0, 5.0, 8.0), WANTED)
    assert ticks(left) == [0.0]
    both = reach(estimate(12.0, 3.0, 23.0), WANTED)
    assert arrows(both) == 2
    assert legible(both, LEAST_PX)[:2] == ["3", "23"]


def test_at_least_runs_off_the_edge():
    svg = reach(estimate(19.0, 15.0, 22.0, ""), ASKED, at_least=True)
    ((first, last),) = boxes(svg, "want")
    assert (first, last) == (pytest.approx(100 / 3, abs=0.02), pytest.approx(100.0, abs=0.02))
    assert boxes(svg, "ink")[0][0] == pytest.approx(first, abs=0.02)
    assert legible(svg, LEAST_PX) == ["15", "22", "18", "asked for"]
    assert sound(svg).get("aria-label") == "19, range 15 to 22; asked for: at least 18."
    # A third is a third of what is asked for: 12 to 30 here.
    assert (scale(estimate(19, 15, 22), ASKED, at_least=True).left, 30.0) == (12.0, 30.0)


@pytest.mark.parametrize("width", [LEAST_PX, 350.0, 420.0, 960.0])
@pytest.mark.parametrize(
    "case", [(12.5, 11.5, 13.2), (9.1, 9.05, 9.2), (14.9, 14.8, 15.0), (12.0, 12.0, 12.0), (12.0, 9.0, 15.0)]
)
def test_long_words_find_room_or_a_row_of_their_own(case, width):
    svg = reach(estimate(*case), WANTED, labels=MOMENTS)
    words = legible(svg, width)
    assert {"Wed 06:00", "Thu 06:00", "usual"} <= set(words)
    assert "Wed 14:00" in words or "Wed 14:00–Thu 16:00" in words
    assert float(sound(svg).get("height")) > HEIGHT
    assert sound(svg).get("class") == "reach tall"
    assert max(float(one.get("y")) for one in tree(svg).iter(f"{SVG}text")) < float(sound(svg).get("height"))


def test_a_band_or_a_range_without_width_is_drawn_as_well():
    none = Band(low=37.5, typical=37.5, high=37.5, unit="°C")
    assert boxes(reach(estimate(37.4, 36.9, 38.0, "°C"), none), "want") == [(50.0, 50.0)]
    sound(reach(estimate(37.5, 37.5, 37.5, "°C"), none))
    svg = reach(estimate(12.2, 12.2, 12.2), WANTED)
    assert boxes(svg, "paper") == []
    assert legible(svg, LEAST_PX)[0] == "12.2"


def test_the_mini_stands_beside_its_figure_and_is_silent():
    svg = reach(estimate(12.9, 12.2, 13.7), WANTED, mini=True)
    assert sound(svg).get("aria-hidden") == "true"
    assert sound(svg).get("height") == str(MINI_PX)
    assert list(tree(svg).iter(f"{SVG}text")) == []
    assert sound(reach(estimate(12.9, 12.2, 13.7), WANTED, mini=True, label="Too dry.")).get("aria-label") == "Too dry."


def test_cells_of_a_table_share_one_scale():
    shared = scale(estimate(12.0, 11.0, 13.0), Band(low=8.0, typical=10.0, high=14.0, unit="%"))
    svg = reach(estimate(11.0, 10.0, 12.0), WANTED, mini=True, on=shared)
    assert ticks(svg) == [pytest.approx(50.0)]
    assert boxes(svg, "want") == [pytest.approx((50.0, 100.0 * 11 / 18), abs=0.02)]


def test_the_label_says_the_finding_and_a_sentence_stands_for_it():
    assert (
        sound(reach(estimate(12.9, 12.2, 13.7), WANTED)).get("aria-label")
        == "12.9, range 12.2 to 13.7; wanted: 11 to 13."
    )
    share = estimate(0.129, 0.122, 0.137, "1")
    said = sound(reach(share, Band(low=0.11, typical=0.12, high=0.135, unit="1"))).get("aria-label")
    assert said == "12.9, range 12.2 to 13.7; wanted: 11 to 13.5."
    assert sound(reach(share, WANTED, labels=MOMENTS)).get("aria-label") == (
        "Range Wed 14:00 to Thu 16:00; usual: Wed 06:00 to Thu 06:00."
    )
    assert sound(reach(share, WANTED, label="Too dry.")).get("aria-label") == "Too dry."


def test_no_word_is_left_in_english():
    svg = reach(estimate(12.9, 12.2, 13.7), WANTED, say=pseudo)
    assert sound(svg).get("aria-label").startswith(OPEN)
    assert [word for word in legible(svg, LEAST_PX) if word.isalpha()] == []
