"""A close look at water: what was lost in a window against the wanted pace, and the humidity that was shown meanwhile."""

from dataclasses import replace
from typing import Any

import numpy as np

from chalaza.charts import base, series
from chalaza.charts.base import Drawing, Layer, Panel, Say, number
from chalaza.charts.labels import LINE_PX, Label, text_width
from chalaza.charts.losses import Curve, course, sessions
from chalaza.charts.moments import when, zone_of
from chalaza.charts.table import Cell, Column, Table
from chalaza.charts.trace import Readings, Trace, trace
from chalaza.charts.window import View, names
from chalaza.inference.grid import Floats
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment

HEIGHT = 240
#: The loss above, the humidity below, its word between; the names of the axis; from now to the words there. [px]
_TOP, _MIDDLE, _WORD, _RH_TOP, _END_PX = 8.0, 108.0, 128.0, 138.0, 10.0
_POINTS = 40
#: An hour with less of it logged is a gap. [1]
_LOGGED = 0.5


def _lived(u: Understanding, seen: View) -> Curve:
    return course(u, np.linspace(24.0 * seen.start_d, 24.0 * seen.end_d, _POINTS))


def _humidity(u: Understanding, seen: View) -> tuple[Floats, Floats]:
    """Days and the mean humidity shown in each hour of the window; what no reading covers is missing."""
    e = u.exposure
    hour = np.arange(e.hours, dtype=np.float64)
    inside = (hour + 0.5 > 24.0 * seen.start_d) & (hour + 0.5 < 24.0 * seen.end_d)
    shown = np.where(e.rh_cover < _LOGGED * e.past, np.nan, e.rh)
    return (hour[inside] + 0.5) / 24.0, shown[inside]


def label(u: Understanding, a: Assessment, seen: View, say: Say, zone: str | None) -> str:
    """What the picture says, for who cannot see it."""
    where, lived = zone_of(a, zone), _lived(u, seen)
    start, end = (when(u.moment(24.0 * day), where, say) for day in (seen.start_d, seen.end_d))
    _, rh = _humidity(u, seen)
    lost = 100.0 * float(lived.loss[-1] - lived.loss[0])
    due = a.water.target_day_d
    low, high = (
        100.0 * (_pace(seen.end_d, edge, due) - _pace(seen.start_d, edge, due))
        for edge in (a.water.wanted.low, a.water.wanted.high)
    )
    said = say("Loss of weight from {start} to {end}: {lost} %; {low} to {high} % wanted in this time.").format(
        start=start, end=end, lost=f"{lost:.1f}", low=f"{low:.1f}", high=f"{high:.1f}"
    )
    if bool(np.all(np.isnan(rh))):
        return f"{said} {say('No humidity was logged.')}"
    damp = say("Humidity shown: {low} to {high} %.").format(
        low=f"{100.0 * np.nanmin(rh):.0f}", high=f"{100.0 * np.nanmax(rh):.0f}"
    )
    return f"{said} {damp}"


def table(u: Understanding, a: Assessment, seen: View, say: Say) -> Table:
    """Beginning and end of the window and the weighings between: loss with its range, what was wanted then, humidity."""
    w, (day, rh) = a.water, _humidity(u, seen)
    lived = _lived(u, seen)

    def damp(at: float) -> float | None:
        near = np.abs(day - at) < 1.0 / 24.0
        found = rh[near][~np.isnan(rh[near])]
        return float(found.mean()) if len(found) else None

    rows: list[tuple[Cell, ...]] = []
    for i, name in ((0, say("from")), (-1, say("now") if seen.to_now else say("to"))):
        row = (float(lived.day[i]), float(lived.loss[i]), float(lived.low[i]), float(lived.high[i]))
        rows.append(
            (name, *row, *(_pace(row[0], edge, w.target_day_d) for edge in (w.wanted.low, w.wanted.high)), damp(row[0]))
        )
    between = [one for one in sessions(u) if seen.start_d <= one.day <= seen.end_d]
    for one in between:
        edges = (_pace(one.day, edge, w.target_day_d) for edge in (w.wanted.low, w.wanted.high))
        rows.append((say("weighed"), one.day, one.loss, one.low, one.high, *edges, damp(one.day)))
    columns = (
        Column(""), Column(say("day"), "", 2), Column(say("lost"), "1"), Column(say("at least"), "1"),
        Column(say("at most"), "1"), Column(say("wanted from"), "1"), Column(say("wanted to"), "1"),
        Column(say("humidity"), "1", 0),
    )  # fmt: skip
    return Table(columns, tuple(sorted(rows, key=lambda row: float(row[1] or 0.0))))


