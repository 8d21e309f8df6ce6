"""Warmth as a picture: shell, air and centre hour by hour against the wanted band, and degree-hours beyond the limits."""

from typing import Any

import numpy as np

from chalaza.charts import base, series
from chalaza.charts.base import Drawing, Named, Panel, Say, number, plain
from chalaza.charts.hours import Doses, Hours, between, dose_between, doses, hours
from chalaza.charts.labels import LINE_PX, Label, text_width
from chalaza.charts.moments import when, zone_of
from chalaza.charts.table import Column, Table
from chalaza.charts.trace import Readings, Trace, trace
from chalaza.charts.window import View, names, view
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment, SpellSeen

HEIGHT = 240
#: The two panels: readings above, doses below, the words of the doses between. [px]
_TOP, _MIDDLE, _DOSE_TOP, _SPARE_PX = 18.0, 140.0, 168.0, 44.0
#: A dose of a day that is drawn. [K h]
_SEEN_KH = 0.05
#: From now to the words there. [px]
_END_PX = 12.0


#: From when to when a window reaches [seconds UTC]; None: all of the term.
Window = tuple[float, float] | None


def label(u: Understanding, a: Assessment, say: Say = plain, *, window: Window = None, zone: str | None = None) -> str:
    """What the picture says, for who cannot see it."""
    w, seen = a.warmth, view(u, window)
    spells = len([one for one in _spells_in(u, a, seen) if one.sort != "air"])
    gaps = sum(end - start for start, end in w.gaps) / 3600.0
    if seen is not None:
        return _window_label(u, a, seen, spells, say, zone)
    text = say(
        "Temperature of the shell against the wanted band. Mean {mean}; {low} to {high} °C wanted. "
        "Spells beyond the limits: {spells}. Hours without a log: {gaps}."
    )
    return text.format(
        mean=f"{w.shell.value:.1f} °C ({w.shell.low:.1f}–{w.shell.high:.1f})", low=f"{w.wanted.low:.1f}",
        high=f"{w.wanted.high:.1f}", spells=spells, gaps=f"{gaps:.0f}",
    )  # fmt: skip


def _window_label(u: Understanding, a: Assessment, seen: View, spells: int, say: Say, zone: str | None) -> str:
    h, where = between(hours(u, a), seen.start_d, seen.end_d), zone_of(a, zone)
    start, end = (when(u.moment(24.0 * day), where, say) for day in (seen.start_d, seen.end_d))
    if bool(np.all(np.isnan(h.shell))):
        return say("Temperature of the shell from {start} to {end}: no log.").format(start=start, end=end)
    text = say(
        "Temperature of the shell from {start} to {end}: {coldest} to {warmest} °C; {low} to {high} °C wanted. "
        "Spells beyond the limits: {spells}."
    )
    return text.format(
        start=start, end=end, coldest=f"{np.nanmin(h.shell):.1f}", warmest=f"{np.nanmax(h.shell):.1f}",
        low=f"{h.wanted_low.mean():.1f}", high=f"{h.wanted_high.mean():.1f}", spells=spells,
    )  # fmt: skip


def _spells_in(u: Understanding, a: Assessment, seen: View | None) -> list[SpellSeen]:
    """The spells that touch a window."""
    return [
        one
        for one in a.warmth.spells
        if seen is None or (_day(u, one) < seen.end_d and _day(u, one) + one.length_h / 24.0 > seen.start_d)
    ]


def table(u: Understanding, a: Assessment, say: Say = plain, *, window: Window = None) -> Table:
    """The spells: when, how long, air and shell at their worst, and the dose with its range."""
    names = {"warm": say("too warm"), "cold": say("too cold"), "air": say("air only")}
    columns = (
        Column(""), Column(say("day"), "", 2), Column(say("length"), "h"), Column(say("air"), "°C"),
        Column(say("shell"), "°C"), Column(say("dose"), "°C·h"), Column(say("at least"), "°C·h"),
        Column(say("at most"), "°C·h"),
    )  # fmt: skip
    spells = sorted(_spells_in(u, a, view(u, window)), key=lambda one: one.start.value)
    rows = tuple(
        (
            names[one.sort], _day(u, one), one.length_h, one.air.value, one.shell.value, one.dose.value,
            one.dose.low, one.dose.high,
        )
        for one in spells
    )  # fmt: skip
    return Table(columns, rows)


def _day(u: Understanding, one: SpellSeen) -> float:
    return u.exposure.hour_of(one.start.value) / 24.0


