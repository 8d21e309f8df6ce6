"""Strips: ways to read a log on one scale, full up to now and hollow after."""

import re
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from chalaza.charts.labels import text_width
from chalaza.charts.strip import Tick, figures, moments

_SPAN = (0.0, 1000.0)


def _rects(svg: str) -> list[tuple[float, str, str]]:
    """Left edge [per cent], width and fill of each box."""
    return [(float(x), width, fill) for x, width, fill in
            re.findall(r'<rect x="([\d.]+)%" y="[\d.]+" width="([\d.]+%?)" height="[\d.]+" fill="var\(--(\w+)\)', svg)]  # fmt: skip


def test_a_record_is_full_up_to_now_and_hollow_after() -> None:
    svg = moments([(100.0, 300.0), (400.0, 800.0), (900.0, 950.0)], _SPAN, [], now=600.0, label="x")
    assert _rects(svg) == [
        (10.0, "20.00%", "ink"), (40.0, "20.00%", "ink"), (60.0, "20.00%", "paper"), (90.0, "5.00%", "paper"),
    ]  # fmt: skip
    assert 'x="60.00%"' in svg
    assert "var(--yolk)" in svg


def test_now_that_is_far_off_is_not_drawn_and_all_of_the_record_is_past() -> None:
    svg = moments([(100.0, 300.0)], _SPAN, [], now=None, label="x")
    assert _rects(svg) == [(10.0, "20.00%", "ink")]
    assert "yolk" not in svg


def test_a_moment_alone_can_still_be_seen_and_what_lies_beyond_the_line_is_cut() -> None:
    svg = moments([(500.0, 500.0), (-300.0, 100.0), (950.0, 4000.0)], _SPAN, [], now=None, label="x")
    assert _rects(svg) == [(50.0, "5", "ink"), (0.0, "10.00%", "ink"), (95.0, "5.00%", "ink")]


def test_figures_show_least_mean_and_greatest_before_what_is_usual() -> None:
    svg = figures(20.0, 25.0, 30.0, (0.0, 50.0), [Tick(10.0, "10")], label="x", usual=(35.0, 40.0), word="incubators")
    assert _rects(svg) == [(70.0, "10.00%", "want"), (40.0, "20.00%", "paper")]
    assert ">incubators</text>" in svg
    assert '<svg x="50.00%"' in svg


@pytest.mark.parametrize("n", [1, 3, 8, 24, 200])
def test_no_two_words_of_a_scale_meet_on_a_narrow_page(n: int) -> None:
    svg = moments([], _SPAN, [Tick(1000.0 * i / n, f"word {i}") for i in range(n + 1)], now=None, label="x")
    words = re.findall(r'<text x="([\d.]+)%"[^>]*?(text-anchor="end")?>([^<]*)<', svg)
    assert words
    boxes = []
    for at, end, word in words:
        left = float(at) * 3.4 - (text_width(word) if end else 0.0)
        boxes.append((left, left + text_width(word)))
    assert all(first[1] <= second[0] for first, second in pairwise(boxes))
    assert all(left >= 0.0 and right <= 341.0 for left, right in boxes)
    assert svg.count("<line") == n + 2


def test_a_strip_is_read_aloud_carries_no_style_and_is_sound() -> None:
    svg = moments([(0.0, 10.0)], _SPAN, [Tick(5.0, "<5 & more")], now=5.0, label='said "so" & <so>')
    root = ElementTree.fromstring(svg)
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-label"] == 'said "so" & <so>'
    assert "style=" not in svg
