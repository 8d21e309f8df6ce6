"""Plausible slips of a keeper's hand: a figure that may be wrong, what was expected, and what was likely meant.

Nothing is put right in silence: a slip is a question. A question is asked where a figure can hardly be true, or where it
is unlikely and one ordinary slip (two figures swapped, the point or a figure lost, another unit, the tray on the scale)
turns it into one that was expected. Figures are in the unit they were typed in; spans are given in the same unit.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from chalaza.values.estimate import Figures, figures

#: Eggs differ: no question before an egg has lost this many times what was expected of it, and this share more. Judgement.
_LOST_TIMES, _LOST_MORE = 2.0, 0.03
#: An egg only loses: what a scale's zero, a draught and a drop may add to it, as a share of its mass. Judgement.
_GAIN = 0.01
#: A prediction from a weighing of yesterday is sharper than hands and draughts are: so much either way is usual. Judgement.
_USUAL = 0.01
#: Eggs nobody weighed or measured: beyond the span of their kind by this factor there is a question. Judgement.
_KIND_TIMES = 1.5
#: The edge of an air cell moves down; two readings of one edge differ by about this. [mm]; as `inference/rows` has it
_REREAD_MM, _DEPTH_TIMES = 2.0, 2.0
#: A box for eggs is steered within this. [°C]; the eggs of every kind of the table are
_BOX_DEGC = (30.0, 40.0)
#: More than these ways out are no help.
_MOST = 2

_NONE: Mapping[str, float] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Span:
    """From-to, both in the unit of the figure that is looked at."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high

    def wider(self, by: float) -> "Span":
        """The same with so much more at either end."""
        return Span(self.low - by, self.high + by)


@dataclass(frozen=True, slots=True)
class Typed:
    """A number as typed, and how many decimals its instrument shows."""

    value: float
    decimals: int

    @property
    def digits(self) -> str:
        """Its figures as they stand on the instrument, without point or sign."""
        return f"{abs(self.value):.{self.decimals}f}".replace(".", "")

    def of(self, digits: str) -> float:
        """The number those figures make on the same instrument."""
        return int(digits) / 10.0**self.decimals


