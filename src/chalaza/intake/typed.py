"""What a keeper writes by hand: hours of the local clock, days, measures with their unit, the zone of this computer."""

import os
import re
from datetime import UTC, date, datetime
from difflib import get_close_matches
from pathlib import Path
from types import MappingProxyType
from zoneinfo import ZoneInfo, available_timezones

from chalaza import units
from chalaza.errors import EvidenceError
from chalaza.quantities import EGGS, MOMENT, STORAGE_D, Quantity

_MEASURE = re.compile(r"([+-\u2212]?\d+(?:\.\d+|,\d{1,2}|,\d{4,})?)\s*(\S*)")  # 1,400 may be either: refused
_TRAY = re.compile(r"(\d{1,3})\s*[xX×*]\s*(\d{1,3})")
#: How a unit may be written beside its own sign.
_WRITTEN = MappingProxyType(
    {"C": "°C", "F": "°F", "c": "°C", "f": "°F", "gr": "g", "inch": "in", '"': "in", "ounces": "oz"}
)
#: Where the system keeps the zone of its clock, on those that keep one as a link.
_CLOCK = Path("/etc/localtime")


class Twice(EvidenceError):
    """An hour that comes twice when the clock is set back; `first` and `second` name the two, offsets and all."""

    def __init__(self, text: str, first: str, second: str) -> None:
        self.first, self.second = first, second
        super().__init__(text)


def zone_of(text: str | None) -> tuple[str, bool]:
    """The zone of that name, or that of this computer's clock; and whether it is the computer's.

    Raises `EvidenceError` naming the nearest ones, or asking for one where the computer does not tell.
    """
    if text is not None:
        if text not in available_timezones():
            near = get_close_matches(text, sorted(available_timezones()), n=3)
            hint = f"; nearest: {', '.join(near)}" if near else ""
            raise EvidenceError(f"there is no time zone {text!r}{hint}; write a name such as Europe/Berlin")
        return text, False
    linked = str(_CLOCK.resolve()).partition("zoneinfo/")[2]
    for name in (os.environ.get("TZ", ""), linked):
        if name in available_timezones():
            return name, True
    raise EvidenceError("this computer does not say its time zone; write --zone with a name such as Europe/Berlin")


def moment_in(text: str, zone: str) -> int:
    """A moment of the local clock as seconds UTC; with an offset behind it, as it stands.

    Raises `EvidenceError` for what is no moment, has no hour, or comes twice or never in `zone`; it says what to write.
    """
    given = text.strip()
    try:
        when = datetime.fromisoformat(given)
    except ValueError:
        raise EvidenceError(f"{text!r} is no moment; write it like 2026-11-01 18:00") from None
    if len(given) <= len("2026-11-01"):
        raise EvidenceError(f"{text!r} has no hour; write it like {when:%Y-%m-%d} 18:00")
    try:
        return _held(when if when.tzinfo else _placed(when, zone), text)
    except (OverflowError, OSError):
        raise _beyond(text) from None


def _placed(when: datetime, zone: str) -> datetime:
    first, second = (when.replace(tzinfo=ZoneInfo(zone), fold=fold) for fold in (0, 1))
    before, after = first.utcoffset(), second.utcoffset()
    if before is None or after is None or before == after:
        return first
    shown = f"{when:%H:%M} on {when:%Y-%m-%d}"
    if before > after:
        ways = first.isoformat(" ", "minutes"), second.isoformat(" ", "minutes")
        raise Twice(
            f"{shown} comes twice in {zone}: the clock is set back then; write {ways[0]} for the first, {ways[1]} for the "
            "second",
            *ways,
        )
    real = first.astimezone(UTC).astimezone(ZoneInfo(zone))
    raise EvidenceError(
        f"{shown} does not exist in {zone}: the clock is set forward then; write {real:%Y-%m-%d %H:%M} if you mean that"
    )


def _held(when: datetime, text: str) -> int:
    seconds = int(when.timestamp())
    if not MOMENT.holds(seconds):
        raise _beyond(text)
    return seconds


def _beyond(text: str) -> EvidenceError:
    return EvidenceError(f"{text!r} lies outside the years 1970 to 2100")


def days_in(text: str, zone: str) -> tuple[int, int]:
    """A day, or a first and a last one with two dots between them, each as its noon in `zone`: seconds UTC.

    Raises `EvidenceError` for anything else.
    """
    first, dots, last = text.partition("..")
    try:
        days = [date.fromisoformat(one.strip()) for one in (first, last if dots else first)]
    except ValueError:
        raise EvidenceError(f"{text!r} is no day; write 2026-10-24, or 2026-10-24..2026-10-30") from None
    if days[1] < days[0]:
        raise EvidenceError(f"{text!r} ends before it begins; write the first day first")
    noons = [datetime(day.year, day.month, day.day, 12, tzinfo=ZoneInfo(zone)) for day in days]
    return _held(noons[0], text), _held(noons[1], text)


def stored(laid: tuple[int, int], set_at: int, zone: str) -> tuple[int, int]:
    """Days of laying (noons, as `days_in` gives them) as moments not after `set_at`: seconds UTC.

    Raises `EvidenceError` for a day after setting, or longer before it than eggs are kept.
    """
    set_on = datetime.fromtimestamp(set_at, ZoneInfo(zone)).date()
    for noon in laid:
        day = datetime.fromtimestamp(noon, ZoneInfo(zone)).date()
        if day > set_on:
            raise EvidenceError(f"laid on {day} is after setting on {set_on}; write the days the eggs were laid")
        if (set_on - day).days > STORAGE_D.high:
            raise EvidenceError(f"laid on {day} is more than {STORAGE_D.high:.0f} days before setting on {set_on}")
    return min(laid[0], set_at), min(laid[1], set_at)


def tray_of(text: str) -> tuple[int, int]:
    """Rows and columns of a tray written like 4x7. Raises `EvidenceError` saying what is allowed."""
    found = _TRAY.fullmatch(text.strip())
    rows, columns = (int(found[1]), int(found[2])) if found else (0, 0)
    if not (rows and columns and rows * columns <= EGGS.high):
        raise EvidenceError(f"{text!r} is no tray; write its rows and the eggs in a row like 4x7")
    return rows, columns


def measure(text: str, of: Quantity, unit: str | None = None) -> float:
    """A figure with or without its unit, such as 140, 140m or 460ft, in the unit inside; point or comma in it.

    `unit` is what a figure without one is in (default: the first the quantity is shown in).

    Raises `EvidenceError` saying which units and which span are allowed.
    """
    found = _MEASURE.fullmatch(text.strip())
    default = unit or of.displays[0]
    unit = _WRITTEN.get(found[2], found[2]) or default if found else ""
    if found is None or unit not in of.displays:
        examples = " or ".join(f"140{one}" for one in of.displays)
        raise EvidenceError(f"{text!r} is no {of.words}; write it like {examples}; without a unit it is {default}")
    value = float(units.inside(float(found[1].replace(",", ".").replace("\u2212", "-")), unit))
    if not of.holds(value):
        ends = " or ".join(
            f"{units.shown(of.low, one):,.0f} to {units.shown(of.high, one):,.0f} {one}" for one in of.displays
        )
        raise EvidenceError(f"{text!r} cannot be the {of.words}; allowed: {ends}")
    return value
