"""The reach: a value with its 90 % range against a wanted band, on a scale of which the band is always the middle third.

So answers in different units compare by eye. Solid inside the band, hollow outside, a tick for the value, the ends named;
an arrow where the range goes on beyond the scale. All places are per cent of the width: one drawing fits any page.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from html import escape

from chalaza.charts import pen, tokens
from chalaza.charts.base import Say, plain
from chalaza.charts.labels import LINE_PX, text_width
from chalaza.values.estimate import Band, Estimate

__all__ = ["HEIGHT", "LEAST_PX", "MINI_PX", "Labels", "Scale", "reach", "scale"]

#: Height of the drawing, and of the mini one that stands in a row or a cell. [px]
HEIGHT, MINI_PX = 66, 18
#: The narrowest page in which no word covers another, and the widest that was thought of. [px]
LEAST_PX, _MOST_PX = 280.0, 1_000.0
#: The band is this part of the scale; of "at least" it begins here and runs off the edge. [per cent]
_THIRD = 100.0 / 3.0
#: "At least so many": the scale shows so much of that number on either side of a third.
_PART_OF_LEAST = 1.0 / 3.0
#: Level of the middle, of words above and below and in a row beneath. [px]
_MIDDLE, _ABOVE, _BELOW = 31.0, 12.0, 60.0
_AIR_PX = 2.0
#: An end so near the edge of the scale may have its word at that edge. [per cent]
_NEAR = 34.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Labels:
    """The words of a reach as a person reads them, in their units: both ends of the range, both edges of the band.

    `word`: what the band is called ("wanted", "usual", "asked for"). `value`: for the label read aloud.
    """

    low: str
    high: str
    band_low: str
    band_high: str
    word: str = "wanted"
    value: str = ""


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight scale: the value at its left and at its right edge."""

    left: float
    right: float

    def at(self, value: float) -> float:
        """Place of a value, 0 to 100 within the scale. [per cent]"""
        return 100.0 * (value - self.left) / (self.right - self.left)


def scale(estimate: Estimate, band: Band, *, at_least: bool = False) -> Scale:
    """The scale on which the band is the middle third. A band without width gets a third from the range, else from 1."""
    if at_least:
        third = band.high - band.low if band.high > band.low else max(abs(band.low) * _PART_OF_LEAST, 1.0)
        return Scale(band.low - third, band.low + 2.0 * third)
    third = band.high - band.low
    if third <= 1e-12 * max(abs(band.low), abs(band.high), 1.0):
        third = estimate.high - estimate.low or 1.0
        middle = 0.5 * (band.low + band.high)
        return Scale(middle - 1.5 * third, middle + 1.5 * third)
    return Scale(band.low - third, band.high + third)


def reach(
    estimate: Estimate, band: Band, *, labels: Labels | None = None, mini: bool = False, at_least: bool = False,
    label: str | None = None, on: Scale | None = None, say: Say = plain,
) -> str:  # fmt: skip
    """The drawing as SVG, as wide as the place it stands in; of class `reach`, and `mini`, or `tall` where a row was added.

    `labels`: its words (figures as they are, if None). `mini`: without words, and unless `label` is given not read
    aloud, for it stands beside its figure. `at_least`: the band has no upper edge. `on`: a scale shared with others.
    """
    found = on or scale(estimate, band, at_least=at_least)
    named = labels or _plain_labels(estimate, band, at_least=at_least, say=say)
    shown = _Shown(estimate, band, found, at_least)
    words = [] if mini else _words(shown, named)
    tall = any(one.y > _BELOW for one in words)
    height = MINI_PX if mini else HEIGHT + (LINE_PX if tall else 0.0)
    said = label if label is not None or mini else _label(named, at_least=at_least, say=say)
    marks = _mini(shown) if mini else _big(shown)
    return (
        _root(height, said, "reach mini" if mini else "reach tall" if tall else "reach")
        + "".join((*marks, *(one.svg() for one in words)))
        + "</svg>"
    )


def _root(height: float, label: str | None, name: str) -> str:
    heard = 'aria-hidden="true"' if label is None else f'role="img" aria-label="{escape(label)}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{name}" width="100%" height="{height:g}" {heard} '
        f'font-family="{escape(tokens.FACE)}">'
    )


@dataclass(frozen=True, slots=True)
class _Shown:
    """An estimate on its scale, in per cent of the width; `left` and `right` are cut at the edges."""

    estimate: Estimate
    band: Band
    scale: Scale
    at_least: bool

    @property
    def low(self) -> float:
        return self.scale.at(self.estimate.low)

    @property
    def value(self) -> float:
        return self.scale.at(self.estimate.value)

    @property
    def high(self) -> float:
        return self.scale.at(self.estimate.high)

    @property
    def edges(self) -> tuple[float, float]:
        """Of the band, within the scale."""
        last = 100.0 if self.at_least else min(self.scale.at(self.band.high), 100.0)
        return max(self.scale.at(self.band.low), 0.0), max(last, 0.0)

    @property
    def beyond(self) -> tuple[bool, bool]:
        """Whether the range goes on beyond the left and the right edge."""
        return self.low < -0.01, self.high > 100.01


