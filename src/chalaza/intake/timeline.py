"""The local time of every line of a table: joins date and time, counts elapsed time from its start, orders dates."""

import re
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
import numpy.typing as npt

from chalaza.errors import ReadingError
from chalaza.intake import stamps as st
from chalaza.intake.dates import DAY_S, NEVER, Dated, Ints, decide, iso
from chalaza.intake.layout import Layout
from chalaza.intake.questions import Asked, Option, Question
from chalaza.intake.shapes import Spans
from chalaza.intake.table import Table
from chalaza.intake.when import ELAPSED_S, Source

_HALF_DAY = DAY_S // 2
#: 1970-01-01 by the spreadsheet systems; the 1900 one counts a 29 February 1900 that never was (ECMA-376 part 1,
#: 18.17.4.1, memory).
_SERIAL_ZERO = {"1900": 25_569.0, "1904": 24_107.0}
_START = re.compile(r"start|begin|debut|début|inicio|inizio|first|launch|aufzeichnung|von\b|from\b", re.IGNORECASE)
_UNITS_S = {"s": 1.0, "ms": 1e-3, "us": 1e-6}


@dataclass(slots=True)
class Timeline:
    """`local`: seconds as printed (`good`: there is a time); `offset`: offset printed with the stamp, in minutes."""

    local: Ints
    good: Spans
    offset: npt.NDArray[np.int16] | None
    why: str
    decided: bool = True
    utc: bool = False
    zone: str = ""
    notes: list[str] = field(default_factory=list)


def build(table: Table, layout: Layout, source: Source, counter: Ints | None, asked: Asked) -> Timeline:
    """The times of the lines of `table`, as its `source` has them."""
    if source.form in ("stamp", "pair"):
        return _stamped(table, layout, source, counter, asked)
    if source.form == "clock":
        return _clock(table, layout, source, asked)
    values, good = _values(table, source.columns[0])
    if source.form == "epoch":
        local = _whole(values * _UNITS_S[source.unit], good)
        return Timeline(local, good, None, source.why, utc=True)
    if source.form == "serial":
        return _serial(values, good, layout, source, asked)
    return _elapsed(values, good, layout, source, asked)


def _values(table: Table, column: int) -> tuple[npt.NDArray[np.float64], Spans]:
    values = table.numbers[column].values
    return values, np.isfinite(values) & (np.abs(values) < 1e17) & (table.status == 0)


def _whole(seconds: npt.NDArray[np.float64], good: Spans) -> Ints:
    """Seconds to whole ones; what lies outside 1970 to 2100 is no time."""
    inside = good & (seconds >= 0) & (seconds < 131 * 366 * DAY_S)
    good &= inside
    return np.where(inside, np.floor(np.where(inside, seconds, 0.0) + 0.5), 0).astype(np.int64)


def _stamped(table: Table, layout: Layout, source: Source, counter: Ints | None, asked: Asked) -> Timeline:
    dates, clocks = table.stamps[source.columns[0]], table.stamps[source.columns[-1]]
    second = clocks.second
    if source.form == "stamp" and not bool((second >= 0).any()):
        second = np.where(dates.kind != st.NO_DATE, 0, -1).astype(np.int32)
    if source.form == "stamp":  # midnight is left out by some spreadsheets: a bare date among stamps is 0 h
        second = np.where((second < 0) & (dates.kind != st.NO_DATE) & ~clocks.hours_over, 0, second).astype(np.int32)
    shown = [row[source.columns[0]] for row in layout.sample[:3]]
    dated = decide(dates, second, counter, asked, shown)
    good = (dated.day != NEVER) & (second >= 0) & (second <= DAY_S) & (table.status == 0)
    made = Timeline(np.zeros(0, np.int64), good, None, f"{source.why}; {dated.why}", dated.decided)
    second = _half_days(dated, second, good, clocks.halves, made, asked)
    made.local = np.where(good, dated.day * DAY_S + second, 0)
    return _with_extras(made, clocks, dates)


