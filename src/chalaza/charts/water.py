"""Water as a picture: the loss the eggs had with its range, the wanted band, the weighings, and where it is going."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from chalaza.charts import base, series, water_close
from chalaza.charts.base import Drawing, Layer, Named, Panel, Say, number, plain
from chalaza.charts.labels import Label, text_width
from chalaza.charts.losses import Curve, Session, advised, course, sessions
from chalaza.charts.table import Column, Table
from chalaza.charts.trace import Readings
from chalaza.charts.window import view
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment

HEIGHT = 240
_POINTS = 60
#: Room left of setting for half a yolk; from lockdown to the words there. [px]
_LEFT_PX, _END_PX = 8.0, 10.0


@dataclass(frozen=True, slots=True)
class _Parts:
    """All that is drawn. `ahead` is None after the target's day; `better` where no other humidity was advised."""

    lived: Curve
    ahead: Curve | None
    better: Curve | None
    seen: tuple[Session, ...]

    def top(self, wanted: float) -> float:
        """The highest loss of the drawing. [1]"""
        curves = [one for one in (self.lived, self.ahead, self.better) if one is not None]
        return max(wanted, *(float(one.high.max()) for one in curves), *(one.high for one in self.seen))


def _parts(u: Understanding, a: Assessment) -> _Parts:
    due_h = a.water.target_day_d * 24.0
    reached = min(u.now_h, due_h)
    ahead = course(u, np.linspace(reached, due_h, 12)) if reached < due_h else None
    return _Parts(course(u, np.linspace(0.0, reached, _POINTS)), ahead, advised(u, a), sessions(u))


#: From when to when a window reaches [seconds UTC]; None: all of the term.
Window = tuple[float, float] | None


def label(u: Understanding, a: Assessment, say: Say = plain, *, window: Window = None, zone: str | None = None) -> str:
    """What the picture says, for who cannot see it."""
    w, seen = a.water, view(u, window)
    if seen is not None:
        return water_close.label(u, a, seen, say, zone)
    text = say("Loss of weight against the wanted band. Now {now}; wanted at lockdown {low} to {high} %.")
    if w.reachable != "past":
        text = say(
            "Loss of weight against the wanted band. Now {now}; at lockdown {then} if nothing changes; "
            "wanted {low} to {high} %."
        )
    return text.format(
        now=_range(w.loss_now.value, w.loss_now.low, w.loss_now.high),
        then=_range(w.loss_at_lockdown.value, w.loss_at_lockdown.low, w.loss_at_lockdown.high),
        low=f"{100 * w.wanted.low:g}",
        high=f"{100 * w.wanted.high:g}",
    )


def _range(value: float, low: float, high: float) -> str:
    return f"{100 * value:.1f} % ({100 * low:.1f}–{100 * high:.1f})"


def table(u: Understanding, a: Assessment, say: Say = plain, *, window: Window = None) -> Table:
    """The weighings, now, and lockdown as it is and as advised, each with its range and what was wanted on that day.

    In a `window` its beginning and end instead of lockdown, and what the humidity was.
    """
    seen = view(u, window)
    if seen is not None:
        return water_close.table(u, a, seen, say)
    w, share = a.water, 1.0 / a.water.target_day_d
    due = w.target_day_d
    rows: list[tuple[str, float, float, float, float]] = [
        (say("weighed"), one.day, one.loss, one.low, one.high) for one in sessions(u)
    ]
    if u.now_h < due * 24.0:
        rows.append((say("now"), u.now_h / 24.0, w.loss_now.value, w.loss_now.low, w.loss_now.high))
    then = w.loss_at_lockdown
    rows.append((say("lockdown"), due, then.value, then.low, then.high))
    better = advised(u, a)
    if better is not None:
        best, low, high = (float(one[-1]) for one in (better.loss, better.low, better.high))
        rows.append((say("lockdown, as advised"), due, best, low, high))
    columns = (
        Column(""), Column(say("day")), Column(say("lost"), "1"), Column(say("at least"), "1"),
        Column(say("at most"), "1"), Column(say("wanted from"), "1"), Column(say("wanted to"), "1"),
    )  # fmt: skip
    wanted = [(w.wanted.low * row[1] * share, w.wanted.high * row[1] * share) for row in rows]
    return Table(columns, tuple((*row, *band) for row, band in zip(rows, wanted, strict=True)))


def definition(
    u: Understanding, a: Assessment, *, width: int = 420, zone: str | None = None, text: str | None = None,
    say: Say = plain, window: Window = None, readings: Readings | None = None,
) -> dict[str, Any]:  # fmt: skip
    """The chart, of all of the term or of a `window` [seconds UTC] of it. `text` stands for `label`.

    Over all of the term days count from setting. In a window of few days moments are told in `zone`, and `readings` (by
    uid of the probe) of the humidity are drawn as they were shown. Raises `EvidenceError` for a window in which there is
    nothing.
    """
    seen = view(u, window)
    if seen is not None:
        said = label(u, a, say, window=window, zone=zone) if text is None else text
        return water_close.definition(u, a, seen, readings, width=width, zone=zone, text=said, say=say)
    due, parts = a.water.target_day_d, _parts(u, a)
    out = Drawing(width, HEIGHT, label(u, a, say) if text is None else text)
    ends = _ends(a, parts, say)
    room = _END_PX + 8.0 + max(text_width(one.text, bold=one.bold) for one in ends)
    top = 1.1 * parts.top(a.water.wanted.high)
    lines = series.three_lines(top / 20.0, top)
    panel = Panel(
        left=_LEFT_PX, right=float(width), top=6.0, bottom=out.foot, y=(0.0, top), y_lines=lines,
        x=(0.0, due * (width - _LEFT_PX) / (width - _LEFT_PX - room)),
    )  # fmt: skip
    _tell(out, panel, parts)
    panel = base.ticked(panel, _names(out, panel, a, ends, None if parts.ahead is None else u.now_h / 24.0, say))
    _put(out, panel, u, a, parts)
    out.panels.append(_layers(panel, over=parts.ahead is None))
    return out.definition()


