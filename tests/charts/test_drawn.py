from dataclasses import replace
from math import exp, sqrt
from re import findall

import numpy as np
import pytest

from chalaza.assess import prior_beliefs, read, understand
from chalaza.charts import air_cell, air_cell_of, tokens
from chalaza.charts.drawn import torch_of, wanted_loss
from chalaza.errors import EvidenceError
from chalaza.inference.water import mass_key
from chalaza.physics import egg
from chalaza.values.evidence import AirCellMark
from charts.cases import evidence, understood
from charts.reading import SVG, colours, tree
from factory import DAY_S, SET_AT


def outline_of(svg: str) -> np.ndarray:
    """The corners of the outline: the widest closed path."""
    paths = [np.array([list(map(float, p.split())) for p in d.split("L")]) for d in findall(r'd="M([\d.L ]+)Z"', svg)]
    return max(paths, key=lambda p: float(np.ptp(p[:, 1])))


def lines_of(svg: str) -> list[tuple[float, float, float]]:
    """Level lines through the egg: left, right, height."""
    return [tuple(map(float, found)) for found in findall(r'<line x1="([\d.]+)" x2="([\d.]+)" y1="([\d.]+)"', svg)]


def test_the_outline_is_as_long_and_broad_as_the_egg_in_millimetres():
    u, a = understood("day12")
    svg = air_cell(u, a, "e1")
    root = tree(svg)
    # One unit of the drawing is one millimetre.
    width, height = root.get("width"), root.get("height")
    assert width.endswith("mm")
    assert height.endswith("mm")
    assert root.get("viewBox") == f"0 0 {width[:-2]} {height[:-2]}"
    body = outline_of(svg)
    assert np.ptp(body[:, 1]) == pytest.approx(56.5, abs=0.002)
    assert np.ptp(body[:, 0]) == pytest.approx(43.0, abs=0.02)  # 90 corners a side: a flat of 0.01 mm at most


def test_the_blunt_end_is_up():
    u, a = understood("day12")
    body = outline_of(air_cell(u, a, "e1"))
    widest = body[np.argmax(body[:, 0]), 1] - body[:, 1].min()
    assert widest < 0.5 * 56.5


def test_the_line_lies_where_geometry_and_the_usual_torch_put_it():
    u, a = understood("day12")
    found = air_cell_of(u, a, "e3")
    mass = exp(u.posterior.value(mass_key("e3")))
    loss = next(one.loss_now.value for one in a.water.eggs if one.uid == "e3")
    assert found.loss == pytest.approx(loss, rel=1e-9)
    # Tables of beliefs: offset 2 mm, slope 0.93; the cell at setting 0.45 mL for 60 g (geometric mean).
    flat = egg.air_cell_depth(0.45 * mass / 60.0 + egg.air_cell_growth(mass * loss), 56.5, 43.0)
    assert found.depth_mm == pytest.approx(2.0 + 0.93 * flat, abs=0.05)
    # Their doubts: 2 mm and 0.12, correlated -0.7.
    doubt = 1.645 * sqrt(2.0**2 + (0.12 * flat) ** 2 - 2 * 0.7 * 2.0 * 0.12 * flat)
    assert found.reach_mm - found.depth_mm == pytest.approx(doubt, rel=0.01)
    ys = sorted(y - 2.0 for _, _, y in lines_of(air_cell(u, a, "e3")))
    assert ys == pytest.approx([found.depth_mm, found.reach_mm], abs=0.001)


def test_lines_end_at_the_shell():
    u, a = understood("day12")
    svg = air_cell(u, a, "e1")
    for left, right, y in lines_of(svg):
        assert right - left == pytest.approx(2.0 * egg.outline(y - 2.0, 56.5, 43.0, 0.035 * 56.5), abs=0.01)


def test_the_band_is_what_is_wanted_today():
    u, a = understood("day12")
    found = air_cell_of(u, a, "e1")
    low, high = found.wanted_mm
    share = 12.0 / a.water.target_day_d

    def depth(loss):
        mass = exp(u.posterior.value(mass_key("e1")))
        return 2.0 + 0.93 * egg.air_cell_depth(0.45 * mass / 60.0 + egg.air_cell_growth(mass * loss), 56.5, 43.0)

    assert low == pytest.approx(depth(a.water.wanted.low * share), abs=0.05)
    assert high == pytest.approx(depth(a.water.wanted.high * share), abs=0.05)


def test_the_check_bar_is_fifty_millimetres():
    u, a = understood("day12")
    svg = air_cell(u, a, "e1")
    bar = findall(r'd="M([\d.]+) ([\d.]+)H([\d.]+)M', svg)
    assert len(bar) == 1
    assert float(bar[0][2]) - float(bar[0][0]) == 50.0
    assert "this bar must be 50 mm" in svg


