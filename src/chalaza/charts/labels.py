"""Words in a drawing: how wide they may be in any of the fonts, and a board on which none covers another or is cut."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from chalaza.inference.grid import Floats

#: Widths of letters as shares of the size, no less than those of DejaVu Serif, which runs wider than any font named in
#: `tokens.FACE` and is what a machine without them shows. First matching row; others are as wide as an "n".
_WIDTHS_EM = (
    (frozenset("ijl.,:;'’|· "), 0.34), (frozenset("tfrIJ()–°"), 0.50), (frozenset("mwMW%—"), 1.03),
    (frozenset("ABCDEFGHKLNOPQRSTUVXYZ+−×"), 0.88),
)  # fmt: skip
_USUAL_EM, _BOLD = 0.645, 1.11
SIZE_PX = 14.0
#: From the base line: up to the tallest letter, down to the lowest. [px]
_UP, _DOWN = 11.5, 3.5
#: Between base lines. [px]
LINE_PX = 17.0
_AIR_PX = 3.0
#: How far a word at the end of a line may be moved to keep clear of others. [px]
_NUDGES = (0.0, 3.0, -3.0, 6.0, -6.0, 9.0, -9.0, 13.0, -13.0, 17.0, -17.0)


@lru_cache(maxsize=2_048)
def text_width(text: str, *, bold: bool = False) -> float:
    """Width of a word in the widest font it may be shown in. [px]"""
    em = sum(next((em for letters, em in _WIDTHS_EM if c in letters), _USUAL_EM) for c in text)
    return SIZE_PX * em * (_BOLD if bold else 1.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Label:
    """A word with its base line at `y`, beginning, centred or ending at `x`. [px]"""

    x: float
    y: float
    text: str
    align: str = "left"
    token: str = "ink"
    bold: bool = False

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom. [px]"""
        width = text_width(self.text, bold=self.bold)
        left = self.x - {"left": 0.0, "center": 0.5, "right": 1.0}[self.align] * width
        return left, self.y - _UP, left + width, self.y + _DOWN


def _overlap(a: Label, b: Label) -> bool:
    (al, at, ar, ab), (bl, bt, br, bb) = a.box, b.box
    return al < br + _AIR_PX and bl < ar + _AIR_PX and at < bb and bt < ab


@dataclass(slots=True)
class Board:
    """The words of one drawing; invariant: none covers another, none is cut by the edge. [px]"""

    width: float
    height: float
    labels: list[Label] = field(default_factory=list)
    _points: list[Floats] = field(default_factory=list)
    _faint: list[Floats] = field(default_factory=list)

    def draw(self, x: Sequence[float] | Floats, y: Sequence[float] | Floats, *, faint: bool = False) -> None:
        """Tell of a line that words should not cross; NaN breaks it. A `faint` one may be crossed before a bold one."""
        into = self._faint if faint else self._points
        xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
        if len(xs) < 2:
            into.append(np.column_stack((xs, ys)))
            return
        steps = np.maximum(np.nan_to_num(np.hypot(np.diff(xs), np.diff(ys))) / 1.5, 1.0).astype(np.int64)
        at = np.concatenate([i + np.arange(n) / n for i, n in enumerate(steps.tolist())] + [[len(xs) - 1.0]])
        lower = np.minimum(at.astype(np.int64), len(xs) - 2)
        w = at - lower
        into.append(np.column_stack(((1 - w) * xs[lower] + w * xs[lower + 1], (1 - w) * ys[lower] + w * ys[lower + 1])))

    def fits(self, label: Label) -> bool:
        """Whether the word lies inside, free of other words."""
        left, top, right, bottom = label.box
        inside = left >= -0.01 and top >= -0.01 and right <= self.width + 0.01 and bottom <= self.height + 0.01
        return inside and not any(_overlap(label, other) for other in self.labels)

    def crossed(self, label: Label, *, faint: bool = True) -> bool:
        """Whether a line runs through the word (`faint`: or a faint one)."""
        left, top, right, bottom = label.box
        return any(
            bool(np.any((p[:, 0] > left) & (p[:, 0] < right) & (p[:, 1] > top) & (p[:, 1] < bottom)))
            for p in (*self._points, *(self._faint if faint else ()))
        )

    def place(self, candidates: Iterable[Label], *, cross: bool = False) -> Label | None:
        """Put the first candidate that fits and that no line crosses; failing that one crossed by a faint line only.

        `cross`: failing that too, the first that fits. None: the word is left out.
        """
        free = [one for one in candidates if self.fits(one)]
        chosen = next((one for one in free if not self.crossed(one)), None)
        if chosen is None:
            chosen = next((one for one in free if not self.crossed(one, faint=False)), None)
        if chosen is None and cross:
            chosen = next(iter(free), None)
        if chosen is not None:
            self.labels.append(chosen)
        return chosen

    def stack(self, labels: Sequence[Label], *, low: float, high: float) -> None:
        """Put words one under another near where they belong, a line apart, between `low` and `high`."""
        ordered = sorted(labels, key=lambda one: one.y)
        ys = apart([one.y for one in ordered], LINE_PX, low=low, high=high)
        for one, y in zip(ordered, ys, strict=True):
            self.place([replace(one, y=y + by) for by in _NUDGES], cross=True)


def apart(places: Sequence[float], gap: float, *, low: float, high: float) -> list[float]:
    """Places in order, moved so far that each is `gap` from the next, within `low` and `high` as far as they go."""
    out = list(places)
    for _ in range(40):
        for i in range(len(out) - 1):
            short = gap - (out[i + 1] - out[i])
            if short > 0:
                out[i], out[i + 1] = out[i] - short / 2.0, out[i + 1] + short / 2.0
    for i in range(len(out)):
        out[i] = max(out[i], low if i == 0 else out[i - 1] + gap)
    for i in reversed(range(len(out))):
        out[i] = min(out[i], high if i == len(out) - 1 else out[i + 1] - gap)
    return out


def inside(label: Label, width: float) -> Label:
    """The word moved just so far that neither edge cuts it."""
    left, _, right, _ = label.box
    return replace(label, x=label.x + max(-left, 0.0) + min(width - right, 0.0))
