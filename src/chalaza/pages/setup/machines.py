"""Machines: which stand where, what lies in them, what their probes say; and the page of each."""

from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from chalaza import quantities as q
from chalaza.pages.forms import Measure, Pick, Whole, Words
from chalaza.pages.keeper import Asked
from chalaza.pages.setup import standing
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
from chalaza.pages.setup.fields import AreasField, Tick, Ticks, TrayField
from chalaza.records import models as m
from chalaza.words import things
from chalaza.words.cautions import cautions
from chalaza.words.language import mark

#: What stands beside water in a machine, and beside its heat.
_CAUTIONS = ("mains_water", "cut_out")


class MachineForm(SetForm):
    """A machine. Only its name, place and air must be known."""

    name = Words(max_length=80, label=mark("What you call it"))
    place = Pick(label=mark("Where it stands"))
    airflow = Ticks(choices=list(things.AIRFLOWS.items()), label=mark("Its air"))
    volume_l = Measure(
        q.VOLUME_L, required=False, label=mark("Its inner volume"), help_text=mark("Length × breadth × height in dm.")
    )
    troughs_cm2 = AreasField(
        required=False, label=mark("Water troughs"),
        help_text=mark("The open water surface of each, separated by blanks: length × breadth."),
    )  # fmt: skip
    vents = Whole(q.EGGS, max_value=100, required=False, label=mark("Vents"))
    tray = TrayField(
        required=False, max_length=20, label=mark("Tray"), help_text=mark("Rows by eggs in a row, such as 4x7.")
    )
    mapped = Tick(
        label=mark("Its evenness was mapped"),
        help_text=mark("With probes that had been compared first, laid out over the tray."),
    )  # fmt: skip
    note = Words(lines=3, required=False, label=mark("Note"))


_FIELDS = ("name", "airflow", "volume_l", "troughs_cm2", "vents", "tray", "mapped", "note")


@require_safe
def listing(request: Asked) -> HttpResponse:
    """Every place with its machines, what is in them now and what each probe said last."""
    page = standing.listing(request.voice, request.now)
    return render(request, "setup/machines.html", {"page": page, "place": "machines"})


@require_safe
def machine(request: Asked, uid: str) -> HttpResponse:
    """One machine: what it is, what lies and hangs in it, what happened to it."""
    row = one(m.Machine, uid)
    voice = on_clock(request.voice, row.place.zone)
    context = {"page": standing.machine(voice, row, request.now), "place": "machines", "voice": voice}  # fmt: skip
    return render(request, "setup/machine.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: Asked) -> HttpResponse:
    """A new machine, at a place that is there."""
    voice, places = request.voice, _places()
    if not places:
        return HttpResponseRedirect("/places/new/")
    here = places[0][0] if len(places) == 1 else str(request.GET.get("place", ""))
    form = MachineForm(request.POST or None, voice=voice, initial={"place": here})
    page = _page(request, form, places, voice.say(mark("A new machine")), "/machines/")

    def change() -> Change:
        row = m.Machine(uid=form.own_uid, place_id=form.cleaned_data["place"])
        fill(row, form, *_FIELDS)
        return Change(verb="make", to=address("machines", row.uid), save=(row,), subject=row.name)

    return answer(request, page, change)


@require_http_methods(["GET", "HEAD", "POST"])
def edit(request: Asked, uid: str) -> HttpResponse:
    """Change a machine, or take it away if nothing rests on it."""
    row = one(m.Machine, uid)
    here, asked_away = address("machines", row.uid), "away" in request.POST
    first = values(as_begun(request, row)[0], *_FIELDS, place_id="place")
    form = MachineForm(None if asked_away else request.POST or None, voice=request.voice, initial=first)
    title = request.voice.say(mark("Change {name}"), {"name": row.name})
    page = _page(request, form, _places(), title, here, request.voice.say(mark("Take this machine away")))

    def change() -> Change:
        fill(row, form, *_FIELDS, place_id="place")
        return Change(verb="change", to=here, save=(row,), subject=row.name)

    if asked_away:
        return away(request, page, (row,), "delete", row.name, "/machines/")
    return answer(request, page, change)


def _places() -> list[tuple[str, str]]:
    return list(m.Place.objects.order_by("id").values_list("uid", "name"))


def _page(
    request: Asked, form: MachineForm, places: list[tuple[str, str]], title: str, back_to: str, gone: str = ""
) -> FormPage:
    voice = request.voice
    field = form.fields["place"]
    if isinstance(field, Pick):
        field.choices = places if len(places) == 1 else [("", "—"), *places]
    return FormPage(
        title=title, form=form, save=voice.say(mark("Keep this machine")), back=voice.say(mark("Back")), back_to=back_to,
        parts=(
            Part(heading=voice.say(mark("The machine")), lines=lines(form, "name", "place", "airflow")),
            Part(
                heading=voice.say(mark("If you know it")),
                lead=voice.say(mark("Volume, troughs and vents tell how the box holds its moisture.")),
                lines=lines(form, "volume_l", "troughs_cm2", "vents", "tray", "mapped", "note"),
            ),
        ),
        away=gone, cautions=cautions(voice, _CAUTIONS),
    )  # fmt: skip
