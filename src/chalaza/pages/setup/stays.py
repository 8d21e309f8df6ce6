"""Where a batch lies: moved to another machine in one act, and put right afterwards."""

from typing import Any

from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from chalaza.pages.forms import Choice, Moment, Pick
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
from chalaza.records import models as m
from chalaza.words import numbers
from chalaza.words.language import mark

_AHEAD_S = 900


class MoveForm(SetForm):
    """To another machine, at a moment. `last`: the stay they are in."""

    machine = Pick(label=mark("Moved to"))
    at = Moment(label=mark("When"))

    def __init__(self, *args: Any, last: "m.Stay | None", now: int, zone: str, **extra: Any) -> None:
        self.since, self.now, self.clock = last.start if last is not None else None, now, zone
        super().__init__(*args, **{**extra, "zone": zone})
        field = self.fields["machine"]
        if isinstance(field, Pick):
            elsewhere = [one for one in machines() if last is None or one[0] != last.machine_id]
            field.choices = [("", "—"), *elsewhere]

    def clean(self) -> dict[str, Any]:
        at, clock = self.cleaned_data.get("at"), on_clock(self.voice, self.clock)
        if at is not None and self.since is not None and at <= self.since:
            text = mark("The eggs came where they are only at {moment}: a later moment, please.")
            self.add_error("at", self.voice.say(text, {"moment": numbers.moment(clock, self.since, year=True)}))
        elif at is not None and at > self.now + _AHEAD_S:
            text = mark("{moment} is still to come. When were they moved?")
            typed = str(self.fields["at"].prepare_value(self.now - self.now % 60))
            shown = numbers.moment(clock, self.now)
            choice = Choice(typed, self.voice.say(mark("Just now, {moment}"), {"moment": shown}), likely=True)
            self.ask("at", self.voice.say(text, {"moment": numbers.moment(clock, at, year=True)}), choice, keep=True)
        return self.cleaned_data


class StayForm(SetForm):
    """A stay, to put right."""

    machine = Pick(label=mark("The machine"))
    start = Moment(label=mark("Moved in"))
    end = Moment(required=False, label=mark("Moved out"), help_text=mark("Empty: the eggs are still there."))

    def __init__(self, *args: Any, **extra: Any) -> None:
        super().__init__(*args, **extra)
        field = self.fields["machine"]
        if isinstance(field, Pick):
            field.choices = machines()

    def clean(self) -> dict[str, Any]:
        start, end = self.cleaned_data.get("start"), self.cleaned_data.get("end")
        if start is not None and end is not None and end <= start:
            self.add_error("end", mark("They moved out after they moved in: look at both moments."))
        return self.cleaned_data


def machines() -> list[tuple[str, str]]:
    """All machines by name and place."""
    rows = m.Machine.objects.select_related("place").order_by("place__id", "id")
    return [(one.uid, f"{one.name}, {one.place.name}") for one in rows]


@require_http_methods(["GET", "HEAD", "POST"])
def move(request: Asked, uid: str) -> HttpResponse:
    """Move a batch: one stay ends and the next begins at the same moment."""
    batch = one(m.Batch, uid)
    voice, here = on_clock(request.voice, batch.zone), address("batches", batch.uid)
    last = batch.stays.filter(end=None).select_related("machine").order_by("-start").first()
    form = MoveForm(
        request.POST or None, voice=voice, last=last, now=request.now, zone=batch.zone,
        initial={"at": request.now - request.now % 60},
    )  # fmt: skip
    lead = mark("They lie in {machine} now. One stay ends and the next begins at the moment you write.")
    page = FormPage(
        title=voice.say(mark("Move {batch}"), {"batch": batch.name}), form=form, place="batches",
        lead=voice.say(lead, {"machine": last.machine.name}) if last is not None else "",
        parts=(Part(heading="", lines=lines(form, "machine", "at")),), save=voice.say(mark("Note the move")),
        back=voice.say(mark("Back to the batch")), back_to=here,
    )  # fmt: skip

    def change() -> Change:
        at, ended = form.cleaned_data["at"], []
        if last is not None:
            last.end = at
            ended = [last]
        fresh = m.Stay(uid=form.own_uid, batch_id=batch.uid, machine_id=form.cleaned_data["machine"], start=at)
        return Change(verb="move", to=here, save=(*ended, fresh), subject=batch.name)

    return answer(request, page, change, voice=voice)


@require_http_methods(["GET", "HEAD", "POST"])
def stay(request: Asked, uid: str) -> HttpResponse:
    """Put a stay right, or take it away."""
    row, asked_away = one(m.Stay, uid), "away" in request.POST
    batch = row.batch
    voice, back = on_clock(request.voice, batch.zone), address("batches", batch.uid, "edit/")
    form = StayForm(
        None if asked_away else request.POST or None, voice=voice, zone=batch.zone,
        initial=values(as_begun(request, row)[0], "start", "end", machine_id="machine"),
    )  # fmt: skip
    page = FormPage(
        title=voice.say(mark("{batch} in {machine}"), {"batch": batch.name, "machine": row.machine.name}), form=form,
        parts=(Part(heading="", lines=lines(form, "machine", "start", "end")),), save=voice.say(mark("Keep this")),
        back=voice.say(mark("Back to the batch")), back_to=back, place="batches",
        away=voice.say(mark("They never lay there: take this away")),
    )  # fmt: skip

    def change() -> Change:
        fill(row, form, "start", "end", machine_id="machine")
        return Change(verb="move", to=back, save=(row,), subject=batch.name)

    if asked_away:
        return away(request, page, (row,), "delete", batch.name, back, voice=voice)
    return answer(request, page, change, voice=voice)
