"""Several batches on one calendar: a small cord and hill for each, one drawing a batch, all on the same scale.

The weeks are named on the first drawing only, so they lie under one another in the order given.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from chalaza.charts import draw, moments, pen
from chalaza.charts.base import BOLD, Say, plain
from chalaza.charts.cord import Cord
from chalaza.charts.forecast import DAY_S, Forecasted, Told, hill_marks, strip_hills
from chalaza.charts.happenings import happened
from chalaza.charts.labels import Board, Label, inside
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Estimate

#: Of the drawing and of the weeks above the first. [px]
HEIGHT, HEAD = 66, 20
#: From the top without weeks: the cord, the foot of the hill, the steepest hill, the yolk, a tick of a week. [px]
_CORD, _FOOT, _HIGH, _YOLK, _TICK = 44.0, 33.0, 29.0, 6.5, 5.0
_SWING = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """What the calendar needs of a batch. Moments in seconds UTC; `over`: the last young is out.

    `stops`: when turning stopped or is to stop. `first`: the forecast at setting, if it is to be seen.
    """

    name: str
    set_at: int
    stops: float
    half: Estimate
    last_out: Estimate
    over: bool
    first: Forecasted | None = None


def strip(a: Assessment, *, stopped: int | None = None, first: Forecasted | None = None) -> Strip:
    """The strip of an assessment. `stopped`: when turning was ended, if that was noted [seconds UTC]."""
    c = a.clock
    return Strip(
        name=a.name, set_at=a.set_at, stops=c.stop_turning.value if stopped is None else float(stopped),
        half=c.half_hatched, last_out=c.last_hatch, over=happened(a), first=first,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Weeks:
    """Mondays at local midnight [seconds UTC], the whole span from the first to the last, and its width. [px]"""

    mondays: tuple[float, ...]
    days: tuple[date, ...]
    width: float

    @property
    def day_px(self) -> float:
        return self.width / ((self.mondays[-1] - self.mondays[0]) / DAY_S)

    def px(self, moment: float) -> float:
        return (moment - self.mondays[0]) / DAY_S * self.day_px


def calendar(
    strips: Sequence[Strip], now: int, width: int = 920, *, zone: str = "UTC", say: Say = plain
) -> tuple[str, ...]:  # fmt: skip
    """A drawing for each batch in the order given, `width` px wide, as SVG. `now`: seconds UTC. `zone`: of the weeks."""
    if not strips:
        return ()
    where = ZoneInfo(zone)
    weeks = _weeks(strips, now, where, float(width))
    return tuple(_one(one, weeks, now, where, say, head=i == 0) for i, one in enumerate(strips))


def _weeks(strips: Sequence[Strip], now: int, where: ZoneInfo, width: float) -> _Weeks:
    """From the Monday on or before the first setting to the one after the last hill."""
    first = min([now, *(one.set_at for one in strips)])
    last = max(
        [
            float(now),
            *(one.half.value + 1.5 * one.half.half_width for one in strips),
            *(one.last_out.value for one in strips),
        ]
    )
    start = datetime.fromtimestamp(first, UTC).astimezone(where).date()
    end = datetime.fromtimestamp(last, UTC).astimezone(where).date()
    start -= timedelta(days=start.weekday())
    days = [start + timedelta(days=7 * i) for i in range((end - start).days // 7 + 2)]
    mondays = tuple(datetime.combine(day, datetime.min.time(), where).timestamp() for day in days)
    return _Weeks(mondays, tuple(days), width)


def label(one: Strip, now: int, where: ZoneInfo, say: Say = plain) -> str:
    """What one drawing says, for who cannot see it."""
    holes = {
        "name": one.name, "set": moments.when(one.set_at, where, say), "stop": moments.when(one.stops, where, say),
        "low": moments.when(one.half.low, where, say), "high": moments.when(one.half.high, where, say),
        "half": moments.when(one.half.value, where, say),
    }  # fmt: skip
    if one.over:
        return say("{name}: set {set}, hatched; half were out {half}.").format(**holes)
    if one.stops <= now:
        return say("{name}: set {set}, turned until {stop}; half out between {low} and {high}.").format(**holes)
    return say("{name}: set {set}, turning until {stop}; half out between {low} and {high}.").format(**holes)


def _one(one: Strip, weeks: _Weeks, now: int, where: ZoneInfo, say: Say, *, head: bool) -> str:
    top = float(HEAD if head else 0)
    height = HEIGHT + top
    cord = _cord_of(one, weeks, top)
    at = weeks.px(now)
    out = [draw.root(weeks.width, height, label(one, now, where, say))]
    out += _ticks(weeks, top, height)
    out.append(pen.path(f"M{pen.n(at)} {pen.n(top)}V{pen.n(height)}"))
    out += _cord(cord, at, over=one.over)
    shown = Told(one.first, None, Forecasted(now, one.half))
    hills = strip_hills(shown, t0=weeks.mondays[0], x0=0.0, day_px=weeks.day_px, foot=top + _FOOT, high=_HIGH)
    out += hill_marks(hills, 0.0, weeks.width, over=one.over)
    if not one.over:
        out.append(pen.yolk(min(max(at, _YOLK), weeks.width - _YOLK), cord.y, _YOLK))
    out.append(_names(weeks, say) if head else "")
    return "".join([*out, "</svg>"])


def _cord_of(one: Strip, weeks: _Weeks, top: float) -> Cord:
    end = one.last_out.value if one.over else one.last_out.high
    days = (one.stops - one.set_at) / DAY_S
    return Cord(weeks.px(one.set_at), top + _CORD, weeks.day_px, days, min(weeks.px(end), weeks.width), _SWING)


def _cord(c: Cord, at: float, *, over: bool) -> list[str]:
    """Ink up to now, pale from there; a post at the last out once it is over."""
    at = c.right if over else min(max(at, c.left), c.right)
    out = [pen.path(d, stroke="line", width=1.25) for d in (*c.strands(at, c.right), c.straight(at, c.right)) if d]
    out += [pen.path(d) for d in c.strands(c.left, at) if d]
    out += [pen.path(d, width=BOLD) for d in (c.straight(c.left, at),) if d]
    if over:
        out.append(pen.path(f"M{pen.n(c.right)} {pen.n(c.y - 8)}v16", width=BOLD))
    return out


def _ticks(weeks: _Weeks, top: float, height: float) -> list[str]:
    xs = [min(max(weeks.px(moment), 0.6), weeks.width - 0.6) for moment in weeks.mondays]
    d = "".join(f"M{pen.n(x)} {pen.n(top)}v{_TICK:g}M{pen.n(x)} {pen.n(height)}v-{_TICK:g}" for x in xs)
    return [pen.path(d, stroke="line", width=1.25)]


def _names(weeks: _Weeks, say: Say) -> str:
    """The Mondays, each with its month where it is another than that of the name before."""
    board, month = Board(weeks.width, HEAD), 0
    for moment, day in zip(weeks.mondays[:-1], weeks.days[:-1], strict=True):
        word = str(day.day) if day.month == month else moments.day_and_month(day, say)
        at = Label(x=weeks.px(moment), y=13.0, text=word, token="soft")
        if board.place([inside(at, weeks.width)]) is not None:
            month = day.month
    return pen.words(board.labels)