@dataclass(frozen=True, slots=True)
class Likely:
    """What was likely meant, in the same unit. `why`: "swapped", "point", "added", a unit it was meant in, "tray",
    "swing" (day and month), "day" (yesterday), "year"."""

    value: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A question: its code, what is given (`given`) and was expected (`low`, `high`), the ways out, the likeliest first.

    `keep`: whether it may stand as it is. `missing`: a figure seems to have been left out, and nobody can tell which.
    """

    code: str
    figures: Figures
    likely: tuple[Likely, ...] = ()
    keep: bool = True
    missing: bool = False


# what a hand does to a figure --------------------------------------------------------------------------------------


def meant(typed: Typed, expected: Span, others: Mapping[str, float] = _NONE) -> tuple[Likely, ...]:
    """What one ordinary slip makes of a figure, if it was expected then. `others`: the figure read in another way."""
    found: dict[float, Likely] = {}
    for one in (*_of_digits(typed), *(Likely(value, why) for why, value in others.items())):
        value = round(one.value, typed.decimals)
        if value != typed.value and expected.holds(value):
            found.setdefault(value, Likely(value, one.why))
    return tuple(found.values())[:_MOST]


def _of_digits(typed: Typed) -> Iterator[Likely]:
    digits = typed.digits
    for i in range(len(digits) - 1):
        if digits[i] != digits[i + 1]:
            yield Likely(typed.of(digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :]), "swapped")
    for power in (1, -1, 2, -2):
        moved = typed.value * 10.0**power
        if abs(moved - round(moved, typed.decimals)) < 1e-9 * max(1.0, abs(moved)):  # the instrument shows no more
            yield Likely(moved, "point")
    if len(digits) > 1:
        for i in range(len(digits)):
            yield Likely(typed.of(digits[:i] + digits[i + 1 :]), "added")


def figure_missing(typed: Typed, expected: Span) -> bool:
    """Whether one figure more would make an expected number."""
    digits = typed.digits.lstrip("0")
    more = (digits[:i] + each + digits[i:] for i in range(len(digits) + 1) for each in "0123456789")
    return bool(digits) and any(expected.holds(typed.of(one)) for one in more)


def _slip(
    code: str, typed: Typed, expected: Span, near: Span, others: Mapping[str, float] = _NONE, **more: float
) -> Slip:  # fmt: skip
    """What lies within `near` is taken for meant; `expected` is told."""
    likely = meant(typed, near, others)
    said = figures(given=typed.value, low=expected.low, high=expected.high, **more)
    return Slip(code=code, figures=said, likely=likely, missing=not likely and figure_missing(typed, near))


# masses ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class OnScale:
    """What is known of an egg, or of eggs handled as one, before it is weighed; masses in the unit of the scale.

    `expected`: 90 % range now. `first`: mass at setting (0: not known), `loss`: share expected to be lost since;
    `last`: the last weighing (0: none). `tray`: what the whole tray with all its eggs is expected to show (0 to 0: not
    known).
    """

    expected: Span
    first: float = 0.0
    loss: float = 0.0
    last: float = 0.0
    tray: Span = Span(0.0, 0.0)

    @property
    def usual(self) -> Span:
        """Within this nothing is asked, and what a slip would make of a figure is taken for meant."""
        return self.expected.wider(max(0.5 * (self.expected.high - self.expected.low), _USUAL * self.expected.high))

    @property
    def possible(self) -> Span:
        """Outside this there is always a question."""
        if not self.first:
            return Span(self.expected.low / _KIND_TIMES, self.expected.high * _KIND_TIMES)
        low = self.first * (1.0 - _LOST_TIMES * self.loss - _LOST_MORE)
        high = (self.last or self.first) * (1.0 + _GAIN)
        return Span(min(low, self.usual.low), max(high, self.expected.high))


def mass(typed: Typed, known: OnScale, others: Mapping[str, float] = _NONE) -> Slip | None:
    """A question about the mass of one egg (or of a group as one), or None. `others`: the figure read in other units."""
    value = typed.value
    if known.usual.holds(value):
        return None
    in_other_unit = any(known.usual.holds(one) for one in others.values())
    if known.tray.high > 0 and known.tray.holds(value) and not in_other_unit:
        return Slip(code="mass.tray", figures=figures(given=value, low=known.expected.low, high=known.expected.high))
    code = _mass_code(value, known)
    share = {"lost": 1.0 - value / known.first} if known.first else {}
    if code == "mass.light":
        found = _slip(code, typed, known.expected, known.usual, others, **share)
    else:
        found = _slip(code, typed, known.expected, known.usual, others, last=known.last or known.first)
    if known.possible.holds(value):
        swapped = tuple(one for one in found.likely if one.why == "swapped")
        return Slip(code=found.code, figures=found.figures, likely=swapped) if swapped else None
    return found


def _mass_code(value: float, known: OnScale) -> str:
    if not known.first:
        return "mass.kind"
    return "mass.light" if value < known.expected.low else "mass.heavy"


def load(
    gross: Typed, tare: float, known: OnScale, *, remembered: float = 0.0, others: Mapping[str, float] = _NONE
) -> Slip | None:
    """A question about a tray or group weighed in one figure, or None. `known` speaks of the eggs on the scale alone;
    `remembered` is the tare of the last time."""
    net = gross.value - tare
    if known.usual.holds(net) or known.possible.holds(net):
        return None
    said = figures(given=gross.value, net=net, tare=tare, low=known.expected.low, high=known.expected.high)
    if tare > 0 and known.possible.holds(gross.value):
        return Slip(code="load.without_tray", figures=said, likely=(Likely(0.0, "tray"),))
    if remembered > 0 and remembered != tare and known.possible.holds(gross.value - remembered):
        return Slip(code="load.with_tray", figures=said, likely=(Likely(remembered, "tray"),))
    whole = Span(known.possible.low + tare, known.possible.high + tare)
    likely = meant(gross, Span(known.usual.low + tare, known.usual.high + tare), others) or meant(gross, whole, others)
    return Slip(code="load.light" if net < known.expected.low else "load.heavy", figures=said, likely=likely)


# lengths, warmth, humidity -----------------------------------------------------------------------------------------


def depth(
    typed: Typed, expected: Span, *, last: float = 0.0, per_mm: float = 1.0, others: Mapping[str, float] = _NONE
) -> Slip | None:
    """A question about the depth of an air cell, or None. `last`: the mark before; `per_mm`: of the unit in a millimetre."""
    reread = _REREAD_MM * per_mm
    if last and typed.value < last - reread:
        grown = Span(last - reread, max(expected.high, last))
        return _slip("depth.shrunk", typed, grown, grown, others, last=last)
    if expected.wider(reread).holds(typed.value):
        return None
    if expected.low / _DEPTH_TIMES - reread <= typed.value <= expected.high * _DEPTH_TIMES + reread:
        return None
    return _slip("depth.odd", typed, expected, expected.wider(reread), others)


def temperature(typed: Typed, wanted: Span, others: Mapping[str, float] = _NONE) -> Slip | None:
    """A question about a temperature that lies outside what is wanted or possible for it, or None."""
    return None if wanted.holds(typed.value) else _slip("temp.odd", typed, wanted, wanted, others)


def box(show: str) -> Span:
    """What a box for eggs is steered within, in "°C" or "°F"."""
    low, high = _BOX_DEGC
    return Span(low, high) if show == "°C" else Span(low * 1.8 + 32.0, high * 1.8 + 32.0)


def humidity(percent: float, decimals: int = 0) -> Slip | None:
    """A question about a humidity in per cent that looks like a share of one, or None."""
    if not 0.0 < percent <= 1.0:
        return None
    said = figures(given=percent, low=1.0, high=100.0)
    return Slip(code="rh.share", figures=said, likely=(Likely(round(100.0 * percent, decimals), "share"),))


# moments -----------------------------------------------------------------------------------------------------------


def moment(at: int, *, now: int, begin: int | None = None, others: Mapping[str, int]) -> Slip | None:
    """A question about the moment something was done, or None: it lies after `now` or before `begin` (seconds UTC).

    `others`: other ways to read what was typed, by the slip that would make them, the likeliest first.
    """
    if at <= now and (begin is None or at >= begin):
        return None
    first = begin if begin is not None else now
    fitting: Iterable[tuple[str, int]] = ((why, one) for why, one in others.items() if first <= one <= now)
    likely = tuple(Likely(one, why) for why, one in fitting)[:_MOST]
    said = figures(given=float(at), low=float(first), high=float(now))
    if at > now:
        return Slip(code="moment.future", figures=said, likely=likely, keep=False)
    return Slip(code="moment.before", figures=said, likely=likely)
