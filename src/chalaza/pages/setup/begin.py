"""The first batch out of an empty notebook, and every further one: all rows of a setting in one act.

What is not typed is taken as usual for the kind; the page shows each such figure with its source before it is taken.
"""

from typing import Any

from django.db import models
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from chalaza.errors import EvidenceError
from chalaza.exchange.begin import label_of
from chalaza.facts import Kind, kinds
from chalaza.facts.kinds import usual_temp
from chalaza.intake.typed import tray_of, zone_of
from chalaza.pages.keeper import NO_ZONE, Asked
from chalaza.pages.setup.begin_form import COUNTED, NUMBERS, EggsForm, FirstForm, NextForm
from chalaza.pages.setup.common import Change, FormPage, Line, Part, answer, lines
from chalaza.pages.setup.kinds import exact
from chalaza.records import models as m
from chalaza.records.acts import ActError
from chalaza.values.evidence import Airflow, LaidAt, Origin, ProbeSort
from chalaza.words.basis import STATUSES
from chalaza.words.begin import Taken, asked, minded, plans
from chalaza.words.cautions import cautions
from chalaza.words.language import mark
from chalaza.words.numbers import Voice


@require_http_methods(["GET", "HEAD", "POST"])
def begin(request: Asked) -> HttpResponse:
    """The first batch; where there are machines already, the page for a further one."""
    if m.Machine.objects.exists() and request.method != "POST":
        return HttpResponseRedirect("/batches/new/")
    zone, why = zone_guess(request)
    voice = request.voice
    first = {"zone": zone, "place_name": voice.say(mark("Home"))}
    form = FirstForm(request.POST or None, voice=voice, now=request.now, zone=zone or None, initial=first)
    page = FormPage(
        title=voice.say(mark("Set the first batch")),
        lead=voice.say(mark("Write what only you can know. All else is taken as usual, and says where from.")),
        form=form, parts=_first_parts(voice, form, why), save=voice.say(mark("Set this batch")),
        back=voice.say(mark("Not now")), back_to="/", place="batches", has_zone=True,
    )  # fmt: skip
    return answer(request, page, lambda: _first(request, form), "setup/begin.html", **_usual(voice, form))


@require_http_methods(["GET", "HEAD", "POST"])
def following(request: Asked) -> HttpResponse:
    """A further batch, in a machine that is there."""
    machines = list(m.Machine.objects.select_related("place").order_by("place__id", "id"))
    if not machines:
        return HttpResponseRedirect("/begin/")
    voice = request.voice
    alone = machines[0].uid if len(machines) == 1 else str(request.GET.get("machine", ""))
    form = NextForm(request.POST or None, voice=voice, now=request.now, machines=machines, initial={"machine": alone})
    page = FormPage(
        title=voice.say(mark("Set a batch")),
        lead=voice.say(mark("All that is not written is taken as usual, and says where from.")),
        form=form, parts=_next_parts(voice, form), save=voice.say(mark("Set this batch")),
        back=voice.say(mark("Not now")), back_to="/batches/", place="batches",
    )  # fmt: skip
    return answer(request, page, lambda: _next(form), "setup/begin.html", **_usual(voice, form), flocks=_flocks())


@require_safe
def usual(request: Asked) -> HttpResponse:
    """What is usual for the kind and air chosen so far: a fragment of the page."""
    kind = exact(request.voice, str(request.GET.get("kind", "")))
    return render(request, "setup/usual.html", _taken(request.voice, kind, _airflow(request)))


def _airflow(request: HttpRequest) -> Airflow | None:
    said = str(request.GET.get("airflow", ""))
    machine = m.Machine.objects.filter(uid=str(request.GET.get("machine", "")).replace("\x00", "")).first()
    if machine is not None:
        return Airflow(machine.airflow)
    return Airflow(said) if said in list(Airflow) else None


def zone_guess(request: Asked) -> tuple[str, str]:
    """The zone that is likely the keeper's, and why."""
    if request.keeper.zone != NO_ZONE:
        return request.keeper.zone, request.voice.say(mark("As you read this notebook."))
    try:
        return zone_of(None)[0], request.voice.say(mark("This computer’s clock says so."))
    except EvidenceError:
        return "", ""


def _flocks() -> list[str]:
    return list(m.Parents.objects.order_by("name", "id").values_list("name", flat=True))


