"""The ways to read a file, side by side: each with a strip on one scale, a sentence, and rows as they read then."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from django.utils.safestring import SafeString, mark_safe

from chalaza.charts import strip
from chalaza.charts.strip import Tick
from chalaza.intake import likely
from chalaza.intake.preview import TIMES, Ask, Way, figures, of_humidity
from chalaza.intake.reader import Reading
from chalaza.intake.report import Statistics
from chalaza.words import logs as words
from chalaza.words import numbers
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import STYLES, Voice

DAY_S = 86_400
_MONTHS = tuple(
    map(mark, ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"))
)  # fmt: skip
_ONE_RUN = mark("One unbroken record of {length}, {first} to {last}.")
_RUNS = mark("{n} separate stretches, {first} to {last}.")
_LATE = Plural(
    mark("{n} of its readings lies after this moment (hollow)."),
    mark("{n} of its readings lie after this moment (hollow)."),
    by="n",
)
_WITHIN = mark("It lies within {batch}.")
_SPREAD = mark("From {low} to {high}, {mean} on average.")
_INCUBATORS = mark("incubators")
_IS, _IS_OF = mark("{printed} is {date}"), mark("{printed} is {date} {year}")
#: A way that puts a record so far from what is likelier is not drawn: on one line with it the others would look the same.
_FAR_S = 1100 * DAY_S
_UNREADABLE = mark("The file could not be read so.")
_DAYS, _HOURS, _MINUTES = (
    Plural(mark("{n} day"), mark("{n} days"), by="n"),
    Plural(mark("{n} hour"), mark("{n} hours"), by="n"),
    Plural(mark("{n} minute"), mark("{n} minutes"), by="n"),
)
#: Clocks: one that follows the seasons at a place, one that does not, none of a place.
_CLOCK_OF, _CLOCK, _FIXED, _UTC = (
    mark("The clock of {place}, set back and forth as in {zone}"),
    mark("A clock set back and forth as in {zone}"),
    mark("Always {zone}, never set back or forth"),
    mark("UTC, the same everywhere"),
)


@dataclass(frozen=True, slots=True)
class RowShown:
    """A row of the file: as printed, as read, its temperature or humidity then."""

    printed: str
    read: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WayShown:
    """One way to read a file."""

    key: str
    title: str
    checked: bool
    likelier: str
    drawing: SafeString
    said: tuple[str, ...]
    rows: tuple[RowShown, ...]
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AskShown:
    """A question with its ways. `field`: its name in the form; `free`: an answer may be written; `typed`: what was."""

    field: str
    title: str
    lead: str
    blocking: bool
    ways: tuple[WayShown, ...]
    doubt: str
    free: str
    typed: str
    wrong: str


def asked(
    voice: Voice, ask: Ask, now: int, batches: Sequence[tuple[int, int, str]], names: dict[int, str], wrong: str,
    typed: str = "",
) -> AskShown:  # fmt: skip
    """A question as it is put. `names`: of the columns, by number; `typed`: what was written where an answer is free."""
    known = words.QUESTIONS.get(ask.stem, words.OTHER)
    holes = {"column": names.get(ask.column or 0, "")}
    ways = [way for way in ask.ways if way.key]
    in_time = ask.stem in TIMES or ask.stem == "zone"
    span = _span_of_times(_near(ask, ways, now), now, ends=ask.stem == "zone") if in_time else None
    scale = None if in_time else _scale(ask, ways)
    return AskShown(
        field=f"q-{ask.code}", title=voice.say(known.title, holes), lead=voice.say(known.lead, holes),
        blocking=ask.blocking, free=ask.free, typed=typed if ask.free else "", wrong=wrong,
        doubt="" if ask.likely.key or not ways else voice.say(words.NEITHER),
        ways=tuple(
            _in_time(voice, ask, way, now, batches, span) if span is not None else _by_figures(voice, ask, way, scale)
            for way in ways
        ),
    )  # fmt: skip


def clock(voice: Voice, ask: Ask, now: int, places: dict[str, str], wrong: str) -> AskShown:
    """The question which clock the logger had. `places`: zone -> a place of ours that keeps it."""
    shown = asked(voice, ask, now, (), {}, wrong)
    return AskShown(
        field="zone", title=shown.title, lead=shown.lead, blocking=True, doubt="", free="zone", typed="", wrong=wrong,
        ways=tuple(_renamed(one, zone_words(voice, one.key, places.get(one.key, ""))) for one in shown.ways),
    )  # fmt: skip


def _renamed(way: WayShown, title: str) -> WayShown:
    return WayShown(
        key=way.key, title=title, checked=way.checked, likelier=way.likelier, drawing=way.drawing, said=way.said,
        rows=way.rows[-1:], unit=way.unit,
    )  # fmt: skip


def zone_words(voice: Voice, zone: str, place: str = "") -> str:
    """A clock in words."""
    if zone == "UTC":
        return voice.say(_UTC)
    if zone[:1] in "+-":
        return voice.say(_FIXED, {"zone": zone})
    return voice.say(_CLOCK_OF if place else _CLOCK, {"zone": zone.replace("_", " "), "place": place})


# Ways in time -------------------------------------------------------------------------------------------------------


def _near(ask: Ask, ways: Sequence[Way], now: int) -> list[Way]:
    """The ways that put the record within some years of where it likely is, or of this moment; all if none does."""
    ends = {way.key: int(t[-1]) for way in ways if len(t := likely.moments(way.reading))}
    there = ends.get(ask.likely.key, now)
    return [way for way in ways if abs(ends.get(way.key, there) - there) < _FAR_S] or list(ways)


def _span_of_times(ways: Iterable[Way], now: int, *, ends: bool) -> tuple[int, int]:
    """One line of time for all ways, and for this moment if it is not far off; of `ends` only where the record ends."""
    read = [likely.moments(way.reading) for way in ways]
    found = [at for t in read if len(t) for at in t[[0, -1]].tolist()]
    if not found:
        return now - DAY_S, now + DAY_S
    first, last = min(found), max(found)
    if ends:
        first = max(first, last - DAY_S // 2)
    wide = max(last - first, DAY_S // 2)
    if first - wide <= now <= last + wide:
        first, last = min(first, now), max(last, now)
    room = max((last - first) // 25, 1800)
    return first - room, last + room


def _in_time(
    voice: Voice, ask: Ask, way: Way, now: int, batches: Sequence[tuple[int, int, str]], span: tuple[int, int] | None
) -> WayShown:  # fmt: skip
    t = likely.moments(way.reading)
    runs = likely.runs(t)
    said: list[str] = []
    if runs:
        holes = {"first": numbers.moment(voice, runs[0][0], year=True), "last": numbers.moment(voice, runs[-1][1])}
        length = {"length": _length(voice, runs[-1][1] - runs[0][0]), "n": str(len(runs))}
        said.append(voice.say(_ONE_RUN if len(runs) == 1 else _RUNS, holes | length))
        late = int((t > now).sum())
        if late:
            said.append(voice.say(_LATE, {"n": str(late)}, n=late))
        said += [voice.say(_WITHIN, {"batch": name}) for start, end, name in batches
                 if ((t >= start) & (t <= end)).mean() > 0.5][:1]  # fmt: skip
    else:
        said.append(voice.say(_UNREADABLE))
    span = span or (now, now + 1)
    here = now if span[0] <= now <= span[1] else None
    off = bool(runs) and (runs[-1][1] < span[0] or runs[0][0] > span[1])
    drawing = "" if off else strip.moments(runs, span, ticks(voice, span), now=here, label=" ".join(said))
    return _way(voice, ask, way, drawing, said, _rows(voice, way.reading), _unit(voice))


def _length(voice: Voice, seconds: int) -> str:
    for size, text in ((DAY_S, _DAYS), (3600, _HOURS), (60, _MINUTES)):
        n = seconds // size
        if n >= 2 or size == 60:
            return voice.say(text, {"n": str(n)}, n=n)
    return ""


def _rows(voice: Voice, reading: Reading | None) -> tuple[RowShown, ...]:
    """The first two rows and the last one: as printed, the moment read, the temperature then."""
    if reading is None:
        return ()
    found = []
    for one in reading.report.shown:
        found.append(RowShown(one.stamp, numbers.moment(voice, one.at, year=True), _value_at(voice, reading, one.at)))
    return tuple(found)


def _value_at(voice: Voice, reading: Reading, at: int) -> str:
    """The first temperature at a moment, as a bare number in the leading unit."""
    for log in reading.probes:
        place = int(np.searchsorted(log.t, at))
        if place < len(log.t) and log.t[place] == at and not np.isnan(log.temp_degc[place]):
            return temperature(voice, float(log.temp_degc[place]))
    return ""


def _unit(voice: Voice) -> str:
    return STYLES["temperature"].ways(voice.units)[0].sign


def temperature(voice: Voice, value_degc: float) -> str:
    """A temperature as a bare number in the leading unit."""
    style = STYLES["temperature"]
    way = style.ways(voice.units)[0]
    return numbers.number(numbers.converted(value_degc, style, way), way.decimals)


def ticks(voice: Voice, span: tuple[float, float]) -> list[Tick]:
    """Named places on a line of time: years, months, Mondays, days or hours, whichever are few enough."""
    zone = ZoneInfo(voice.zone)
    first, last = (datetime.fromtimestamp(each, zone) for each in span)
    wide_d = (span[1] - span[0]) / DAY_S
    day = first.replace(hour=0, minute=0, second=0, microsecond=0)
    out: list[tuple[datetime, str]] = []
    if wide_d <= 2.5:
        step = 6 if wide_d > 1.0 else 3 if wide_d > 0.4 else 1
        hours = (day + timedelta(hours=n) for n in range(0, 96, step))
        out = [(at, f"{at:%H:%M}") for at in hours]
    elif wide_d <= 70.0:
        apart = 1 if wide_d <= 12.0 else 7
        days = [day + timedelta(days=n) for n in range(0, int(wide_d) + 3, apart)]
        out = [(at, f"{at.day}\u00a0{voice.say(_MONTHS[at.month - 1])}") for at in days]
    elif wide_d <= 900.0:
        starts = [day.replace(year=first.year + n // 12, month=n % 12 + 1, day=1)
                  for n in range(first.month - 1, first.month + int(wide_d / 28.0) + 2)]  # fmt: skip
        out = [(at, voice.say(_MONTHS[at.month - 1])) for at in starts]
    else:
        out = [(day.replace(year=year, month=1, day=1), str(year)) for year in range(first.year, last.year + 2)]
    return [Tick(at.timestamp(), word) for at, word in out]


# Ways by figures ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Scale:
    """One scale for all ways: its ends, whether it is of humidity, what is usual in an incubator."""

    span: tuple[float, float]
    humid: bool


def _found(ask: Ask, way: Way) -> Statistics | None:
    """What the column of a question has under this way; of a question about the whole file, its warmest column."""
    if ask.column is not None:
        return figures(way.reading, ask.column)
    columns = [] if way.reading is None else way.reading.report.columns
    inside = [one.inside for one in columns if one.quantity == "temperature" and one.inside is not None]
    return max(inside, key=lambda one: one.mean or 0.0, default=None)


def _scale(ask: Ask, ways: Sequence[Way]) -> _Scale | None:
    found = [(one, _humid(ask, way)) for way in ways if (one := _found(ask, way)) is not None and one.n]
    if not found or len({humid for _, humid in found}) > 1:
        return None
    low = min(one.low for one, _ in found if one.low is not None)
    high = max(one.high for one, _ in found if one.high is not None)
    if not found[0][1]:
        low, high = min(low, likely.INCUBATOR_DEGC[0] - 5.0), max(high, likely.INCUBATOR_DEGC[1] + 2.0)
    room = max(0.05 * (high - low), 0.01)
    return _Scale((low - room, high + room), found[0][1])


def _humid(ask: Ask, way: Way) -> bool:
    return ask.column is not None and way.reading is not None and of_humidity(way.reading, ask.column)


def _by_figures(voice: Voice, ask: Ask, way: Way, scale: _Scale | None) -> WayShown:
    found = _found(ask, way)
    drawing, said = "", []
    if scale is not None and found is not None and found.low is not None and found.high is not None:
        style = "humidity" if scale.humid else "temperature"
        mean = found.mean or 0.0
        holes = {name: numbers.quantity(voice, value, style)
                 for name, value in (("low", found.low), ("high", found.high), ("mean", mean))}  # fmt: skip
        said = [voice.say(_SPREAD, holes)]
        usual = None if scale.humid else likely.INCUBATOR_DEGC
        drawing = strip.figures(
            found.low, mean, found.high, scale.span, _marks(voice, scale), label=said[0], usual=usual,
            word=voice.say(_INCUBATORS),
        )  # fmt: skip
    elif way.reading is None and ask.blocking and not way.examples:
        said = [voice.say(_UNREADABLE)]
    rows = tuple(RowShown(printed, read, "") for printed, read in way.examples)
    return _way(voice, ask, way, drawing, said, rows, "")


def _marks(voice: Voice, scale: _Scale) -> list[Tick]:
    """Round places on the scale, named in the leading unit."""
    low, high = scale.span
    style = STYLES["humidity" if scale.humid else "temperature"]
    way = style.ways(voice.units)[0]
    first, last = (numbers.converted(each, style, way) for each in (low, high))
    step = next((one for one in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0) if (last - first) / one <= 6.0), 200.0)
    out: list[Tick] = []
    at = float(np.ceil(first / step) * step)
    while at <= last:
        share = (at - first) / (last - first)
        sign = f"\u00a0{way.sign}" if not out else ""
        out.append(Tick(low + share * (high - low), f"{numbers.number(at, 0)}{sign}"))
        at += step
    return out


def _dated(voice: Voice, ask: Ask, way: Way) -> str:
    """A way to read dates by its first one: 01/04 is 1 April; with its year where the ways differ in it."""
    years = {one.key: _year(voice, one) for one in ask.ways if one.reading is not None and one.reading.report.shown}
    if way.reading is None or way.key not in years:
        return ""
    first = way.reading.report.shown[0]
    holes = {
        "printed": re.split(r"[ T,]", first.stamp)[0],
        "date": numbers.date(voice, first.at),
        "year": years[way.key],
    }
    return voice.say(_IS_OF if len(set(years.values())) > 1 else _IS, holes)


def _year(voice: Voice, way: Way) -> str:
    assert way.reading is not None
    return str(datetime.fromtimestamp(way.reading.report.shown[0].at, ZoneInfo(voice.zone)).year)


def _way(
    voice: Voice, ask: Ask, way: Way, drawing: str, said: Sequence[str], rows: tuple[RowShown, ...], unit: str
) -> WayShown:  # fmt: skip
    text = words.WAYS.get((ask.stem, way.key))
    likelier = ""
    if way.key == ask.likely.key:
        holes = {name: str(value) for name, value in (ask.likely.figures or {}).items()}
        likelier = voice.say(words.LIKELIER[ask.likely.code], holes, n=int(holes.get("n", 1)))
    chosen = ask.chosen or ask.likely.key
    title = _dated(voice, ask, way) if ask.stem == "date-order" else ""
    return WayShown(
        key=way.key, title=title or (voice.say(text) if text is not None else way.words), checked=way.key == chosen,
        likelier=likelier, drawing=mark_safe(drawing), said=tuple(said), rows=rows, unit=unit,
    )  # fmt: skip
