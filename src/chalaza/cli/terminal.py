"""What a terminal can show: its width, its letters, bold, and a line of progress.

Words start on one axis; names, tallies and hours hang in the margin left of it. Where the terminal has no Unicode every
mark has a plain twin.
"""

import os
import shutil
import sys
import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import click

from chalaza.words.language import CLOSE, OPEN
from chalaza.words.numbers import NB

#: Column at which words start; the margin left of it holds names and tallies.
AXIS = 11
#: A line is never longer than this, however wide the window: longer ones are lost on the way back.
MOST, LEAST = 108, 40
#: Below this width the margin takes a line of its own.
_NARROW = 60

#: Plain twins of the marks we print.
PLAIN = str.maketrans(
    {
        "°": "deg ", "–": "-", "−": "-", "±": "+/-", "·": "*", "…": "..", "“": '"', "”": '"', "’": "'", "²": "2", "√": "sqrt ",
        "³": "3", "µ": "u", "─": "-", "━": "=", "│": "|", "┃": "+", "░": ".", "╫": "#", "←": "<", "→": ">", "×": "x", "≥": ">=",
        "≤": "<=", OPEN: "[", CLOSE: "]",
    }
)  # fmt: skip
_MARKS = "°–±─━│┃░╫"


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where we print: how wide, whether marks beyond ASCII and bold are understood."""

    width: int
    marks: bool
    bold: bool

    @classmethod
    def here(cls) -> "Terminal":
        """The terminal, pipe or file behind standard output."""
        out = sys.stdout
        tty = bool(getattr(out, "isatty", bool)())
        width = shutil.get_terminal_size((100, 24)).columns if tty or "COLUMNS" in os.environ else 100
        return cls(max(LEAST, min(width, MOST)), can_show(getattr(out, "encoding", None) or "ascii"), tty)

    @property
    def axis(self) -> int:
        """Where words start."""
        return AXIS if self.width >= _NARROW else 2

    def shown(self, text: str) -> str:
        """`text` as this terminal can print it."""
        if self.marks:
            return text.replace(NB, " ")
        return self._plain(text).replace(NB, " ")

    def _plain(self, text: str) -> str:
        """`text` in ASCII, with the spaces that do not break kept."""
        kept = text.translate(PLAIN).replace(NB, "\0")
        return kept.encode("ascii", "replace").decode().replace("\0", NB)

    def strong(self, text: str) -> str:
        """`text` in bold, if this is a terminal that a person looks at."""
        return click.style(text, bold=True) if self.bold else text

    def wrapped(self, text: str, indent: int) -> list[str]:
        """Lines of `text`, each starting at column `indent`; what belongs together stays together."""
        lead, text = " " * indent, text if self.marks else self._plain(text)
        lines = textwrap.wrap(
            text, max(self.width, indent + 24), initial_indent=lead, subsequent_indent=lead, break_on_hyphens=False
        )
        return [self.shown(line) for line in lines]

    def hung(self, margin: str, text: str, *, strong: bool = False) -> list[str]:
        """`text` from the axis on, with `margin` left of its first line (or above it where there is no room)."""
        lines = self.wrapped(text, self.axis) or [""]
        if strong:
            lines = [" " * self.axis + self.strong(line[self.axis :]) for line in lines]
        if not margin:
            return lines
        if self.axis < AXIS:
            return [self.shown(margin), *lines]
        return [self.shown(margin).ljust(self.axis) + lines[0][self.axis :], *lines[1:]]


def can_show(encoding: str) -> bool:
    """Whether an encoding has the marks we print."""
    try:
        _MARKS.encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return False
    return True


@contextmanager
def working(text: str) -> Iterator[None]:
    """A line of progress on standard error while something takes long; only where a person sees it."""
    if not sys.stderr.isatty():
        yield
        return
    click.echo(f"{text} ...", nl=False, err=True)
    try:
        yield
    finally:
        click.echo("\r" + " " * (len(text) + 4) + "\r", nl=False, err=True)
