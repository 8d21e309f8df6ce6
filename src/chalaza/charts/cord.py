"""The cord: two strands that cross once for each day of turning and lie straight once turning stops."""

from dataclasses import dataclass
from itertools import pairwise
from math import floor

from chalaza.charts.pen import n

#: How far a strand swings. [px]
SWING = 7.0
#: A rest of a day shorter than this is no loop of its own. [d]
_REST_D = 0.1


@dataclass(frozen=True, slots=True)
class Cord:
    """A cord at height `y` from `left`: `day_px` a day, turned for `days`, straight from there to `right`. [px]"""

    left: float
    y: float
    day_px: float
    days: float
    right: float
    swing: float = SWING

    @property
    def crossings(self) -> int:
        """How often the strands cross."""
        return floor(max(self.days, 0.0) + _REST_D)

    @property
    def stop(self) -> float:
        """Where turning stops. [px]"""
        return self.left + max(self.days, 0.0) * self.day_px

    def strands(self, first: float, last: float) -> tuple[str, str]:
        """Both strands between two places, as paths. [px]"""
        return self._strand(first, last, 1.0), self._strand(first, last, -1.0)

    def straight(self, first: float, last: float) -> str:
        """What lies straight between two places, as a path; empty if none does. [px]"""
        first, last = max(first, self.stop), min(last, self.right)
        return f"M{n(first)} {n(self.y)}H{n(last)}" if last > first + 0.05 else ""

    def _loops(self) -> list[tuple[float, float]]:
        """From where to where each loop reaches, in days: a whole day each, the last what is left of one."""
        edges = [float(i) for i in range(self.crossings + 1)]
        rest = self.days - edges[-1]
        if rest > _REST_D:
            return [*pairwise(edges), (edges[-1], self.days)]
        if len(edges) > 1:
            edges[-1] = self.days
        return list(pairwise(edges))

    def _strand(self, first: float, last: float, side: float) -> str:
        parts: list[str] = []
        for i, (a, b) in enumerate(self._loops()):
            left, right = self.left + a * self.day_px, self.left + b * self.day_px
            high = 2.0 * self.swing * min(b - a, 1.0) * (side if i % 2 == 0 else -side)
            from_, to = (min(max((x - left) / (right - left), 0.0), 1.0) for x in (first, last))
            if to - from_ < 1e-3:
                continue
            parts.append(_piece(left, right, self.y, high, from_, to, move=not parts))
        return "".join(parts)


def _piece(left: float, right: float, y: float, high: float, first: float, last: float, *, move: bool) -> str:
    """The stretch from `first` to `last` (shares) of an arc with its control point `high` above its middle."""
    span = right - left

    def at(t: float) -> tuple[float, float]:
        return left + t * span, y - 2.0 * t * (1.0 - t) * high

    (x0, y0), (x1, y1) = at(first), at(last)
    # Control point of the part of a parabola: where its end tangents meet.
    middle, level = 0.5 * (x0 + x1), y - high * (first + last - 2.0 * first * last)
    start = f"M{n(x0)} {n(y0)}" if move else ""
    return f"{start}Q{n(middle)} {n(level)} {n(x1)} {n(y1)}"