def _pace(day: float, edge: float, due_d: float) -> float:
    """What was wanted up to a day; from the target's day on as then."""
    return edge * min(day / due_d, 1.0)


def definition(
    u: Understanding, a: Assessment, seen: View, readings: Readings | None, *, width: int, zone: str | None, text: str,
    say: Say,
) -> dict[str, Any]:  # fmt: skip
    """The chart of a window."""
    out = Drawing(width, HEIGHT, text)
    lived, raw = _lived(u, seen), trace(u, readings, seen.start_d, seen.end_d, humidity=True) if seen.close else None
    above = _loss_scale(out, a, lived, seen, say)
    logged = bool(np.any(~np.isnan(_humidity(u, seen)[1])))
    word = say("humidity as shown") if logged else say("no humidity logged")
    out.board.place([Label(x=0.0, y=_WORD, text=word, token="soft")])
    below = _rh_scale(out, u, above, seen, raw, say)
    ticks = base.name_ticks(out.board, below, names(u, seen, zone_of(a, zone), say), y=HEIGHT - 8.0)
    _put(out, u, a, lived, seen, raw)
    _words(out, above, below, u, a, lived, seen, say)
    out.panels += [_loss_layers(above, seen), _rh_layers(base.ticked(below, ticks), raw)]
    return out.definition()


def _loss_scale(out: Drawing, a: Assessment, lived: Curve, seen: View, say: Say) -> Panel:
    w = a.water
    edges = [
        _pace(day, edge, w.target_day_d) for day in (seen.start_d, seen.end_d) for edge in (w.wanted.low, w.wanted.high)
    ]
    low, high = min([float(lived.low.min()), *edges]), max([float(lived.high.max()), *edges])
    pad = max(0.08 * (high - low), 0.001)
    room = _END_PX + 8.0 + max(text_width(one, bold=True) for one in ("00.0 %", say("now"), say("hatched")))
    left = text_width("00.0 %") + 8.0
    span = (seen.end_d - seen.start_d) * (out.width - left) / (out.width - left - room)
    lines = series.three_lines(low - pad, high + pad)
    panel = Panel(
        left=left, right=float(out.width), top=_TOP, bottom=_MIDDLE, x=(seen.start_d, seen.start_d + span),
        y=(low - pad, high + pad), y_lines=lines,
    )  # fmt: skip
    digits = base.decimals(lines, 100.0)
    base.name_lines(out.board, panel, lines, [f"{100 * v:.{digits}f} %" for v in lines])
    return panel


def _rh_scale(out: Drawing, u: Understanding, above: Panel, seen: View, raw: Trace | None, say: Say) -> Panel:
    _, rh = _humidity(u, seen)
    values = np.concatenate(
        (rh, raw.value if raw is not None else [], [0.3, 0.6] if bool(np.all(np.isnan(rh))) else [])
    )
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    pad = max(0.1 * (high - low), 0.01)
    lines = series.three_lines(low - pad, high + pad, series.HALVES)
    panel = Panel(
        left=above.left, right=above.right, top=_RH_TOP, bottom=out.foot - 2.0, x=above.x, y=(low - pad, high + pad)
    )
    if panel.py(lines[0]) - panel.py(lines[1]) < LINE_PX:
        lines = (lines[0], lines[2])
    digits = base.decimals(lines, 100.0)
    base.name_lines(out.board, panel, lines, [f"{100 * v:.{digits}f} %" for v in lines])
    # The compiler gives only the first panel grid lines of its axis.
    out.data["rh_lines"] = [{"from": number(panel.x[0]), "to": number(panel.x[1]), "rh": float(v)} for v in lines]
    return panel


