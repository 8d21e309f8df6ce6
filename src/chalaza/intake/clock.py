"""From the clock of the logger to UTC: zones, the repeated and the missing hour, clocks that fell back to their start.

Without a zone times stay as printed. With one, a repeated hour is told apart by the order of the rows; where the order
does not tell, the keeper is asked whether the logger changes its clock at all.
"""

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import numpy.typing as npt

from chalaza.errors import ReadingError
from chalaza.intake.dates import DAY_S, Ints, iso
from chalaza.intake.questions import Asked, Option, Question
from chalaza.intake.shapes import Spans
from chalaza.intake.vocabulary import ZONES, fold

_OFFSET = re.compile(r"^(?:UTC|GMT)?\s*(?P<sign>[+-])(?P<h>\d{1,2})(?::?(?P<m>\d{2}))?$", re.IGNORECASE)
_NAMED = re.compile(r"\b(?P<name>UTC|GMT)(?:\s?(?P<sign>[+-])\s?(?P<h>\d{1,2})(?::?(?P<m>\d{2}))?)?(?![\w/])")
#: A clock that lost its battery starts again on a first of January; a jump of this length is no gap in a record.
_JUMP_S = 300 * DAY_S


@dataclass(frozen=True, slots=True)
class Change:
    """One change of a zone's clock: at `utc` the offset goes from `before` to `after`. [s]"""

    utc: int
    before: int
    after: int


def offset_of(zone: str) -> int | None:
    """The offset of a zone that never changes, such as `+02:00` or `UTC`, else None. [s]"""
    if fold(zone) in ZONES:
        return ZONES[fold(zone)] * 60
    found = _OFFSET.match(zone.strip())
    if found is None:
        return None
    seconds = int(found["h"]) * 3600 + int(found["m"] or 0) * 60
    if seconds > 14 * 3600:
        raise ReadingError(f"no zone {zone!r}: offsets go from -14:00 to +14:00")
    return -seconds if found["sign"] == "-" else seconds


def zone_in(text: str) -> int | None:
    """The offset named in a header, such as `Date Time, GMT+01:00`. [s]"""
    found = _NAMED.search(text[:400])
    if found is None:
        return None
    seconds = int(found["h"] or 0) * 3600 + int(found["m"] or 0) * 60
    if seconds > 14 * 3600:
        return None
    return -seconds if found["sign"] == "-" else seconds


def _zone_info(zone: str) -> ZoneInfo:
    try:
        return ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ReadingError(
            f"no zone {zone!r}; give a name such as 'Europe/Paris' or an offset such as '+01:00'"
        ) from None


def changes(zone: str, first: int, last: int) -> tuple[int, list[Change]]:
    """The offset of `zone` two days before `first`, and its changes up to two days after `last` (UTC seconds)."""
    info = _zone_info(zone)

    def offset(at: int) -> int:
        delta = (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=at)).astimezone(info).utcoffset()
        return int((delta or timedelta()).total_seconds())

    begin, end = first - 2 * DAY_S, last + 2 * DAY_S
    start = known = offset(begin)
    found = []
    for day in range(begin + DAY_S, end + DAY_S, DAY_S):
        if (now := offset(day)) != known:
            low, high = day - DAY_S, day
            while high - low > 1:
                middle = (low + high) // 2
                low, high = (middle, high) if offset(middle) == known else (low, middle)
            found.append(Change(high, known, now))
            known = now
    return start, found


@dataclass(frozen=True, slots=True)
class Placed:
    """UTC seconds; which rows fell into an hour that does not exist; whether a question keeps the times back."""

    utc: Ints
    missing: Spans
    blocked: bool
    note: str


def to_utc(local: Ints, zone: str, asked: Asked) -> Placed:
    """UTC of the local times of rows in file order (oldest first)."""
    none = np.zeros(len(local), np.bool_)
    fixed = offset_of(zone)
    if fixed is not None:
        return Placed(local - fixed, none, False, f"offset {zone} taken off")
    if not len(local):
        _zone_info(zone)
        return Placed(local, none, False, "")
    start, found = changes(zone, int(local.min()), int(local.max()))
    bounds = np.array([change.utc + max(change.before, change.after) for change in found], np.int64)
    offsets = np.array([start, *(change.after for change in found)], np.int64)
    utc = local - offsets[np.searchsorted(bounds, local, side="right")]
    doubt, missing, repeated = False, none.copy(), 0
    for change in found:
        low, high = sorted((change.utc + change.before, change.utc + change.after))
        rows = np.flatnonzero((local >= low) & (local < high))
        if not len(rows):
            continue
        if change.after > change.before:
            missing[rows] = True
        elif (second := _second_pass(local, rows, high - low)) is None:
            doubt = True
        else:
            utc[rows[second]] = local[rows[second]] - change.after
            repeated += int(second.sum())
    if doubt or missing.any():
        return _asked(local, zone, utc, missing, start, found, asked)
    told = f"; {repeated} rows told to lie in a repeated hour by their order" if repeated else ""
    return Placed(utc, none, False, f"zone {zone}{told}")


