"""Eggs under the lamp: the marks of a tray, and what to expect of a live egg at an age.

What is expected is what the table of candling tells of hens' eggs by share of the term, each row with its source; between
its rows the drawing goes straight, and the shares of dark and of vessels stand for its words ("half", "two thirds").
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from math import cos, pi, sin
from types import MappingProxyType

import numpy as np

from chalaza import facts
from chalaza.charts import pen, shell, tokens
from chalaza.charts.base import Say, plain
from chalaza.charts.drawn import AirCell
from chalaza.values.evidence import Finding

__all__ = ["BY_FINDING", "MARKS", "Expected", "expect", "expected", "mark", "words"]

#: Of the marks: width and height, the egg in it. [px]
WIDTH, HEIGHT = 44, 52
_LENGTH, _BREADTH, _X, _Y = 46.0, 36.0, 22.0, 3.0
#: The air cell of the mark "alive" reaches so deep. [1]
_CELL = 0.28

_OUTLINE = shell.path(_LENGTH, _BREADTH, x=_X, y=_Y)
_BODY = shell.path(_LENGTH, _BREADTH, x=_X, y=_Y, first=_CELL * _LENGTH, steps=18)
_STROKES = shell.hatching(_LENGTH, _BREADTH, x=_X, y=_Y, apart=8.5)
_LIT = pen.path(_OUTLINE, fill="lit")

#: Each mark by its name, in the order in which they are explained.
MARKS: Mapping[str, Callable[[], str]] = MappingProxyType(
    {
        "alive": lambda: pen.path(_OUTLINE, fill="lit", stroke=None) + pen.path(_BODY, fill="shade", stroke=None)
        + pen.path(_OUTLINE),
        "unsure": lambda: pen.path(_OUTLINE + _STROKES),
        "stopped": lambda: _LIT + f'<ellipse cx="22" cy="29" rx="10" ry="8" fill="none" stroke="{tokens.var("shade")}" '
        'stroke-width="2.5"/>',
        "clear": lambda: _LIT,
        "not_looked": lambda: pen.path(_OUTLINE, stroke="line", width=1.25, dash=(5, 4)),
        "out": lambda: pen.disc(22.0, 27.0, 2.5, fill="line"),
        "at_hand": lambda: pen.path(_OUTLINE, fill="yolk"),
    }
)  # fmt: skip
#: What was found -> its mark.
BY_FINDING: Mapping[Finding, str] = MappingProxyType(
    {Finding.LIVE: "alive", Finding.UNSURE: "unsure", Finding.DEAD: "stopped", Finding.CLEAR: "clear"}
)


def words(say: Say = plain) -> Mapping[str, str]:
    """What each mark means."""
    return {
        "alive": say("alive"), "unsure": say("unsure"), "stopped": say("stopped"), "clear": say("clear"),
        "not_looked": say("not looked at"), "out": say("taken out"), "at_hand": say("at hand"),
    }  # fmt: skip


def mark(name: str, *, width: int = WIDTH, height: int = HEIGHT, label: str | None = None) -> str:
    """One mark (a name of `MARKS`) as SVG; without a label it stands beside its word and is not read aloud."""
    heard = 'aria-hidden="true"' if label is None else f'role="img" aria-label="{escape(label)}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {WIDTH} {HEIGHT}" '
        f"{heard}>{MARKS[name]()}</svg>"
    )


# --- What to expect -------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Expected:
    """What a torch shows of a live egg at a share of the term; `seen` is a msgid. `source`: keys of sources.toml.

    `status` says how far the source was checked ("practice": no source, common practice).
    """

    share: float
    seen: str
    embryo: str
    sources: tuple[str, ...]
    status: str


def expected(share: float) -> Expected:
    """The row of the table of candling that holds at a share of the term lived (0 at setting, 1 at hatch)."""
    rows = facts.table("candling")
    row = max((one for one in rows if float(one["share"]) <= share + _ROUNDED), key=lambda one: float(one["share"]),
              default=rows[0])  # fmt: skip
    return Expected(float(row["share"]), row["seen"], row["embryo"], tuple(row["source"].split()), row["status"])


#: By share of the term: how far vessels reach of the way to the shell, how large the embryo's spot is and how much of the
#: room below the air cell the dark body fills, how far below the cell it begins, and how its border slopes; all as shares.
_VESSELS = (
    (0.095, 0.0),
    (0.143, 0.14),
    (0.19, 0.24),
    (0.238, 0.34),
    (0.333, 0.55),
    (0.381, 0.66),
    (0.476, 0.78),
    (0.571, 0.97),
)
_SPOT = ((0.095, 0.0), (0.143, 0.012), (0.19, 0.02), (0.238, 0.03), (0.333, 0.055), (0.476, 0.12), (0.571, 0.19))
_DARK = ((0.571, 0.5), (0.667, 0.667), (0.762, 0.92), (0.81, 1.0))
_BELOW = ((0.571, 0.1), (0.667, 0.06), (0.762, 0.02), (0.81, 0.0))
_SLOPE = ((0.762, 0.0), (0.81, 0.02), (0.852, 0.05))
_BODY_FROM, _RAGGED_FROM, _RAGGED_TO, _SHADOW_FROM, _BEAK_FROM, _STAR_FROM = 0.571, 0.852, 0.857, 0.905, 0.952, 1.0
_YOLK_TO = 0.143
#: Shares in the table are rounded: day 14 of 21 stands there as 0.667.
_ROUNDED = 0.0015


def _at(points: Sequence[tuple[float, float]], share: float) -> float:
    return float(np.interp(share, [x for x, _ in points], [y for _, y in points]))


def expect(
    share: float, cell: AirCell, *, width: int = 110, height: int = 130, label: str | None = None, say: Say = plain
) -> str:  # fmt: skip
    """A live egg as a torch should show it at a share of the term, its air cell to scale, blunt end up, as SVG.

    `cell`: of this egg (`charts.air_cell_of`), or of a typical one (`charts.air_cell_usual`). `label` stands for what the
    table says of this age.
    """
    said = label if label is not None else say(expected(share).seen)
    share += _ROUNDED
    k = min((height - 16.0) / cell.length_mm, (width - 16.0) / cell.breadth_mm)
    view = _Egg(k * cell.length_mm, k * cell.breadth_mm, 0.5 * width, 8.0, k * cell.depth_mm)
    body = _late(view, share) if share >= _BODY_FROM else _early(view, share)
    parts = (view.whole(fill="lit"), body, view.whole(width=2.25), _star(view) if share >= _STAR_FROM else "")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}" '
        f'role="img" aria-label="{escape(said)}">{"".join(parts)}</svg>'
    )


@dataclass(frozen=True, slots=True)
class _Egg:
    """An egg in px: its size, its axis and blunt pole, and how deep its air cell reaches."""

    length: float
    breadth: float
    x: float
    y: float
    cell: float

    def whole(self, *, fill: str | None = None, width: float = 1.5) -> str:
        d = shell.path(self.length, self.breadth, x=self.x, y=self.y, steps=40)
        return pen.path(d, fill=fill, stroke=None if fill else "ink", width=width)

    def half(self, depth: float) -> float:
        return float(shell.half(np.array([depth]), self.length, self.breadth)[0])

    def border(self, tilt: float = 0.0) -> str:
        """The edge of the air cell, from side to side."""
        left, right = self.cell - tilt, self.cell + tilt
        return (
            f"M{pen.n(self.x - self.half(left))} {pen.n(self.y + left)}"
            f"L{pen.n(self.x + self.half(right))} {pen.n(self.y + right)}"
        )


def _early(view: _Egg, share: float) -> str:
    """The shadow of the yolk, then a spider of vessels about a growing spot; the edge of the cell as a thin line."""
    out = [pen.path(view.border(), stroke="shade", width=0.75)]
    centre = view.cell + 0.26 * view.length
    if share < _YOLK_TO:
        faint = 0.12 if share < _YOLK_TO / 2.0 else 0.2
        out.append(
            f'<ellipse cx="{pen.n(view.x)}" cy="{pen.n(view.y + centre + 0.06 * view.length)}" '
            f'rx="{pen.n(0.3 * view.breadth)}" ry="{pen.n(0.2 * view.length)}" fill="{tokens.var("shade")}" '
            f'fill-opacity="{faint:g}"/>'
        )
    reach, spot = _at(_VESSELS, share), _at(_SPOT, share) * view.length
    if reach > 0.0:
        d = "".join(_vessel(view, centre, i, reach) for i in range(11))
        out.append(pen.path(d, stroke="shade", width=1.5, round_ends=True))
        out.append(pen.disc(view.x, view.y + centre, round(max(spot, 1.5), 1), fill="shade"))
    return "".join(out)


def _vessel(view: _Egg, centre: float, i: int, reach: float) -> str:
    """One vessel from the spot outward, bent, with a branch; it ends so far of the way to the shell or the air cell."""
    angle = 2.0 * pi * i / 11.0 + 0.3
    far = 0.94 * reach * _way(view, centre, angle)
    bend = 0.35 if i % 2 else -0.35

    def at(part: float, turn: float) -> str:
        x, y = sin(angle + turn) * far * part, cos(angle + turn) * far * part
        return f"{pen.n(view.x + x)} {pen.n(view.y + centre + y)}"

    main = f"M{pen.n(view.x)} {pen.n(view.y + centre)}Q{at(0.55, bend)} {at(1.0, 0.0)}"
    return main + (f"M{at(0.5, 0.5 * bend)}L{at(0.85, 1.1 * bend)}" if reach > 0.3 else "")


def _way(view: _Egg, centre: float, angle: float) -> float:
    """How far it is from the spot to the shell or the edge of the cell. [px]"""
    steps = np.linspace(0.0, view.length, 200)
    depth, across = centre + steps * cos(angle), np.abs(steps * sin(angle))
    inside = (depth > view.cell) & (depth < view.length)
    within = inside & (across < shell.half(np.clip(depth, 0.0, view.length), view.length, view.breadth))
    return float(steps[int(np.argmin(within))] if not bool(within.all()) else steps[-1])


def _late(view: _Egg, share: float) -> str:
    """The dark body up to the cell, its border sloping, then ragged; at last a shadow and a beak in the cell."""
    room = view.length - view.cell
    top = view.cell + _at(_BELOW, share) * room
    last = view.cell + _at(_DARK, share) * room
    tilt = _at(_SLOPE, share) * view.length
    out = [pen.path(_body(view, top, last, tilt), fill="shade", stroke=None)]
    if top > view.cell + 0.5:
        out.append(pen.path(view.border(), stroke="shade", width=0.75))
    if share < _FRINGE_TO:
        out.append(
            pen.path("".join(_fringe(view, last, *one) for one in _FRINGE), stroke="shade", width=1.25, round_ends=True)
        )
    if _RAGGED_FROM <= share < _RAGGED_TO:
        out.append(pen.path(_ragged(view, tilt), stroke="shade", width=4.0))
    if share >= _SHADOW_FROM:
        out.append(pen.path(_push(view, tilt, beak=share >= _BEAK_FROM), fill="shade", stroke=None))
    return "".join(out)


def _body(view: _Egg, top: float, last: float, tilt: float) -> str:
    """What is dark between two depths, rounded towards the tip where that is still light."""
    if last >= view.length - 0.1:
        return shell.path(view.length, view.breadth, x=view.x, y=view.y, first=top, tilt=tilt, steps=30)
    right, left = np.linspace(top + tilt, last, 24), np.linspace(last, top - tilt, 24)
    points = [(view.x + view.half(s), view.y + s) for s in right.tolist()]
    back = [(view.x - view.half(s), view.y + s) for s in left.tolist()]
    deep = last + 0.7 * (view.length - last)
    ahead, behind = ("L".join(f"{pen.n(x)} {pen.n(y)}" for x, y in side) for side in (points, back))
    return f"M{ahead}Q{pen.n(view.x)} {pen.n(view.y + deep)} {behind}Z"


#: Vessels that run on from the dark towards the tip: how far from the axis, and how far they reach; as shares.
_FRINGE = ((-0.86, 0.62), (-0.5, 0.5), (0.06, 0.66), (0.55, 0.48), (0.88, 0.7))
_FRINGE_TO = 0.667


def _fringe(view: _Egg, depth: float, side: float, reach: float) -> str:
    """A vessel along the shell."""
    downs = np.linspace(depth, depth + reach * (view.length - depth), 7).tolist()
    sway = [1.0 + 0.06 * sin(2.0 * i) for i in range(7)]
    points = [(view.x + side * k * view.half(s), view.y + s) for s, k in zip(downs, sway, strict=True)]
    return "M" + "L".join(f"{pen.n(x)} {pen.n(y)}" for x, y in points)


def _ragged(view: _Egg, tilt: float) -> str:
    """A toothed border."""
    n, left, right = 9, view.x - view.half(view.cell - tilt), view.x + view.half(view.cell + tilt)
    points = [
        (
            left + (right - left) * i / n,
            view.y + view.cell + tilt * (2.0 * i / n - 1.0) + (3.0 if i % 2 else -3.0) * (0 < i < n),
        )
        for i in range(n + 1)
    ]
    return "M" + "L".join(f"{pen.n(x)} {pen.n(y)}" for x, y in points)


def _push(view: _Egg, tilt: float, *, beak: bool) -> str:
    """What pushes up into the cell: a low swelling, then a beak."""
    x, y = view.x + 0.05 * view.breadth, view.y + view.cell + 0.1 * tilt
    wide, high = (0.16, 0.62) if beak else (0.22, 0.38)
    w, h = wide * view.breadth, high * view.cell
    if beak:
        return f"M{pen.n(x - w)} {pen.n(y + 4)}L{pen.n(x - 0.1 * w)} {pen.n(y - h)}L{pen.n(x + w)} {pen.n(y + 4)}Z"
    return f"M{pen.n(x - w)} {pen.n(y + 4)}Q{pen.n(x)} {pen.n(y - 2.0 * h)} {pen.n(x + w)} {pen.n(y + 4)}Z"


def _star(view: _Egg) -> str:
    """The first crack of the shell, over the edge of the cell."""
    x, y = view.x + 0.5 * view.half(view.cell), view.y + view.cell - 2.0
    rays = [(7.0 * cos(pi * i / 3.5), 7.0 * sin(pi * i / 3.5)) for i in range(7)]
    d = "".join(f"M{pen.n(x)} {pen.n(y)}l{pen.n(dx)} {pen.n(dy)}" for dx, dy in rays)
    return pen.path(d, stroke="paper", width=3.5) + pen.path(d, width=1.5)