def _share(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") + "%"


def _box(first: float, last: float, y: float, height: float, *, fill: str, rim: str | None = None) -> str:
    """A box between two places [per cent], `height` px high from `y` on."""
    edge = f' stroke="{tokens.var(rim)}" stroke-width="1.5"' if rim is not None else ""
    return (
        f'<rect x="{_share(first)}" y="{y:g}" width="{_share(max(last - first, 0.0))}" height="{height:g}" '
        f'fill="{tokens.var(fill)}"{edge}/>'
    )


def _line(x1: float, y1: float, x2: float, y2: float, *, token: str, width: float) -> str:
    return (
        f'<line x1="{_share(x1)}" x2="{_share(x2)}" y1="{y1:g}" y2="{y2:g}" stroke="{tokens.var(token)}" '
        f'stroke-width="{width:g}"/>'
    )


def _here(x: float, inner: str) -> str:
    """Something drawn in px about a place in per cent."""
    return f'<svg x="{_share(x)}" overflow="visible">{inner}</svg>'


def _bar(shown: _Shown, y: float, hollow: float, solid: float, tick: tuple[float, float, float]) -> list[str]:
    """The range about level `y`: hollow, solid where it meets the band, a tick at the value, arrows beyond the scale."""
    low, high = max(shown.low, 0.0), min(shown.high, 100.0)
    first, last = shown.edges
    out: list[str] = []
    if high > low:
        out.append(_box(low, high, y - 0.5 * hollow, hollow, fill="paper", rim="ink"))
    if (inner := min(high, last)) > (start := max(low, first)):
        out.append(_box(start, inner, y - 0.5 * solid, solid, fill="ink"))
    if -0.01 <= shown.value <= 100.01:
        x, (up, half, gap) = min(max(shown.value, 0.0), 100.0), tick
        cut = pen.path(f"M0 {pen.n(y - up)}V{pen.n(y + up)}", stroke="paper", width=gap)
        mark = pen.path(f"M0 {pen.n(y - up)}V{pen.n(y + up)}", width=2.0 * half)
        out.append(_here(x, cut + mark))
    size = 6.0 if solid < 8.0 else 9.0
    left, right = shown.beyond
    if left:
        out.append(_here(0.0, pen.path(f"M{size:g} {y - size:g}L1 {y:g}L{size:g} {y + size:g}", width=2.25)))
    if right:
        out.append(_here(100.0, pen.path(f"M-{size:g} {y - size:g}L-1 {y:g}L-{size:g} {y + size:g}", width=2.25)))
    return out


def _big(shown: _Shown) -> list[str]:
    first, last = shown.edges
    posts = (first,) if shown.at_least else (first, last)
    return [
        _line(0.0, _MIDDLE, 100.0, _MIDDLE, token="hair", width=1.0),
        _box(first, last, _MIDDLE - 11.0, 22.0, fill="want"),
        *(_line(x, _MIDDLE - 11.0, x, _MIDDLE + 15.0, token="ink", width=1.5) for x in posts),
        *_bar(shown, _MIDDLE, 8.0, 9.5, (12.0, 1.5, 6.5)),
    ]


def _mini(shown: _Shown) -> list[str]:
    first, last = shown.edges
    return [
        _line(0.0, 9.0, 100.0, 9.0, token="hair", width=1.0),
        _box(first, last, 2.0, 14.0, fill="want"),
        *_bar(shown, 9.0, 5.0, 6.5, (7.5, 1.25, 6.0)),
    ]


# --- Words ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Word:
    """A word at `x` [per cent] and `dx` px on, with its base line at `y`."""

    x: float
    y: float
    text: str
    align: str
    token: str = "ink"
    dx: float = 0.0

    def box(self, width: float) -> tuple[float, float]:
        """Left and right edge where the drawing is `width` px wide."""
        wide = text_width(self.text)
        left = self.x / 100.0 * width + self.dx - {"left": 0.0, "center": 0.5, "right": 1.0}[self.align] * wide
        return left, left + wide

    def svg(self) -> str:
        return pen.text(_share(self.x), self.y, self.text, align=self.align, token=self.token)


def _clear(word: _Word, placed: Iterable[_Word]) -> bool:
    """Whether a word is not cut and covers no other, at the least width and (so at all between) at the greatest."""
    for width in (LEAST_PX, _MOST_PX):
        left, right = word.box(width)
        if left < -0.01 or right > width + 0.01:
            return False
        for other in placed:
            first, last = other.box(width)
            if other.y == word.y and left < last + _AIR_PX and first < right + _AIR_PX:
                return False
    return True


def _put(placed: list[_Word], tries: Iterable[_Word]) -> None:
    chosen = next((one for one in tries if _clear(one, placed)), None)
    if chosen is not None:
        placed.append(chosen)


def _words(shown: _Shown, labels: Labels) -> list[_Word]:
    placed: list[_Word] = []
    _ends(placed, shown, labels)
    _edges(placed, shown, labels)
    return placed


def _ends(placed: list[_Word], shown: _Shown, labels: Labels) -> None:
    """Both ends of the range above it; as one range where it lies beyond the scale or there is no room for two."""
    one = labels.low == labels.high
    both = labels.low if one else f"{labels.low}–{labels.high}"
    if shown.high < 0.0 or shown.low > 100.0 or one:
        x = min(max(shown.value, 0.0), 100.0)
        _put(placed, _about(x, both))
        return
    low, high = max(shown.low, 0.0), min(shown.high, 100.0)
    first = _Word(low, _ABOVE, labels.low, "right", "soft")
    last = _Word(high, _ABOVE, labels.high, "left", "soft")
    lefts = [first, replace(first, x=0.0, align="left")] if low < _NEAR else [first]
    rights = [last, replace(last, x=100.0, align="right")] if high > 100.0 - _NEAR else [last]
    for left in lefts:
        for right in rights:
            if _clear(left, ()) and _clear(right, (left,)):
                placed += [left, right]
                return
    _put(placed, _about(min(max(shown.value, 0.0), 100.0), both))


def _about(x: float, text: str) -> list[_Word]:
    """A word above a place, or as near to it as the edges allow."""
    middle = _Word(x, _ABOVE, text, "center", "soft")
    sides = [replace(middle, align="left"), replace(middle, align="right")]
    ends = [replace(middle, x=0.0, align="left"), replace(middle, x=100.0, align="right")]
    return [middle, *sides, *(ends if x < 50.0 else ends[::-1])]


def _edges(placed: list[_Word], shown: _Shown, labels: Labels) -> None:
    """Both edges of the band beneath it, and between them what it is called; in a row of its own where it is tight."""
    first, last = shown.edges
    if shown.at_least:
        _put(placed, [_Word(first, _BELOW, labels.band_low, "center"), _Word(first, _BELOW, labels.band_low, "right")])
        named = [(_Word(0.5 * (first + last), _BELOW, labels.word, "center", "soft"))]
    elif labels.band_low == labels.band_high:
        _put(placed, [_Word(0.5 * (first + last), _BELOW, labels.band_low, "center")])
        named = []
    else:
        for x, text, out in ((first, labels.band_low, "right"), (last, labels.band_high, "left")):
            _put(placed, [_Word(x, _BELOW, text, "center"), _Word(x, _BELOW, text, out)])
        named = [_Word(0.5 * (first + last), _BELOW, labels.word, "center", "soft")]
    beneath = _Word(0.5 * (first + last), _BELOW + LINE_PX, labels.word, "center", "soft")
    _put(placed, [*named, beneath])


def _plain_labels(estimate: Estimate, band: Band, *, at_least: bool, say: Say) -> Labels:
    """Figures as they are (shares in per cent), with as many decimals as the range needs; edges of the band without noughts."""
    times = 100.0 if estimate.unit == "1" else 1.0
    span = times * (estimate.high - estimate.low or band.high - band.low)
    digits = 0 if span >= 5.0 else 1 if span >= 0.05 else 3

    def write(value: float) -> str:
        return f"{times * value:.{digits}f}".replace("-", "−")

    def edge(value: float) -> str:
        return f"{times * value:.{max(digits, 1)}f}".rstrip("0").rstrip(".").replace("-", "−")

    return Labels(
        low=write(estimate.low), high=write(estimate.high), band_low=edge(band.low), band_high=edge(band.high),
        word=say("asked for") if at_least else say("wanted"), value=write(estimate.value),
    )  # fmt: skip


def _label(labels: Labels, *, at_least: bool, say: Say) -> str:
    """What the drawing says, for who cannot see it."""
    holes = {
        "low": labels.low, "high": labels.high, "first": labels.band_low, "last": labels.band_high,
        "word": labels.word, "value": labels.value,
    }  # fmt: skip
    if at_least:
        with_value, without = (
            say("{value}, range {low} to {high}; {word}: at least {first}."),
            say("Range {low} to {high}; {word}: at least {first}."),
        )
    else:
        with_value, without = (
            say("{value}, range {low} to {high}; {word}: {first} to {last}."),
            say("Range {low} to {high}; {word}: {first} to {last}."),
        )
    return (with_value if labels.value else without).format(**holes)
