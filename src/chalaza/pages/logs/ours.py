"""What of ours a log may belong to: the probes with where they hang, the clocks a logger may have had, the batches."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Q

from chalaza.records import models as m
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

_IN = mark("{probe}, in {where}")
_LOOSE = mark("{probe}, hanging nowhere now")
_END = 4_102_444_800
UTC_ZONE = "UTC"


@dataclass(frozen=True, slots=True)
class Ours:
    """A probe of the notebook: its uid, its name, and the name with where it hangs now."""

    uid: str
    name: str
    label: str


def probes(voice: Voice, now: int) -> tuple[Ours, ...]:
    """The probes of the notebook in the order of entry."""
    there: dict[str, str] = {}
    hung = m.Mount.objects.filter(Q(end=None) | Q(end__gt=now), start__lte=now).select_related("machine", "place")
    for one in hung.order_by("id"):
        there[str(one.probe_id)] = str(one.machine or one.place)
    found = []
    for probe in m.Probe.objects.order_by("id"):
        holes = {"probe": probe.name, "where": there.get(probe.uid, "")}
        found.append(Ours(probe.uid, probe.name, voice.say(_IN if probe.uid in there else _LOOSE, holes)))
    return tuple(found)


def probes_named() -> dict[str, str]:
    """The names of all probes by uid."""
    return dict(m.Probe.objects.order_by("id").values_list("uid", "name"))


def zones(keeper: "m.Keeper", now: int, first: str = "") -> tuple[str, ...]:
    """Clocks a logger may have had, the likelier first: said before, of our places, of the keeper, winter time, UTC."""
    places = list(m.Place.objects.order_by("id").values_list("zone", flat=True))
    wanted = [first, *places, keeper.zone]
    wanted += [_winter(zone, now) for zone in (*places, keeper.zone)]
    return tuple(dict.fromkeys(zone for zone in (*wanted, UTC_ZONE) if zone))


def _winter(zone: str, now: int) -> str:
    """The offset a zone has in winter, written as one; empty for one that has none of its own."""
    days = (datetime.fromtimestamp(now, UTC) + timedelta(days=30 * n) for n in range(12))
    offsets = [day.astimezone(ZoneInfo(zone)).utcoffset() or timedelta() for day in days]
    low = min(offsets)
    if low == max(offsets):
        return ""
    minutes = int(low.total_seconds()) // 60
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def places_of(zone: str) -> str:
    """The name of a place that keeps this clock."""
    found = m.Place.objects.filter(zone=zone).order_by("id").first()
    return found.name if found is not None else ""


def batches(now: int) -> list[tuple[int, int, str]]:
    """First and last moment, and name, of each batch there was."""
    rows = m.Batch.objects.order_by("id").values_list("set_at", "finished_at", "name")
    return [(start, now if end is None else end, name) for start, end, name in rows]
