"""What all charts share: the look of axes and marks, a panel with its own scales, and the frame they are put in.

A drawing has a fixed size and is never scaled, so words stay 14 px. Words are placed by us (`labels.Board`), marks and
axes are Vega-Lite's.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from chalaza.charts import tokens
from chalaza.charts.labels import Board, Label, inside

Layer = dict[str, Any]
Rows = Sequence[Mapping[str, Any]]
Say = Callable[[str], str]

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"
WIDTHS = (350, 420)
#: Under the x axis: ticks and named days. [px]
FOOT_PX = 26
#: Line weights [px]: best estimate, edge of a chance, readings and edges of what is wanted.
BOLD, EDGE, THIN = 2.25, 1.5, 0.75
#: To come or known earlier; joins two scales or marks the farthest likely edge.
TO_COME, DOTS = [5, 4], [1.5, 4]
#: Areas of marks [px²]: now 13 px across, a weighing 8 px.
NOW_PX2, RING_PX2 = 133, 50
CHANCE = 0.16

CONFIG: Mapping[str, Any] = {
    "aria": False,
    "font": tokens.FACE,
    "view": {"stroke": None},
    "axis": {"labels": False, "title": None, "domain": False, "ticks": False, "grid": False},
    "axisX": {
        "domain": True, "domainColor": tokens.var("ink"), "domainWidth": EDGE,
        "ticks": True, "tickSize": 5, "tickColor": tokens.var("ink"), "tickWidth": EDGE,
    },
    "axisY": {"grid": True, "gridColor": tokens.var("hair"), "gridWidth": 1},
    "text": {"fontSize": tokens.WORD_PX},
}  # fmt: skip


def plain(text: str) -> str:
    """English as it stands: what `say` is without a catalog."""
    return text


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A part of a drawing with scales of its own: from `left` to `right` and `bottom` up to `top`. [px]

    `x`, `y`: the values at the edges. `x_ticks`, `y_lines`: where the axis has ticks and a grid line (None: no axis);
    `drop`: how far the x axis lies above the foot of the view. [px]
    """

    left: float
    right: float
    top: float
    bottom: float
    x: tuple[float, float]
    y: tuple[float, float]
    x_ticks: tuple[float, ...] | None = None
    y_lines: tuple[float, ...] | None = None
    drop: float = 0.0

    def px(self, value: float) -> float:
        """Place of a value across. [px]"""
        low, high = self.x
        return self.left + (value - low) / (high - low) * (self.right - self.left)

    def py(self, value: float) -> float:
        """Place of a value down. [px]"""
        low, high = self.y
        return self.bottom + (value - low) / (high - low) * (self.top - self.bottom)

    def _across(self, name: str) -> Layer:
        axis = (
            None if self.x_ticks is None else {"values": list(self.x_ticks), "offset": -self.drop, "orient": "bottom"}
        )
        scale = {"domain": list(self.x), "range": [self.left, self.right], "nice": False, "zero": False}
        return {"field": name, "type": "quantitative", "scale": scale, "axis": axis}

    def _down(self, name: str) -> Layer:
        axis = None if self.y_lines is None else {"values": list(self.y_lines), "orient": "left"}
        scale = {"domain": list(self.y), "range": [self.bottom, self.top], "nice": False, "zero": False}
        return {"field": name, "type": "quantitative", "scale": scale, "axis": axis}

    def line(self, data: str, x: str, y: str, *, width: float, token: str = "ink", dash: Sequence[float] = ()) -> Layer:
        """A line by `x`; missing values break it."""
        mark: Layer = {"type": "line", "color": tokens.var(token), "strokeWidth": width, "interpolate": "linear"}
        mark |= _dashed(dash)
        return _layer(data, mark, {"x": self._across(x), "y": self._down(y)})

    def area(self, data: str, x: str, low: str, high: str, *, token: str = "ink", opacity: float = 1.0) -> Layer:
        """A filled stretch from `low` to `high`; missing values break it."""
        mark: Layer = {"type": "area", "color": tokens.var(token), "fillOpacity": opacity}
        return _layer(data, mark, {"x": self._across(x), "y": self._down(low), "y2": {"field": high}})

    def bars(self, data: str, x: str, x2: str, y: str, y2: str, *, token: str, opacity: float = 1.0) -> Layer:
        """Filled boxes."""
        mark = {"type": "rect", "color": tokens.var(token), "fillOpacity": opacity}
        return _layer(data, mark, {"x": self._across(x), "x2": {"field": x2}, "y": self._down(y), "y2": {"field": y2}})

    def upright(self, data: str, x: str, low: str, high: str, *, width: float, token: str = "ink") -> Layer:
        """Upright strokes."""
        mark = {"type": "rule", "color": tokens.var(token), "strokeWidth": width}
        return _layer(data, mark, {"x": self._across(x), "y": self._down(low), "y2": {"field": high}})

    def level(
        self, data: str, low: str, high: str, y: str, *, width: float, token: str = "ink", dash: Sequence[float] = ()
    ) -> Layer:
        """Level strokes."""
        mark: Layer = {"type": "rule", "color": tokens.var(token), "strokeWidth": width} | _dashed(dash)
        return _layer(data, mark, {"x": self._across(low), "x2": {"field": high}, "y": self._down(y)})

    def points(self, data: str, x: str, y: str, *, size: float, fill: str) -> Layer:
        """Round marks with a rim of ink."""
        mark = {
            "type": "point", "shape": "circle", "size": size, "filled": True, "fill": tokens.var(fill),
            "fillOpacity": 1, "stroke": tokens.var("ink"), "strokeWidth": EDGE, "strokeOpacity": 1, "opacity": 1,
        }  # fmt: skip
        return _layer(data, mark, {"x": self._across(x), "y": self._down(y)})

    def now(self, data: str, x: str, y: str, low: str | None = None, high: str | None = None) -> list[Layer]:
        """The yolk on its range."""
        disc = self.points(data, x, y, size=NOW_PX2, fill="yolk")
        return [disc] if low is None or high is None else [self.upright(data, x, low, high, width=BOLD), disc]


