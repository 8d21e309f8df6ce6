"""The list of all batches: those that run, and those that are over."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Sum
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from chalaza.pages import links
from chalaza.pages.batch import kind_of
from chalaza.pages.keeper import Asked
from chalaza.records import answers
from chalaza.records import models as m
from chalaza.records.answers import Answered
from chalaza.values.evidence import HatchStage
from chalaza.words import glance, numbers
from chalaza.words.language import mark
from chalaza.words.numbers import Voice


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One batch: its name, kind, when it was set and where it stands, what came or is to come of it."""

    href: str
    name: str
    kind: str
    set: str
    stands: str
    young: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """All batches, the newest first."""

    running: tuple[Row, ...]
    over: tuple[Row, ...]


@require_safe
def batches(request: Asked) -> HttpResponse:
    """The list of all batches."""
    found = list(m.Batch.objects.order_by("-set_at", "-id"))
    running = [one for one in found if one.finished_at is None]
    over = [one for one in found if one.finished_at is not None]
    kept = answers.newest_of(one.uid for one in running)
    page = Page(
        running=tuple(_running(request.voice, one, kept.get(one.uid), request.now) for one in running),
        over=_over(request.voice, over),
    )
    return render(request, "batches.html", {"page": page, "place": "batches"})


def _running(voice: Voice, one: "m.Batch", found: Answered | None, now: int) -> Row:
    own = voice.of(one.zone, one.set_at)
    stands, young = "", ""
    if found is not None:
        c = found.assessment.clock
        stands = glance.day_of(own, one.set_at, now, c.term_d)
        young = own.say(mark("half out {half}"), {"half": numbers.moment_range(own, c.half_hatched)})
    return _row(own, one, stands, young)


def _over(voice: Voice, over: Sequence["m.Batch"]) -> tuple[Row, ...]:
    """What came of each, by what was noted: two queries for all."""
    uids = [one.uid for one in over]
    out = m.Hatch.objects.filter(batch__uid__in=uids, stage=HatchStage.OUT)
    young = dict(out.values_list("batch_id").annotate(n=Sum("count")).order_by())
    eggs = dict(m.Egg.objects.filter(batch__uid__in=uids).values_list("batch_id").annotate(n=Sum("count")).order_by())
    return tuple(_ended(voice, one, young.get(one.uid, 0), eggs.get(one.uid, 0)) for one in over)


def _ended(voice: Voice, one: "m.Batch", young: int, eggs: int) -> Row:
    own = voice.of(one.zone, one.set_at)
    stands = own.say(mark("over since {end}"), {"end": numbers.moment(own, int(one.finished_at or 0), year=True)})
    return _row(own, one, stands, own.say(mark("{young} young of {set} eggs"), {"young": str(young), "set": str(eggs)}))


def _row(own: Voice, one: "m.Batch", stands: str, young: str) -> Row:
    return Row(
        href=links.batch(one.uid), name=one.name or one.uid, kind=kind_of(own, one.kind),
        set=numbers.moment(own, one.set_at, year=True), stands=stands, young=young,
    )  # fmt: skip
