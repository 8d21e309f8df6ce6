"""The last days of a term on a scale of their own: the hills, young seen out, and first pip, half out and last out as bars."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import ceil
from zoneinfo import ZoneInfo

from chalaza.charts import forecast, pen
from chalaza.charts.base import CHANCE, TO_COME, Say
from chalaza.charts.forecast import Hill, Told
from chalaza.charts.happenings import Seen
from chalaza.charts.labels import Board, Label, text_width
from chalaza.charts.moments import events, weekday
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Estimate

#: Fewer days than this are not shown.
LEAST_D = 4
#: From the top of the panel: its word, the foot of the hills, the names of the days, the first bar, the next, its end. [px]
_WORD, _FOOT, _DAYS, _BARS, _PITCH, HEIGHT = 18.0, 94.0, 112.0, 134.0, 22.0, 190.0
#: The steepest hill, and the narrowest a hill is drawn (standard deviation). [px]
_HIGH, _NARROW = 68.0, 5.0
#: A young: its dot, from dot to dot, and how many may stand on one another.
_DOT, _STEP, _MOST = 2.5, 6.0, 11
_QUARTER_PX = 10.0


@dataclass(frozen=True, slots=True)
class Span:
    """From one local midnight to another [seconds UTC], with those between; over `width` px from `top` on."""

    midnights: tuple[float, ...]
    width: float
    top: float

    @property
    def start(self) -> float:
        """Its first moment."""
        return self.midnights[0]

    @property
    def end(self) -> float:
        """Its last moment."""
        return self.midnights[-1]

    @property
    def days(self) -> int:
        """How many days it shows."""
        return len(self.midnights) - 1

    def px(self, moment: float) -> float:
        """Place of a moment. [px]"""
        return (moment - self.start) / (self.end - self.start) * self.width


def span(a: Assessment, where: ZoneInfo, width: float, top: float) -> Span:
    """The days from the first pip to the last out that must be reckoned with, at least four."""
    low = min(e.low for _, e in events(a, str)[1:])
    high = max(e.high for _, e in events(a, str)[1:])
    first = datetime.fromtimestamp(low, UTC).astimezone(where).date()
    last = datetime.fromtimestamp(high, UTC).astimezone(where).date() + timedelta(days=1)
    first = min(first, last - timedelta(days=LEAST_D))
    days = [first + timedelta(days=i) for i in range((last - first).days + 1)]
    return Span(tuple(datetime.combine(day, datetime.min.time(), where).timestamp() for day in days), width, top)


def hills(view: Span, told: Told) -> tuple[Hill, ...]:
    """The hills of `told.listed()` in this panel."""
    return forecast.hills(
        [one.half for one in told.listed()], t0=view.start, x0=0.0, foot=view.top + _FOOT, high=_HIGH, narrow=_NARROW,
        px_per_s=view.width / (view.end - view.start),
    )  # fmt: skip


def panel(board: Board, view: Span, a: Assessment, told: Told, seen: Sequence[Seen], where: ZoneInfo, say: Say, *,
          over: bool) -> list[str]:  # fmt: skip
    """The marks, from the ground up; their words go on the board. `over`: the last is out."""
    foot = view.top + _FOOT
    out = [
        pen.path(f"M.6 {pen.n(view.top + 8)}V{pen.n(view.top)}H{pen.n(view.width - 0.6)}v8", stroke="line", width=1.25)
    ]
    out += _hills(board, view, told, over=over)
    out += _axis(board, view, a, where, say)
    out += _young(view, seen)
    if view.start < a.as_of < view.end and not over:
        x = view.px(a.as_of)
        board.draw([x, x], [foot - _HIGH, foot + 8.0])
        out += [pen.path(f"M{pen.n(x)} {pen.n(foot - _HIGH)}V{pen.n(foot)}"), pen.yolk(x, foot, 6.5)]
    for i, (name, one) in enumerate(events(a, say)[1:]):
        out.append(_bar(board, view, i, name, one))
    head = say("the last {days} days, larger").format(days=view.days)
    board.place(
        [
            Label(x=x, y=view.top + dy, text=head, token="soft", align=align)
            for dy in (_WORD, _WORD + 14.0)
            for x, align in ((8.0, "left"), (view.width - 8.0, "right"))
        ],
        cross=True,
    )
    return out


def _hills(board: Board, view: Span, told: Told, *, over: bool) -> list[str]:
    out: list[str] = []
    for one, hill in zip(told.listed(), hills(view, told), strict=True):
        hill.tell(board, 0.0, view.width)
        edge = hill.d(0.0, view.width)
        if not edge:
            continue
        if one is told.now:
            ground = hill.d(0.0, view.width, closed=True)
            out += [pen.path(ground, stroke=None, fill="ink", opacity=1.0 if over else CHANCE), pen.path(edge)]
        elif one is told.first:
            out.append(pen.path(edge, stroke="line", width=1.25, dash=TO_COME))
        else:
            out.append(pen.path(edge, stroke="line", width=1.25))
    return out


def _axis(board: Board, view: Span, a: Assessment, where: ZoneInfo, say: Say) -> list[str]:
    """The line of days with a tick at each midnight, smaller ones between, and the names of the days."""
    foot = view.top + _FOOT
    fine, coarse = [], []
    for first, last in pairwise(view.midnights):
        left, right = view.px(first), view.px(last)
        coarse.append(f"M{pen.n(left)} {pen.n(foot)}v7")
        if (right - left) / 4.0 >= _QUARTER_PX:
            fine += [f"M{pen.n(left + i * (right - left) / 4.0)} {pen.n(foot)}v4" for i in (1, 2, 3)]
        at = datetime.fromtimestamp(0.5 * (first + last), UTC).astimezone(where)
        word = Label(x=0.5 * (left + right), y=view.top + _DAYS, text=f"{weekday(at, say)} {at.day}", align="center")
        board.place([word])
    coarse[0] = coarse[0].replace("M0 ", "M.6 ")
    coarse.append(f"M{pen.n(view.width - 0.6)} {pen.n(foot)}v7")
    return [
        *([pen.path("".join(fine), stroke="line", width=1.25)] if fine else []),
        pen.path(f"M0 {pen.n(foot)}H{pen.n(view.width)}{''.join(coarse)}"),
    ]


def _young(view: Span, seen: Sequence[Seen]) -> list[str]:
    """Young seen out, a dot each (many: a dot for several), piled up where they were seen."""
    most = max((one.out for one in seen), default=0)
    each = max(ceil(most / _MOST), 1)
    out: list[str] = []
    for one in seen:
        x = view.px(one.at)
        if not 0.0 <= x <= view.width:
            continue
        for i in range(ceil(one.out / each)):
            out.append(pen.disc(x, view.top + _FOOT - 4.5 - _STEP * i, _DOT + 0.5, fill="ink", rim="paper", width=1.0))
    return out


def _bar(board: Board, view: Span, i: int, name: str, one: Estimate) -> str:
    """One bar of 90 %, its name before it, or behind it where there is no room."""
    y = view.top + _BARS + i * _PITCH
    low, value, high = (view.px(v) for v in (one.low, one.value, one.high))
    room = text_width(name, bold=i == 1)
    tries = [Label(x=low - 8.0, y=y + 5.0, text=name, align="right", bold=i == 1)]
    tries.append(Label(x=high + 8.0, y=y + 5.0, text=name, bold=i == 1))
    tries += [Label(x=max(low - room - 8.0, 0.0), y=y + 5.0, text=name, bold=i == 1)]
    board.place(tries, cross=True)
    return pen.bar(low, value, high, y, thick=(4.0, 8.0, 4.0)[i], tick=8.0)