def _put(out: Drawing, panel: Panel, u: Understanding, a: Assessment, parts: _Parts) -> None:
    """The rows of data by name."""
    w, due = a.water, a.water.target_day_d
    low, high, foot = w.wanted.low, w.wanted.high, 5.0 * (panel.x[1] - panel.x[0]) / (panel.right - panel.left)
    at, last = (due, w.loss_at_lockdown) if parts.ahead is None else (u.now_h / 24.0, w.loss_now)
    out.data |= {
        "wanted": [{"day": 0.0, "low": 0.0, "high": 0.0}, {"day": due, "low": low, "high": high}],
        "post": [{"day": due, "low": low, "high": high}],
        "post_feet": [{"from": due - foot, "to": due + foot, "loss": edge} for edge in (low, high)],
        "lived": parts.lived.rows(),
        "as_it_is": [] if parts.ahead is None else parts.ahead.rows(),
        "as_advised": [] if parts.better is None else parts.better.rows(),
        "weighed": [
            {"day": number(s.day), "loss": number(s.loss), "low": number(s.low), "high": number(s.high), "eggs": s.eggs}
            for s in parts.seen
        ],
        "last": [{"day": number(at), "loss": number(last.value), "low": number(last.low), "high": number(last.high)}],
    }


def _layers(panel: Panel, *, over: bool) -> list[Layer]:
    """The marks from the ground up; `over`: the target's day is past, so nothing is now."""
    return [
        panel.area("wanted", "day", "low", "high", token="want"),
        panel.line("wanted", "day", "low", width=base.THIN, token="line"),
        panel.line("wanted", "day", "high", width=base.THIN, token="line"),
        panel.area("lived", "day", "low", "high", opacity=base.CHANCE),
        panel.area("as_it_is", "day", "low", "high", opacity=base.CHANCE),
        panel.upright("post", "day", "low", "high", width=base.EDGE),
        panel.level("post_feet", "from", "to", "loss", width=base.EDGE),
        panel.line("as_it_is", "day", "loss", width=base.EDGE, token="line", dash=base.TO_COME),
        panel.line("as_advised", "day", "loss", width=base.BOLD, dash=base.TO_COME),
        panel.line("lived", "day", "loss", width=base.BOLD),
        panel.upright("weighed", "day", "low", "high", width=base.BOLD),
        panel.points("weighed", "day", "loss", size=base.RING_PX2, fill="paper"),
        panel.upright("last", "day", "low", "high", width=base.BOLD),
        *([] if over else panel.now("last", "day", "loss")),
    ]


def _tell(out: Drawing, panel: Panel, parts: _Parts) -> None:
    """Tell the board where lines run."""
    for one in (parts.lived, parts.ahead, parts.better):
        if one is not None:
            out.board.draw([panel.px(v) for v in one.day.tolist()], [panel.py(v) for v in one.loss.tolist()])


def _ends(a: Assessment, parts: _Parts, say: Say) -> list[Label]:
    """What stands at the ends of the lines; `y` is still the loss in per cent."""
    then = 100.0 * a.water.loss_at_lockdown.value
    if parts.ahead is None:
        return [Label(x=0.0, y=then, text=f"{then:.1f} %", bold=True)]
    found = [Label(x=0.0, y=then, text=f"{then:.1f} {say('as it is')}", token="soft")]
    if parts.better is not None:
        best = 100.0 * float(parts.better.loss[-1])
        found.append(Label(x=0.0, y=best, text=f"{best:.1f} {say('advised')}", bold=True))
    return found


def _names(
    out: Drawing, panel: Panel, a: Assessment, ends: list[Label], now_d: float | None, say: Say
) -> tuple[float, ...]:
    """All words; the places on the x axis that got a name."""
    w, due, lines = a.water, a.water.target_day_d, panel.y_lines or ()
    digits = 0 if all(abs(100 * v - round(100 * v)) < 1e-9 for v in lines) else 1
    base.name_lines(out.board, panel, lines, [f"{100 * v:.{digits}f} %" for v in lines])
    x = panel.px(due) + _END_PX
    out.board.stack(
        [replace(one, x=x, y=panel.py(one.y / 100.0) + 5.0) for one in ends], low=14.0, high=panel.bottom - 6.0
    )
    tries = [
        Label(x=panel.px(share * due), y=panel.py(edge * share) + by, text=say("wanted"), align=align, token="soft")
        for near in (0.0, 8.0, 16.0)
        for share in (0.62, 0.7, 0.5, 0.8, 0.4)
        for edge, by, align in ((w.wanted.low, 20.0 + near, "left"), (w.wanted.high, -10.0 - near, "right"))
    ]
    out.board.place(tries)
    named = [Named(0.0, say("set"), True), Named(due, say("lock"))]
    named += [] if now_d is None else [Named(now_d, say("now"), True)]
    ticks = base.name_ticks(out.board, panel, [*named, *base.days(due - 0.5, say)], y=HEIGHT - 8.0)
    if now_d is not None and now_d not in ticks:
        base.name_now(out.board, panel.px(now_d), panel.py(w.loss_now.value), say)
    return ticks
