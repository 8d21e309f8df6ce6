"""Lots: eggs of the same parents gathered and stored together."""

from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from chalaza import quantities as q
from chalaza.pages.forms import Measure, Words
from chalaza.pages.keeper import Asked
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
from chalaza.pages.setup.fields import Day, Tick, Ticks
from chalaza.records import models as m
from chalaza.values.evidence import LaidAt, Origin
from chalaza.words import things
from chalaza.words.language import mark

#: A store is about so warm; a figure outside is asked about. [°C]; judgement.
_STORE_DEGC = (0.0, 30.0)


class LotForm(SetForm):
    """A lot of a batch."""

    parents = Words(
        max_length=80, label=mark("Their parents"),
        help_text=mark("The name of the flock or pair. Batches of the same name share what is learnt."),
    )  # fmt: skip
    origin = Ticks(choices=list(things.ORIGINS.items()), label=mark("Where the eggs are from"))
    laid_first = Day(required=False, label=mark("First egg laid on"))
    laid_last = Day(required=False, label=mark("Last egg laid on"), help_text=mark("The days in store move the hatch."))
    store_temp_degc = Measure(q.TEMP_ROOM_DEGC, required=False, decimals=1, label=mark("How warm they were stored"))
    laid_at = Ticks(choices=list(things.LAID_AT.items()), label=mark("Where they were laid"))
    parents_weeks = Measure(q.WEEKS, required=False, label=mark("Age of the parents, in weeks"))
    one_hen = Tick(label=mark("All of one hen or pair"))

    def __init__(self, *args: Any, set_at: int, zone: str, **extra: Any) -> None:
        self.set_at, self.zone = set_at, zone
        super().__init__(*args, **{**extra, "zone": zone})
        self.fields["parents"].widget.attrs |= {"list": "flocks", "autocomplete": "off"}

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        low, high = _STORE_DEGC
        self.ask_unit(
            "store_temp_degc", low, high, self.voice.say(mark("A store is kept at 10 to 20 °C. Is this right?"))
        )
        self.clean_laid(self.set_at, self.zone)
        return said


_FIELDS = ("origin", "laid_first", "laid_last", "store_temp_degc", "laid_at", "parents_weeks", "one_hen")


def _page(form: LotForm, title: str, batch: m.Batch, gone: str = "") -> FormPage:
    say = form.voice.say
    return FormPage(
        title=title, form=form, save=say(mark("Keep this lot")), back=say(mark("Back to the batch")), place="batches",
        back_to=address("batches", batch.uid, "edit/"), away=gone,
        parts=(
            Part(heading=say(mark("The eggs")), lines=lines(form, "parents", "origin", "laid_first", "laid_last")),
            Part(
                heading=say(mark("If you know it")),
                lines=lines(form, "store_temp_degc", "laid_at", "parents_weeks", "one_hen"),
            ),
        ),
    )  # fmt: skip


def _save(form: LotForm, row: m.Lot) -> tuple[Any, ...]:
    """The lot, and its parents if nobody had that name before."""
    name = form.cleaned_data["parents"]
    parents = m.Parents.objects.filter(name=name).first()
    fresh = [] if parents is not None else [m.Parents(uid=f"{form.own_uid}-parents", name=name)]
    fill(row, form, *_FIELDS)
    row.parents_id = parents.uid if parents is not None else fresh[0].uid
    return (*fresh, row)


def _flocks() -> list[str]:
    return list(m.Parents.objects.order_by("name", "id").values_list("name", flat=True))


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: Asked, uid: str) -> HttpResponse:
    """A further lot of a batch."""
    batch = one(m.Batch, uid)
    voice = on_clock(request.voice, batch.zone)
    first = {"origin": str(Origin.OWN), "laid_at": str(LaidAt.HERE)}
    form = LotForm(request.POST or None, voice=voice, set_at=batch.set_at, zone=batch.zone, initial=first)

    def change() -> Change:
        row = m.Lot(uid=form.own_uid, batch_id=batch.uid)
        return Change(verb="make", to=address("batches", batch.uid, "edit/"), save=_save(form, row), subject=batch.name)

    title = voice.say(mark("A further lot of {batch}"), {"batch": batch.name})
    return answer(request, _page(form, title, batch), change, voice=voice, flocks=_flocks())


@require_http_methods(["GET", "HEAD", "POST"])
def edit(request: Asked, uid: str) -> HttpResponse:
    """Change a lot, or take it away if no egg is of it."""
    row, asked_away = one(m.Lot, uid), "away" in request.POST
    batch = row.batch
    zone = batch.zone if batch is not None else request.voice.zone
    voice = on_clock(request.voice, zone)
    was = as_begun(request, row)[0]
    first = {**values(was, *_FIELDS), "parents": was.parents.name}
    form = LotForm(
        None if asked_away else request.POST or None, voice=voice, zone=zone, initial=first,
        set_at=batch.set_at if batch is not None else request.now,
    )  # fmt: skip
    to = address("batches", batch.uid, "edit/") if batch is not None else "/parents/"
    title = voice.say(mark("Lot from {parents}"), {"parents": row.parents.name})
    page = (
        _page(form, title, batch, voice.say(mark("Take this lot away"))) if batch is not None else _loose(form, title)
    )

    def change() -> Change:
        return Change(verb="change", to=to, save=_save(form, row), subject=row.parents.name)

    if asked_away:
        return away(request, page, (row,), "delete", row.parents.name, to, voice=voice)
    return answer(request, page, change, voice=voice, flocks=_flocks())


def _loose(form: LotForm, title: str) -> FormPage:
    """The page of a lot that is in store and belongs to no batch yet."""
    say = form.voice.say
    return FormPage(
        title=title, form=form, save=say(mark("Keep this lot")), back=say(mark("Back")), back_to="/parents/", place="batches",
        parts=(Part(heading="", lines=lines(form, "parents", *_FIELDS)),), away=say(mark("Take this lot away")),
    )  # fmt: skip
