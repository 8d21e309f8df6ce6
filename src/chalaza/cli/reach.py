"""Reach: a value, its 90 % range and the band wanted, drawn in one line of text.

The band fills the middle third, so that answers compare by eye: heavy inside it, thin outside, a stroke at the value.
Beyond the scale an arrow. "At least" runs off the edge.
"""

from chalaza.values.estimate import Band, Estimate

#: Cells of a third of the scale.
THIRD = 11
_POST, _BAND, _INSIDE, _OUTSIDE, _VALUE = "│", "░", "━", "─", "┃"
_LEFT, _RIGHT = "←", "→"


def reach(of: Estimate, band: Band, *, least: bool = False, third: int = THIRD) -> str:
    """The line: three times `third` cells. `least`: only the lower edge is wanted, the rest of the line is band."""
    size = 3 * third
    width = band.high - band.low
    if width <= 0:
        width = max(abs(band.low), 1.0) * 0.1
    start = band.low - width

    def cell(value: float) -> int:
        return int((value - start) / width * third)

    low, high, at = cell(of.low), cell(of.high), cell(of.value)
    last = size if least else 2 * third
    row = [_BAND if third <= i < last else " " for i in range(size)]
    for i in range(max(low, 0), min(high, size - 1) + 1):
        row[i] = _INSIDE if third <= i < last else _OUTSIDE
    row.insert(last, _POST) if not least else None
    row.insert(third, _POST)
    if 0 <= at < size:
        row[at + (at >= third) + (at >= last and not least)] = _VALUE
    if low < 0:
        row[0] = _LEFT
    if high >= size:
        row[-1] = _RIGHT
    return "".join(row).rstrip()
