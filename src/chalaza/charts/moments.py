"""Moments as words: in the keeper's zone, with the day of the week."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

from chalaza.charts.base import Say
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Estimate

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def zone_of(a: Assessment, zone: str | None) -> ZoneInfo:
    """The zone asked for, else that of the batch."""
    return ZoneInfo(zone or a.zone)


def weekday(at: datetime, say: Say) -> str:
    """The short name of a day."""
    return say(_WEEKDAYS[at.weekday()])


def dated(moment: float, where: ZoneInfo, say: Say) -> str:
    """A moment [epoch_s] as day and month."""
    return day_and_month(datetime.fromtimestamp(moment, UTC).astimezone(where).date(), say)


def day_and_month(day: date, say: Say) -> str:
    """A day of the calendar with its month."""
    months = (
        say("Jan"), say("Feb"), say("Mar"), say("Apr"), say("May"), say("Jun"), say("Jul"), say("Aug"), say("Sep"),
        say("Oct"), say("Nov"), say("Dec"),
    )  # fmt: skip
    return say("{day} {month}").format(day=day.day, month=months[day.month - 1])


def when(moment: float, where: ZoneInfo, say: Say) -> str:
    """A moment [epoch_s] as weekday, day of the month and hour."""
    at = datetime.fromtimestamp(moment, UTC).astimezone(where)
    return f"{weekday(at, say)} {at.day}, {at:%H:%M}"


def events(a: Assessment, say: Say) -> list[tuple[str, Estimate]]:
    """What is to come, in order, by name."""
    c = a.clock
    return [
        (say("turning stops"), c.stop_turning), (say("first pip"), c.first_pip), (say("half out"), c.half_hatched),
        (say("last out"), c.last_hatch),
    ]  # fmt: skip
