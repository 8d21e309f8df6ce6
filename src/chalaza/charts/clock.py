"""The clock as a picture: hours ahead of or behind the usual course, and the hill of the hatch on a larger scale.

Above, age lived less age by the calendar: against a line of twenty days a lag of nine hours would be two pixels, so the
common part is taken off. Below, the last days larger: the chance that half are out, and first pip, half out and last out
as bars of 90 %.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from chalaza.charts import base, hill, series
from chalaza.charts.base import Drawing, Layer, Named, Panel, Say, number, plain
from chalaza.charts.labels import Label, inside, text_width
from chalaza.charts.moments import events, when, zone_of
from chalaza.charts.table import Cell, Column, Table
from chalaza.inference.grid import Floats
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Z90

HEIGHT = 262
#: From and to, the axis' names, and where the two scales join. [px]
_TOP, _MIDDLE, _NAMES, _JOIN = 16.0, 82.0, 100.0, 106.0
_POINTS = 120
#: Hours the lag axis spans at least.
_LEAST_H = 6.0


@dataclass(frozen=True, slots=True)
class Lag:
    """Hours ahead of the usual course (behind: negative) by day since setting, with the 90 % range."""

    day: Floats
    ahead_h: Floats
    low: Floats
    high: Floats

    def rows(self) -> list[dict[str, Any]]:
        """As rows of data."""
        columns = (self.day, self.ahead_h, self.low, self.high)
        names = ("day", "ahead_h", "low", "high")
        return [
            {name: number(float(v)) for name, v in zip(names, row, strict=True)} for row in zip(*columns, strict=True)
        ]


def lag(u: Understanding, hours: Floats) -> Lag:
    """Age lived less age by the calendar, at hours since setting."""
    lived, gradient = u.age.at_all(hours)
    sd = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", gradient, u.posterior.cov, gradient), 0.0))
    ahead = lived - hours
    return Lag(hours / 24.0, ahead, ahead - Z90 * sd, ahead + Z90 * sd)


def label(u: Understanding, a: Assessment, say: Say = plain, zone: str | None = None) -> str:
    """What the picture says, for who cannot see it."""
    c, where = a.clock, zone_of(a, zone)
    text = say("Hours against the usual course: {behind}. Half out {half}, 90 % between {low} and {high}.")
    return text.format(
        behind=lag_words(c.behind_h.value, say), half=when(c.half_hatched.value, where, say),
        low=when(c.half_hatched.low, where, say), high=when(c.half_hatched.high, where, say),
    )  # fmt: skip


def lag_words(behind_h: float, say: Say) -> str:
    """Hours behind (or ahead) in words."""
    hours = round(abs(behind_h))
    if hours == 0:
        return say("on time")
    return f"{hours} h {say('behind') if behind_h > 0 else say('ahead')}"


def table(u: Understanding, a: Assessment, say: Say = plain, zone: str | None = None) -> Table:
    """What is to come: day since setting, and the moment with its 90 % range."""
    where = zone_of(a, zone)
    columns = (Column(""), Column(say("day"), "", 2), Column(say("expected")), Column(say("from")), Column(say("to")))
    rows: list[tuple[Cell, ...]] = [
        (name, u.exposure.hour_of(e.value) / 24.0, *(when(v, where, say) for v in (e.value, e.low, e.high)))
        for name, e in events(a, say)
    ]
    return Table(columns, tuple(rows))


def definition(
    u: Understanding, a: Assessment, *, width: int = 420, zone: str | None = None, text: str | None = None,
    say: Say = plain,
) -> dict[str, Any]:  # fmt: skip
    """The chart, with moments in `zone` (that of the batch, if None). `text` stands for `label`."""
    out = Drawing(width, HEIGHT, label(u, a, say, zone) if text is None else text)
    below = hill.scale(out, u, a, say)
    lived, ahead = _courses(u, a)
    above = _scale(out, lived, ahead, below.x[1] / 24.0, say)
    above = base.ticked(above, _words(out, above, u, a, lived, ahead, say))
    _put(out, above, u, a, lived, ahead)
    out.panels += [_layers(above), hill.layers(out, below, u, a, zone_of(a, zone), say), _join(out, above, below)]
    return out.definition()


def _courses(u: Understanding, a: Assessment) -> tuple[Lag, Lag]:
    """As lived up to now or to half out, whichever is first, and from there to half out."""
    half = u.exposure.hour_of(a.clock.half_hatched.value)
    reached = min(u.now_h, half)
    return lag(u, np.linspace(0.0, reached, _POINTS)), lag(u, np.linspace(reached, half, 12))


def _scale(out: Drawing, lived: Lag, ahead: Lag, last_d: float, say: Say) -> Panel:
    """The upper panel, with the usual course and one or two more lines named."""
    low = min(float(lived.low.min()), float(ahead.ahead_h.min()), -_LEAST_H)
    high = max(float(lived.high.max()), float(ahead.ahead_h.max()), _LEAST_H)
    pad = 0.12 * (high - low)
    lines = series.three_lines(low - pad, high + pad, series.HALVES)
    if 0.0 not in lines:
        lines = tuple(sorted({0.0, *(lines[:2] if high < -low else lines[1:])}))
    texts = [f"{v:+.0f} h".replace("-", "−") if v else say("usual") for v in lines]
    panel = Panel(
        left=max(text_width(one) for one in texts) + 8.0, right=float(out.width), top=_TOP, bottom=_MIDDLE,
        x=(0.0, last_d), y=(low - pad, high + pad), y_lines=lines, drop=out.foot - _MIDDLE,
    )  # fmt: skip
    base.name_lines(out.board, panel, lines, texts)
    return panel


def _words(
    out: Drawing, panel: Panel, u: Understanding, a: Assessment, lived: Lag, ahead: Lag, say: Say
) -> tuple[float, ...]:
    """The post's and the lag's words, and the axis; the places on it that got a name."""
    stop = panel.px(u.exposure.hour_of(a.clock.stop_turning.value) / 24.0)
    at = (panel.px(float(lived.day[-1])), panel.py(float(lived.ahead_h[-1])))
    out.board.place(
        [
            inside(Label(x=stop - 6.0, y=_TOP - 4.0, text=word, align="right", token="soft"), out.width)
            for word in (say("turning stops"), say("stop"))
        ]
    )
    for one in (lived, ahead):
        out.board.draw([panel.px(v) for v in one.day.tolist()], [panel.py(v) for v in one.ahead_h.tolist()])
    out.board.draw([stop, stop], [_TOP, _MIDDLE])
    out.board.draw([0.0, float(out.width)], [_MIDDLE, _MIDDLE])
    out.board.draw([at[0], at[0]], [panel.py(float(v[-1])) for v in (lived.low, lived.high)])
    before_post = min(stop - at[0] - 8.0, -10.0)
    tries = [
        Label(x=at[0] + dx, y=at[1] + dy, text=lag_words(-float(lived.ahead_h[-1]), say), align=align, bold=True)
        for dx, align in ((-10.0, "right"), (12.0, "left"), (before_post, "right"), (0.0, "center"))
        for dy in (19.0, -10.0, 24.0, -15.0, 5.0)
    ]
    out.board.place([inside(one, out.width) for one in tries], cross=True)
    named = [
        Named(0.0, say("set"), True), Named(u.now_h / 24.0, say("now"), True), *base.days(panel.x[1] - 1.0, say)
    ]  # fmt: skip
    return base.name_ticks(out.board, panel, named, y=_NAMES)


def _put(out: Drawing, panel: Panel, u: Understanding, a: Assessment, lived: Lag, ahead: Lag) -> None:
    """The rows of data by name."""
    stop = a.clock.stop_turning
    first, middle, last = (number(u.exposure.hour_of(v) / 24.0) for v in (stop.low, stop.value, stop.high))
    rows = lived.rows()
    out.data |= {
        "lived": rows,
        "to_come": ahead.rows(),
        "usual": [{"from": 0.0, "to": number(panel.x[1]), "ahead_h": 0.0}],
        "stop": [{"day": middle, "low": number(panel.y[0]), "high": number(panel.y[1])}],
        "stop_range": [{"from": first, "to": last, "ahead_h": number(panel.y[1])}],
        "now": [rows[-1]] if float(lived.day[-1]) >= u.now_h / 24.0 - 1e-6 else [],
    }


def _layers(panel: Panel) -> list[Layer]:
    return [
        panel.level("usual", "from", "to", "ahead_h", width=base.THIN, token="line"),
        panel.upright("stop", "day", "low", "high", width=base.EDGE),
        panel.level("stop_range", "from", "to", "ahead_h", width=4.0),
        panel.area("lived", "day", "low", "high", opacity=base.CHANCE),
        panel.line("to_come", "day", "ahead_h", width=base.EDGE, token="line", dash=base.TO_COME),
        panel.line("lived", "day", "ahead_h", width=base.BOLD),
        *panel.now("now", "day", "ahead_h", "low", "high"),
    ]


def _join(out: Drawing, above: Panel, below: Panel) -> list[Layer]:
    """Dotted lines from the last days above to the same days, larger, below."""
    whole = Panel(
        left=0.0, right=float(out.width), top=0.0, bottom=float(out.height), x=(0.0, float(out.width)),
        y=(float(out.height), 0.0),
    )  # fmt: skip
    first, last = above.px(max(below.x[0] / 24.0, 0.0)), above.px(below.x[1] / 24.0)
    out.data["join"] = [
        {"x": number(x), "y": y, "side": side}
        for side, xs in (("first", (first, below.left)), ("last", (last, below.right)))
        for x, y in zip(xs, (_JOIN, hill.TOP - 2.0), strict=True)
    ]
    out.data["join_bar"] = [{"from": number(first), "to": number(last), "y": _JOIN}]
    layer = whole.line("join", "x", "y", width=base.THIN, token="line", dash=base.DOTS)
    layer["encoding"]["detail"] = {"field": "side", "type": "nominal"}
    return [layer, whole.level("join_bar", "from", "to", "y", width=base.EDGE, token="line")]
