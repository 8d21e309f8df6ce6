"""Strips: one way to read a log, drawn on a scale it shares with the other ways: where it lies in time, or how warm.

All places are per cent of the width, so that one drawing fits any page; drawings that share a scale compare by eye.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

from chalaza.charts import pen, tokens
from chalaza.charts.labels import text_width

__all__ = ["HEIGHT", "Tick", "figures", "moments"]

#: Height of a strip. [px]
HEIGHT = 64
#: Level of the line, of the words beneath, top and height of what is drawn. [px]
_LINE, _WORDS, _TOP, _TALL = 38.0, 58.0, 14.0, 20.0
#: The least width anything is drawn at [px], and the narrowest page on which no two words may meet. [px]
_LEAST, _NARROW_PX, _AIR_PX = 5.0, 340.0, 8.0


@dataclass(frozen=True, slots=True)
class Tick:
    """A place on the scale with its word ("": a tick alone)."""

    at: float
    word: str = ""


def moments(
    runs: Sequence[tuple[float, float]], span: tuple[float, float], ticks: Sequence[Tick], *, now: float | None, label: str
) -> str:  # fmt: skip
    """Unbroken stretches of a record on a line of time: full up to now, hollow after; now as the yolk. [any one unit]

    `span`: left and right end of the line, the same for all ways; `label`: what it says, for who cannot see it.
    """
    marks = []
    for first, last in runs:
        if now is None or last <= now:
            marks.append(_box(_at(first, span), _at(last, span)))
        elif first >= now:
            marks.append(_box(_at(first, span), _at(last, span), hollow=True))
        else:
            marks += [_box(_at(first, span), _at(now, span)), _box(_at(now, span), _at(last, span), hollow=True)]
    if now is not None and span[0] <= now <= span[1]:
        stalk = pen.path("M0 8V38")
        marks.append(f'<svg x="{_share(_at(now, span))}" overflow="visible">{stalk}{pen.yolk(0.0, 7.0, 5.5)}</svg>')
    return _drawn(marks, span, ticks, label)


def figures(
    low: float, mean: float, high: float, span: tuple[float, float], ticks: Sequence[Tick], *, label: str,
    usual: tuple[float, float] | None = None, word: str = "",
) -> str:  # fmt: skip
    """Least to greatest of a column as a hollow bar with a tick at the mean; `usual`: a band, called `word`."""
    marks = []
    if usual is not None:
        first, last = (min(max(_at(each, span), 0.0), 100.0) for each in usual)
        if last > first:
            marks.append(_rect(first, f"{last - first:.2f}%", _TOP, _LINE - _TOP, fill="want"))
            marks.append(pen.text(_share(0.5 * (first + last)), _TOP - 4.0, word, align="center", token="soft"))
    marks.append(_box(_at(low, span), _at(high, span), hollow=True, inset=5.0))
    marks.append(
        f'<svg x="{_share(_at(mean, span))}" overflow="visible">{pen.path(f"M0 {_TOP + 2:g}V{_LINE:g}", width=3.0)}</svg>'
    )
    return _drawn(marks, span, ticks, label)


def _drawn(marks: Sequence[str], span: tuple[float, float], ticks: Sequence[Tick], label: str) -> str:
    line = f'<line x1="0" x2="100%" y1="{_LINE:g}" y2="{_LINE:g}" stroke="{tokens.var("ink")}" stroke-width="1.5"/>'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="chart strip" width="100%" height="{HEIGHT}" role="img" '
        f'aria-label="{escape(label)}" font-family="{escape(tokens.FACE)}">'
        + line + "".join(_ticks(span, ticks)) + "".join(marks) + "</svg>"
    )  # fmt: skip


def _at(value: float, span: tuple[float, float]) -> float:
    """Place of a value on the line. [per cent]"""
    return 100.0 * (value - span[0]) / ((span[1] - span[0]) or 1.0)


def _share(value: float) -> str:
    return f"{value:.2f}%"


def _box(first: float, last: float, *, hollow: bool = False, inset: float = 0.0) -> str:
    """A stretch of the record, cut at both ends of the line; `inset`: lower by so much. [px]"""
    first, last = min(max(first, 0.0), 100.0), min(max(last, 0.0), 100.0)
    wide = last - first
    width = f"{_LEAST:g}" if wide / 100.0 * _NARROW_PX < _LEAST else f"{wide:.2f}%"
    return _rect(
        first, width, _TOP + inset, _TALL - inset, fill="paper" if hollow else "ink", rim="ink" if hollow else None
    )


def _rect(x: float, width: str, y: float, height: float, *, fill: str, rim: str | None = None) -> str:
    edge = f' stroke="{tokens.var(rim)}" stroke-width="1.5"' if rim is not None else ""
    return f'<rect x="{_share(x)}" y="{y:g}" width="{width}" height="{height:g}" fill="{tokens.var(fill)}"{edge}/>'


def _ticks(span: tuple[float, float], ticks: Sequence[Tick]) -> list[str]:
    """Ticks, and every first, second, third ... of their words, whichever has room on a narrow page."""
    placed = [(_at(one.at, span), one.word) for one in ticks if span[0] <= one.at <= span[1]]
    out = [
        f'<line x1="{_share(at)}" x2="{_share(at)}" y1="{_LINE:g}" y2="{_LINE + 5:g}" '
        f'stroke="{tokens.var("line")}" stroke-width="1.25"/>'
        for at, _ in placed
    ]
    for apart in range(1, len(placed) + 1):
        words = [_word(at, word) for at, word in placed[::apart] if word]
        if all(last + _AIR_PX <= first for (_, last, _), (first, _, _) in pairwise(words)):
            return out + [text for *_, text in words]
    return out


def _word(at: float, word: str) -> tuple[float, float, str]:
    """Left and right end of a word on a narrow page [px], and the word drawn: from its tick on, or up to it at the edge."""
    px, wide = at / 100.0 * _NARROW_PX, text_width(word)
    if px + wide <= _NARROW_PX:
        return px, px + wide, pen.text(_share(at), _WORDS, word, token="soft")
    return px - wide, px, pen.text(_share(at), _WORDS, word, token="soft", align="right")