def _dashed(dash: Sequence[float]) -> Layer:
    return {"strokeDash": list(dash)} | ({"strokeCap": "round"} if list(dash) == DOTS else {}) if dash else {}


def _layer(data: str, mark: Layer, encoding: Layer) -> Layer:
    return {"data": {"name": data}, "mark": mark, "encoding": encoding}


@dataclass(slots=True)
class Drawing:
    """A chart being put together: its rows by name, its panels in order, and the board of its words."""

    width: int
    height: int
    label: str
    foot_px: int = FOOT_PX
    data: dict[str, Rows] = field(default_factory=dict)
    panels: list[list[Layer]] = field(default_factory=list)
    board: Board = field(init=False)

    def __post_init__(self) -> None:
        self.board = Board(self.width, self.height)

    def definition(self) -> dict[str, Any]:
        """The Vega-Lite definition."""
        groups: list[Layer] = [{"layer": layers} for layers in self.panels if layers]
        words = _words(self.board.labels, self.data)
        return {
            "$schema": SCHEMA,
            "description": self.label,
            "background": None,
            "width": self.width,
            "height": self.height - self.foot_px,
            "padding": {"left": 0, "right": 0, "top": 0, "bottom": self.foot_px},
            "autosize": {"type": "none"},
            "config": dict(CONFIG),
            "datasets": {name: list(rows) for name, rows in self.data.items()},
            "layer": [*groups, *words],
            "resolve": {"scale": {"x": "independent", "y": "independent"}},
        }

    @property
    def foot(self) -> float:
        """Where the lowest x axis lies. [px]"""
        return float(self.height - self.foot_px)


def _words(words: Sequence[Label], data: dict[str, Rows]) -> list[Layer]:
    """Words as text marks, one layer for each look; the halo of paper under them keeps a grid line off."""
    looks: dict[tuple[str, str, bool], list[Label]] = {}
    for one in words:
        looks.setdefault((one.align, one.token, one.bold), []).append(one)
    layers: list[Layer] = []
    for i, ((align, token, bold), listed) in enumerate(looks.items()):
        name = f"words{i}"
        data[name] = [{"x": round(one.x, 2), "y": round(one.y, 2), "text": one.text} for one in listed]
        mark: Layer = {
            "type": "text", "align": align, "baseline": "alphabetic", "color": tokens.var(token),
        } | ({"fontWeight": 700} if bold else {})  # fmt: skip
        place = {"type": "quantitative", "scale": None, "axis": None}
        encoding = {"x": {"field": "x"} | place, "y": {"field": "y"} | place, "text": {"field": "text"}}
        layers.append(_layer(name, mark, encoding))
    return layers


@dataclass(frozen=True, slots=True)
class Named:
    """A named place on the x axis; of two that collide the earlier in the list stays.

    `first`: the word the first of its sort is told with ("day 7", then "14").
    """

    at: float
    text: str
    bold: bool = False
    first: str = ""


def name_ticks(board: Board, panel: Panel, named: Sequence[Named], *, y: float) -> tuple[float, ...]:
    """Write the names under the axis as far as they do not collide; the places that got one, in order."""
    kept: list[float] = []
    told: set[str] = set()
    for one in named:
        x = panel.px(one.at)
        if not panel.left - 0.5 <= x <= panel.right + 0.5:
            continue
        text = one.text if not one.first or one.first in told else f"{one.first} {one.text}"
        if board.place([inside(Label(x=x, y=y, text=text, align="center", bold=one.bold), board.width)]) is not None:
            kept.append(one.at)
            told.add(one.first)
    return tuple(sorted(kept))


def name_lines(board: Board, panel: Panel, values: Sequence[float], texts: Sequence[str]) -> None:
    """Write the values of the grid lines inside, above their line, at the left edge."""
    for value, text in zip(values, texts, strict=True):
        board.place([Label(x=0.0, y=panel.py(value) - 4.0, text=text, token="soft")], cross=True)
    for value in values:
        board.draw([0.0, board.width], [panel.py(value)] * 2, faint=True)


def name_now(board: Board, x: float, y: float, say: Say) -> None:
    """Write "now" beside its yolk, where the axis has no room for it."""
    tries = [
        Label(x=x + dx, y=y + dy, text=say("now"), align=align, bold=True)
        for dx, dy, align in (
            (-12.0, -6.0, "right"),
            (0.0, -13.0, "center"),
            (12.0, 5.0, "left"),
            (0.0, 22.0, "center"),
        )
    ]
    board.place([inside(one, board.width) for one in tries], cross=True)


def decimals(values: Sequence[float], times: float = 1.0) -> int:
    """The fewest decimals, three at most, with which these values (`times` so much) are told as they are."""
    return next((n for n in range(3) if all(abs(v * times - round(v * times, n)) < 1e-7 for v in values)), 3)


def days(last: float, say: Say) -> list[Named]:
    """The days of the term that are named: every seventh."""
    return [Named(7.0 * i, f"{7 * i}", first=say("day")) for i in range(1, int(last // 7.0) + 1)]


def ticked(panel: Panel, ticks: Sequence[float]) -> Panel:
    """The panel with ticks at these places."""
    return replace(panel, x_ticks=tuple(ticks))


def number(value: float) -> float | None:
    """A number for a row of data: what is missing stays missing, and nobody needs a tenth digit."""
    return None if not np.isfinite(value) else float(f"{value:.7g}")
