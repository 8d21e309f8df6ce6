"""Every egg as a mark: dark where life is nearly sure, hatched where it is open, clear where it is unlikely."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from html import escape
from math import ceil

from chalaza.charts import draw, shell, tokens
from chalaza.charts.base import Say, plain
from chalaza.charts.table import Column, Table
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment

#: Odds of life from which an egg counts as nearly sure, and up to which as unlikely.
SURE, UNLIKELY = 0.9, 0.1
#: A mark and the room it takes; words to the right. [px]
_LENGTH, _BREADTH, _ACROSS, _DOWN, _WORDS, _LINE = 33.0, 25.0, 33.0, 42.0, 142.0, 26.0
#: More marks than this stand for several eggs each.
_MOST = 42


@dataclass(frozen=True, slots=True)
class Tally:
    """Eggs by how likely they are alive; young out of the shell, and eggs taken out or opened."""

    sure: int
    open: int
    unlikely: int
    hatched: int
    gone: int

    def items(self) -> list[tuple[str, int]]:
        """Class and number, in order."""
        return [(name, getattr(self, name)) for name in ("sure", "open", "unlikely", "hatched", "gone")]


def tally(a: Assessment) -> Tally:
    """Count the eggs by their odds."""
    c = a.count
    sure = sum(one.count for one in c.eggs if one.alive >= SURE)
    unlikely = sum(one.count for one in c.eggs if one.alive <= UNLIKELY)
    inside = sum(one.count for one in c.eggs)
    return Tally(sure, inside - sure - unlikely, unlikely, c.out, max(c.set - inside - c.out, 0))


def words(say: Say = plain) -> Mapping[str, str]:
    """What each mark means."""
    return {
        "sure": say("nearly sure"), "open": say("open"), "unlikely": say("unlikely"), "hatched": say("hatched"),
        "gone": say("taken out"),
    }  # fmt: skip


def label(u: Understanding, a: Assessment, say: Say = plain) -> str:
    """What the picture says, for who cannot see it."""
    del u
    said = words(say)
    parts = ", ".join(f"{n} {said[name]}" for name, n in tally(a).items() if n)
    return f"{a.count.set} {say('eggs by how likely they are alive')}: {parts}."


def table(u: Understanding, a: Assessment, say: Say = plain) -> Table:
    """Each egg, or group, with its odds."""
    del u
    columns = (Column(say("egg")), Column(say("eggs"), "", 0), Column(say("alive"), "1", 0))
    return Table(columns, tuple((one.label, float(one.count), one.alive) for one in a.count.eggs))


def drawing(
    u: Understanding, a: Assessment, *, width: int = 420, text: str | None = None, say: Say = plain
) -> str:  # fmt: skip
    """The drawing as SVG. `text` stands for `label`."""
    found, said = tally(a), words(say)
    per = next(n for n in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000) if a.count.set <= n * _MOST)
    marks = [name for name, n in found.items() for _ in range(ceil(n / per))]
    across = int((width - _WORDS) // _ACROSS)
    lines = [(name, n) for name, n in found.items() if n]
    height = max(ceil(len(marks) / across) * _DOWN, (len(lines) + (per > 1)) * _LINE + 2.0)
    parts = [draw.root(width, height, label(u, a, say) if text is None else text)]
    for i, name in enumerate(marks):
        x, y = (i % across) * _ACROSS + 0.5 * _ACROSS, (i // across) * _DOWN + 4.0
        parts.append(f'<g transform="translate({x:g} {y:g})">{_MARKS[name]()}</g>')
    at = width - _WORDS + 10.0
    for i, (name, n) in enumerate(lines):
        y = i * _LINE + 18.0
        parts.append(f'<g transform="translate({at + 7:g} {y - 14:g}) scale(0.52)">{_MARKS[name]()}</g>')
        parts.append(_text(at + 20.0, y, f'<tspan font-weight="700">{n}</tspan> {escape(said[name])}'))
    if per > 1:
        each = f"{say('each mark')}: {per}"
        parts.append(_text(at, len(lines) * _LINE + 18.0, escape(each), token="soft"))
    return "".join(parts) + "</svg>"


def _text(x: float, y: float, inner: str, *, token: str = "ink") -> str:
    return f'<text x="{x:g}" y="{y:g}" font-size="{tokens.WORD_PX}" fill="{tokens.var(token)}">{inner}</text>'


_SHELL, _STROKES = shell.path(_LENGTH, _BREADTH, steps=22), shell.hatching(_LENGTH, _BREADTH)
_INK = tokens.var("ink")

_MARKS: Mapping[str, Callable[[], str]] = {
    "sure": lambda: f'<path d="{_SHELL}" fill="{tokens.var("soft")}"/>',
    "open": lambda: f'<path d="{_SHELL}{_STROKES}" fill="none" stroke="{_INK}" stroke-width="1.5"/>',
    "unlikely": lambda: f'<path d="{_SHELL}" fill="none" stroke="{_INK}" stroke-width="1.5"/>',
    "hatched": lambda: f'<circle cy="{0.5 * _LENGTH:g}" r="6" fill="none" stroke="{_INK}" stroke-width="2.25"/>',
    "gone": lambda: f'<circle cy="{0.5 * _LENGTH:g}" r="2.5" fill="{tokens.var("line")}"/>',
}