def _with_extras(made: Timeline, clocks: st.StampColumn, dates: st.StampColumn) -> Timeline:
    if bool((clocks.offset != st.NO_OFFSET).any()):
        made.offset = clocks.offset
    elif clocks.zone or dates.zone:
        made.zone = clocks.zone or dates.zone
    if clocks.halves:
        made.notes.append("12-hour clock: 12 a.m. is 0 h, 12 p.m. is 12 h")
    if clocks.fractions:
        made.notes.append("fractions of a second are cut off")
    return made


def _half_days(
    dated: Dated, second: npt.NDArray[np.int32], good: Spans, marked: bool, made: Timeline, asked: Asked
) -> npt.NDArray[np.int32]:
    """A 12-hour clock without a.m. and p.m.: hours 1 to 12 that start again within one date."""
    clock = second[good]
    if marked or len(clock) < 4 or clock.min() < 3600 or clock.max() >= 13 * 3600:
        return second
    day, half = dated.day[good], clock % _HALF_DAY
    same = np.diff(day) == 0
    falls = same & (np.diff(half) < -8 * 3600)
    if not bool(falls.any()) or bool((same & (np.diff(half) < 0) & ~falls).any()):
        return second
    new = np.concatenate((np.zeros(1, np.bool_), ~same))
    passes = np.cumsum(np.concatenate((np.zeros(1, np.int64), falls)))
    first_of_day = np.maximum.accumulate(np.where(new, np.arange(len(day)), 0))
    late = passes - passes[first_of_day]
    if int(late.max()) > 1:
        return second
    if not bool((late[day == day[0]] > 0).any()):
        late[day == day[0]] = 1  # the first date ends at midnight, so its only half is the second
    result = second.copy()
    result[good] = half + _HALF_DAY * late
    made.notes.append("hours run from 1 to 12 twice a day without a.m. and p.m.: halves told apart by their order")
    return result


