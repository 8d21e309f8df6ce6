"""Which columns tell the time, and in what form."""

import re
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

from chalaza.errors import ReadingError
from chalaza.intake import numbers, stamps, vocabulary
from chalaza.intake.layout import Layout, kind

#: Range of the values of a column that counts from 1970: 2001 to 2100.
_EPOCHS = (("s", 9.8e8, 4.2e9), ("ms", 9.8e11, 4.2e12), ("us", 9.8e14, 4.2e15))
#: Spreadsheet serial days, 1982 to 2064 by the 1900 system.
_SERIAL = (30_000.0, 60_000.0)
ELAPSED_S = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0, "d": 86_400.0}
_ELAPSED_WORDS = {
    **dict.fromkeys(["ms", "msec", "millis", "milliseconds"], "ms"),
    **dict.fromkeys(["s", "sec", "secs", "second", "seconds", "sekunden", "sek"], "s"),
    **dict.fromkeys(["min", "mins", "minute", "minutes", "minuten"], "min"),
    **dict.fromkeys(["h", "hr", "hrs", "hour", "hours", "stunden", "std"], "h"),
    **dict.fromkeys(["d", "day", "days", "tage"], "d"),
}
_ELAPSED = re.compile(r"elapsed|verstrich|ecoul|trascors|transcurr|runtime|run time|laufzeit|since", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Source:
    """Where the time stands. `form`: stamp, pair (date and time apart), clock (time only), epoch, serial, elapsed."""

    form: str
    columns: tuple[int, ...]
    unit: str
    why: str


def choose(layout: Layout) -> Source:
    """The columns of time. Raises `ReadingError` when there are none."""
    kinds = [Counter(kind(row[at]) for row in layout.sample if row[at]) for at in range(layout.columns)]
    whole = [at for at, seen in enumerate(kinds) if _mostly(seen, "stamp") and not _extreme(layout, at)]
    if whole:
        best = next((at for at in whole if re.search(r"\b(utc|gmt)\b", layout.names[at], re.IGNORECASE)), whole[0])
        return Source("stamp", (best,), "", f"column {best + 1} holds date and time")
    dates = [at for at, seen in enumerate(kinds) if _mostly(seen, "date") or _whole_dates(layout, at)]
    times = [at for at, seen in enumerate(kinds) if _mostly(seen, "time")]
    if dates and times:
        return Source("pair", (dates[0], times[0]), "", f"date in column {dates[0] + 1}, time in column {times[0] + 1}")
    if dates:
        return Source("stamp", (dates[0],), "", f"column {dates[0] + 1} holds dates without a time: one row a day")
    counted = _counted(layout, kinds)
    if counted is not None:
        return counted
    if times:
        return Source("clock", (times[0],), "", f"column {times[0] + 1} holds times of day; no column holds a date")
    raise ReadingError(
        "no column of times was found: looked for dates and times, for seconds since 1970, spreadsheet serial days and "
        f"elapsed time in {layout.columns} columns; export the log with its time column"
    )


def _mostly(seen: Counter[str], what: str) -> bool:
    total = sum(seen.values())
    if what == "stamp" and seen["stamp"] and seen["stamp"] + seen["time"] > 0.8 * total:
        return True  # the date stands only in the first row of each day
    return bool(total) and seen[what] * 2 > total


def _extreme(layout: Layout, at: int) -> bool:
    """The time of an extreme, not of the row."""
    return bool(vocabulary.statistic_of(layout.names[at])) or layout.aggregates[at].casefold() in ("tmx", "tmn")


def _whole_dates(layout: Layout, at: int) -> bool:
    cells = [row[at] for row in layout.sample if row[at]]
    return (
        bool(cells)
        and vocabulary.is_time(layout.names[at])
        and all(len(cell) == 8 and stamps.is_stamp(cell) == "date" for cell in cells)
    )


def _counted(layout: Layout, kinds: list[Counter[str]]) -> Source | None:
    for at, seen in enumerate(kinds):
        if not _mostly(seen, "number"):
            continue
        values = [numbers.cell(row[at], layout.decimal).value for row in layout.sample]
        values = [value for value in values if value == value]
        name = layout.names[at]
        named = vocabulary.is_time(name) or (at == 0 and not name)
        moving = _moves(values)
        middle = sorted(values)[len(values) // 2] if values else 0.0
        if unit := next((unit for unit, low, high in _EPOCHS if low < middle < high), ""):
            if named or moving or len(values) < 2:
                return Source("epoch", (at,), unit, f"column {at + 1} counts {unit} since 1970")
        elif _SERIAL[0] < middle < _SERIAL[1] and (named or (moving and any(value % 1 for value in values))):
            return Source("serial", (at,), "d", f"column {at + 1} holds spreadsheet serial days")
        elif moving and (_ELAPSED.search(name) or (named and name and values[0] < 1e6)):
            words = [_ELAPSED_WORDS[word] for word in reversed(vocabulary.tokens(name)) if word in _ELAPSED_WORDS]
            return Source("elapsed", (at,), words[0] if words else "", f"column {at + 1} counts elapsed time")
    return None


def _moves(values: list[float]) -> bool:
    """Whether most values rise, or most fall, from row to row."""
    steps = len(values) - 1
    return (
        steps > 0 and max(sum(b > a for a, b in pairwise(values)), sum(b < a for a, b in pairwise(values))) * 2 > steps
    )
