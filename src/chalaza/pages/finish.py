"""Saying that a batch is over, and opening it again."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from chalaza.decide.job import When
from chalaza.pages import links
from chalaza.pages.batch import batch_or_404, voice_of
from chalaza.pages.forms import Form, Moment
from chalaza.pages.home import jobs_of, seen_of, ticks_since
from chalaza.pages.keeper import Asked
from chalaza.pages.see import see, sent_uid
from chalaza.records import acts
from chalaza.records import models as m
from chalaza.records.fields import new_uid
from chalaza.words import numbers
from chalaza.words import today as words
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

_WHEN = mark("After the setting ({set}) and not after now ({now}) is allowed.")
_LATER = mark("The newest entry is of {moment}. Was the batch over before that?")
_INSIDE = Plural(mark("{n} egg is still in the box."), mark("{n} eggs are still in the box."), by="n")


class Finish(Form):
    """When the batch was over."""

    at = Moment(label=mark("Over since"), help_text=mark("From then on it asks for nothing, and its box is free."))

    def __init__(self, *args: Any, set_at: int, newest: int, now: int, **extra: Any) -> None:
        self.set_at, self.newest, self.now = set_at, newest, now
        super().__init__(*args, **extra)

    def clean_at(self) -> int | None:
        """Raises `ValidationError` for a moment before setting or still to come."""
        at = self.cleaned_data.get("at")
        if at is not None and self.set_at < at < self.newest:
            moment = numbers.moment(self.voice, self.newest)
            self.ask("at", self.voice.say(_LATER, {"moment": moment}), keep=True)
        if at is None or self.set_at < at <= self.now:
            return at
        holes = {"set": numbers.moment(self.voice, self.set_at, year=True), "now": numbers.moment(self.voice, self.now)}
        raise forms.ValidationError(self.voice.say(_WHEN, holes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What is still open, before a batch is said to be over."""

    name: str
    back: str
    open: tuple[str, ...]
    inside: str


@require_http_methods(["GET", "HEAD", "POST"])
def finish(request: Asked, uid: str) -> HttpResponse:
    """Ask what is still open; put the end of the batch down; with `reopen` take it back."""
    one = batch_or_404(uid)
    voice = voice_of(request, one)
    if request.method == "POST" and "reopen" in request.POST:
        return _reopen(request, one)
    if one.finished_at is not None:
        return see(links.batch(uid))
    given = request.POST if request.method == "POST" else None
    form = Finish(
        given, voice=voice, set_at=one.set_at, newest=_newest(one), now=request.now,
        initial={"at": request.now, "uid": new_uid()},
    )  # fmt: skip
    if given is not None and form.ready:
        done = acts.act(
            request.keeper, "finish", save=_ended(one, form.cleaned_data["at"]), uid=sent_uid(request), subject=one.name,
        )  # fmt: skip
        return see(links.batch(uid), done)
    context = {"page": _page(request, one, voice), "form": form, "voice": voice, "place": "batches"}
    return render(request, "finish.html", context, status=200 if given is None else 422)


def _newest(one: "m.Batch") -> int:
    """The moment of the newest entry about its eggs; that of the setting, where there is none."""
    rows = (
        m.Weighing.objects.filter(batch=one), m.Hatch.objects.filter(batch=one), m.Breakout.objects.filter(batch=one),
        m.Candling.objects.filter(egg__batch=one), m.AirCellMark.objects.filter(egg__batch=one),
    )  # fmt: skip
    newest = (each.order_by("-at").values_list("at", flat=True).first() for each in rows)
    return max((at for at in newest if at is not None), default=one.set_at)


def _ended(one: "m.Batch", at: int) -> list["m.Batch | m.Stay"]:
    """The batch with its end, and the stay that ends with it."""
    one.finished_at = at
    stay = m.Stay.objects.filter(batch=one, end=None, start__lt=at).first()
    if stay is None:
        return [one]
    stay.end = at
    return [one, stay]


def _page(request: Asked, one: "m.Batch", voice: Voice) -> Page:
    seen = seen_of(request, one)
    listed = jobs_of(seen, ticks_since(one.set_at), request.now, voice.zone)
    jobs = [job for job in listed if not job.done and not job.leaves and job.when is not When.LATER]
    inside = 0 if seen.a is None else sum(egg.count for egg in seen.a.count.eggs)
    return Page(
        name=one.name or one.uid, back=links.batch(one.uid), open=tuple(words.say(voice, job).do for job in jobs),
        inside=voice.say(_INSIDE, {"n": str(inside)}, inside) if inside else "",
    )  # fmt: skip


def _reopen(request: Asked, one: "m.Batch") -> HttpResponse:
    """Undo the act that ended the batch; where a later one rests on it, name that one."""
    made = next(
        (
            change.act
            for change in acts.history("Batch", one.uid)
            if change.after and change.after.get("finished_at") and not (change.before or {}).get("finished_at")
        ),
        None,
    )
    if one.finished_at is None:
        return see(links.batch(one.uid))
    if made is None:  # it came ended into this notebook
        one.finished_at = None
        return see(links.batch(one.uid), acts.act(request.keeper, "reopen", save=[one], subject=one.name))
    try:
        return see(links.batch(one.uid), acts.undo(request.keeper, made))
    except acts.Entangled:
        return see(links.history(one.uid))