# What the page shows ----------------------------------------------------------------------------------------------


def _first_parts(voice: Voice, form: FirstForm, zone_why: str) -> tuple[Part, ...]:
    machine = lines(form, "machine_name", "airflow", "probe_sort", "height_mm")
    guessed = zone_why and not form.is_bound
    zone = Line(form["zone"], (Taken(column="zone", words=zone_why),) if guessed else ())
    return (
        Part(heading=voice.say(mark("The eggs")), lines=lines(form, "kind", "eggs", "set_at", "batch_name", "parents")),
        Part(heading=voice.say(mark("The machine")), lines=machine),
        Part(heading=voice.say(mark("The place")), lines=(*lines(form, "place_name", "altitude_m"), zone)),
        _more(voice, form),
    )


def _next_parts(voice: Voice, form: NextForm) -> tuple[Part, ...]:
    names = ("machine", "kind", "eggs", "set_at", "batch_name", "parents")
    return Part(heading=voice.say(mark("The eggs")), lines=lines(form, *names)), _more(voice, form)


def _more(voice: Voice, form: EggsForm) -> Part:
    names = (
        "laid_first", "laid_last", "origin", "shell", "labels", "tray", "planned_temp_degc", "planned_rh", "turns_per_d",
        "wanted_young",
    )  # fmt: skip
    return Part(
        heading=voice.say(mark("If you know it")), lines=lines(form, *names), folded=True, key="more",
        lead=voice.say(mark("None of this is needed today. It can be written later as well.")),
    )  # fmt: skip


def _usual(voice: Voice, form: FirstForm | NextForm) -> dict[str, Any]:
    return _taken(voice, form.kind_meant, form.airflow_meant)


def _taken(voice: Voice, kind: Kind | None, airflow: Airflow | None) -> dict[str, Any]:
    """Figures taken where nothing is written, and what to mind; nothing before there is a kind."""
    if kind is None:
        return {"taken": (), "kind": None, "minded": (), "worth": ()}
    return {
        "taken": (*plans(voice, kind, airflow or Airflow.FAN), *_course(voice, kind)),
        "kind": kind,
        "kind_name": voice.language.gettext(kind.name),
        "minded": cautions(voice, minded(kind, posted=False)[:-1]),
        "worth": asked(voice, airflow or Airflow.FAN, None, 0),
    }


def _course(voice: Voice, kind: Kind) -> tuple[Taken, ...]:
    """How long it takes and when turning stops, as the tables have it."""
    from chalaza.words.facts import known

    told = {one.quantity: one for one in known(voice, kind.key) if one.group == "wanted"}
    texts = {
        "term": mark("From setting to hatch {figure}; the forecast follows the warmth your eggs really have."),
        "stop_turning": mark("Turning stops after {figure}."),
        "loss_target": mark("Loss of water wanted: {figure}, {note}."),
    }
    return tuple(
        Taken(column="", words=voice.say(text, {"figure": told[key].figure, "note": told[key].note}), quantity=key,
              sources=told[key].sources, standing=voice.say(STATUSES[told[key].status]))
        for key, text in texts.items()
    )  # fmt: skip


# What is done -----------------------------------------------------------------------------------------------------


def _first(request: Asked, form: FirstForm) -> Change:
    """Place, machine, probe and batch in one act."""
    said, uid, voice = form.cleaned_data, form.own_uid, request.voice
    place = m.Place(uid=f"{uid}-place", name=said["place_name"], altitude_m=said["altitude_m"], zone=said["zone"])
    machine = m.Machine(
        uid=f"{uid}-machine", place_id=place.uid, name=said["machine_name"], airflow=said["airflow"], tray=said["tray"]
    )
    probe = m.Probe(uid=f"{uid}-probe", name=_probe_name(voice, said), sort=said["probe_sort"])
    mount = m.Mount(
        uid=f"{uid}-mount",
        probe_id=probe.uid,
        machine_id=machine.uid,
        start=said["set_at"],
        height_mm=said["height_mm"],
    )
    return _change(form, [*_keeper(request, said["zone"]), place, machine, probe, mount], machine, said["zone"])


def _next(form: NextForm) -> Change:
    machine = form.machines[form.cleaned_data["machine"]]
    if form.cleaned_data["tray"] and not machine.tray:
        machine.tray = form.cleaned_data["tray"]
    return _change(form, [machine], machine, machine.place.zone)


