"""A batch put right: what it is called and planned, its lots, where it lay, when it was over."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from chalaza import facts
from chalaza import quantities as q
from chalaza.facts.kinds import usual_temp
from chalaza.pages.forms import Measure, Moment, Whole, Words
from chalaza.pages.keeper import Asked
from chalaza.pages.setup.common import (
    Change,
    FormPage,
    Line,
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
from chalaza.pages.setup.fields import KindField, ZoneField
from chalaza.pages.setup.slips import RUN_DEGC
from chalaza.records import models as m
from chalaza.values.evidence import Airflow, Origin
from chalaza.words import things
from chalaza.words.begin import plans
from chalaza.words.language import mark
from chalaza.words.numbers import Voice


class BatchForm(SetForm):
    """A batch."""

    name = Words(max_length=80, label=mark("What you call this batch"))
    kind = KindField(label=mark("Kind of bird"))
    set_at = Moment(label=mark("When the eggs went under heat"))
    finished_at = Moment(
        required=False,
        label=mark("When it was over"),
        help_text=mark("Empty: it runs again."),
    )
    planned_temp_degc = Measure(q.TEMP_DEGC, required=False, decimals=1, label=mark("Temperature you mean to run"))
    planned_rh = Measure(q.RH, required=False, decimals=0, label=mark("Humidity you mean to run until the last days"))
    turns_per_d = Whole(
        q.TURNS_PER_D,
        required=False,
        label=mark("Turns a day, by hand"),
        help_text=mark("Empty: the machine turns them."),
    )
    wanted_young = Whole(q.YOUNG, required=False, label=mark("Young hoped for"))
    zone = ZoneField(max_length=64, label=mark("Time zone"), help_text=mark("The clock by which its days are counted."))
    note = Words(lines=4, required=False, label=mark("Note"))

    def __init__(self, *args: Any, now: int, **extra: Any) -> None:
        self.now = now
        super().__init__(*args, **extra)
        if self.initial.get("finished_at") is None:
            del self.fields["finished_at"]  # ending a batch has a page of its own

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        low, high = RUN_DEGC
        self.ask_unit(
            "planned_temp_degc", low, high, self.voice.say(mark("Eggs are kept at 36 to 39 °C. Is this right?"))
        )
        if "set_at" in self.changed_data:
            field = self.fields["set_at"]
            self.ask_set(field.zone if isinstance(field, Moment) else "UTC", self.now)
        set_at, finished = said.get("set_at"), said.get("finished_at")
        if set_at is not None and finished is not None and finished <= set_at:
            self.add_error("finished_at", mark("A batch is over after it was set: look at both moments."))
        elif finished is not None and finished > self.now:
            self.add_error("finished_at", mark("That is still to come: leave it empty until the batch is over."))
        return said


_FIELDS = (
    "name", "kind", "set_at", "finished_at", "planned_temp_degc", "planned_rh", "turns_per_d", "wanted_young", "zone", "note",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class LotLine:
    """A lot in the list of its batch."""

    parents: str
    origin: str
    laid_first: int | None
    laid_last: int | None
    eggs: int
    edit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StayLine:
    """Where the batch lay and for how long."""

    machine: str
    start: int
    end: int | None
    edit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Belonging:
    """What belongs to a batch beside its own fields, and where each is put right."""

    lots: tuple[LotLine, ...]
    stays: tuple[StayLine, ...]
    eggs: int
    eggs_edit: str
    lot_new: str
    move: str


@require_http_methods(["GET", "HEAD", "POST"])
def edit(request: Asked, uid: str) -> HttpResponse:
    """Change a batch, or take it away with its eggs, lots and stays if nothing was entered about them."""
    batch = one(m.Batch, uid)
    voice, here = on_clock(request.voice, batch.zone), address("batches", batch.uid)
    asked_away = "away" in request.POST
    form = BatchForm(
        None if asked_away else request.POST or None, voice=voice, zone=batch.zone, now=request.now,
        initial=values(as_begun(request, batch)[0], *_FIELDS),
    )  # fmt: skip
    page = FormPage(
        title=voice.say(mark("Change {name}"), {"name": batch.name}), form=form, parts=_parts(voice, form, batch),
        save=voice.say(mark("Keep this")), place="batches",
        back=voice.say(mark("Back to the batch")), back_to=here, away=voice.say(mark("Take this batch away")), has_zone=True,
    )  # fmt: skip

    def change() -> Change:
        moved = [*_moved_set(batch, form), *_moved_end(batch, form)]
        fill(batch, form, *(name for name in _FIELDS if name in form.fields))
        return Change(verb="change", to=here, save=(batch, *moved), subject=batch.name)

    more: dict[str, Any] = {"belonging": belonging(voice, batch), "voice": voice}
    if asked_away:
        return away(request, page, _all_of(batch), "delete", batch.name, "/batches/", "setup/edit.html", **more)
    return answer(request, page, change, "setup/edit.html", **more)


def _moved_set(batch: m.Batch, form: BatchForm) -> list[m.Stay | m.Mount]:
    """The first stay, if it began when the batch was set: it goes on doing so. Probes hung up for it then go along where
    it was set earlier, so that what they read counts."""
    before, after = batch.set_at, int(form.cleaned_data["set_at"])
    if after == before or "set_at" not in form.changed_data:
        return []
    stays = list(batch.stays.filter(start=before))
    hung = m.Mount.objects.filter(machine__uid__in=[stay.machine_id for stay in stays], start=before)
    moved: list[m.Stay | m.Mount] = [*stays, *(one for one in hung if after < before and _hung_nowhere(one, after))]
    for each in moved:
        each.start = after
    return moved


def _hung_nowhere(mount: m.Mount, since: int) -> bool:
    """Whether a probe hung nowhere from a moment on until it was hung up here."""
    return not m.Mount.objects.filter(probe_id=mount.probe_id, end__gt=since, start__lt=mount.start).exists()


def _moved_end(batch: m.Batch, form: BatchForm) -> list[m.Stay]:
    """The stay that ended with the batch: it ends with it as before, or goes on where the batch runs again."""
    if "finished_at" not in form.changed_data:
        return []
    stays = list(batch.stays.filter(end=batch.finished_at))
    for stay in stays:
        stay.end = form.cleaned_data["finished_at"]
    return stays


def _all_of(batch: m.Batch) -> list[Any]:
    return [*batch.eggs.all(), *batch.lots.all(), *batch.stays.all(), batch]


def _parts(voice: Voice, form: BatchForm, batch: m.Batch) -> tuple[Part, ...]:
    plain = lines(form, "turns_per_d", "wanted_young")
    first = tuple(name for name in ("name", "kind", "set_at", "finished_at") if name in form.fields)
    return (
        Part(heading=voice.say(mark("The batch")), lines=lines(form, *first)),
        Part(heading=voice.say(mark("The plan")), lines=(*_planned(voice, form, batch), *plain)),
        Part(heading=voice.say(mark("Other")), lines=lines(form, "zone", "note")),
    )


def _planned(voice: Voice, form: BatchForm, batch: m.Batch) -> tuple[Line, Line]:
    """Temperature and humidity, each with what is usual and who says so."""
    stay = batch.stays.select_related("machine").order_by("start").first()
    airflow = Airflow(stay.machine.airflow) if stay is not None else Airflow.FAN
    kind = facts.kinds().get(batch.kind)
    if kind is None:
        return Line(form["planned_temp_degc"]), Line(form["planned_rh"])
    temp, rh = plans(voice, kind, airflow)
    shown = (temp,) if usual_temp(kind, airflow) is not None else ()
    return Line(form["planned_temp_degc"], shown), Line(form["planned_rh"], (rh,))


def belonging(voice: Voice, batch: m.Batch) -> Belonging:
    """Lots, stays and eggs of a batch."""
    lots = list(batch.lots.select_related("parents").prefetch_related("eggs").order_by("id"))
    stays = batch.stays.select_related("machine").order_by("start", "id")
    return Belonging(
        lots=tuple(
            LotLine(
                parents=lot.parents.name, origin=voice.say(things.ORIGINS[Origin(lot.origin)]), laid_first=lot.laid_first,
                laid_last=lot.laid_last, eggs=sum(egg.count for egg in lot.eggs.all()), edit=address("lots", lot.uid),
            )
            for lot in lots
        ),
        stays=tuple(
            StayLine(machine=one.machine.name, start=one.start, end=one.end, edit=address("stays", one.uid)) for one in stays
        ),
        eggs=sum(batch.eggs.values_list("count", flat=True)), eggs_edit=address("batches", batch.uid, "eggs/"),
        lot_new=address("batches", batch.uid, "lots/new/"), move=address("batches", batch.uid, "move/"),
    )  # fmt: skip
