"""Probes: what tells about warmth and damp, where each hangs and hung, and how far it was checked."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from chalaza import quantities as q
from chalaza.pages.forms import Measure, Moment, Pick, Words
from chalaza.pages.keeper import Asked
from chalaza.pages.see import see
from chalaza.pages.setup.common import (
    Change,
    FormPage,
    Part,
    SetForm,
    address,
    answer,
    as_begun,
    away,
    fill,
    lines,
    on_clock,
    one,
    values,
)
from chalaza.pages.setup.fields import Tick, Ticks
from chalaza.records import models as m
from chalaza.records import series
from chalaza.records.acts import act
from chalaza.values.evidence import Airflow, CheckSort, ProbeSort
from chalaza.words import numbers, things
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

NOWHERE = ""


class ProbeForm(SetForm):
    """A probe itself."""

    name = Words(max_length=80, label=mark("What you call it"))
    sort = Ticks(choices=list(things.PROBE_SORTS.items()), label=mark("What it is"))
    controls = Tick(
        label=mark("It also steers the heater"),
        help_text=mark("Then its log follows the set point, whatever the air does."),
    )


class HangForm(SetForm):
    """Where a probe hangs from a moment on."""

    where = Pick(required=False, label=mark("Where it hangs"))
    start = Moment(label=mark("Since"))
    height_mm = Measure(
        q.HEIGHT_MM, required=False, label=mark("Height of its tip over the egg tops"),
        help_text=mark("Counts in still air, which is warm on top. Below the tops: with a minus."),
    )  # fmt: skip
    position = Words(max_length=120, required=False, label=mark("Where in the box"))

    def __init__(
        self, *args: Any, nowhere: str, hangs: "m.Mount | None" = None, moves: bool = False, **extra: Any
    ) -> None:
        self.hangs, self.moves = hangs, moves
        super().__init__(*args, **extra)
        field = self.fields["where"]
        if isinstance(field, Pick):
            field.choices = [(NOWHERE, nowhere), *where_to_hang(self.voice)]

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        start = said.get("start")
        if self.hangs is not None and start is not None and start <= self.hangs.start:
            moment = self.fields["start"]
            clock = on_clock(self.voice, moment.zone if isinstance(moment, Moment) else self.voice.zone)
            text = mark("It was hung where it is only at {moment}: a later moment, please, or put that one right.")
            since = numbers.moment(clock, self.hangs.start, year=True)
            self.add_error("start", self.voice.say(text, {"moment": since}))
        if self.moves and self.hangs is None and "where" in said and not said["where"]:
            self.add_error("where", mark("It hangs nowhere already. Choose where it hangs now."))
        return said


class NewProbeForm(HangForm, ProbeForm):
    """A probe, and where it hangs."""

    field_order = ("uid", "name", "sort", "controls", "where", "start", "height_mm", "position")


class MountForm(SetForm):
    """Where a probe hung, to put right."""

    start = Moment(label=mark("Since"))
    end = Moment(required=False, label=mark("Until"), help_text=mark("Empty: it still hangs there."))
    height_mm = HangForm.base_fields["height_mm"]
    position = HangForm.base_fields["position"]


def where_to_hang(voice: Voice) -> list[tuple[str, str]]:
    """Machines and rooms a probe may hang in: (value, name)."""
    boxes = m.Machine.objects.select_related("place").order_by("place__id", "id")
    rooms = m.Place.objects.order_by("id")
    text = mark("the room: {place}")
    return [
        *((f"machine:{one.uid}", f"{one.name}, {one.place.name}") for one in boxes),
        *((f"room:{one.uid}", voice.say(text, {"place": one.name})) for one in rooms),
    ]


def hung(where: str) -> dict[str, str]:
    """The machine or the place a value of `where_to_hang` means, as fields of a mount."""
    what, _, uid = where.partition(":")
    return {"machine_id": uid} if what == "machine" else {"place_id": uid}


def zone_of_probe(probe: m.Probe | None, otherwise: str) -> str:
    """The clock at the place where a probe hangs, or hung last."""
    last = probe.mounts.select_related("machine__place", "place").order_by("-start").first() if probe else None
    if last is None:
        return otherwise
    return str(last.machine.place.zone if last.machine else last.place.zone)


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: Asked) -> HttpResponse:
    """A new probe."""
    voice = request.voice
    places = list(m.Place.objects.order_by("id").values_list("zone", flat=True)[:1])
    first = {"where": str(request.GET.get("where", "")), "start": request.now - request.now % 60}
    form = NewProbeForm(
        request.POST or None, voice=voice, initial=first, zone=places[0] if places else voice.zone,
        nowhere=voice.say(mark("nowhere yet")),
    )  # fmt: skip
    page = FormPage(
        title=voice.say(mark("A new probe")), form=form, save=voice.say(mark("Keep this probe")),
        back=voice.say(mark("Back to the machines")), back_to="/machines/",
        parts=(
            Part(heading=voice.say(mark("The probe")), lines=lines(form, "name", "sort", "controls")),
            Part(heading=voice.say(mark("Where it hangs")), lines=lines(form, "where", "start", "height_mm", "position")),
        ),
    )  # fmt: skip

    def change() -> Change:
        probe = m.Probe(uid=form.own_uid)
        fill(probe, form, "name", "sort", "controls")
        mounts = [] if not form.cleaned_data["where"] else [_mount(form, probe)]
        return Change(verb="make", to=address("probes", probe.uid), save=(probe, *mounts), subject=probe.name)

    return answer(request, page, change)


def _mount(form: HangForm, probe: m.Probe) -> m.Mount:
    mount = m.Mount(uid=f"{form.own_uid}-mount", probe_id=probe.uid, **hung(form.cleaned_data["where"]))
    fill(mount, form, "start", "height_mm", "position")
    return mount


@require_http_methods(["GET", "HEAD", "POST"])
def edit(request: Asked, uid: str) -> HttpResponse:
    """Change a probe, or take it away if nothing rests on it."""
    probe = one(m.Probe, uid)
    here, voice, asked_away = address("probes", probe.uid), request.voice, "away" in request.POST
    names = ("name", "sort", "controls")
    form = ProbeForm(
        None if asked_away else request.POST or None, voice=voice, initial=values(as_begun(request, probe)[0], *names)
    )
    page = FormPage(
        title=voice.say(mark("Change {name}"), {"name": probe.name}), form=form,
        parts=(Part(heading="", lines=lines(form, *names)),), back=voice.say(mark("Back")),
        save=voice.say(mark("Keep this probe")), back_to=here, away=voice.say(mark("Take this probe away")),
    )  # fmt: skip

    def change() -> Change:
        fill(probe, form, *names)
        return Change(verb="change", to=here, save=(probe,), subject=probe.name)

    if asked_away:
        return away(request, page, (probe,), "delete", probe.name, "/machines/")
    return answer(request, page, change)


@require_http_methods(["GET", "HEAD", "POST"])
def hang(request: Asked, uid: str) -> HttpResponse:
    """Hang a probe elsewhere or take it down: the old mount ends and the new one begins in one act."""
    probe = one(m.Probe, uid)
    voice, here = request.voice, address("probes", probe.uid)
    now_at = probe.mounts.filter(end=None).order_by("-start").first()
    form = HangForm(
        request.POST or None, voice=voice, zone=zone_of_probe(probe, voice.zone), nowhere=voice.say(mark("nowhere: taken down")),
        hangs=now_at, moves=True, initial={"start": request.now - request.now % 60, "where": str(request.GET.get("where", ""))},
    )  # fmt: skip
    page = FormPage(
        title=voice.say(mark("Hang {probe} elsewhere"), {"probe": probe.name}), form=form, save=voice.say(mark("Note this")),
        lead=voice.say(mark("What it told before stays with the place where it hung before.")),
        parts=(Part(heading="", lines=lines(form, "where", "start", "height_mm", "position")),),
        back=voice.say(mark("Back")), back_to=here,
    )  # fmt: skip

    def change() -> Change:
        ended = []
        if now_at is not None:
            now_at.end = form.cleaned_data["start"]
            ended = [now_at]
        begun = [] if not form.cleaned_data["where"] else [_mount(form, probe)]
        return Change(verb="change", to=here, save=(*ended, *begun), subject=probe.name)

    return answer(request, page, change)


@require_http_methods(["GET", "HEAD", "POST"])
def mount(request: Asked, uid: str) -> HttpResponse:
    """Put right where and since when a probe hung, or take that row away."""
    row = one(m.Mount, uid)
    probe, voice, asked_away = row.probe, request.voice, "away" in request.POST
    names = ("start", "end", "height_mm", "position")
    form = MountForm(
        None if asked_away else request.POST or None, voice=voice, zone=zone_of_probe(probe, voice.zone),
        initial=values(as_begun(request, row)[0], *names),
    )  # fmt: skip
    here = address("probes", probe.uid)
    page = FormPage(
        title=voice.say(mark("{probe} in {where}"), {"probe": probe.name, "where": (row.machine or row.place).name}),
        form=form, parts=(Part(heading="", lines=lines(form, *names)),), save=voice.say(mark("Keep this")),
        back=voice.say(mark("Back")), back_to=here, away=voice.say(mark("It never hung there: take this away")),
    )  # fmt: skip

    def change() -> Change:
        fill(row, form, *names)
        return Change(verb="change", to=here, save=(row,), subject=probe.name)

    if asked_away:
        return away(request, page, (row,), "delete", probe.name, here)
    return answer(request, page, change)


# The page of a probe ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Hung:
    """Where it hung and for how long."""

    where: str
    href: str
    edit: str
    start: int
    end: int | None
    height_mm: float | None
    position: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """A check, and the offset it showed: true minus reading."""

    at: int
    how: str
    reading: str
    reference: str
    offset: str
    note: str
    away: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbePage:
    """A probe by itself."""

    title: str
    sort: str
    controls: bool
    at: int | None
    temp_degc: float | None
    rh: float | None
    now: Hung | None
    height_wanted: bool
    before: tuple[Hung, ...]
    checks: tuple[Checked, ...]
    check: str
    hang: str
    edit: str


@require_safe
def probe(request: Asked, uid: str) -> HttpResponse:
    """One probe: where it hangs, what it said last, how it was checked."""
    row = one(m.Probe, uid)
    voice = on_clock(request.voice, zone_of_probe(row, request.voice.zone))
    context = {"page": _page(voice, row, request.now), "place": "machines", "voice": voice}  # fmt: skip
    return render(request, "setup/probe.html", context)


def _page(voice: Voice, row: m.Probe, now: int) -> ProbePage:
    mounts = list(row.mounts.select_related("machine", "place").order_by("-start", "-id"))
    here = next((one for one in mounts if one.start <= now and (one.end is None or one.end > now)), None)
    last = series.last(row.uid, now)
    at, temp, rh = last if last is not None else (None, None, None)
    still = here is not None and here.machine is not None and here.machine.airflow == Airflow.STILL
    return ProbePage(
        title=row.name, sort=voice.say(things.PROBE_SORTS[ProbeSort(row.sort)]), controls=row.controls, at=at,
        temp_degc=temp, rh=rh, now=_hung(voice, here) if here else None,
        height_wanted=still and here is not None and here.height_mm is None,
        before=tuple(_hung(voice, one) for one in mounts if one is not here),
        checks=tuple(_checked(voice, one) for one in row.checks.order_by("-at", "-id")),
        check=address("probes", row.uid, "check/"), hang=address("probes", row.uid, "hang/"),
        edit=address("probes", row.uid, "edit/"),
    )  # fmt: skip


def _hung(voice: Voice, one: m.Mount) -> Hung:
    where = one.machine.name if one.machine else voice.say(mark("the room: {place}"), {"place": one.place.name})
    href = address("machines", one.machine.uid) if one.machine else "/machines/"
    return Hung(
        where=where, href=href, edit=address("mounts", one.uid), start=one.start, end=one.end, height_mm=one.height_mm,
        position=one.position,
    )  # fmt: skip


def _checked(voice: Voice, one: m.ProbeCheck) -> Checked:
    heat = one.reading_degc is not None
    reading = one.reading_degc if heat else one.reading_rh
    reference = one.reference_degc if heat else one.reference_rh
    if heat and reference is None and one.sort == CheckSort.ICE:
        reference = 0.0
    style, offset = ("temperature", "change") if heat else ("humidity", "points")

    def shown(value: float | None, how: str) -> str:
        return "" if value is None else numbers.quantity(voice, value, how)

    return Checked(
        at=one.at, how=voice.say(things.CHECK_SORTS[CheckSort(one.sort)]), reading=shown(reading, style),
        reference=shown(reference, style), note=one.note, away=address("checks", one.uid, "away/"),
        offset=shown(None if reading is None or reference is None else reference - reading, offset),
    )  # fmt: skip


@require_POST
def check_away(request: Asked, uid: str) -> HttpResponse:
    """Take a check away: it can be undone."""
    row = one(m.ProbeCheck, uid)
    done = act(request.keeper, "delete", delete=(row,), subject=row.probe.name)
    return see(address("probes", row.probe_id), done)
