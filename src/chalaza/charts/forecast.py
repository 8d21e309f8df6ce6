"""Hills: the chance that half of the young are out, of several forecasts over one scale, all of the same area.

So a surer forecast is a steeper hill. A hill steeper than a stroke can show is drawn as narrow as a stroke can be, which
is the one place where a drawing is wider than the figure.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp

import numpy as np

from chalaza.charts import pen
from chalaza.charts.base import CHANCE, TO_COME
from chalaza.charts.labels import Board
from chalaza.charts.pen import n
from chalaza.values.estimate import Z90, Estimate

DAY_S = 86_400
#: A hill is drawn to so many standard deviations (0.2 % of the chance lies beyond), in so many pieces.
REACH, _PIECES = 3.1, 12
#: Forecasts closer in time than this tell the same. [s]
_APART_S = DAY_S
#: Shares of the half-width by which two hills must differ in width or place to be told apart.
_WIDTH, _PLACE = 0.08, 0.12
#: The narrowest hill of a strip (standard deviation). [px]
_NARROW = 2.5


@dataclass(frozen=True, slots=True)
class Forecasted:
    """A forecast of half out as it was told at a moment [seconds UTC] and kept for good."""

    at: int
    half: Estimate


@dataclass(frozen=True, slots=True)
class Told:
    """What is drawn: the forecast at setting, one since, and the latest; None where there is none worth a hill."""

    first: Forecasted | None
    since: Forecasted | None
    now: Forecasted

    def listed(self) -> tuple[Forecasted, ...]:
        """Those there are, in order of time."""
        return tuple(one for one in (self.first, self.since, self.now) if one is not None)


def told(half: Estimate, as_of: int, earlier: Sequence[Forecasted]) -> Told:
    """Choose three: the first, the one nearest half-way between it and now that says anything else, and the latest."""
    before = sorted((one for one in earlier if one.at <= as_of - _APART_S), key=lambda one: one.at)
    first = before[0] if before else None
    if first is None:
        return Told(None, None, Forecasted(as_of, half))
    middle = 0.5 * (first.at + as_of)
    between = [
        one for one in before if one.at >= first.at + _APART_S and _news(one.half, first.half) and _news(one.half, half)
    ]
    since = min(between, key=lambda one: (abs(one.at - middle), one.at), default=None)
    return Told(first, since, Forecasted(as_of, half))


def _news(one: Estimate, other: Estimate) -> bool:
    """Whether two hills can be told apart: another width, or another place."""
    wider = max(one.half_width, other.half_width)
    return abs(one.half_width - other.half_width) > _WIDTH * wider or abs(one.value - other.value) > _PLACE * wider


@dataclass(frozen=True, slots=True)
class Hill:
    """A hill in px: the place of its top, one standard deviation, the level of its foot and how high it stands."""

    middle: float
    sd: float
    foot: float
    height: float

    def at(self, x: float) -> float:
        """Level of its edge at a place. [px]"""
        z = (x - self.middle) / self.sd
        return self.foot - self.height * exp(-0.5 * z * z)

    def d(self, left: float, right: float, *, closed: bool = False) -> str:
        """Its edge between two places as a path, empty where none of it lies there; `closed` along the foot."""
        first, last = max(left, self.middle - REACH * self.sd), min(right, self.middle + REACH * self.sd)
        if last <= first:
            return ""
        xs = np.linspace(first, last, _PIECES + 1).tolist()
        parts = [f"M{n(xs[0])} {n(self.at(xs[0]))}"]
        third = (xs[1] - xs[0]) / 3.0
        for a, b in pairwise(xs):
            up, down = self.at(a) + third * self._slope(a), self.at(b) - third * self._slope(b)
            parts.append(f"C{n(a + third)} {n(up)} {n(b - third)} {n(down)} {n(b)} {n(self.at(b))}")
        return "".join(parts) + (f"V{n(self.foot)}H{n(first)}Z" if closed else "")

    def _slope(self, x: float) -> float:
        return (self.foot - self.at(x)) * (x - self.middle) / self.sd**2

    def tell(self, board: Board, left: float, right: float) -> None:
        """Tell the board where the edge runs."""
        first, last = max(left, self.middle - REACH * self.sd), min(right, self.middle + REACH * self.sd)
        if last > first:
            xs = np.linspace(first, last, 4 * _PIECES)
            board.draw(xs, [self.at(x) for x in xs.tolist()])


def hills(estimates: Sequence[Estimate], *, t0: float, x0: float, px_per_s: float, foot: float, high: float,
          narrow: float) -> tuple[Hill, ...]:  # fmt: skip
    """Hills of one area: the steepest is `high` [px] high, none narrower than a standard deviation of `narrow`. [px]

    `t0` [seconds UTC] lies at `x0`. [px]
    """
    widths = [max(one.half_width / Z90 * px_per_s, narrow) for one in estimates]
    least = min(widths)
    return tuple(
        Hill(x0 + (one.value - t0) * px_per_s, sd, foot, high * least / sd)
        for one, sd in zip(estimates, widths, strict=True)
    )


def strip_hills(shown: Told, *, t0: float, x0: float, day_px: float, foot: float, high: float) -> tuple[Hill, ...]:
    """The hills of a strip: the first forecast (if there is one) and the latest."""
    drawn = [one.half for one in (shown.first, shown.now) if one is not None]
    return hills(drawn, t0=t0, x0=x0, px_per_s=day_px / DAY_S, foot=foot, high=high, narrow=_NARROW)


def hill_marks(hills: Sequence[Hill], left: float, right: float, *, over: bool) -> list[str]:
    """The last hill filled (solid once it has happened), one before it dashed."""
    out = [pen.path(one.d(left, right), stroke="line", width=1.25, dash=TO_COME) for one in hills[:-1]]
    ground = hills[-1].d(left, right, closed=True)
    return [
        *out,
        pen.path(ground, fill="ink", opacity=1.0 if over else CHANCE, stroke=None),
        pen.path(hills[-1].d(left, right)),
    ]
