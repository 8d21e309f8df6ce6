"""Figures as people read them: value, unit and 90 % range with the same decimals; moments with weekday and hour.

Degrees Celsius come first with Fahrenheit in the same line, unless the keeper wants one system alone. Spaces inside a
figure do not break.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType
from zoneinfo import ZoneInfo

from chalaza import units
from chalaza.errors import ChalazaError
from chalaza.values.estimate import Band, Estimate, Figure
from chalaza.words.language import BUILT_IN, ENGLISH, Language, Plural, Text, mark

DAY_S, HOUR_S = 86_400, 3_600
#: A space that does not break, and the dash of a range.
NB, DASH, MINUS = "\u00a0", "–", "−"


class Preference(StrEnum):
    """Units a keeper reads: both systems (Celsius first), or one alone."""

    BOTH = "both"
    METRIC = "metric"
    US = "us"


@dataclass(frozen=True, slots=True)
class Shown:
    """One way to show a quantity: the unit as `units` knows it, the sign printed, decimals."""

    unit: str
    sign: str
    decimals: int


@dataclass(frozen=True, slots=True)
class Style:
    """How a figure is shown: metric way first. `difference` has no zero of its own; `signed` always shows its sign."""

    metric: Shown
    us: Shown | None = None
    difference: bool = False
    signed: bool = False

    def ways(self, units_wanted: Preference) -> tuple[Shown, ...]:
        """The ways to show, the leading one first."""
        if self.us is None or units_wanted is Preference.METRIC:
            return (self.metric,)
        return (self.us,) if units_wanted is Preference.US else (self.metric, self.us)


_C, _F = Shown("°C", "°C", 1), Shown("°F", "°F", 1)
STYLES: Mapping[str, Style] = MappingProxyType(
    {
        "temperature": Style(_C, _F),
        "step": Style(Shown("K", "°C", 1), _F, difference=True),
        "change": Style(Shown("K", "°C", 1), _F, difference=True, signed=True),
        "dose": Style(Shown("K h", "°C·h", 0), Shown("°F", "°F·h", 0), difference=True),
        "loss": Style(Shown("%", "%", 1)),
        "humidity": Style(Shown("%", "%", 0)),
        "share": Style(Shown("%", "%", 0)),
        "mass": Style(Shown("g", "g", 1), Shown("oz", "oz", 2)),
        "length": Style(Shown("mm", "mm", 1), Shown("in", "in", 2)),
        "altitude": Style(Shown("m", "m", 0), Shown("ft", "ft", 0)),
        "days": Style(Shown("d", "d", 1)),
        "hours": Style(Shown("h", "h", 0)),
        "minutes": Style(Shown("min", "min", 0)),
        "hours_signed": Style(Shown("h", "h", 0), signed=True),
        "points": Style(Shown("%", "%", 1), difference=True, signed=True),
        "times": Style(Shown("1", "", 1), signed=True),
        "count": Style(Shown("1", "", 0)),
        "young": Style(Shown("1", "", 1)),
        "follows": Style(Shown("1", "°C/°C", 2)),
    }
)

WEEKDAYS = tuple(map(mark, ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")))
MONTHS = tuple(
    map(
        mark,
        (
            "January", "February", "March", "April", "May", "June",
            "July", "August", "September", "October", "November", "December",
        ),
    )
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """Who is spoken to: language, units, time zone, and the moment of setting (so that no day stands without a date)."""

    language: Language = field(default_factory=lambda: BUILT_IN[ENGLISH])
    units: Preference = Preference.BOTH
    zone: str = "UTC"
    set_at: int = 0

    def of(self, zone: str, set_at: int) -> "Voice":
        """The same voice for another batch."""
        return replace(self, zone=zone, set_at=set_at)

    def say(self, text: Text, holes: Mapping[str, str] = MappingProxyType({}), n: int = 1) -> str:
        """The sentence `text` in this language with its holes filled; `n` chooses the form of a plural."""
        if isinstance(text, Plural):
            return self.language.ngettext(text.one, text.many, n).format_map(holes)
        return self.language.gettext(text).format_map(holes)


def number(value: float, decimals: int, *, signed: bool = False) -> str:
    """A number with a true minus sign, never "−0"; `signed` shows a plus as well."""
    text = f"{abs(value):.{decimals}f}"
    if float(text) == 0.0:
        return text
    return (MINUS if value < 0 else "+" if signed else "") + text


def converted(value: float, style: Style, way: Shown) -> float:
    """`value` (in the unit inside) in the unit of `way`."""
    if way.unit == "°F" and style.difference:
        return units.shown(value, "°F") - units.shown(0.0, "°F")
    return units.shown(value, way.unit)


def quantity(voice: Voice, value: Figure, style_name: str) -> str:
    """A figure with unit and 90 % range: `37.7 °C (36.6–38.8; 99.9 °F)`. Raises `ChalazaError` for text."""
    middle, low, high = _three(value)
    return ranged(voice, middle, low, high, style_name)


def ranged(voice: Voice, middle: float, low: float, high: float, style_name: str) -> str:
    """A value with a range about it, as `quantity`; no range where it has no width."""
    style = STYLES[style_name]
    first, *rest = style.ways(voice.units)
    decimals = _decimals(style, first, low, high)
    text = with_unit(style, first, middle, decimals)
    ends = [number(converted(each, style, first), decimals, signed=style.signed) for each in (low, high)]
    extra = [] if ends[0] == ends[1] else [joined(*ends)]
    extra += [with_unit(style, way, middle, way.decimals) for way in rest]
    return f"{text}{NB}({f';{NB}'.join(extra)})" if extra else text


def with_unit(style: Style, way: Shown, value: float, decimals: int) -> str:
    """A value and its unit."""
    text = number(converted(value, style, way), decimals, signed=style.signed)
    return f"{text}{NB}{way.sign}" if way.sign else text


def _three(value: Figure) -> tuple[float, float, float]:
    if isinstance(value, str):
        raise ChalazaError(f"{value!r} is text where a number is wanted")
    if isinstance(value, Estimate):
        return value.value, value.low, value.high
    return float(value), float(value), float(value)


def _decimals(style: Style, way: Shown, low: float, high: float) -> int:
    """The decimals of the style; one more where a range that is one would read as none."""
    ends = [converted(each, style, way) for each in (low, high)]

    def apart(decimals: int) -> bool:
        return number(ends[0], decimals) != number(ends[1], decimals)

    return way.decimals + 1 if not apart(way.decimals) and apart(way.decimals + 1) else way.decimals


def joined(low: str, high: str) -> str:
    """From-to: a dash, but not between signs, where it would read as one of them."""
    return f"{low}{NB}…{NB}{high}" if low[0] in (MINUS, "+") or high[0] == "+" else f"{low}{DASH}{high}"


def half_width(voice: Voice, value: float, style_name: str, decimals: int | None = None) -> str:
    """Half the width of a 90 % range: `± 24 h`, in the leading unit alone."""
    style = STYLES[style_name]
    way = style.ways(voice.units)[0]
    text = number(converted(value, style, way), way.decimals if decimals is None else decimals)
    return f"±{NB}{text}{NB}{way.sign}".rstrip(NB)


def band(voice: Voice, low: float, high: float, style_name: str) -> str:
    """What is wanted, from-to: `37.2–37.8 °C (99.0–100.0 °F)`."""
    style = STYLES[style_name]
    spans = [_span(style, way, low, high) for way in style.ways(voice.units)]
    return spans[0] if len(spans) == 1 else f"{spans[0]}{NB}({spans[1]})"


def _span(style: Style, way: Shown, low: float, high: float) -> str:
    ends = joined(*(number(converted(each, style, way), way.decimals, signed=style.signed) for each in (low, high)))
    return f"{ends}{NB}{way.sign}".rstrip(NB)


def band_of(voice: Voice, wanted: Band, style_name: str) -> str:
    """A `Band`, from-to, with its unit."""
    return band(voice, wanted.low, wanted.high, style_name)


# Moments ----------------------------------------------------------------------------------------------------------


def moment(voice: Voice, at: float, *, year: bool = False, step_s: int = 60) -> str:
    """A moment in the batch's zone: `Thu 23 April, 03:00`; rounded to `step_s` seconds."""
    local = _local(voice, at, step_s)
    text = mark("{weekday} {day} {month} {year}, {clock}") if year else mark("{weekday} {day} {month}, {clock}")
    return _glued(voice.say(text, _parts(voice, local)))