def _second_pass(local: Ints, rows: npt.NDArray[np.int64], width: int) -> Spans | None:
    """Which rows of a repeated hour (`width` seconds) belong to its second pass; None when their order does not tell."""
    back = np.flatnonzero(np.diff(local[rows]) < 0)
    if len(back) == 1:
        return np.asarray(np.arange(len(rows)) > back[0])
    if len(back) > 1:
        return None
    first = int(rows[0])
    if first < 2:
        return None
    step = int(np.median(np.diff(local[max(0, first - 20) : first])))
    if step == width and len(rows) == 2:  # the hour of an hourly record: one stamp, twice
        return np.array([False, True])
    if step <= width or len(rows) > 1:  # such a record has the hour twice, or its clock does not change
        return None
    elapsed = int(local[first] - local[first - 1])
    if elapsed == step:
        return np.zeros(1, np.bool_)
    return np.ones(1, np.bool_) if elapsed == step - width else None


def _asked(local: Ints, zone: str, utc: Ints, missing: Spans, start: int, found: list[Change], asked: Asked) -> Placed:
    none = np.zeros(len(local), np.bool_)
    bounds = np.array([change.utc + change.before for change in found], np.int64)
    offsets = np.array([start, *(change.after for change in found)], np.int64)
    winter = int(offsets.min())
    begin = int(offsets[np.searchsorted(bounds, local[0], side="right")])
    row = int(np.flatnonzero(missing)[0]) if missing.any() else len(local) - 1
    shown = iso(int(local[row]))
    options = (
        Option(
            "follows",
            "it is set back and forth; hours that cannot be placed are dropped",
            (f"{shown}  reads as  " + ("no such hour" if missing[row] else iso(int(utc[row])) + "Z"),),
        ),
        Option(
            "standard", "it stays on winter time all year", (f"{shown}  reads as  {iso(int(local[row]) - winter)}Z",)
        ),
        Option(
            "start",
            "it stays on the time it had at its first row",
            (f"{shown}  reads as  {iso(int(local[row]) - begin)}Z",),
        ),
    )
    reason = "hours that do not exist occur" if missing.any() else "an hour that comes twice is there once"
    answer = asked.ask(
        Question("clock-change", f"{reason} in {zone}: does the clock of the logger change with the seasons?", options)
    )
    if answer == "standard":
        return Placed(local - winter, none, False, f"zone {zone}, winter time all year, as answered")
    if answer == "start":
        return Placed(local - begin, none, False, f"zone {zone}, clock never changed, as answered")
    return Placed(utc, none if answer is None else missing, answer is None, f"zone {zone}")


def ask_reset(local: Ints, asked: Asked) -> tuple[Ints, Spans]:
    """Times with a fallen-back clock set right as answered, and the rows that are left out meanwhile or for good."""
    reset = reset_rows(local)
    if not reset.any():
        return local, reset
    first = int(np.flatnonzero(reset)[0])
    moved = _moved(local, reset)
    shown = iso(int(local[first]))
    options = (
        Option("drop", "leave these rows out", (f"{int(reset.sum())} rows left out",)),
        Option(
            "continue", "they follow on the other rows without a gap", (f"{shown}  reads as  {iso(int(moved[first]))}",)
        ),
    )
    answer = asked.ask(
        Question(
            "clock-reset", f"the clock fell back to {shown}, as after a new battery: what about these rows?", options
        )
    )
    return (moved, np.zeros(len(local), np.bool_)) if answer == "continue" else (local, reset)


def _moved(local: Ints, reset: Spans) -> Ints:
    """Every fallen-back stretch set one step after the row before it, or one step before the row after it."""
    result = local.copy()
    step = int(np.median(np.abs(np.diff(local[~reset])))) if int((~reset).sum()) > 1 else 0
    edges = np.flatnonzero(np.diff(reset)) + 1
    for rows in np.split(np.arange(len(local)), edges):
        if not reset[rows[0]]:
            continue
        if rows[0] > 0:
            result[rows] += result[rows[0] - 1] + step - local[rows[0]]
        else:
            result[rows] += local[rows[-1] + 1] - step - local[rows[-1]]
    return result


def reset_rows(local: Ints) -> Spans:
    """Rows of a clock that fell back to its start: a stretch that begins on a first of January, apart by a long jump."""
    result = np.zeros(len(local), np.bool_)
    cuts = np.flatnonzero(np.abs(np.diff(local)) > _JUMP_S) + 1
    if not len(cuts):
        return result
    edges = [0, *cuts.tolist(), len(local)]
    longest = max(range(len(edges) - 1), key=lambda at: edges[at + 1] - edges[at])
    for at in range(len(edges) - 1):
        first = str(np.datetime64(int(local[edges[at]]), "s"))
        if at != longest and first[5:10] == "01-01" and local[edges[at]] < local[edges[longest]]:
            result[edges[at] : edges[at + 1]] = True
    return result