def _clock(table: Table, layout: Layout, source: Source, asked: Asked) -> Timeline:
    """Times of day without a date: the start comes from the preamble or from the keeper, midnights are counted."""
    second = table.stamps[source.columns[0]].second
    good = (second >= 0) & (table.status == 0)
    start = _start(layout, asked, "the file has times of day but no date: when was the first reading?", source)
    clock = second[good].astype(np.int64)
    if not len(clock):
        return Timeline(np.zeros(len(second), np.int64), good, None, source.why)
    elapsed = table.stamps[source.columns[0]].hours_over or bool(clock[0] == 0 and start is not None and start % DAY_S)
    local = np.zeros(len(second), np.int64)
    if elapsed:
        local[good] = clock + (start or 0)
    else:
        midnights = np.concatenate((np.zeros(1, np.int64), np.cumsum(np.diff(clock) < -_HALF_DAY)))
        local[good] = clock + (midnights + (start or 0) // DAY_S) * DAY_S
    return Timeline(
        local, good, None, f"{source.why}; start {iso(start) if start is not None else 'not known'}", start is not None
    )


def _serial(values: npt.NDArray[np.float64], good: Spans, layout: Layout, source: Source, asked: Asked) -> Timeline:
    told = "1904" if any("1904" in line for line in layout.preamble) else ""
    first = float(values[good][0]) if bool(good.any()) else 0.0
    if not told:
        options = tuple(
            Option(key, f"days counted from {key}", (f"{first:g}  reads as  {iso(round((first - zero) * DAY_S))}",))
            for key, zero in _SERIAL_ZERO.items()
        )
        words = "serial days of a spreadsheet: counted from 1900, as most are, or from 1904?"
        told = asked.ask(Question("serial-epoch", words, options, blocking=False, taken="1900")) or "1900"
    local = _whole((values - _SERIAL_ZERO[told]) * DAY_S, good)
    made = Timeline(local, good, None, f"{source.why}, counted from {told}")
    tenths = values[good] * 1e4
    if len(tenths) and bool((np.abs(tenths - np.round(tenths)) < 1e-3).all()):
        # four decimals of a day are 8.64 s: a stamp that may be a whole minute is one
        minute = (local + 30) // 60 * 60
        made.local = np.where(good & (np.abs(local - minute) <= 5), minute, local)
        made.notes.append("serial days with four decimals: set to the whole minute where it lies within 5 s")
    return made


def _elapsed(values: npt.NDArray[np.float64], good: Spans, layout: Layout, source: Source, asked: Asked) -> Timeline:
    unit = source.unit
    if not unit:
        shown = float(values[good][-1]) if bool(good.any()) else 0.0
        options = tuple(
            Option(key, f"counted in {key}", (f"{shown:g} is {shown * ELAPSED_S[key] / 3600:g} h after the start",))
            for key in ("s", "min", "h", "d")
        )
        unit = asked.ask(Question("elapsed-unit", "in which unit is the elapsed time counted?", options)) or ""
    start = _start(layout, asked, "the file counts elapsed time: when did it start?", source)
    decided = start is not None and bool(unit)
    local = _whole(values * ELAPSED_S.get(unit, 1.0) + (start or 0), good)
    return Timeline(
        local, good, None, f"{source.why}; start {iso(start) if start is not None else 'not known'}", decided
    )


def _start(layout: Layout, asked: Asked, words: str, source: Source) -> int | None:
    """The start named in the preamble, or as answered."""
    if "start" not in asked.answers:
        for line in layout.preamble:
            if _START.search(line) and (found := _stamp_in(line, layout.delimiter, asked)) is not None:
                return found
    shown = tuple(row[source.columns[0]] for row in layout.sample[:3])
    preview = (Option("", f"first rows as printed: {', '.join(shown)}"),)
    given = asked.ask(Question("start", words, preview, free="date and time such as 2024-03-01T10:00"))
    if given is None:
        return None
    try:
        moment = datetime.fromisoformat(given)
    except ValueError:
        raise ReadingError(
            f"{given!r} is no answer to 'start'; give a date and time such as 2024-03-01T10:00"
        ) from None
    moment = moment.replace(tzinfo=None)
    return int((moment - datetime(1970, 1, 1)).total_seconds())


def _stamp_in(line: str, delimiter: str, asked: Asked) -> int | None:
    cells = [cell.strip(' "') for cell in line.split(delimiter)]
    tails = [line[found.end() :] for found in re.finditer(r"[:=,;\t]\s*", line)][:6]
    figure = re.search(r"\d", line)
    for text in (*cells, " ".join(cells[1:]), *tails, line[figure.start() :] if figure else ""):
        text = text.strip(' ",;\t')
        if st.is_stamp(text) == "stamp" and (found := read_one(text, asked)) is not None:
            return found
    return None


def read_one(text: str, asked: Asked) -> int | None:
    """The local seconds of one printed stamp; its date order is asked about where it is open."""
    raw = text.encode()
    column = st.StampColumn.empty(1)
    column.put(np.zeros(1, np.int64), np.frombuffer(raw, np.uint8), np.zeros(1, np.int64), np.array([len(raw)]))
    dated = decide(column, column.second, None, asked, [text])
    if dated.day[0] == NEVER or not dated.decided:
        return None
    return int(dated.day[0]) * DAY_S + max(0, int(column.second[0]))


def counter_of(table: Table, column: int | None) -> Ints | None:
    """The running number of the rows as whole numbers, if `column` is one."""
    if column is None or column not in table.numbers:
        return None
    values = table.numbers[column].values
    return np.where(
        np.isfinite(values) & (np.abs(values) < 2**52), np.nan_to_num(values, posinf=0, neginf=0), -(2**50)
    ).astype(np.int64)
