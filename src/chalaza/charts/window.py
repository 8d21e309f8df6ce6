"""A stretch of the term that is looked at closely: the last day, the last three, or any; and the names under its axis.

A batch is looked at up to now, or to the end of the hatch: what came after is not its own.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from types import MappingProxyType
from zoneinfo import ZoneInfo

import numpy as np

from chalaza.charts.base import Named, Say, days
from chalaza.charts.moments import weekday, when
from chalaza.errors import EvidenceError
from chalaza.inference.read_warmth import lived_hours
from chalaza.inference.understanding import Understanding

DAY_S = 86_400.0
#: Up to so many days readings are drawn one by one, and the axis names hours and days of the calendar.
CLOSE_D = 3.5
_HOURS_D = 1.5
#: The windows a page offers, by name: days back from the end, or all of the term.
WINDOWS: Mapping[str, float | None] = MappingProxyType({"day": 1.0, "three_days": 3.0, "term": None})


@dataclass(frozen=True, slots=True)
class View:
    """A window in days since setting; `to_now`: it ends now, `to_end`: with the end of the hatch."""

    start_d: float
    end_d: float
    to_now: bool
    to_end: bool

    @property
    def close(self) -> bool:
        """Whether readings are drawn one by one."""
        return self.end_d - self.start_d <= CLOSE_D


def end_of(u: Understanding) -> float:
    """Where the looking ends: now, or the end of the hatch seen. [d since setting]"""
    n = int(np.count_nonzero(lived_hours(u) > 0))
    return min(u.now_h, float(n)) / 24.0


def window_of(u: Understanding, name: str) -> tuple[float, float] | None:
    """The window of a name of `WINDOWS` [seconds UTC], None for all of the term.

    Raises `EvidenceError` for no such name.
    """
    if name not in WINDOWS:
        raise EvidenceError(f"no window {name!r}; allowed: {', '.join(WINDOWS)}")
    back = WINDOWS[name]
    end = end_of(u)
    return None if back is None or end <= 0.0 else (u.moment(24.0 * max(end - back, 0.0)), u.moment(24.0 * end))


def view(u: Understanding, asked: tuple[float, float] | None) -> View | None:
    """What of a window [seconds UTC] lies in the batch's term up to now; None for all of it.

    Raises `EvidenceError` where none does, or the window has no length.
    """
    if asked is None:
        return None
    end, (first, last) = end_of(u), (u.exposure.hour_of(moment) / 24.0 for moment in asked)
    start_d, end_d = max(first, 0.0), min(last, end)
    if not first < last or end_d - start_d < 1.0 / DAY_S:
        zone = ZoneInfo("UTC")
        given, allowed = (
            tuple(when(moment, zone, str) for moment in pair) for pair in (asked, (u.moment(0.0), u.moment(24.0 * end)))
        )
        raise EvidenceError(
            f"no such window: {given[0]} to {given[1]} (UTC) was asked for; it must lie between {allowed[0]} and "
            f"{allowed[1]} and end after it begins"
        )
    at_end = end_d > end - 1e-9
    over = end < u.now_h / 24.0 - 1e-6
    return View(start_d, end_d, at_end and not over, at_end and over)


def names(u: Understanding, seen: View, where: ZoneInfo, say: Say) -> list[Named]:
    """Names for the axis of a window, the most needed first: its end, midnights by date, hours between; of long ones days."""
    out = [Named(seen.end_d, say("now"), True)] if seen.to_now else []
    out += [Named(seen.end_d, say("hatched"), True)] if seen.to_end else []
    if seen.start_d <= 0.0:
        out.append(Named(0.0, say("set"), True))
    if not seen.close:
        return [*out, *(one for one in days(seen.end_d - 0.3, say) if one.at >= seen.start_d)]
    first = datetime.fromtimestamp(u.moment(24.0 * seen.start_d), UTC).astimezone(where).date()
    midnights, hours = [], []
    for i in range(int(CLOSE_D) + 3):
        for hour in (0, 6, 12, 18):
            at = datetime.combine(first + timedelta(days=i), datetime.min.time(), where).replace(hour=hour)
            place = u.exposure.hour_of(at.timestamp()) / 24.0
            if not seen.start_d <= place <= seen.end_d:
                continue
            if hour == 0:
                midnights.append(Named(place, f"{weekday(at, say)} {at.day}"))
            elif seen.end_d - seen.start_d <= _HOURS_D:
                hours.append(Named(place, f"{at:%H:%M}"))
    return [*out, *midnights, *hours]
