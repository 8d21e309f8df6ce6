"""Pips and young: how many are new since the last look, which eggs if one can tell, or that there was nothing new."""

from collections.abc import Sequence
from math import floor
from typing import Any

from django import forms
from django.http import HttpResponse
from django.views.decorators.http import require_http_methods

from chalaza import facts
from chalaza import quantities as q
from chalaza.pages import links
from chalaza.pages.entry import common, plain, tray
from chalaza.pages.entry.common import EntryForm
from chalaza.pages.entry.figures import label_of
from chalaza.pages.forms import Moment, Whole
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.values.evidence import HatchStage
from chalaza.words.language import Plural, mark

_CAUTIONS = ("lid_shut", "help_hatch", "children", "wash_hands")
_TITLE = mark("Pips and young")
_LEAD = Plural(
    mark("{n} egg is left; {pipped} pipped and {out} out were noted so far."),
    mark("{n} eggs are left; {pipped} pipped and {out} out were noted so far."),
    by="n",
)
_NOTHING = mark("Write how many are new, choose eggs, or say that there is nothing new.")
_BOTH = mark("Say either that there is nothing new, or what is.")
_FEW = mark("{chosen} eggs are chosen; the number new cannot be smaller.")
_MANY = mark("{given} are more than the {n} that are left.")
_BEFORE = mark("The last look must lie before this one.")
_EARLY = mark("Young of this kind come from about day {first} on, and this would be day {day}. Is the moment right?")
#: Young before this share of the shortest term are asked about. Judgement.
_SOONEST = 0.85
_STAGES = (HatchStage.PIPPED, HatchStage.OUT)


class HatchForm(EntryForm):
    """What is new since the last look."""

    pipped = Whole(q.YOUNG, required=False, label=mark("Newly pipped"))
    out = Whole(q.YOUNG, required=False, label=mark("Newly out"))
    pipped_eggs = forms.MultipleChoiceField(required=False)
    out_eggs = forms.MultipleChoiceField(required=False)
    looked_before = Moment(
        required=False,
        label=mark("Last look before"),
        help_text=mark("When they were not there yet. Empty if nobody looked."),
    )
    nothing = forms.BooleanField(required=False)

    def __init__(self, *args: Any, eggs: Sequence["m.Egg"], left: int, kind: str, **extra: Any) -> None:
        self.eggs, self.left, self.kind = {one.uid: one for one in eggs}, left, kind
        super().__init__(*args, **extra)
        for name in ("pipped_eggs", "out_eggs"):
            field = self.fields[name]
            assert isinstance(field, forms.MultipleChoiceField)
            field.choices = [(uid, one.label) for uid, one in self.eggs.items()]

    def new(self, stage: HatchStage) -> tuple[list[str], int]:
        """Eggs chosen at a stage, and how many more are new without a name."""
        chosen = list(self.cleaned_data.get(f"{stage.value}_eggs") or ())
        given = self.cleaned_data.get(stage.value)
        return chosen, max(0, (given or 0) - len(chosen))

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        before, at = said.get("looked_before"), said.get("at")
        if before is not None and at is not None and before >= at:
            self.add_error("looked_before", _BEFORE)
        for stage in _STAGES:
            self._count(stage)
        anything = any(said.get(one.value) or said.get(f"{one.value}_eggs") for one in _STAGES)
        if said.get("nothing") and anything:
            self.add_error(None, _BOTH)
        elif not said.get("nothing") and not anything and not self.errors:
            self.add_error(None, _NOTHING)
        if anything and isinstance(at, int) and not self.questions:
            self._ask_early(at)
        return said

    def _ask_early(self, at: int) -> None:
        """Ask about young long before any come."""
        bird = facts.kinds().get(self.kind)
        day, first = (at - (self.begin or at)) / 86_400, 0.0 if bird is None else _SOONEST * bird.term_d.low
        if self.begin is not None and day < first:
            holes = {"first": f"{first:.0f}", "day": str(floor(day))}
            self.ask("at", self.voice.say(_EARLY, holes), keep=True)

    def _count(self, stage: HatchStage) -> None:
        chosen, more = self.new(stage)
        given = self.cleaned_data.get(stage.value)
        if given is not None and given < len(chosen):
            self.add_error(stage.value, self.voice.say(_FEW, {"chosen": str(len(chosen))}))
        elif len(chosen) + more > self.left:
            holes = {"given": str(len(chosen) + more), "n": str(self.left)}
            self.add_error(stage.value, self.voice.say(_MANY, holes))


@require_http_methods(["GET", "HEAD", "POST"])
def hatch(request: Asked, uid: str) -> HttpResponse:
    """The form of a look at the hatch."""
    batch = common.batch_or_404(uid)
    eggs = tray.in_order(m.Egg.objects.filter(batch=batch))
    rows = list(m.Hatch.objects.filter(batch=batch).order_by("at", "id"))
    out = tray.gone(batch.uid, eggs, request.now)
    inside = [one for one in eggs if one.uid not in out]
    nameless = sum(one.count for one in rows if one.stage == HatchStage.OUT.value and one.egg_id is None)
    left = max(0, sum(one.count for one in inside) - nameless)
    last = max((one.at for one in rows if one.at <= request.now), default=None)

    def store(form: HatchForm) -> "m.Act | None":
        return common.do(request, form, "hatch", save=_rows(batch, form), subject=batch.name)

    def page(form: HatchForm) -> plain.Page:
        voice = form.voice
        seen = {stage: str(sum(one.count for one in rows if one.stage == stage.value)) for stage in _STAGES}
        holes = {"n": str(left), "pipped": seen[HatchStage.PIPPED], "out": seen[HatchStage.OUT]}
        return plain.Page(
            head=common.head(voice, batch, _TITLE, request.now), form=form, lead=(voice.say(_LEAD, holes, left),),
            pairs=(form["pipped"], form["out"]), fields=(form["at"], form["looked_before"]),
            picks=(
                plain.picks(form, "pipped_eggs", mark("Which eggs have newly pipped, if you can tell"), inside, label_of),
                plain.picks(form, "out_eggs", mark("Which eggs are newly empty, if you can tell"), inside, label_of),
            ),
            key=voice.say(mark("Store the look")), others=(("nothing", voice.say(mark("Looked: nothing new"))),),
            cautions=plain.warned(voice, _CAUTIONS), send=links.batch(batch.uid, "hatch/"), label=voice.say(_TITLE),
        )  # fmt: skip

    initial = {"looked_before": last} if last is not None else {}
    form = HatchForm(**plain.arguments(request, batch), eggs=inside, left=left, kind=batch.kind, initial=initial)
    return plain.serve(request, form, page, store, to=common.to_batch(batch))


def _rows(batch: "m.Batch", form: HatchForm) -> list["m.Hatch"]:
    """A row for each egg that is named, one for the others of a stage; a look without news is a row of none."""

    def row(name: str, stage: HatchStage, egg: str | None, count: int) -> "m.Hatch":
        return m.Hatch(
            uid=f"{form.act_uid}-{name}", batch_id=batch.uid, egg_id=egg, at=form.at_done, stage=stage.value, count=count,
            looked_before=form.cleaned_data.get("looked_before"),
        )  # fmt: skip

    if form.cleaned_data.get("nothing"):
        return [row("none", HatchStage.OUT, None, 0)]
    rows: list[m.Hatch] = []
    for stage in _STAGES:
        chosen, more = form.new(stage)
        rows += [row(f"{stage.value}{i}", stage, egg, 1) for i, egg in enumerate(chosen)]
        rows += [row(stage.value, stage, None, more)] if more else []
    return rows
