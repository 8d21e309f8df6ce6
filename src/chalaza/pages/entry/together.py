"""Weighing the whole tray, or some eggs of it, in one figure."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms.boundfield import BoundField
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from chalaza import quantities as q
from chalaza.decide import slips
from chalaza.pages import links
from chalaza.pages.entry import common, expected, session, tray
from chalaza.pages.entry.common import EntryForm, Head
from chalaza.pages.entry.figures import label_of
from chalaza.pages.entry.scale import CHOICES, LABEL, Scale, scale_of
from chalaza.pages.entry.weigh import other_units
from chalaza.pages.forms import Measure, Pick
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.words import slips as slip_words
from chalaza.words.cautions import cautions
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import DASH, NB, Preference

_CAUTIONS = ("misting_weigh", "wash_hands")
_TITLE = mark("Weigh together")
_EMPTY = mark("The scale shows no more than the tray weighs.")
_SOME = mark("Choose the eggs on the scale, or all of them.")
_EXPECT = Plural(
    mark("{n} egg is in; {span} is expected without the tray."),
    mark("{n} eggs are in; {span} is expected without the tray."),
    by="n",
)
ALL, SOME = "all", "some"


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """The form as a page."""

    head: Head
    form: EntryForm
    expect: str
    fields: tuple[BoundField, ...]
    eggs: tuple[tuple[str, str, bool], ...]
    some: bool
    cautions: tuple[str, ...]
    send: str
    total: int = 0
    done: int = 0


class TogetherForm(EntryForm):
    """One figure for all eggs that are in, or for those chosen."""

    gross = Measure(q.LOAD_G, label=mark("The scale shows"))
    tare = Measure(
        q.LOAD_G,
        required=False,
        label=mark("The tray alone weighs"),
        help_text=mark("Empty if the scale was set to zero with it."),
    )
    which = forms.ChoiceField(choices=[(ALL, ALL), (SOME, SOME)], required=False)
    chosen = forms.MultipleChoiceField(required=False)
    scale = Pick(choices=CHOICES, label=LABEL)

    def __init__(
        self, *args: Any, eggs: Sequence["m.Egg"], scale: Scale, known: dict[str, expected.Known], last_tare_g: float,
        **extra: Any,
    ) -> None:  # fmt: skip
        self.eggs, self.on, self.known, self.last_tare_g = {one.uid: one for one in eggs}, scale, known, last_tare_g
        super().__init__(*args, **extra)
        chosen = self.fields["chosen"]
        assert isinstance(chosen, forms.MultipleChoiceField)
        chosen.choices = [(uid, one.label) for uid, one in self.eggs.items()]
        for name in ("gross", "tare"):
            field = self.fields[name]
            assert isinstance(field, Measure)
            field.show, field.decimals = scale.unit, scale.decimals

    @property
    def some(self) -> bool:
        """Whether only the chosen eggs are meant."""
        return self.data.get("which") == SOME

    @property
    def uids(self) -> list[str]:
        """The eggs on the scale."""
        return list(self.cleaned_data.get("chosen") or ()) if self.some else list(self.eggs)

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        if not self.uids:
            self.add_error("chosen", _SOME)
            return said
        gross, tare = said.get("gross"), said.get("tare") or 0.0
        if gross is None:
            return said
        if gross <= tare:
            self.add_error("gross", _EMPTY)
        elif all(uid in self.known for uid in self.uids):
            self._ask(gross, tare)
        return said

    def _ask(self, gross: float, tare: float) -> None:
        scale = self.on
        slip = slips.load(
            slips.Typed(scale.shown(gross), scale.decimals), scale.shown(tare),
            expected.in_unit(expected.whole(self.known, self.uids), scale), remembered=scale.shown(self.last_tare_g),
            others=other_units(gross, scale),
        )  # fmt: skip
        if slip is not None:
            asked = slip_words.figure(self.voice, slip, unit=scale.unit, decimals=scale.decimals)
            self.ask_slip("gross", asked, tare="tare")


@require_http_methods(["GET", "HEAD", "POST"])
def together(request: Asked, uid: str) -> HttpResponse:
    """The form for a tray in one figure."""
    batch = common.batch_or_404(uid)
    if request.method == "POST" and (before := common.done_before(request)) is not None:
        return common.answered(request, before, common.to_batch(batch))
    form = _form(request, batch)
    if request.method == "POST" and form.ready and (done := _store(request, batch, form)) is not None:
        return common.answered(request, done, common.to_batch(batch))
    context = {"page": _page(request, batch, form), "voice": form.voice, "place": "write"}
    if request.method == "POST":
        return common.refused(request, form, "entry/together.html", context)
    return render(request, "entry/together.html", context)


def _form(request: Asked, batch: "m.Batch") -> TogetherForm:
    known = request.keeper.remembered
    posted = request.POST if request.method == "POST" else None
    eggs = tray.in_order(m.Egg.objects.filter(batch=batch))
    out = tray.gone(batch.uid, eggs, common.said_at(request, batch))
    inside = [one for one in eggs if one.uid not in out]
    scale = scale_of(request.POST.get("scale") or known.get("scale"), Preference(request.keeper.units))
    tare = float(known.get("tray_g") or 0.0)
    return TogetherForm(
        posted, voice=common.voice_of(request, batch), zone=batch.zone, now=request.now, begin=batch.set_at, eggs=inside,
        scale=scale, known=expected.masses(batch, inside, request.now), last_tare_g=tare,
        initial={"scale": scale.key, "tare": scale.text(tare) if tare else ""},
    )  # fmt: skip


def _store(request: Asked, batch: "m.Batch", form: TogetherForm) -> "m.Act | None":
    said = form.cleaned_data
    tare = said.get("tare") or 0.0
    name = session.fresh()
    row = m.Weighing(
        uid=session.row_uid(name, *form.uids), batch_id=batch.uid, at=form.at_done, gross_g=said["gross"], tare_g=tare,
        eggs="all" if not form.some else " ".join(form.uids), resolution_g=form.on.resolution_g, session=name,
    )  # fmt: skip
    done = common.do(request, form, "weigh", save=[row], subject=batch.name)
    if done is not None:
        common.remember(request, scale=form.on.key, tray_g=tare)
    return done


def _page(request: Asked, batch: "m.Batch", form: TogetherForm) -> Page:
    voice, n = form.voice, sum(one.count for one in form.eggs.values())
    whole = expected.in_unit(expected.whole(form.known, list(form.eggs)), form.on)
    span = DASH.join(f"{each:.{form.on.decimals}f}" for each in (whole.expected.low, whole.expected.high))
    chosen = set(form.data.getlist("chosen")) if form.is_bound else set()  # type: ignore[attr-defined]  # a QueryDict
    return Page(
        head=common.head(voice, batch, _TITLE, request.now), form=form,
        expect=voice.say(_EXPECT, {"n": str(n), "span": f"{span}{NB}{form.on.unit}"}, n) if form.known else "",
        fields=(form["gross"], form["tare"], form["scale"], form["at"]), some=form.some,
        eggs=tuple((one.uid, label_of(one, voice), one.uid in chosen) for one in form.eggs.values()),
        cautions=cautions(voice, _CAUTIONS), send=links.batch(batch.uid, "weigh/together/"),
    )  # fmt: skip
