"""Days of the local calendar, as the time zone database tells them: which day a moment falls on, when a day begins.

A day has 24 hours but where a clock is put forward or back; then it has what is left. Days are counted by their number
(1 is 1 January of the year 1), so that they can be subtracted. Moments are whole seconds UTC.
"""

from datetime import date, datetime
from functools import lru_cache
from zoneinfo import ZoneInfo

from chalaza.errors import EvidenceError


@lru_cache(maxsize=64)
def _zone(name: str) -> ZoneInfo:
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise EvidenceError(f"there is no time zone {name!r}; write a name such as Europe/Berlin") from None


def day(zone: str, at: float) -> int:
    """The number of the local day of a moment. Raises `EvidenceError` for no such zone."""
    return datetime.fromtimestamp(at, _zone(zone)).toordinal()


def begins(zone: str, number: int) -> int:
    """The first moment of a local day; where midnight is left out, the first hour there is."""
    first = date.fromordinal(number)
    return int(datetime(first.year, first.month, first.day, tzinfo=_zone(zone)).timestamp())


def clock_h(zone: str, at: float) -> float:
    """What the local clock shows at a moment, in hours: 0 to 24. [h]"""
    local = datetime.fromtimestamp(at, _zone(zone))
    return local.hour + local.minute / 60.0 + local.second / 3600.0


def at_clock(zone: str, number: int, hour: int) -> int:
    """The moment at which the local clock shows a full hour of a day; of an hour that comes twice, the first."""
    first = date.fromordinal(number)
    return int(datetime(first.year, first.month, first.day, hour, tzinfo=_zone(zone)).timestamp())


def weekday(zone: str, at: float) -> int:
    """The day of the week of a moment: Monday is 0."""
    return datetime.fromtimestamp(at, _zone(zone)).weekday()
