"""Other ways to read a moment typed by hand: yesterday's hour, day and month the other way round, the year before."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo


def moments(at: int, zone: str) -> dict[str, int]:
    """Moments (seconds UTC) that one slip turns into `at`, by its name: "day", "swing", "year", "next_year"."""
    local = datetime.fromtimestamp(at, ZoneInfo(zone))
    found: dict[str, datetime | None] = {
        "day": local - timedelta(days=1),
        "swing": _replaced(local, month=local.day, day=local.month) if local.day != local.month else None,
        "year": _replaced(local, year=local.year - 1),
        "next_year": _replaced(local, year=local.year + 1),
    }
    return {name: int(one.timestamp()) for name, one in found.items() if one is not None and one.year >= 1970}


def _replaced(local: datetime, **parts: int) -> datetime | None:
    try:
        return local.replace(**parts)  # type: ignore[arg-type]  # year, month and day are whole numbers
    except ValueError:
        return None
