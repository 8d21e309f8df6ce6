"""Turning: turned now, a turn missed, or turning stopped for good."""

from django import forms
from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from chalaza.facts import days
from chalaza.pages import links
from chalaza.pages.entry import common, plain
from chalaza.pages.entry.common import EntryForm
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.values.evidence import EventSort
from chalaza.words import numbers
from chalaza.words.language import Plural, mark

_TITLE = mark("Turn")
_TODAY = Plural(mark("Turned once today: {hours}."), mark("Turned {n} times today: {hours}."), by="n")
_NOT_YET = mark("Not noted as turned today.")
_PLANNED = Plural(mark("{n} turn a day is planned."), mark("{n} turns a day are planned."), by="n")
_STOPPED = mark("Turning was stopped {when}.")
_MISSED, _STOP = "missed", "stop"


class TurnForm(EntryForm):
    """Which of the three it is: by the key that was pressed."""

    missed = forms.BooleanField(required=False)
    stop = forms.BooleanField(required=False)


@require_http_methods(["GET", "HEAD", "POST"])
def turn(request: Asked, uid: str) -> HttpResponse:
    """The keys of turning."""
    batch = common.batch_or_404(uid)

    def store(form: TurnForm) -> "m.Act | None":
        said, at = form.cleaned_data, form.at_done
        if said["stop"] or said["missed"]:
            sort = EventSort.TURNING_STOPPED if said["stop"] else EventSort.TURNING_MISSED
            row = m.Event(uid=form.act_uid, batch_id=batch.uid, at=at, sort=sort.value)
            return common.do(
                request, form, "turn_stop" if said["stop"] else "turn_missed", save=[row], subject=batch.name
            )
        return common.do(request, form, "turn", save=_turned(request, batch, form), subject=batch.name)

    def page(form: TurnForm) -> plain.Page:
        voice = form.voice
        return plain.Page(
            head=common.head(voice, batch, _TITLE, request.now), form=form, lead=_lead(request, batch),
            fields=(form["at"],), key=voice.say(mark("Turned")), send=links.batch(batch.uid, "turn/"),
            others=((_MISSED, voice.say(mark("A turn was missed"))), (_STOP, voice.say(mark("Turning stopped for good")))),
            label=voice.say(mark("Turned")),
        )  # fmt: skip

    form = TurnForm(**plain.arguments(request, batch))
    return plain.serve(request, form, page, store, to=common.to_batch(batch))


def _stem(batch: "m.Batch") -> str:
    return f"{batch.uid}/turned/"


def _today(request: Asked, batch: "m.Batch", at: int) -> list[int]:
    """When it was turned on the local day of a moment."""
    zone = request.voice.zone
    first = days.begins(zone, days.day(zone, at))
    last = days.begins(zone, days.day(zone, at) + 1)
    found = m.Done.objects.filter(key__startswith=_stem(batch), at__gte=first, at__lt=last)
    return list(found.order_by("at", "id").values_list("at", flat=True))


def _turned(request: Asked, batch: "m.Batch", form: EntryForm) -> list["m.Done"]:
    """The turn; with the last one of those planned for the day the day's job is ticked as well."""
    at = form.at_done
    rows = [m.Done(uid=f"{form.act_uid}-turn", key=f"{_stem(batch)}{form.act_uid}"[:200], at=at)]
    planned = round(batch.turns_per_d or 0)
    zone = request.voice.zone
    key = f"{batch.uid}/turn/{days.day(zone, at) - days.day(zone, batch.set_at)}"
    if planned and len(_today(request, batch, at)) + 1 >= planned and not m.Done.objects.filter(key=key).exists():
        rows.append(m.Done(uid=f"{form.act_uid}-day", key=key, at=at))
    return rows


def _lead(request: Asked, batch: "m.Batch") -> tuple[str, ...]:
    voice = common.voice_of(request, batch)
    stopped = m.Event.objects.filter(batch=batch, sort=EventSort.TURNING_STOPPED.value).order_by("at", "id").first()
    if stopped is not None:
        return (voice.say(_STOPPED, {"when": numbers.moment(voice, stopped.at)}),)
    turned = _today(request, batch, request.now)
    hours = ", ".join(numbers.clock(voice, at) for at in turned)
    said = [voice.say(_TODAY, {"n": str(len(turned)), "hours": hours}, len(turned)) if turned else voice.say(_NOT_YET)]
    if batch.turns_per_d:
        n = round(batch.turns_per_d)
        said.append(voice.say(_PLANNED, {"n": str(n)}, n))
    return tuple(said)
