"""Eggs of like size under one outline."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.charts import AirCell
from chalaza.physics import egg
from chalaza.sheets.sizes import WITHIN_BREADTH_MM, WITHIN_LENGTH_MM, sized


def cell(length_mm: float, breadth_mm: float) -> AirCell:
    """An egg of that size; the rest does not matter here."""
    return AirCell(
        length_mm=length_mm, breadth_mm=breadth_mm, mass_g=60.0, loss=0.1, loss_low=0.09, loss_high=0.11,
        depth_mm=10.0, wanted_mm=(9.0, 11.0), shallow_mm=8.0, reach_mm=12.0,
    )  # fmt: skip


def test_eggs_alike_share_an_outline_in_their_middle() -> None:
    (one,) = sized([cell(57.0, 43.0), cell(58.0, 42.0), cell(56.0, 43.5)])
    assert (one.length_mm, one.breadth_mm) == (57.0, 42.75)
    assert one.members == (0, 1, 2)


def test_a_bantam_among_large_hens_has_its_own() -> None:
    small, large = sized([cell(58.0, 43.0), cell(49.0, 37.5), cell(57.0, 42.5)])
    assert small.members == (1,)
    assert large.members == (0, 2)


def test_no_eggs_need_no_outline() -> None:
    assert sized([]) == ()


@given(st.lists(st.tuples(st.floats(50.0, 66.0), st.floats(36.0, 50.0)), max_size=40))
def test_each_egg_has_one_outline_and_differs_from_it_by_less_than_is_said(sizes: list[tuple[float, float]]) -> None:
    cells = [cell(*one) for one in sizes]
    found = sized(cells)
    assert sorted(i for one in found for i in one.members) == list(range(len(cells)))
    for one in found:
        for i in one.members:
            assert abs(cells[i].length_mm - one.length_mm) <= 0.5 * WITHIN_LENGTH_MM + 1e-9
            assert abs(cells[i].breadth_mm - one.breadth_mm) <= 0.5 * WITHIN_BREADTH_MM + 1e-9


@pytest.mark.parametrize(("length", "breadth"), [(32.0, 24.5), (57.0, 43.0), (89.0, 61.0)])
def test_an_air_cell_is_where_the_outline_has_it_within_a_third_of_a_millimetre(length: float, breadth: float) -> None:
    def depth(longer: float, broader: float) -> float:
        size = (length + longer, breadth + broader)
        mass = egg.mass_from_size(*size)
        return egg.air_cell_depth(0.45 * mass / 60.0 + egg.air_cell_growth(0.1 * mass), *size)

    corners = [depth(0.5 * WITHIN_LENGTH_MM * i, 0.5 * WITHIN_BREADTH_MM * j) for i in (-1, 1) for j in (-1, 1)]
    assert max(abs(each - depth(0.0, 0.0)) for each in corners) < 0.35