def _local(voice: Voice, at: float, step_s: int) -> datetime:
    return datetime.fromtimestamp(round(at / step_s) * step_s, ZoneInfo(voice.zone))


def date(voice: Voice, at: float) -> str:
    """A day in the batch's zone: `Thu 23 April`."""
    local = datetime.fromtimestamp(at, ZoneInfo(voice.zone))
    return _glued(voice.say(mark("{weekday} {day} {month}"), _parts(voice, local)))


def clock(voice: Voice, at: float) -> str:
    """The hour of a moment in the batch's zone: `03:00`."""
    return f"{_local(voice, at, 60):%H:%M}"


def _parts(voice: Voice, local: datetime) -> dict[str, str]:
    return {
        "weekday": voice.say(WEEKDAYS[local.weekday()]),
        "day": str(local.day),
        "month": voice.say(MONTHS[local.month - 1]),
        "year": str(local.year),
        "clock": f"{local:%H:%M}",
    }


def _glued(text: str) -> str:
    return text.replace(" ", NB)


def moment_range(voice: Voice, when: Estimate) -> str:
    """A moment with its doubt: `Thu 23 April, 03:00 (± 13 h)`, or from-to where the two sides differ."""
    below, above = when.value - when.low, when.high - when.value
    width = below + above
    if width < 60.0:
        return moment(voice, when.value)
    step = HOUR_S if width > 6.0 * HOUR_S else 600
    if abs(above - below) <= 0.2 * width:
        half = half_width(voice, width / 2.0 / HOUR_S, "hours", 0 if width > 6.0 * HOUR_S else 1)
        return f"{moment(voice, when.value, step_s=step)}{NB}({half})"
    middle, *outer = (_local(voice, each, step) for each in (when.value, when.low, when.high))
    if all(each.date() == middle.date() for each in outer):
        ends = [f"{each:%H:%M}" for each in outer]
    else:
        ends = [moment(voice, each, step_s=step) for each in (when.low, when.high)]
    return voice.say(
        mark("{middle} ({low} to {high})"),
        {"middle": moment(voice, when.value, step_s=step), "low": ends[0], "high": ends[1]},
    )


def day(voice: Voice, age_d: float) -> str:
    """A day since setting with its date: `day 7, Wed 8 April`. Never a bare number."""
    holes = {"day": number(age_d, 0), "date": date(voice, voice.set_at + age_d * DAY_S)}
    return _glued(voice.say(mark("day {day}, {date}"), holes))


def lag(voice: Voice, behind: Figure) -> str:
    """Hours behind or ahead of the calendar, with the range signed: behind is positive."""
    middle, low, high = _three(behind)
    holes = {
        "hours": f"{number(abs(middle), 0)}{NB}h",
        "low": number(low, 0, signed=True),
        "high": number(high, 0, signed=True),
    }
    if round(middle) < 0:
        return voice.say(mark("{hours} ahead of the calendar (by {low} to {high} h)"), holes | _ahead(low, high))
    return voice.say(mark("{hours} behind the calendar (by {low} to {high} h)"), holes)


def _ahead(low: float, high: float) -> dict[str, str]:
    return {"low": number(-high, 0, signed=True), "high": number(-low, 0, signed=True)}
