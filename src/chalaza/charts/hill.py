"""The hill of the hatch on a scale of its own: the chance that half are out, the usual hours of the kind, and first pip,
half out and last out as bars of 90 %."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import exp
from zoneinfo import ZoneInfo

import numpy as np

from chalaza.charts import base
from chalaza.charts.base import Drawing, Layer, Panel, Say, number
from chalaza.charts.labels import Label, text_width
from chalaza.charts.moments import events, weekday
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Z90

#: From and to, the names of its days, the first bar and the next. [px]
TOP, BOTTOM = 118.0, 176.0
_DAYS, _BARS, _PITCH = 193.0, 212.0, 19.0
_POINTS = 81
_KEYS = ("first_pip", "half_out", "last_out")
#: Half a yolk, and half a tick of a bar. [px] How high the usual hours reach, as a share of the hill.
_HALF_YOLK, _TICK, _USUAL = 7.0, 7.0, 0.94

#: Name, and hours since setting: 5 %, middle, 95 %.
Bar = tuple[str, float, float, float]


def _bars(u: Understanding, a: Assessment, say: Say) -> list[Bar]:
    hour = u.exposure.hour_of
    return [(name, hour(one.low), hour(one.value), hour(one.high)) for name, one in events(a, say)[1:]]


def scale(out: Drawing, u: Understanding, a: Assessment, say: Say) -> Panel:
    """The scale of the last days: so wide that every bar has its name beside it."""
    bars = _bars(u, a, say)
    left = 14.0 + max(text_width(one[0], bold=True) for one in bars)
    first, last = min(one[1] for one in bars), max(one[3] for one in bars)
    per_h = (out.width - left - 10.0) / max(last - first, 12.0)
    return Panel(
        left=0.0, right=float(out.width), top=TOP, bottom=BOTTOM, y=(0.0, 1.0),
        x=(first - left / per_h, first + (out.width - left) / per_h),
    )  # fmt: skip


def layers(out: Drawing, panel: Panel, u: Understanding, a: Assessment, where: ZoneInfo, say: Say) -> list[Layer]:
    """Usual hours, hill (filled until the last is out), now, and the three bars; their words go on the board."""
    bars = _bars(u, a, say)
    _put(out, panel, u, a, bars)
    out.board.draw(
        [panel.px(float(row["hour"])) for row in out.data["hill"]],
        [panel.py(float(row["chance"])) for row in out.data["hill"]],
    )
    for row in out.data["now_hatch"]:
        out.board.draw([panel.px(float(row["hour"]))] * 2, [panel.bottom - 7.0, panel.bottom + 7.0])
    midnights = _midnights(u, panel, where)
    _name_days(out, panel, midnights, where, u, say)
    _name_usual(out, panel, say)
    for i, (name, low, _, _) in enumerate(bars):
        y = _BARS + i * _PITCH + 5.0
        out.board.place([Label(x=panel.px(low) - 8.0, y=y, text=name, align="right", bold=i == 1)], cross=True)
    axis = replace(panel, x_ticks=tuple(midnights), drop=out.foot - BOTTOM)
    happened = u.now_h > bars[2][2]
    drawn = [
        axis.bars("usual_hatch", "from", "to", "zero", "one", token="want"),
        *([] if happened else [axis.area("hill", "hour", "zero", "chance", opacity=base.CHANCE)]),
        axis.line("hill", "hour", "chance", width=base.EDGE),
        *axis.now("now_hatch", "hour", "chance"),
    ]
    for i, key in enumerate(_KEYS):
        drawn += [
            axis.level(key, "low", "high", "at", width=8.0 if i == 1 else 4.0),
            axis.upright(key, "middle", "under", "over", width=6.5, token="paper"),
            axis.upright(key, "middle", "under", "over", width=3.0),
        ]
    return drawn


def _put(out: Drawing, panel: Panel, u: Understanding, a: Assessment, bars: list[Bar]) -> None:
    """The rows of data by name. A bar lies on the hill's own scale, at a height below its zero."""
    c, per_px = a.clock, 1.0 / (panel.bottom - panel.top)
    middle, sd = bars[1][2], (bars[1][3] - bars[1][1]) / (2.0 * Z90)
    reach = np.linspace(-3.3, 3.3, _POINTS)
    reach = reach[(middle + reach * sd > panel.x[0]) & (middle + reach * sd < panel.x[1])]
    low, high = (min(max(u.exposure.hour_of(v), panel.x[0]), panel.x[1]) for v in (c.usual.low, c.usual.high))
    out.data |= {
        "hill": [
            {"hour": number(middle + z * sd), "chance": number(exp(-0.5 * z * z)), "zero": 0.0} for z in reach.tolist()
        ],
        "usual_hatch": [{"from": number(low), "to": number(high), "zero": 0.0, "one": _USUAL}] if low < high else [],
        "now_hatch": [{"hour": number(u.now_h), "chance": 0.0}]
        if _HALF_YOLK < panel.px(u.now_h) < out.width - _HALF_YOLK
        else [],
    }
    for i, (_, first, value, last) in enumerate(bars):
        at = (panel.bottom - _BARS - i * _PITCH) * per_px
        out.data[_KEYS[i]] = [
            {"low": number(first), "middle": number(value), "high": number(last), "at": number(at),
             "under": number(at - _TICK * per_px), "over": number(at + _TICK * per_px)}
        ]  # fmt: skip


def _name_usual(out: Drawing, panel: Panel, say: Say) -> None:
    for row in out.data["usual_hatch"]:
        low, high = panel.px(float(row["from"])), panel.px(float(row["to"]))
        out.board.place(
            [
                Label(x=x, y=panel.py(_USUAL) + dy, text=say("usual"), align=align, token="soft")
                for dy in (13.0, -3.0)
                for x, align in ((low + 4.0, "left"), (high - 4.0, "right"), (high + 4.0, "left"), (low - 4.0, "right"))
            ]
        )


def _midnights(u: Understanding, panel: Panel, where: ZoneInfo) -> list[float]:
    """The local midnights in the panel, as hours since setting."""
    day = datetime.fromtimestamp(u.moment(panel.x[0]), UTC).astimezone(where).date()
    found: list[float] = []
    for i in range(1, 40):
        midnight = datetime.combine(day + timedelta(days=i), datetime.min.time(), where)
        hour = u.exposure.hour_of(midnight.timestamp())
        if hour >= panel.x[1]:
            break
        found.append(hour)
    return found


def _name_days(out: Drawing, panel: Panel, midnights: list[float], where: ZoneInfo, u: Understanding, say: Say) -> None:
    """The days between the ticks; where there is no room for all, those that do not collide."""
    edges = [panel.x[0], *midnights, panel.x[1]]
    for first, last in pairwise(edges):
        at = datetime.fromtimestamp(u.moment(0.5 * (first + last)), UTC).astimezone(where)
        word = f"{weekday(at, say)} {at.day}"
        whole = first in midnights and last in midnights
        if whole or panel.px(last) - panel.px(first) > text_width(word):
            out.board.place([Label(x=0.5 * (panel.px(first) + panel.px(last)), y=_DAYS, text=word, align="center")])
