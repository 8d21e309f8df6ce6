from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from chalaza.charts import last_days
from chalaza.charts.base import plain
from chalaza.charts.forecast import told
from chalaza.charts.happenings import Seen
from chalaza.charts.labels import Board
from charts.cases import CASES, of_kind, understood
from charts.drawings import curve, paths, sound

BERLIN = ZoneInfo("Europe/Berlin")


def panel(a, *, width: float = 960.0, seen=(), over: bool = False):
    view = last_days.span(a, BERLIN, width, 0.0)
    board = Board(width, last_days.HEIGHT)
    shown = told(a.clock.half_hatched, a.as_of, [])
    marks = last_days.panel(board, view, a, shown, seen, BERLIN, plain, over=over)
    svg = f'<svg xmlns="http://www.w3.org/2000/svg">{"".join(marks)}</svg>'
    sound(svg)
    return view, board, svg


@pytest.mark.parametrize("name", CASES)
def test_all_that_must_be_reckoned_with_lies_in_the_days_shown(name):
    _, a = understood(name)
    view = last_days.span(a, BERLIN, 960.0, 0.0)
    assert view.start <= a.clock.first_pip.low
    assert view.end >= a.clock.last_hatch.high
    assert view.days >= 4
    for midnight in view.midnights:
        at = datetime.fromtimestamp(midnight, UTC).astimezone(BERLIN)
        assert (at.hour, at.minute, at.second) == (0, 0, 0)


def test_days_follow_a_change_of_clocks():
    # IANA: on 29 March 2026 the day of Berlin has 23 hours. This batch of 42 days ends about 12 April; 28 days earlier
    # it would have been 15 March.
    _, a = of_kind("goose", 0.9)
    lengths = np.diff(last_days.span(a, BERLIN, 960.0, 0.0).midnights) / 3_600.0
    assert set(lengths.tolist()) <= {23.0, 24.0, 25.0}
    assert 23.0 in lengths.tolist()


@pytest.mark.parametrize("name", CASES)
def test_bars_are_the_answers(name):
    _, a = understood(name)
    view, _, svg = panel(a)
    thick = paths(svg, stroke="var(--ink)", stroke_width="8")
    thin = paths(svg, stroke="var(--ink)", stroke_width="4")
    drawn = [(float(d.split(" ")[0][1:]), float(d.split("H")[1])) for d in (thin[0], *thick, thin[1])]
    for (low, high), one in zip(drawn, (a.clock.first_pip, a.clock.half_hatched, a.clock.last_hatch), strict=True):
        assert low == pytest.approx(view.px(one.low), abs=0.06)
        assert high == pytest.approx(view.px(one.high), abs=0.06)


@pytest.mark.parametrize("width", [350.0, 960.0])
def test_every_bar_has_its_name(width):
    for name in CASES:
        _, board, _ = panel(understood(name)[1], width=width)
        assert {"first pip", "half out", "last out"} <= {one.text for one in board.labels}, name


def test_a_young_seen_out_is_a_dot_where_it_was_seen():
    _, a = understood("after")
    at = int(a.clock.half_hatched.value)
    view, _, svg = panel(a, seen=[Seen(at - 7_200, 3, 0), Seen(at, 0, 5), Seen(at + 7_200, 1, 2)])
    xs = [float(one.get("cx")) for one in sound(svg) if one.tag.endswith("circle")]
    assert sorted(xs) == pytest.approx([view.px(at)] * 5 + [view.px(at + 7_200)] * 2, abs=0.06)
    # A hundred at once do not climb out of the panel: a dot stands for several.
    many = [one for one in sound(panel(a, seen=[Seen(at, 0, 100)])[2]) if one.tag.endswith("circle")]
    assert 8 <= len(many) <= 11
    assert min(float(one.get("cy")) for one in many) > 20.0


def test_now_stands_on_the_line_while_it_lies_in_these_days_and_not_once_it_is_over():
    def yolks(name, **options):
        return [one for one in sound(panel(understood(name)[1], **options)[2]) if one.get("fill") == "var(--yolk)"]

    assert len(yolks("hatching")) == 1
    assert yolks("day3") == []
    assert yolks("after", over=True) == []


def test_the_hill_lies_where_the_estimate_does():
    _, a = understood("day12")
    view, _, svg = panel(a)
    points = curve(next(d for d in paths(svg, stroke="var(--ink)", stroke_width="1.5") if "C" in d))
    top = points[np.argmin(points[:, 1])]
    assert top[0] == pytest.approx(view.px(a.clock.half_hatched.value), abs=1.0)
