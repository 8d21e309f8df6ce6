"""One egg's air cell as the layout draws it: every place in millimetres, from the upper left corner of the drawing."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from chalaza.charts import AirCell
from chalaza.charts.labels import apart
from chalaza.physics import egg

#: Room for half a stroke about the outline; from it to the words; from line to line of words. [mm]
PAD_MM, LEADER_MM, LINE_MM = 0.5, 4.5, 4.6
#: Corners a side of the outline and of a band: no side lies more than 0.01 mm inside the shell (a hen's egg, computed).
_CORNERS, _BAND_CORNERS = 64, 8


@dataclass(frozen=True, slots=True)
class Word:
    """A word beside a depth. [mm]"""

    depth_mm: float
    text: str
    bold: bool = False


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch of depths that is wanted, now or on another day. [mm]"""

    low_mm: float
    high_mm: float
    now: bool = False


def drawing(cell: AirCell, bands: Sequence[Band], words: Sequence[Word]) -> dict[str, Any]:
    """Outline, bands, the level where the edge is expected, and words beside their depths. Later bands cover earlier ones."""
    placed, edge = _placed(cell, words)
    return {
        "outline": _points(cell, 0.0, cell.length_mm, _CORNERS),
        "bands": [
            {
                "points": _points(cell, _within(cell, one.low_mm), _within(cell, one.high_mm), _BAND_CORNERS),
                "now": one.now,
            }
            for one in bands
        ],
        "expected": _expected(cell),
        "words": placed,
        "edge": edge,
        "height": max(cell.length_mm + 2 * PAD_MM, placed[-1]["y"] + 2.0),
    }


def _within(cell: AirCell, depth_mm: float) -> float:
    return min(max(depth_mm, 0.0), cell.length_mm)


def _half(cell: AirCell, depth: Any) -> Any:
    return egg.outline(depth, cell.length_mm, cell.breadth_mm, egg.HEN_SHIFT_SHARE * cell.length_mm)


def _points(cell: AirCell, first: float, last: float, corners: int) -> list[list[float]]:
    """Corners of the egg between two depths below the blunt pole: down the right side, up the left. [mm]"""
    depth = first + 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, corners))) * (last - first)
    half = np.asarray(_half(cell, np.clip(depth, 0.0, cell.length_mm)))
    middle, y = PAD_MM + 0.5 * cell.breadth_mm, PAD_MM + depth
    found = np.concatenate((np.column_stack((middle + half, y)), np.column_stack((middle - half, y))[::-1]))
    return [[round(float(x), 3), round(float(down), 3)] for x, down in found]


def _expected(cell: AirCell) -> dict[str, float]:
    """The level where the edge is expected, and the ends of its range. [mm]"""
    depth, low, high = (PAD_MM + _within(cell, each) for each in (cell.depth_mm, cell.shallow_mm, cell.reach_mm))
    middle, half = PAD_MM + 0.5 * cell.breadth_mm, float(_half(cell, depth - PAD_MM))
    return {"y": depth, "from": middle - half, "to": middle + half, "middle": middle, "low": low, "high": high}


def _placed(cell: AirCell, words: Sequence[Word]) -> tuple[list[dict[str, Any]], float]:
    """Words a line apart, each beside its depth, and where they begin: clear of the outline as far down as they go."""
    ordered = sorted(words, key=lambda one: one.depth_mm)
    wanted = [PAD_MM + one.depth_mm for one in ordered]
    ys = apart(wanted, LINE_MM, low=2.0, high=max(cell.length_mm, 2.0 + LINE_MM * len(words)))
    middle = PAD_MM + 0.5 * cell.breadth_mm
    widest = min(max(ys[-1], 0.0), 0.5 * cell.length_mm)
    edge = middle + float(_half(cell, widest)) + LEADER_MM
    placed = [
        {"x": middle + float(_half(cell, _within(cell, one.depth_mm))), "at": PAD_MM + one.depth_mm, "y": y,
         "text": one.text, "bold": one.bold}
        for one, y in zip(ordered, ys, strict=True)
    ]  # fmt: skip
    return placed, edge