def definition(
    u: Understanding, a: Assessment, *, width: int = 420, zone: str | None = None, text: str | None = None,
    say: Say = plain, window: Window = None, readings: Readings | None = None,
) -> dict[str, Any]:  # fmt: skip
    """The chart, of all of the term or of a `window` [seconds UTC] of it. `text` stands for `label`.

    Over all of the term days count from setting. In a window of few days moments are told in `zone`, and `readings` (by
    uid of the probe) are drawn as they were shown. Raises `EvidenceError` for a window in which there is nothing.
    """
    seen = view(u, window)
    out = Drawing(width, HEIGHT, label(u, a, say, window=window, zone=zone) if text is None else text)
    h = hours(u, a) if seen is None else between(hours(u, a), seen.start_d, seen.end_d)
    raw = trace(u, readings, seen.start_d, seen.end_d) if seen is not None and seen.close else None
    found = dose_between(u, seen.start_d, seen.end_d) if seen is not None and seen.close else doses(u)
    over = float(h.day[-1]) < u.now_h / 24.0 - 1e-6
    some = max(float(found.above.max()), float(found.below.max())) >= _SEEN_KH
    bars = some and (seen is None or not seen.close)
    panel = _scale(width, h, a, raw, over=over, bottom=_MIDDLE if bars else _MIDDLE + _SPARE_PX, say=say)
    ticks = base.name_ticks(out.board, panel, _named(u, a, h, seen, over, zone, say), y=HEIGHT - 8.0)
    word = _dose_words(found, a, some, say) if seen is None or not seen.close else _dose_in(found, some, say)
    out.board.place([Label(x=0.0, y=panel.bottom + LINE_PX + 2.0, text=word, token="soft")])
    base.name_lines(out.board, panel, panel.y_lines or (), _degrees(panel.y_lines or ()))
    _put(out, h, u, a, raw, over=over)
    _tell(out, panel, h, raw)
    _ends(out, panel, h, raw, say)
    _spells(out, panel, u, a, h, seen, say)
    _gaps(out, panel, u, a, h, say)
    _wanted(out, panel, h, say)
    out.panels += [_course(panel, raw), _dose_panel(out, panel, found, ticks, h, bars)]
    return out.definition()


def _named(
    u: Understanding, a: Assessment, h: Hours, seen: View | None, over: bool, zone: str | None, say: Say
) -> list[Named]:
    """The names of the axis."""
    if seen is not None:
        return names(u, seen, zone_of(a, zone), say)
    last_d = float(h.day[-1])
    end = Named(last_d, say("hatched" if over else "now"), True)
    return [end, Named(0.0, say("set"), True), *base.days(last_d - 0.3, say)]


def _scale(
    width: int, h: Hours, a: Assessment, raw: Trace | None, *, over: bool, bottom: float, say: Say
) -> Panel:  # fmt: skip
    """The upper panel: a strip for the degrees left of the lines, and room for their names right."""
    low, high = _span(h, a, raw, over=over)
    lines = series.three_lines(low, high, series.HALVES)
    left = max(text_width(one) for one in _degrees(lines)) + 8.0
    room = _END_PX + 4.0 + max(text_width(one, bold=True) for one in (say("shell"), say("centre"), _air(raw, say)))
    start_d = float(h.day[0])
    end_d = start_d + max(float(h.day[-1]) - start_d, 0.02) * (width - left) / (width - left - room)
    return Panel(
        left=left, right=float(width), top=_TOP, bottom=bottom, x=(start_d, end_d), y=(low, high), y_lines=lines
    )


def _air(raw: Trace | None, say: Say) -> str:
    return say("air") if raw is None else say("as read")


def _course(panel: Panel, raw: Trace | None) -> list[base.Layer]:
    air = [
        panel.area("hours", "day", "air_low", "air_high", opacity=base.CHANCE),
        panel.line("hours", "day", "air", width=base.THIN, token="line"),
    ]
    return [
        panel.area("hours", "day", "wanted_low", "wanted_high", token="want"),
        panel.line("hours", "day", "wanted_low", width=base.THIN, token="line"),
        panel.line("hours", "day", "wanted_high", width=base.THIN, token="line"),
        *(air if raw is None else [panel.line("readings", "day", "reading", width=base.THIN, token="line")]),
        panel.line("hours", "day", "centre", width=base.EDGE, token="line", dash=base.TO_COME),
        panel.line("hours", "day", "shell", width=base.BOLD),
        *panel.now("now", "day", "shell", "low", "high"),
    ]


def _span(h: Hours, a: Assessment, raw: Trace | None, *, over: bool) -> tuple[float, float]:
    """Lowest and highest temperature of the drawing, with room for words beyond the spells."""
    now = [] if over else [a.warmth.shell_latest.low, a.warmth.shell_latest.high]
    air = (h.air_low, h.air_high) if raw is None else (raw.value,)
    values = np.concatenate((*air, h.shell, h.centre, h.wanted_low, h.wanted_high, now))
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    pad = max(0.10 * (high - low), 0.15)
    return low - pad, high + pad


