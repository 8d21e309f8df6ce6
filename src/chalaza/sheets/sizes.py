"""Eggs of like size put together: one outline serves all whose size differs from it by less than shows under a lamp."""

from collections.abc import Sequence
from dataclasses import dataclass

from chalaza.charts import AirCell

#: Eggs of one outline differ by no more than this from each other, so by half of it from the outline. At the same share
#: lost an air cell then lies within 0.35 mm of where the outline has it (computed), a third of what a mark is good for. [mm]
WITHIN_BREADTH_MM, WITHIN_LENGTH_MM = 2.0, 3.0


@dataclass(frozen=True, slots=True)
class Sized:
    """One outline: length and breadth [mm], and which eggs it serves (places in the sequence given)."""

    length_mm: float
    breadth_mm: float
    members: tuple[int, ...]


def sized(cells: Sequence[AirCell]) -> tuple[Sized, ...]:
    """Outlines for all eggs, smallest first; each egg belongs to one."""
    groups: list[list[int]] = []
    for i in sorted(range(len(cells)), key=lambda i: (cells[i].breadth_mm, cells[i].length_mm, i)):
        home = next((group for group in groups if _fits(cells, [*group, i])), None)
        if home is None:
            groups.append([i])
        else:
            home.append(i)
    found = [Sized(_middle(_lengths(cells, g)), _middle(_breadths(cells, g)), tuple(sorted(g))) for g in groups]
    return tuple(sorted(found, key=lambda one: (one.breadth_mm, one.length_mm)))


def _lengths(cells: Sequence[AirCell], members: Sequence[int]) -> list[float]:
    return [cells[i].length_mm for i in members]


def _breadths(cells: Sequence[AirCell], members: Sequence[int]) -> list[float]:
    return [cells[i].breadth_mm for i in members]


def _fits(cells: Sequence[AirCell], members: Sequence[int]) -> bool:
    lengths, breadths = _lengths(cells, members), _breadths(cells, members)
    return max(lengths) - min(lengths) <= WITHIN_LENGTH_MM and max(breadths) - min(breadths) <= WITHIN_BREADTH_MM


def _middle(values: Sequence[float]) -> float:
    return 0.5 * (min(values) + max(values))
