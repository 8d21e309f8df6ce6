"""The term of a batch as one strip, the cord and the hill, and its last days larger beneath.

One crossing of the cord is one day of turning; ink is past, pale is to come; the yolk is now. The hill is the chance that
half are out: every forecast has the same area, so a surer one is steeper.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import floor
from zoneinfo import ZoneInfo

from chalaza.charts import draw, last_days, pen, tokens
from chalaza.charts.base import BOLD, DOTS, Say, plain
from chalaza.charts.cord import SWING, Cord
from chalaza.charts.forecast import Forecasted, Told, hill_marks, strip_hills, told
from chalaza.charts.happenings import Happening, Parts, happened, happenings, parts, turning_stopped, young
from chalaza.charts.labels import Board, Label, inside
from chalaza.charts.moments import dated, events, when, zone_of
from chalaza.charts.table import Cell, Column, Table
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Estimate

__all__ = ["DAY_S", "WIDTHS", "Forecasted", "Parts", "Term", "parts", "term"]

DAY_S = 86_400
#: Of a phone, of a desk. Any width from 300 px on will do.
WIDTHS = (350, 960)
#: Levels: the word "now", the end of its line, the cord, the foot of the hill, words beneath, the last days. [px]
_NOW, _NOW_TOP, _CORD, _FOOT, _ROWS, _PANEL = 15.0, 21.0, 112.0, 98.0, (140.0, 158.0, 175.0), 194.0
HEIGHT = _PANEL + last_days.HEIGHT
#: Room left of setting and right of the end; the steepest hill; the yolk. [px]
_LEFT, _RIGHT, _HIGH, _YOLK = 14.0, 2.0, 66.0, 9.0
#: A mark on a stalk: so far from another it stands as high, else so much higher. [px]
_BESIDE, _HIGHER = 12.0, 17.0


@dataclass(frozen=True, slots=True)
class Term:
    """The drawing: the label that says the finding, the sentences that explain its marks, and the same as a table."""

    label: str
    caption: tuple[str, ...]
    table: Table
    _svg: str

    def svg(self, *, standalone: bool = False) -> str:
        """As SVG: for a page of ours, or (`standalone`) for anywhere."""
        return tokens.alone(self._svg) if standalone else self._svg


@dataclass(slots=True)
class _View:
    """What every part of the strip needs."""

    a: Assessment
    where: ZoneInfo
    say: Say
    board: Board
    cord: Cord
    stopped: int | None
    over: bool

    def px(self, moment: float) -> float:
        return self.cord.left + (moment - self.a.set_at) / DAY_S * self.cord.day_px


def term(
    a: Assessment, rows: Parts = Parts(), earlier: Sequence[Forecasted] = (), *, width: int = 960,  # noqa: B008
    zone: str | None = None, say: Say = plain, text: str | None = None,
) -> Term:  # fmt: skip
    """The strip of a batch, `width` px wide, with moments in `zone` (that of the batch, if None).

    `rows`: what was seen and done (`parts(evidence)`). `earlier`: forecasts told before now, in any order; the first and
    one since are drawn. `text` stands for the label.
    """
    where, shown = zone_of(a, zone), told(a.clock.half_hatched, a.as_of, earlier)
    view = last_days.span(a, where, float(width), _PANEL)
    v = _view(a, rows, shown, view, width, where, say)
    marks, seen = happenings(a, rows, say), young(a, rows.hatches)
    label = _label(v, shown) if text is None else text
    out = [draw.root(width, HEIGHT, label), *_join(v, view), *_cord(v), *_hill(v, shown)]
    out += _names(v, view, marks)
    out += last_days.panel(v.board, view, a, shown, seen, where, say, over=v.over)
    out += [pen.words(v.board.labels), "</svg>"]
    return Term(label, _caption(v, shown, marks, bool(seen)), _table(v, shown, marks, rows), "".join(out))


def _view(
    a: Assessment, rows: Parts, shown: Told, view: last_days.Span, width: int, where: ZoneInfo, say: Say
) -> _View:
    over = happened(a)
    ends = [view.end, *(one.half.value + 1.4 * one.half.half_width for one in shown.listed())]
    day_px = (width - _LEFT - _RIGHT) / ((max(ends) - a.set_at) / DAY_S)
    stopped = turning_stopped(a, rows.events)
    turned = (stopped if stopped is not None else a.clock.stop_turning.value) - a.set_at
    end = _LEFT + (a.clock.last_hatch.value - a.set_at) / DAY_S * day_px if over else width - _RIGHT
    cord = Cord(_LEFT, _CORD, day_px, turned / DAY_S, max(end, _LEFT))
    return _View(a, where, say, Board(width, HEIGHT), cord, stopped, over)


def _cord(v: _View) -> list[str]:
    """The cord: ink up to now, pale from there; posts where turning stops and, once it is over, at the last out."""
    c = v.cord
    at = c.right if v.over else min(max(v.px(v.a.as_of), c.left), c.right)
    out = [pen.path(d, stroke="line", width=1.25) for d in (*c.strands(at, c.right), c.straight(at, c.right)) if d]
    out += [pen.path(d) for d in c.strands(c.left, at) if d]
    out += [pen.path(d, width=BOLD) for d in (c.straight(c.left, at),) if d]
    posts = f"M{pen.n(c.left)} {pen.n(_CORD - 10)}v20"
    out.append(pen.path(posts, width=BOLD))
    if c.stop > c.left:
        out.append(pen.path(f"M{pen.n(c.stop)} {pen.n(_CORD - 11)}v22"))
    if v.over:
        out.append(pen.path(f"M{pen.n(c.right)} {pen.n(_CORD - 9)}v18", width=BOLD))
    for y in (_CORD - SWING, _CORD + SWING):
        v.board.draw([c.left, c.right], [y, y])
    return out


def _hill(v: _View, shown: Told) -> list[str]:
    left, right = v.cord.left, v.board.width - _RIGHT
    found = strip_hills(shown, t0=v.a.set_at, x0=v.cord.left, day_px=v.cord.day_px, foot=_FOOT, high=_HIGH)
    for one in found:
        one.tell(v.board, left, right)
    return hill_marks(found, left, right, over=v.over)


def _join(v: _View, view: last_days.Span) -> list[str]:
    """The stretch that is shown larger: a bracket under the cord, joined to the one over the last days."""
    left, right, y = max(v.px(view.start), v.cord.left), v.px(view.end), _CORD + 14.0
    middle = 0.5 * (left + right)
    v.board.draw([left, right], [y + 8.0, y + 8.0])
    v.board.draw([middle, middle], [y + 8.0, _PANEL])
    return [
        pen.path(f"M{pen.n(left)} {pen.n(y)}v8H{pen.n(right)}v-8", stroke="line", width=1.25),
        pen.path(f"M{pen.n(middle)} {pen.n(y + 12)}V{pen.n(_PANEL)}", stroke="line", width=1.25, dash=DOTS, round_ends=True),
    ]  # fmt: skip


def _names(v: _View, view: last_days.Span, marks: Sequence[Happening]) -> list[str]:
    """Now, the posts, the days, and all that was done, in the order in which their names matter."""
    out = [] if v.over else [_now(v)]
    _below(v, v.cord.left, v.say("set"), bold=True)
    _below(v, v.cord.left, dated(v.a.set_at, v.where, v.say), token="soft")
    _stop(v)
    if v.over:
        _below(v, v.cord.right, v.say("last out"), bold=True)
    stalks = _stalks(v, marks)
    notches = _notches(v, marks)
    first = True
    last_d = min(v.cord.days, (view.start - v.a.set_at) / DAY_S)
    for day in range(7, floor(last_d) + 1, 7):
        word = v.say("day {n}").format(n=day) if first else str(day)
        at = v.cord.left + day * v.cord.day_px
        first = v.board.place([Label(x=at, y=_ROWS[0], text=word, align="center")]) is None and first
    _notch_names(v, marks)
    return [*stalks, *notches, *out]


def _now(v: _View) -> str:
    x = min(max(v.px(v.a.as_of), v.cord.left), v.board.width - _YOLK)
    v.board.draw([x, x], [_NOW_TOP, _CORD + _YOLK])
    v.board.draw([x - _YOLK, x + _YOLK], [_CORD, _CORD])
    v.board.place([inside(Label(x=x, y=_NOW, text=v.say("now"), align="center", bold=True), v.board.width)], cross=True)
    day = v.say("day {n}").format(n=floor((v.a.as_of - v.a.set_at) / DAY_S))
    _below(v, x, day)
    return pen.path(f"M{pen.n(x)} {pen.n(_NOW_TOP)}V{pen.n(_CORD)}") + pen.yolk(x, _CORD, _YOLK)


def _below(v: _View, x: float, *words: str, bold: bool = False, token: str = "ink") -> bool:
    """The first of `words` that has room beneath the cord, as near as may be; whether one had."""
    tries = [
        inside(Label(x=x + dx, y=y, text=word, align=align, bold=bold, token=token), v.board.width)
        for word in words
        for y in _ROWS
        for dx, align in ((0.0, "center"), (6.0, "right"), (-6.0, "left"))
    ]
    return v.board.place(tries) is not None


def _stop(v: _View) -> None:
    if v.cord.stop <= v.cord.left:
        return
    if v.stopped is not None:
        words = (v.say("turning stopped"), v.say("stopped"))
    elif v.a.clock.stop_turning.value > v.a.as_of:
        words = (v.say("turning stops"), v.say("stop"))
    else:
        words = (v.say("turning was to stop"), v.say("stop"))
    _below(v, v.cord.stop, *words)


def _stalks(v: _View, marks: Sequence[Happening]) -> list[str]:
    """A ring for each look under the lamp, a T for each weighing; the first of each that has room is named."""
    stood: list[tuple[float, float]] = []
    placed: list[tuple[Happening, float, float]] = []
    out: list[str] = []
    for one in (mark for mark in marks if mark.sort != "event"):
        x = max(v.px(one.at), v.cord.left)
        near = [top for other, top in stood if abs(other - x) < _BESIDE]
        top = max(near) + _HIGHER if near else 24.0
        if top > 24.0 + 2.0 * _HIGHER:
            continue
        stood.append((x, top))
        placed.append((one, x, _CORD - top))
        out.append(_stalk(one.sort, x, _CORD - top))
        v.board.draw([x, x], [_CORD, _CORD - top - 9.0])
        v.board.draw([x - 5.0, x + 5.0], [_CORD - top - 4.0] * 2)
    told: set[str] = set()
    for one, x, y in placed:
        if one.sort in told:
            continue
        tries = [Label(x=x, y=y - 14.0, text=one.word, align="center", token="soft")]
        tries += [Label(x=x + 10.0, y=y - 4.0, text=one.word, token="soft")]
        tries += [Label(x=x - 10.0, y=y - 4.0, text=one.word, align="right", token="soft")]
        if v.board.place([inside(each, v.board.width) for each in tries]) is not None:
            told.add(one.sort)
    return out


def _stalk(sort: str, x: float, top: float) -> str:
    if sort == "weighed":
        return pen.path(f"M{pen.n(x)} {pen.n(_CORD - 9)}V{pen.n(top)}M{pen.n(x - 5)} {pen.n(top)}h10")
    return pen.path(f"M{pen.n(x)} {pen.n(_CORD - 9)}V{pen.n(top)}") + pen.disc(
        x, top - 4.0, 4.5, fill="paper", rim="ink"
    )


def _middle(v: _View, one: Happening) -> float:
    end = min(one.until if one.until is not None else one.at, v.a.as_of)
    return min(max(v.px(0.5 * (one.at + max(end, one.at))), v.cord.left), v.board.width - 6.0)


def _notches(v: _View, marks: Sequence[Happening]) -> list[str]:
    """A notch under the cord for each event out of the ordinary; those that would lie on one another share one."""
    xs: list[float] = []
    for one in sorted((m for m in marks if m.sort == "event" and not m.often), key=lambda m: (m.rank, m.at)):
        x = _middle(v, one)
        if all(abs(x - other) >= 8.0 for other in xs):
            xs.append(x)
    for x in xs:
        v.board.draw([x - 5.0, x, x + 5.0], [_CORD + 10.0, _CORD + 15.0, _CORD + 10.0])
    return [pen.path("".join(f"M{pen.n(x - 5)} {pen.n(_CORD + 10)}l5 5 5-5" for x in sorted(xs)))] if xs else []


def _notch_names(v: _View, marks: Sequence[Happening]) -> None:
    """Each word once, at the first notch of its sort that has room for it."""
    named: set[str] = set()
    for one in sorted((m for m in marks if m.sort == "event" and not m.often), key=lambda m: (m.rank, m.at)):
        if one.word not in named and _below(v, _middle(v, one), one.word, token="soft"):
            named.add(one.word)


def _label(v: _View, shown: Told) -> str:
    """What the picture says, for who cannot see it."""
    c, say = v.a.clock, v.say

    def at(moment: float) -> str:
        return when(moment, v.where, say)

    stop = v.stopped if v.stopped is not None else c.stop_turning.value
    half = c.half_hatched
    said = [say("The term from setting on {set} to the hatch.").format(set=at(v.a.set_at))]
    if not v.over:
        day = floor((v.a.as_of - v.a.set_at) / DAY_S)
        said.append(say("Now is day {day} (of {term}).").format(day=day, term=f"{c.term_d:.0f}"))
    if v.stopped is not None:
        said.append(say("Turning stopped {stop}.").format(stop=at(stop)))
    elif stop > v.a.as_of:
        said.append(say("Turning is to stop {stop}.").format(stop=at(stop)))
    else:
        said.append(say("Turning was to stop {stop}.").format(stop=at(stop)))
    hatch = (
        say("Half were out {half}, 90 % between {low} and {high}.")
        if v.over
        else say("Half out {half}, 90 % between {low} and {high}.")
    )
    said.append(hatch.format(half=at(half.value), low=at(half.low), high=at(half.high)))
    if not v.over and v.a.as_of > c.last_hatch.high:
        said.append(say("All should be out by now, and nothing of it is noted."))
    elif shown.first is not None and not v.over:
        wide = say("The first forecast was {before} hours wide; this one is {now}.")
        said.append(wide.format(before=_wide(shown.first.half), now=_wide(half)))
    return " ".join(said)


def _wide(half: Estimate) -> str:
    return f"{2.0 * half.half_width / 3_600.0:.0f}"


def _caption(v: _View, shown: Told, marks: Sequence[Happening], dots: bool) -> tuple[str, ...]:
    """What the marks mean, a sentence each; only of what is drawn."""
    say, set_at = v.say, v.a.set_at
    said = [say("A crossing is a day of turning; 90 % of the chance lies in each bar.")]
    if shown.first is not None:
        day = round((shown.first.at - set_at) / DAY_S)
        first = (
            say("Dashed hill: what was known at setting ({hours} h wide).")
            if day < 1
            else say("Dashed hill: what was known on day {day} ({hours} h wide).")
        )
        said.append(first.format(day=day, hours=_wide(shown.first.half)))
    if shown.since is not None:
        day = round((shown.since.at - set_at) / DAY_S)
        said.append(say("Thin: on day {day} ({hours} h).").format(day=day, hours=_wide(shown.since.half)))
    full = say("Solid: as it happened.") if v.over else say("Filled: now ({hours} h).")
    said.append(full.format(hours=_wide(v.a.clock.half_hatched)))
    sorts: Mapping[str, str] = {
        "candled": say("A ring is a look under the lamp."), "weighed": say("A T is a weighing."),
        "event": say("A notch is an event."),
    }  # fmt: skip
    said += [sentence for sort, sentence in sorts.items() if any(one.sort == sort and not one.often for one in marks)]
    said += [say("A dot is young seen out.")] if dots else []
    return tuple(said)


def _table(v: _View, shown: Told, marks: Sequence[Happening], rows: Parts) -> Table:
    """All of the term in order of time: what was done and seen, and what is expected with its 90 % range."""
    say, set_at = v.say, v.a.set_at

    def at(moment: float | None) -> str | None:
        return None if moment is None else when(moment, v.where, say)

    listed: list[tuple[float, str, float | None, float | None, float | None]] = [(set_at, say("set"), None, None, None)]
    for one in marks:
        listed.append((one.at, one.word, one.eggs, None, one.until))
    for look in young(v.a, rows.hatches):
        for word, n in ((say("pipped"), look.pipped), (say("out of the shell"), look.out)):
            listed += [(look.at, word, n, None, None)] if n else []
    for i, (name, e) in enumerate(events(v.a, say)):
        if i == 0 and v.stopped is not None:
            listed.append((v.stopped, say("turning stopped"), None, None, None))
        else:
            listed.append((e.value, name, None, e.low, e.high))
    for told_ in shown.listed()[:-1]:
        name = say("half out, as told on day {day}").format(day=round((told_.at - set_at) / DAY_S))
        listed.append((told_.half.value, name, None, told_.half.low, told_.half.high))
    if not v.over:
        listed.append((v.a.as_of, say("now"), None, None, None))
    columns = (
        Column(""), Column(say("day")), Column(say("when")), Column(say("eggs"), "", 0), Column(say("from")),
        Column(say("to")),
    )  # fmt: skip
    told_rows: list[tuple[Cell, ...]] = [
        (name, (moment - set_at) / DAY_S, at(moment), None if eggs is None else float(eggs), at(low), at(high))
        for moment, name, eggs, low, high in sorted(listed, key=lambda row: row[0])
    ]
    return Table(columns, tuple(told_rows))