def test_an_egg_that_lost_more_water_shows_a_deeper_cell():
    u, a = understood("day12")
    cells = [air_cell_of(u, a, f"e{i}") for i in range(1, 13)]  # all of one size, so grams of water decide
    order = np.argsort([one.loss * one.mass_g for one in cells])
    depths = np.array([one.depth_mm for one in cells])[order]
    assert np.all(np.diff(depths) > -0.05)  # the cell at setting goes with the mass, which differs by a twentieth
    assert depths[-1] - depths[0] > 2.0


def test_marks_of_weighed_eggs_correct_the_line_and_narrow_the_reach():
    rows, now = evidence("day12")
    u, a = understood("day12")
    before = air_cell_of(u, a, "e5")
    shown = [air_cell_of(u, a, f"e{i}").depth_mm - 2.0 for i in (1, 2, 3, 4)]
    marks = tuple(
        AirCellMark(uid=f"m{i}", at=SET_AT + 12 * DAY_S - 3_600, egg=f"e{i}", depth_mm=round(depth, 1))
        for i, depth in zip((1, 2, 3, 4), shown, strict=True)
    )
    marked = replace(rows, air_cells=marks)
    u = understand(prior_beliefs("chicken"), marked, now)
    after = air_cell_of(u, read(u, marked), "e5")
    # Seen 2 mm shallower on four eggs: most of it is believed of the fifth.
    assert -2.2 < after.depth_mm - before.depth_mm < -1.2
    assert after.reach_mm - after.depth_mm < before.reach_mm - before.depth_mm


def test_an_egg_nobody_measured_has_the_shape_of_its_kind_at_its_mass():
    rows, now = evidence("day12")
    bare = replace(rows, eggs=tuple(replace(one, length_mm=None, breadth_mm=None) for one in rows.eggs))
    u = understand(prior_beliefs("chicken"), bare, now)
    found = air_cell_of(u, read(u, bare), "e7")
    kind = u.kind
    assert found.length_mm / found.breadth_mm == pytest.approx(kind.egg_length_mm.typical / kind.egg_breadth_mm.typical)
    assert egg.mass_from_size(found.length_mm, found.breadth_mm) == pytest.approx(found.mass_g, rel=1e-6)


def test_after_lockdown_the_line_stays():
    u, a = understood("after")
    found = air_cell_of(u, a, "e5")
    then = next(one.loss_at_lockdown.value for one in a.water.eggs if one.uid == "e5")
    assert found.loss == pytest.approx(then, rel=1e-9)


def test_colours_are_names_and_a_standing_alone_sheet_has_its_own():
    u, a = understood("day12")
    assert all(one.startswith("var(--") for one in colours(air_cell(u, a, "e1")))
    alone = air_cell(u, a, "e1", standalone=True)
    assert "@media print" in alone
    assert colours(alone) <= set(tokens.LIGHT.values())


def test_words_are_a_line_apart_and_inside():
    for name, uid in (("start", "e1"), ("day12", "e1"), ("after", "e12")):
        root = tree(air_cell(*understood(name), uid))
        ys = sorted(float(one.get("y")) for one in root.iter(f"{SVG}text"))
        assert np.diff(ys).min() >= 4.0
        assert ys[-1] <= float(root.get("height")[:-2])


def test_the_range_of_an_egg_that_was_not_weighed_holds_the_doubt_of_its_loss():
    u, a = understood("none")
    found = air_cell_of(u, a, "e1")
    loss = a.water.loss_now
    # The doubt of the batch's mean and what shells differ by add up as squares; so do that of the loss and of the torch.
    half = sqrt((0.5 * (loss.high - loss.low)) ** 2 + (1.645 * u.water.spread * found.loss) ** 2)
    assert (found.loss_low, found.loss_high) == pytest.approx((found.loss - half, found.loss + half), rel=1e-3)
    size = (found.length_mm, found.breadth_mm, found.mass_g)
    torch = torch_of(u)
    own = 0.5 * (torch.seen(found.loss_high, *size) - torch.seen(found.loss_low, *size))
    total = sqrt(torch.doubt(found.loss, *size) ** 2 + own**2)
    assert found.reach_mm - found.depth_mm == pytest.approx(total, rel=1e-6)
    assert found.depth_mm - found.shallow_mm == pytest.approx(total, rel=1e-6)
    weighed = air_cell_of(*understood("day12"), "e1")
    assert weighed.reach_mm - weighed.shallow_mm < 0.75 * 2.0 * total


def test_the_wanted_loss_rises_evenly_to_the_day_of_the_target_and_stays():
    _, a = understood("day12")
    assert wanted_loss(a, 0.0) == (0.0, 0.0)
    assert wanted_loss(a, 9.0) == pytest.approx((0.5 * 0.11, 0.5 * 0.135))
    assert wanted_loss(a, 18.0) == wanted_loss(a, 21.0) == (0.11, 0.135)


def test_an_egg_that_is_not_there_is_named():
    u, a = understood("day12")
    with pytest.raises(EvidenceError, match="no egg 'e99' in this batch; there are: e1, e2"):
        air_cell_of(u, a, "e99")