def _degrees(lines: tuple[float, ...]) -> list[str]:
    digits = 0 if all(abs(v - round(v)) < 1e-9 for v in lines) else 1
    return [f"{v:.{digits}f}" + (" °C" if i == 0 else "") for i, v in enumerate(lines)]


def _put(out: Drawing, h: Hours, u: Understanding, a: Assessment, raw: Trace | None, *, over: bool) -> None:
    """The rows of data by name; once the young are out nothing is now."""
    keep = sorted({int(i) for values in (h.shell, h.air) for i in series.thinned(values, series.MOST // 2)})
    names = Hours.__dataclass_fields__
    out.data["hours"] = [{name: number(float(getattr(h, name)[i])) for name in names} for i in keep]
    if raw is not None:
        out.data["readings"] = raw.rows()
    now = a.warmth.shell_latest
    row = dict(zip(("day", "shell", "low", "high"), (u.now_h / 24.0, now.value, now.low, now.high), strict=True))
    out.data["now"] = [] if over else [{name: number(value) for name, value in row.items()}]


def _tell(out: Drawing, panel: Panel, h: Hours, raw: Trace | None) -> None:
    """Tell the board where lines run, and the yolk on its range."""
    x = [panel.px(v) for v in h.day.tolist()]
    for values in (h.shell, h.centre, *((h.air, h.air_low, h.air_high) if raw is None else ())):
        out.board.draw(x, [panel.py(v) for v in values.tolist()])
    if raw is not None:
        out.board.draw([panel.px(v) for v in raw.day.tolist()], [panel.py(v) for v in raw.value.tolist()])
    for now in out.data["now"]:
        for beside in (-6.0, 0.0, 6.0):
            out.board.draw([panel.px(now["day"]) + beside] * 2, [panel.py(now["low"]), panel.py(now["high"])])


def _ends(out: Drawing, panel: Panel, h: Hours, raw: Trace | None, say: Say) -> None:
    """The names of the lines, where they end."""
    last = np.flatnonzero(~np.isnan(h.shell))
    if not len(last):
        return
    i, x = int(last[-1]), panel.px(float(h.day[-1])) + _END_PX
    air = float(h.air[i]) if raw is None or raw.last is None else raw.last
    ends = [
        Label(x=x, y=panel.py(value) + 5.0, text=word, token=token, bold=bold)
        for value, word, token, bold in (
            (float(h.centre[i]), say("centre"), "soft", False), (float(h.shell[i]), say("shell"), "ink", True),
            (air, _air(raw, say), "soft", False),
        )
    ]  # fmt: skip
    out.board.stack(ends, low=14.0, high=panel.bottom - 2.0)


def _wanted(out: Drawing, panel: Panel, h: Hours, say: Say) -> None:
    """The word for the band, inside it or at its edge, where no line runs."""
    tries: list[Label] = []
    for share in (0.04, 0.25, 0.45, 0.6, 0.15, 0.75):
        i = min(int(share * len(h.day)), len(h.day) - 1)
        x, top, foot = (panel.px(float(h.day[i])), panel.py(float(h.wanted_high[i])), panel.py(float(h.wanted_low[i])))
        ys = (top - 6.0, top - 11.0, top - 17.0, top + 16.0, foot + 17.0)
        tries += [Label(x=x, y=y, text=say("wanted"), token="soft") for y in ys if y < panel.bottom - 4.0]
    out.board.place(tries)


def _spells(
    out: Drawing, panel: Panel, u: Understanding, a: Assessment, h: Hours, seen_in: View | None, say: Say
) -> None:  # fmt: skip
    """The worst three spells by name and length, beside their worst."""
    names = {"warm": say("warm"), "cold": say("cold"), "air": say("air")}
    for one in sorted(_spells_in(u, a, seen_in), key=lambda spell: -spell.dose.value)[:3]:
        start = u.exposure.hour_of(one.start.value)
        first = panel.px(max(start / 24.0, float(h.day[0])))
        last = panel.px(min((start + one.length_h) / 24.0, float(h.day[-1])))
        inside = (h.day * 24.0 >= start - 1.0) & (h.day * 24.0 <= start + one.length_h + 1.0)
        seen = np.concatenate(
            [part[inside] for part in ((h.shell, h.air_low) if one.sort == "cold" else (h.shell, h.air_high))]
        )
        if bool(np.all(np.isnan(seen))):
            continue
        word = f"{names[one.sort]} {one.length_h:.0f} h"
        worst = float(np.nanmin(seen) if one.sort == "cold" else np.nanmax(seen))
        y = panel.py(worst) + (2.0 if one.sort == "cold" else 8.0)
        beyond = y + 14.0 if one.sort == "cold" else y - 14.0
        tries = [
            Label(x=last + 8.0, y=y, text=word, token="soft"),
            Label(x=first - 6.0, y=y, text=word, align="right", token="soft"),
            Label(x=0.5 * (first + last), y=beyond, text=word, align="center", token="soft"),
            Label(x=last + 12.0, y=0.5 * (y + beyond), text=word, token="soft"),
            Label(x=first - 10.0, y=0.5 * (y + beyond), text=word, align="right", token="soft"),
        ]
        for away in (20.0, 36.0, 56.0):
            tries += [
                Label(x=last + away, y=y, text=word, token="soft"),
                Label(x=first - away, y=y, text=word, align="right", token="soft"),
            ]
        out.board.place(tries)


def _gaps(out: Drawing, panel: Panel, u: Understanding, a: Assessment, h: Hours, say: Say) -> None:
    """The widest two gaps by name; one too narrow to be seen gets none."""
    first_h, end_h = float(h.day[0]) * 24.0, float(h.day[-1]) * 24.0
    shown = [
        (max(u.exposure.hour_of(start), first_h), min(u.exposure.hour_of(end), end_h)) for start, end in a.warmth.gaps
    ]
    for start, end in sorted(shown, key=lambda gap: gap[0] - gap[1])[:2]:
        first, last = panel.px(start / 24.0), panel.px(end / 24.0)
        if last - first < 3.0:
            continue
        middle = 0.5 * (first + last)
        i = min(int(np.searchsorted(h.day, 0.5 * (start + end) / 24.0)), len(h.day) - 1)
        above, below = panel.py(float(h.wanted_high[i])), panel.py(float(h.wanted_low[i]))
        out.board.place(
            [
                Label(x=middle, y=y, text=say("no log"), align="center", token="soft")
                for y in (above - 6.0, below + 16.0, 0.5 * (above + below) + 5.0, above - 16.0, below + 26.0)
            ]
        )


def _dose_words(found: Doses, a: Assessment, some: bool, say: Say) -> str:
    """The finding of the lower panel."""
    if not some and a.warmth.covered < 0.5:
        return say("no log: doses unknown")
    if not some:
        return say("no hour beyond the limits") if a.warmth.covered > 0.98 else say("no logged hour beyond the limits")
    parts = [
        f"{word} {worst:.{0 if worst >= 9.95 else 1}f}"
        for word, worst in ((say("cold"), float(found.below.max())), (say("warm"), float(found.above.max())))
        if worst >= _SEEN_KH
    ]
    return f"{say('worst day')}: {', '.join(parts)} °C·h"


def _dose_in(found: Doses, some: bool, say: Say) -> str:
    """The finding of a close look."""
    if not some:
        return say("no hour beyond the limits here")
    parts = [
        f"{word} {dose:.{0 if dose >= 9.95 else 1}f}"
        for word, dose in ((say("cold"), float(found.below.max())), (say("warm"), float(found.above.max())))
        if dose >= _SEEN_KH
    ]
    return say("in this time: {doses} °C·h").format(doses=", ".join(parts))


def _dose_panel(
    out: Drawing, above: Panel, found: Doses, ticks: tuple[float, ...], h: Hours, some: bool
) -> list[base.Layer]:
    """Degree-hours a day: too warm upwards, too cold downwards."""
    first_d, last_d = float(h.day[0]), float(h.day[-1])
    hot, cold = float(found.above.max()), float(found.below.max())
    panel = Panel(
        left=above.left, right=above.right, top=_DOSE_TOP, bottom=out.foot - 3.0, x=above.x, y=(-cold, hot) if some else (0.0, 1.0),
        x_ticks=ticks,
    )  # fmt: skip
    out.data["doses"] = [
        {"from": number(max(float(i), first_d)), "to": number(min(i + 1.0, last_d)), "zero": 0.0,
         "above": number(float(up)), "below": number(-float(down))}
        for i, (up, down) in enumerate(zip(found.above, found.below, strict=True))
        if some and i < last_d and i + 1.0 > first_d
    ]  # fmt: skip
    out.data["dose_zero"] = [{"from": number(first_d), "to": number(above.x[1]), "zero": 0.0}] if some else []
    zero = panel.level("dose_zero", "from", "to", "zero", width=base.THIN, token="line")
    if not some:
        return [zero]
    return [
        panel.bars("doses", "from", "to", "zero", "above", token="ink", opacity=0.6),
        panel.bars("doses", "from", "to", "zero", "below", token="ink", opacity=0.6),
        zero,
    ]
