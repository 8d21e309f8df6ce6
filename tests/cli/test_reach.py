"""The line that shows a value, its range and the band wanted."""

from chalaza.cli.reach import reach
from chalaza.values.estimate import Band, Basis, Estimate

BAND = Band(low=10.0, typical=12.0, high=14.0, unit="1")


def of(value: float, low: float, high: float) -> Estimate:
    """An estimate."""
    return Estimate(value, low, high, "1", Basis("water"))


def test_the_band_fills_the_middle_third() -> None:
    line = reach(of(12.0, 11.9, 12.1), BAND, third=10)
    assert line.index("│") == 10
    assert line.rindex("│") == 21
    assert len(line) == 22


def test_the_range_is_heavy_inside_and_thin_outside() -> None:
    line = reach(of(13.0, 11.0, 15.0), BAND, third=10)
    left, right = line.index("│"), line.rindex("│")
    assert "━" in line[left:right]
    assert "─" not in line[left:right]
    assert "─" in line[right:]
    assert "━" not in line[right:]
    assert left < line.index("┃") < right


def test_what_lies_beyond_the_scale_ends_in_an_arrow() -> None:
    line = reach(of(40.0, 1.0, 80.0), BAND, third=10)
    assert (line[0], line[-1]) == ("←", "→")
    assert "┃" not in line


def test_a_value_far_below_leaves_the_band_empty() -> None:
    line = reach(of(2.0, 1.0, 3.0), BAND, third=10)
    assert line.startswith("←")
    assert "━" not in line


def test_at_least_runs_off_the_edge() -> None:
    line = reach(of(13.0, 12.0, 14.0), BAND, least=True, third=10)
    assert line.count("│") == 1
    assert line.endswith("░")


def test_a_band_without_width_still_has_a_scale() -> None:
    line = reach(of(9.0, 8.9, 9.1), Band(low=10.0, typical=10.0, high=10.0, unit="1"), least=True, third=10)
    assert "│" in line