def _keeper(request: Asked, zone: str) -> list[m.Keeper]:
    """The keeper reads on the clock of the first place, unless another was said."""
    if request.keeper.zone != NO_ZONE or zone == NO_ZONE:
        return []
    keeper = m.Keeper.objects.get(pk=request.keeper.pk)
    keeper.zone = zone
    return [keeper]


def _probe_name(voice: Voice, said: dict[str, Any]) -> str:
    texts = {
        ProbeSort.DISPLAY: mark("Display of {machine}"),
        ProbeSort.DIGITAL: mark("Digital in {machine}"),
        ProbeSort.GLASS: mark("Glass in {machine}"),
        ProbeSort.WICK: mark("Wick in {machine}"),
    }
    return voice.say(texts[ProbeSort(said["probe_sort"])], {"machine": said["machine_name"]})[:80]


def _change(form: EggsForm, before: list[Any], machine: m.Machine, zone: str) -> Change:
    if m.Batch.objects.filter(uid=form.own_uid).exists() and not m.Act.objects.filter(uid=form.act_uid).exists():
        raise ActError(
            form.voice.say(mark("This batch was set already. Look for it among the batches and change it there."))
        )
    batch, rows = _batch_rows(form, machine, zone)
    save: tuple[models.Model, ...] = (*before, *rows)
    return Change(verb="begin", to=f"/batches/{batch.uid}/", save=save, subject=batch.name)


def _batch_rows(form: EggsForm, machine: m.Machine, zone: str) -> tuple[m.Batch, list[models.Model]]:
    """Parents, batch, stay, lot and eggs, not saved yet."""
    said, uid = form.cleaned_data, form.own_uid
    kind = kinds()[said["kind"]]
    temp = usual_temp(kind, Airflow(machine.airflow))
    planned = said["planned_temp_degc"]
    if planned is None and temp is not None:
        planned = temp.typical
    batch = m.Batch(
        uid=uid, name=said["batch_name"], kind=kind.key, set_at=said["set_at"], zone=zone, planned_temp_degc=planned,
        planned_rh=kind.rh_setting.typical if said["planned_rh"] is None else said["planned_rh"],
        wanted_young=said["wanted_young"], turns_per_d=said["turns_per_d"],
    )  # fmt: skip
    parents = m.Parents.objects.filter(name=said["parents"]).first()
    known = [] if parents is not None else [m.Parents(uid=f"{uid}-parents", name=said["parents"], kind=kind.key)]
    posted = form.chosen("origin") == Origin.POSTED
    lot = m.Lot(
        uid=f"{uid}-lot", batch_id=uid, parents_id=parents.uid if parents is not None else known[0].uid,
        origin=form.chosen("origin"), laid_first=said["laid_first"], laid_last=said["laid_last"],
        laid_at=LaidAt.UNKNOWN if posted else LaidAt.HERE,
    )  # fmt: skip
    stay = m.Stay(uid=f"{uid}-stay", batch_id=uid, machine_id=machine.uid, start=said["set_at"])
    return batch, [*known, batch, stay, lot, *_eggs(form, lot, machine)]


def _eggs(form: EggsForm, lot: m.Lot, machine: m.Machine) -> list[m.Egg]:
    said, uid, how = form.cleaned_data, form.own_uid, form.chosen("labels")
    shell = form.chosen("shell")
    if how == COUNTED:
        label = form.voice.say(mark("tray"))
        return [m.Egg(uid=f"{uid}-eggs", batch_id=uid, lot_id=lot.uid, label=label, count=said["eggs"], shell=shell)]
    labels = labels_of(said["eggs"], how, said["tray"] or machine.tray)
    return [
        m.Egg(uid=f"{uid}-e{number}", batch_id=uid, lot_id=lot.uid, label=label, position=place, shell=shell)
        for number, (label, place) in enumerate(labels, start=1)
    ]


def labels_of(eggs: int, how: str, tray: str) -> list[tuple[str, str]]:
    """Label and place in the tray of each egg; by place in a tray of this shape, or by number."""
    try:
        in_a_row = tray_of(tray)[1] if tray else 0
    except EvidenceError:
        in_a_row = 0
    places = [label_of(number, in_a_row) if in_a_row else label_of(number) for number in range(eggs)]
    return [(str(n), "") if how == NUMBERS else (place, place) for n, place in enumerate(places, start=1)]
