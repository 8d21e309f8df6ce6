"""Strokes, discs and words of drawings made by hand, as SVG that carries names of colours and nothing a page could refuse.

No style, no class, no id: many such drawings lie in one page.
"""

from collections.abc import Iterable, Sequence
from html import escape

from chalaza.charts import tokens
from chalaza.charts.labels import Label

#: Half a tick is cut out of a bar on each side of it. [px]
_GAP = 2.0
_ANCHORS = {"left": "", "center": ' text-anchor="middle"', "right": ' text-anchor="end"'}


def n(value: float) -> str:
    """A place as short as a tenth of a pixel allows."""
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def path(
    d: str, *, stroke: str | None = "ink", width: float = 1.5, fill: str | None = None, opacity: float = 1.0,
    dash: Sequence[float] = (), round_ends: bool = False,
) -> str:  # fmt: skip
    """A path in named colours; `opacity` is that of the fill."""
    ground = "none" if fill is None else tokens.var(fill)
    clear = f' fill-opacity="{opacity:g}"' if fill is not None and opacity < 1.0 else ""
    rim = f' stroke="{tokens.var(stroke)}" stroke-width="{width:g}"' if stroke is not None else ""
    broken = f' stroke-dasharray="{" ".join(f"{v:g}" for v in dash)}"' if dash else ""
    ends = ' stroke-linecap="round"' if round_ends else ""
    return f'<path d="{d}" fill="{ground}"{clear}{rim}{broken}{ends}/>'


def disc(x: float, y: float, r: float, *, fill: str = "ink", rim: str | None = None, width: float = 1.5) -> str:
    """A disc, with a rim if one is named."""
    edge = f' stroke="{tokens.var(rim)}" stroke-width="{width:g}"' if rim is not None else ""
    return f'<circle cx="{n(x)}" cy="{n(y)}" r="{r:g}" fill="{tokens.var(fill)}"{edge}/>'


def yolk(x: float, y: float, r: float) -> str:
    """Now."""
    return disc(x, y, r, fill="yolk", rim="ink")


def bar(low: float, value: float, high: float, y: float, *, thick: float, tick: float) -> str:
    """A level bar from `low` to `high` with a tick at `value`, cut free of the bar. [px]"""
    return (
        path(f"M{n(low)} {n(y)}H{n(high)}", width=thick)
        + path(f"M{n(value)} {n(y - tick)}V{n(y + tick)}", stroke="paper", width=3.0 + 2.0 * _GAP)
        + path(f"M{n(value)} {n(y - tick)}V{n(y + tick)}", width=3.0)
    )


def text(x: str, y: float, word: str, *, align: str = "left", token: str = "ink", bold: bool = False) -> str:
    """A word at `x`, a number of px or a per cent."""
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x}" y="{n(y)}" font-size="{tokens.WORD_PX}" fill="{tokens.var(token)}"{_ANCHORS[align]}{weight}>'
        f"{escape(word, quote=False)}</text>"
    )


def words(labels: Iterable[Label]) -> str:
    """The words of a board."""
    return "".join(text(n(one.x), one.y, one.text, align=one.align, token=one.token, bold=one.bold) for one in labels)
