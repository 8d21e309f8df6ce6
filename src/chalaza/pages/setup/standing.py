"""What stands, lies and hangs where: the machines of all places and each by itself, as pages show them."""

from collections.abc import Iterable
from dataclasses import dataclass
from urllib.parse import urlencode

from django.db.models import Prefetch, Q, QuerySet

from chalaza import units
from chalaza.pages.setup.common import address, on_clock
from chalaza.quantities import AREA_CM2
from chalaza.records import models as m
from chalaza.records import series
from chalaza.values.evidence import Airflow, CheckSort, EventSort, ProbeSort
from chalaza.words import numbers, things
from chalaza.words.events import EVENTS
from chalaza.words.language import mark
from chalaza.words.numbers import Preference, Voice

_EVENTS = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Lying:
    """A batch in a machine: since when, and until when if it has left."""

    name: str
    href: str
    edit: str
    start: int
    end: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hanging:
    """A probe where it hangs: its last reading, and how far it was checked."""

    name: str
    href: str
    edit: str
    sort: str
    at: int | None
    temp_degc: float | None
    rh: float | None
    checked: str
    check: str
    height_mm: float | None
    height_wanted: bool
    position: str
    start: int | None = None
    end: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A machine in the list."""

    name: str
    href: str
    airflow: str
    lying: tuple[Lying, ...]
    hanging: tuple[Hanging, ...]
    set_here: str
    probe_here: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A place in the list."""

    name: str
    edit: str
    altitude_m: float
    zone: str
    voice: Voice
    boxes: tuple[Box, ...]
    room: tuple[Hanging, ...]
    add: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Listing:
    """All of it; `loose` are probes that hang nowhere."""

    stands: tuple[Stand, ...]
    loose: tuple[Hanging, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Happened:
    """Something that was done to a machine."""

    at: int
    what: str
    until: int | None
    set_point_degc: float | None
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MachinePage:
    """A machine by itself."""

    title: str
    place: str
    place_edit: str
    airflow: str
    volume: str
    troughs: tuple[str, ...]
    vents: int | None
    tray: str
    mapped: bool
    note: str
    lying: tuple[Lying, ...]
    lay: tuple[Lying, ...]
    hanging: tuple[Hanging, ...]
    hung: tuple[Hanging, ...]
    happened: tuple[Happened, ...]
    note_event: str
    edit: str
    set_here: str
    probe_here: str


def _open(now: int) -> Q:
    return Q(start__lte=now) & (Q(end=None) | Q(end__gt=now))


def _mounts(now: int) -> QuerySet[m.Mount]:
    return m.Mount.objects.filter(_open(now)).select_related("probe", "machine").order_by("id")


def listing(voice: Voice, now: int) -> Listing:
    """Every place with its machines as they are now."""
    stays = m.Stay.objects.filter(_open(now)).select_related("batch").order_by("start", "id")
    boxes = m.Machine.objects.order_by("id").prefetch_related(
        Prefetch("stays", stays, to_attr="now_in"), Prefetch("mounts", _mounts(now), to_attr="now_hung")
    )
    places = m.Place.objects.order_by("id").prefetch_related(
        Prefetch("machines", boxes, to_attr="boxes"), Prefetch("mounts", _mounts(now), to_attr="now_hung")
    )
    checks = last_checks()
    found = tuple(_stand(on_clock(voice, place.zone), place, checks, now) for place in places)
    hung = _mounts(now).values_list("probe__uid", flat=True)
    loose = m.Probe.objects.exclude(uid__in=list(hung)).order_by("id")
    return Listing(stands=found, loose=tuple(_hanging(voice, one, None, checks, now) for one in loose))


def _stand(voice: Voice, place: m.Place, checks: dict[str, m.ProbeCheck], now: int) -> Stand:
    return Stand(
        name=place.name, edit=address("places", place.uid), altitude_m=place.altitude_m, zone=place.zone, voice=voice,
        boxes=tuple(_box(voice, one, checks, now) for one in place.boxes),  # type: ignore[attr-defined]  # prefetched
        room=tuple(_hanging(voice, one.probe, one, checks, now) for one in place.now_hung),  # type: ignore[attr-defined]  # prefetched
        add=f"/machines/new/?{urlencode({'place': place.uid})}",
    )  # fmt: skip


def _box(voice: Voice, row: m.Machine, checks: dict[str, m.ProbeCheck], now: int) -> Box:
    return Box(
        name=row.name, href=address("machines", row.uid), airflow=voice.say(things.AIRFLOWS[Airflow(row.airflow)]),
        lying=tuple(_lying(one) for one in row.now_in),  # type: ignore[attr-defined]  # prefetched
        hanging=tuple(_hanging(voice, one.probe, one, checks, now) for one in row.now_hung),  # type: ignore[attr-defined]  # prefetched
        **_here(row),
    )  # fmt: skip


def _here(row: m.Machine) -> dict[str, str]:
    """Where a batch is set into this machine, and where a probe is hung into it."""
    return {
        "set_here": f"/batches/new/?{urlencode({'machine': row.uid})}",
        "probe_here": f"/probes/new/?{urlencode({'where': f'machine:{row.uid}'})}",
    }


def _lying(stay: m.Stay) -> Lying:
    return Lying(
        name=stay.batch.name, href=address("batches", stay.batch_id), edit=address("stays", stay.uid), start=stay.start,
        end=stay.end,
    )  # fmt: skip


def last_checks() -> dict[str, m.ProbeCheck]:
    """The newest check of every probe, by uid of the probe."""
    return {one.probe_id: one for one in m.ProbeCheck.objects.order_by("at", "id")}


def checked(voice: Voice, check: m.ProbeCheck | None) -> str:
    """How a probe was checked last, or that it never was."""
    if check is None:
        return voice.say(mark("never checked"))
    holes = {"how": voice.say(things.CHECK_SORTS[CheckSort(check.sort)]),
             "moment": numbers.moment(voice, check.at, year=True)}  # fmt: skip
    return voice.say(mark("checked {how}, {moment}"), holes)


def _hanging(voice: Voice, probe: m.Probe, mount: m.Mount | None, checks: dict[str, m.ProbeCheck], now: int) -> Hanging:
    last = series.last(probe.uid, now) if mount is None or mount.end is None else None
    at, temp, rh = last if last is not None else (None, None, None)
    still = mount is not None and mount.machine is not None and mount.machine.airflow == Airflow.STILL
    return Hanging(
        name=probe.name, href=address("probes", probe.uid), edit=address("mounts", mount.uid) if mount else "",
        sort=voice.say(things.PROBE_SORTS[ProbeSort(probe.sort)]), at=at, temp_degc=temp, rh=rh,
        checked=checked(voice, checks.get(probe.uid)), check=address("probes", probe.uid, "check/"),
        height_mm=mount.height_mm if mount else None, position=mount.position if mount else "",
        height_wanted=still and mount is not None and mount.height_mm is None, start=mount.start if mount else None,
        end=mount.end if mount else None,
    )  # fmt: skip


def machine(voice: Voice, row: m.Machine, now: int) -> MachinePage:
    """One machine as it is now and was before."""
    stays = list(row.stays.select_related("batch").order_by("-start", "-id"))
    mounts = list(row.mounts.select_related("probe", "machine").order_by("-start", "-id"))
    checks = last_checks()
    return MachinePage(
        title=row.name, place=row.place.name, place_edit=address("places", row.place_id),
        airflow=voice.say(things.AIRFLOWS[Airflow(row.airflow)]), volume=_volume(row.volume_l),
        troughs=_troughs(voice, row.troughs_cm2), vents=row.vents, tray=row.tray, mapped=row.mapped, note=row.note,
        lying=tuple(_lying(one) for one in stays if _now(one, now)),
        lay=tuple(_lying(one) for one in stays if not _now(one, now)),
        hanging=tuple(_hanging(voice, one.probe, one, checks, now) for one in mounts if _now(one, now)),
        hung=tuple(_hanging(voice, one.probe, one, checks, now) for one in mounts if not _now(one, now)),
        happened=tuple(_happened(voice, row.events.order_by("-at", "-id")[:_EVENTS])),
        note_event=address("machines", row.uid, "event/"),
        edit=address("machines", row.uid, "edit/"), **_here(row),
    )  # fmt: skip


def _now(one: m.Stay | m.Mount, now: int) -> bool:
    return bool(one.start <= now and (one.end is None or one.end > now))


def _volume(volume_l: float | None) -> str:
    return "" if volume_l is None else f"{volume_l:g}{numbers.NB}L"


def _troughs(voice: Voice, text: str) -> tuple[str, ...]:
    """The water surfaces in the keeper's unit; as they stand where they are no figures."""
    unit = AREA_CM2.displays[1 if voice.units is Preference.US else 0]
    try:
        return tuple(f"{float(units.shown(float(part), unit)):.0f}{numbers.NB}{unit}" for part in text.split())
    except ValueError:
        return (text,)


def _happened(voice: Voice, events: Iterable[m.Event]) -> list[Happened]:
    return [
        Happened(at=one.at, what=voice.say(EVENTS[EventSort(one.sort)]), until=one.until,
                 set_point_degc=one.set_point_degc, note=one.note)
        for one in events
    ]  # fmt: skip
