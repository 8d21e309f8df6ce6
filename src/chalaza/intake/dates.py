"""Days from the numbers of a printed date: which number is the day, which the month.

The order is decided once for the file: by numbers that can only be a day, by a record counter or regular steps that
run on over midnight. Where neither decides, the keeper is asked.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from chalaza.intake.questions import Asked, Option, Question
from chalaza.intake.shapes import Index
from chalaza.intake.stamps import ALL_SHORT, KNOWN, LAST_IS_YEAR, NO_DATE, StampColumn

#: No day.
NEVER = -(2**40)
DAY_S = 86_400
#: order -> which of the three printed numbers is year, month, day.
ORDERS = {"dmy": (2, 1, 0), "mdy": (2, 0, 1), "ymd": (0, 1, 2)}
_WORDS = {"dmy": "day, month, year", "mdy": "month, day, year", "ymd": "year, month, day"}
#: A record that breaks off at a midnight and is taken up weeks later falls on its own regular step by chance once in
#: (day / step); an order is believed when the midnights crossed make that rarer than one in this many (our choice).
_ODDS = 10_000.0
_FIRST_YEAR, _LAST_YEAR = 1970, 2100
_LENGTHS = np.array([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], np.int64)

Ints = npt.NDArray[np.int64]


def days(year: Ints, month: Ints, day: Ints) -> Ints:
    """Days since 1970-01-01 of dates of the Gregorian calendar; `NEVER` where there is no such date, 1970 to 2100."""
    good = (month >= 1) & (month <= 12) & (year >= _FIRST_YEAR) & (year <= _LAST_YEAR)
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0)) & (month == 2)
    good &= (day >= 1) & (day <= _LENGTHS[np.where(good, month, 1)] + leap)
    shifted = year - (month <= 2)
    of_year = (153 * (month + np.where(month > 2, -3, 9)) + 2) // 5 + day - 1
    count = shifted * 365 + shifted // 4 - shifted // 100 + shifted // 400 + of_year - 719_468
    return np.where(good, count, NEVER)


@dataclass(frozen=True, slots=True)
class Dated:
    """Days since 1970 of each line (`NEVER`: none), how the order was decided, and whether it still has to be."""

    day: Ints
    why: str
    decided: bool


def decide(
    stamps: StampColumn, second: npt.NDArray[np.int32], counter: Ints | None, asked: Asked, show: Sequence[str]
) -> Dated:
    """The day of each line. `counter` is the running number of the rows if there is one; `show` has printed stamps."""
    kind = stamps.kind
    heads, length = _runs(stamps)
    numbers = [column[heads].astype(np.int64) for column in (stamps.a, stamps.b, stamps.c)]
    kinds = kind[heads]
    found = {order: _days_by(order, kinds, numbers) for order in _orders(kinds)}
    if not found:
        day, why, decided = days(*numbers), "year first, or the month by name", True
        day[kinds == NO_DATE] = NEVER
    else:
        order, why, decided = _order(found, stamps, kinds, heads, second, counter, asked, show)
        day = found[order]
    return Dated(_spread(day, kinds, heads, length, second), why, decided)


def _runs(stamps: StampColumn) -> tuple[Index, Index]:
    """Where a new date begins, and for how many lines it holds."""
    same = (np.diff(stamps.a) == 0) & (np.diff(stamps.b) == 0) & (np.diff(stamps.c) == 0) & (np.diff(stamps.kind) == 0)
    heads = np.concatenate((np.zeros(1, np.int64), np.flatnonzero(~same) + 1))
    return heads, np.diff(np.append(heads, len(stamps.kind)))


def _orders(kinds: npt.NDArray[np.int8]) -> tuple[str, ...]:
    if bool((kinds == LAST_IS_YEAR).any()):
        return ("dmy", "mdy")
    return ("dmy", "mdy", "ymd") if bool((kinds == ALL_SHORT).any()) else ()


def _days_by(order: str, kinds: npt.NDArray[np.int8], numbers: list[Ints]) -> Ints:
    year, month, day = (numbers[at] for at in ORDERS[order])
    year = np.where(kinds == ALL_SHORT, np.where(year < 69, year + 2000, np.where(year < 100, year + 1900, 0)), year)
    known = kinds == KNOWN
    year, month, day = (np.where(known, numbers[at], other) for at, other in enumerate((year, month, day)))
    result = days(year, month, day)
    result[kinds == NO_DATE] = NEVER
    return result


def _spread(day: Ints, kinds: npt.NDArray[np.int8], heads: Index, length: Index, second: npt.NDArray[np.int32]) -> Ints:
    """The days of all lines; a line with a time but no date has the date of the line before it."""
    lines = np.repeat(day, length)
    undated = np.repeat(kinds == NO_DATE, length) & (second >= 0)
    if bool(undated.any()):
        last = np.maximum.accumulate(np.where(np.repeat(kinds != NO_DATE, length), np.arange(len(lines)), -1))
        lines = np.where(undated & (last >= 0), lines[np.maximum(last, 0)], lines)
    return lines


def _order(
    found: dict[str, Ints],
    stamps: StampColumn,
    kinds: npt.NDArray[np.int8],
    heads: Index,
    second: npt.NDArray[np.int32],
    counter: Ints | None,
    asked: Asked,
    show: Sequence[str],
) -> tuple[str, str, bool]:
    dated = kinds != NO_DATE
    wrong = {order: int((day[dated] == NEVER).sum()) for order, day in found.items()}
    least = min(wrong.values())
    left = [order for order, count in wrong.items() if count == least or count < 5 * least]
    if len(left) == 1:
        order = left[0]
        others = ", ".join(f"{count} dates impossible as {_WORDS[o]}" for o, count in wrong.items() if o != order)
        return order, f"{_WORDS[order]}: {others}", True
    left = [order for order in left if not _same_days(found, order, left)]
    if len(left) <= 1:
        return "dmy", "day and month are the same number throughout", True
    order, why, odds = _runs_on(left, stamps, second, counter)
    if order and odds >= _ODDS:
        return order, why, True
    ordered = sorted(left, key=lambda one: (one != order, left.index(one)))
    answer = asked.ask(_question(ordered, found, kinds, heads, second, show))
    if answer is None:
        return ordered[0], f"not decided; shown as {_WORDS[ordered[0]]}", False
    return answer, f"{_WORDS[answer]}, as answered", True


def _same_days(found: dict[str, Ints], order: str, left: list[str]) -> bool:
    """Whether an order left over means the same days as one before it in the list."""
    return any(np.array_equal(found[order], found[other]) for other in left[: left.index(order)])


def _runs_on(
    orders: list[str], stamps: StampColumn, second: npt.NDArray[np.int32], counter: Ints | None
) -> tuple[str, str, float]:
    """The order under which the record runs on over the midnights, and the odds against chance."""
    rows = np.flatnonzero((stamps.kind != NO_DATE) & (second >= 0))
    clock = second[rows].astype(np.int64)
    numbers = [column[rows].astype(np.int64) for column in (stamps.a, stamps.b, stamps.c)]
    new = np.flatnonzero((np.diff(numbers[0]) != 0) | (np.diff(numbers[1]) != 0) | (np.diff(numbers[2]) != 0))
    inside = np.abs(np.diff(clock))
    inside[new] = 0
    steps = inside[inside > 0]
    if not len(steps) or not len(new):
        return "", "", 1.0
    step = float(np.median(steps))
    both = np.stack((new, new + 1))
    kinds = stamps.kind[rows]
    near = {}
    for order in orders:
        day = [_days_by(order, kinds[at], [column[at] for column in numbers]) for at in both]
        near[order] = (np.abs((day[1] - day[0]) * DAY_S + clock[new + 1] - clock[new]) <= 2 * step) & (day[0] != NEVER)
    good = [order for order, share in near.items() if bool(share.mean() >= 0.9)]
    if len(good) != 1 or any(share.mean() > 0.5 for order, share in near.items() if order != good[0]):
        return "", "", 1.0
    order, count = good[0], int(near[good[0]].sum())
    if counter is not None and bool((np.abs(counter[rows[new + 1]] - counter[rows[new]]) == 1).all()):
        return order, f"{_WORDS[order]}: record counter and step of {step:g} s run on over midnight", np.inf
    return (
        order,
        f"{_WORDS[order]}: the step of {step:g} s runs on over {count} midnights",
        (DAY_S / step) ** min(count, 20),
    )


def _question(
    orders: list[str],
    found: dict[str, Ints],
    kinds: npt.NDArray[np.int8],
    heads: Index,
    second: npt.NDArray[np.int32],
    show: Sequence[str],
) -> Question:
    dated = np.flatnonzero(kinds != NO_DATE)
    options = []
    for order in orders:
        first, last = (int(found[order][dated[at]]) for at in (0, -1))
        clock = int(second[heads[dated[0]]])
        preview = [f"{show[0] if show else 'first row'}  reads as  {iso(first * DAY_S + max(clock, 0))}"]
        preview.append(f"the last date reads as  {iso(last * DAY_S)[:10]}")
        options.append(Option(order, _WORDS[order], tuple(preview)))
    return Question(
        "date-order", "no date in the file tells the day from the month: in which order are they?", tuple(options)
    )


def iso(seconds: int) -> str:
    """Seconds since 1970 as ISO 8601 without a zone."""
    return str(np.datetime64(int(seconds), "s"))