def _put(out: Drawing, u: Understanding, a: Assessment, lived: Curve, seen: View, raw: Trace | None) -> None:
    """The rows of data by name."""
    w, (day, rh) = a.water, _humidity(u, seen)
    out.data |= {
        "wanted": [
            {"day": number(one), "low": number(_pace(one, w.wanted.low, w.target_day_d)),
             "high": number(_pace(one, w.wanted.high, w.target_day_d))}
            for one in lived.day.tolist()
        ],
        "lived": lived.rows(),
        "weighed": [
            {"day": number(s.day), "loss": number(s.loss), "low": number(s.low), "high": number(s.high), "eggs": s.eggs}
            for s in sessions(u)
            if seen.start_d <= s.day <= seen.end_d
        ],
        "last": [lived.rows()[-1]] if seen.to_now else [],
        "humidity": [{"day": number(d), "rh": number(v)} for d, v in zip(day.tolist(), rh.tolist(), strict=True)],
        "readings": raw.rows() if raw is not None else [],
    }  # fmt: skip


def _loss_layers(panel: Panel, seen: View) -> list[Layer]:
    return [
        panel.area("wanted", "day", "low", "high", token="want"),
        panel.line("wanted", "day", "low", width=base.THIN, token="line"),
        panel.line("wanted", "day", "high", width=base.THIN, token="line"),
        panel.area("lived", "day", "low", "high", opacity=base.CHANCE),
        panel.line("lived", "day", "loss", width=base.BOLD),
        panel.upright("weighed", "day", "low", "high", width=base.BOLD),
        panel.points("weighed", "day", "loss", size=base.RING_PX2, fill="paper"),
        *(panel.now("last", "day", "loss") if seen.to_now else []),
    ]


def _rh_layers(panel: Panel, raw: Trace | None) -> list[Layer]:
    one_by_one = [panel.line("readings", "day", "reading", width=base.THIN, token="line")] if raw is not None else []
    lines = panel.level("rh_lines", "from", "to", "rh", width=1.0, token="hair")
    return [lines, *one_by_one, panel.line("humidity", "day", "rh", width=base.BOLD if raw is None else base.EDGE)]


def _words(
    out: Drawing, above: Panel, below: Panel, u: Understanding, a: Assessment, lived: Curve, seen: View, say: Say
) -> None:  # fmt: skip
    """What the lines are called, and what they show at their end."""
    x = [above.px(v) for v in lived.day.tolist()]
    for values in (lived.loss, lived.low, lived.high):
        out.board.draw(x, [above.py(v) for v in values.tolist()])
    day, rh = _humidity(u, seen)
    out.board.draw([below.px(v) for v in day.tolist()], [below.py(v) for v in rh.tolist()])
    known = rh[~np.isnan(rh)]
    ends = [(above, float(lived.loss[-1]), 1)]
    ends += [(below, float(known[-1]), 0)] if len(known) else []
    for panel, value, digits in ends:
        end = Label(x=panel.px(seen.end_d) + _END_PX, y=panel.py(value), text=f"{100 * value:.{digits}f} %", bold=True)
        out.board.place([replace(end, y=end.y + dy) for dy in (5.0, -4.0, 12.0)], cross=True)
    _wanted(out, above, a, seen, say)


def _wanted(out: Drawing, panel: Panel, a: Assessment, seen: View, say: Say) -> None:
    """The word for the band, where no line runs."""
    w = a.water
    tries = []
    for share in (0.05, 0.3, 0.55, 0.7):
        day = seen.start_d + share * (seen.end_d - seen.start_d)
        for edge, dy in ((w.wanted.high, 16.0), (w.wanted.low, -6.0), (w.wanted.low, 18.0), (w.wanted.high, -8.0)):
            y = panel.py(_pace(day, edge, w.target_day_d)) + dy
            if _TOP + 10.0 < y < _MIDDLE - 3.0:
                tries.append(Label(x=panel.px(day), y=y, text=say("wanted"), token="soft"))
    out.board.place(tries)
