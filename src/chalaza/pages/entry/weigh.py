"""Weighing one egg after the other, on one screen; and what the weights say so far."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods, require_safe

from chalaza import quantities as q
from chalaza import units
from chalaza.decide import slips
from chalaza.pages import links
from chalaza.pages.entry import common, expected, figures, tray
from chalaza.pages.entry import session as sessions
from chalaza.pages.entry.figures import FiguresForm, Line, Page
from chalaza.pages.entry.scale import CHOICES, LABEL, Scale, scale_of
from chalaza.pages.entry.sofar import weighed
from chalaza.pages.forms import Measure, Pick
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.words import slips as slip_words
from chalaza.words.cautions import cautions
from chalaza.words.language import mark
from chalaza.words.numbers import DASH, Preference

_CAUTIONS = ("misting_weigh", "wash_hands")
_TITLE = mark("Weigh")
_TIP = mark("Figures without a point are enough: the scale's last figure is the last one typed.")
_SETTING = mark("The scale, a cup on it, another hour")
_EMPTY = mark("The scale shows no more than the cup or tray weighs.")


class WeighForm(FiguresForm):
    """A mass for each egg, from one scale with one zero."""

    scale = Pick(choices=CHOICES, label=LABEL)
    tare = Measure(q.LOAD_G, required=False, label=mark("Cup or tray on the scale with it"))

    def __init__(self, *args: Any, scale: Scale, known: Mapping[str, expected.Known], **extra: Any) -> None:
        self.known, self.on = known, scale
        super().__init__(*args, of=q.LOAD_G, unit=scale.unit, decimals=scale.decimals, **extra)
        tare = self.fields["tare"]
        assert isinstance(tare, Measure)
        tare.show, tare.decimals = scale.unit, scale.decimals

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        tare = said.get("tare") or 0.0
        total = expected.whole(self.known, list(self.known))
        for uid, gross in self.written.items():
            if gross - tare <= 0:
                self.add_error(self.name_of(uid), _EMPTY)
            elif uid in self.known:
                one = expected.with_tray(self.known[uid].on, total, len(self.known))
                self._ask(uid, gross - tare, expected.in_unit(one, self.on))
        return said

    def _ask(self, uid: str, net_g: float, known: slips.OnScale) -> None:
        slip = slips.mass(slips.Typed(self.on.shown(net_g), self.on.decimals), known, other_units(net_g, self.on))
        if slip is not None:
            voice, name = self.voice, self.name_of(uid)
            self.ask_slip(name, slip_words.figure(voice, slip, unit=self.on.unit, decimals=self.on.decimals))


def other_units(mass_g: float, scale: Scale) -> dict[str, float]:
    """The same figure meant in the other unit of mass, in the unit of the scale."""
    figure = scale.shown(mass_g)
    return {unit: scale.shown(float(units.inside(figure, unit))) for unit in q.LOAD_G.displays if unit != scale.unit}


@require_http_methods(["GET", "HEAD", "POST"])
def weigh(request: Asked, uid: str) -> HttpResponse:
    """The session of a batch: what is weighed is stored egg by egg, or all lines of the form at once."""
    batch = common.batch_or_404(uid)
    if request.method == "POST" and (before := common.done_before(request)) is not None:
        return common.answered(request, before, common.to_batch(batch))
    eggs = tray.in_order(m.Egg.objects.filter(batch=batch))
    out = tray.gone(batch.uid, eggs, common.said_at(request, batch))
    inside = [one for one in eggs if one.uid not in out]
    form = _form(request, batch, inside)
    if request.method == "POST" and form.ready and (done := _store(request, batch, form)) is not None:
        return common.answered(request, done, common.to_batch(batch))
    context = {"page": _page(request, batch, form, eggs, out), "voice": form.voice, "place": "write"}
    if request.method == "POST":
        return common.refused(request, form, "entry/figures.html", context)
    return render(request, "entry/figures.html", context)


def _form(request: Asked, batch: "m.Batch", inside: Sequence["m.Egg"]) -> WeighForm:
    known = request.keeper.remembered
    posted = request.POST if request.method == "POST" else None
    said = request.GET if posted is None else posted
    scale = scale_of(said.get("scale") or known.get("scale"), Preference(request.keeper.units))
    session = (posted.get("session", "") if posted is not None else "") or _session(request, batch)
    return WeighForm(
        posted, voice=common.voice_of(request, batch), zone=batch.zone, now=request.now, begin=batch.set_at, eggs=inside,
        scale=scale, known=expected.masses(batch, inside, request.now, leave_out=session),
        initial={"session": session, "scale": scale.key, "tare": known.get("cup_g") or ""},
    )  # fmt: skip


def _session(request: Asked, batch: "m.Batch") -> str:
    """The session that still goes on, or a new one."""
    if "new" in request.GET:
        return sessions.fresh()
    rows = m.Weighing.objects.filter(batch=batch).order_by("-at", "-id").values_list("uid", "at")[:200]
    return sessions.going_on(rows, request.now) or sessions.fresh()


def _store(request: Asked, batch: "m.Batch", form: WeighForm) -> "m.Act | None":
    said, session = form.cleaned_data, str(form.cleaned_data["session"])
    rows = [
        m.Weighing(
            uid=sessions.row_uid(session, egg), batch_id=batch.uid, at=form.at_done, eggs=egg, gross_g=gross,
            tare_g=said.get("tare") or 0.0, resolution_g=form.on.resolution_g, session=session,
        )
        for egg, gross in form.written.items()
    ]  # fmt: skip
    done = common.do(request, form, "weigh", save=rows, subject=batch.name)
    if done is not None:
        common.remember(request, scale=form.on.key, cup_g=said.get("tare") or 0.0)
    return done


def _page(request: Asked, batch: "m.Batch", form: WeighForm, eggs: Sequence["m.Egg"], out: set[str]) -> Page:
    session = str(form["session"].value() or "")
    rows = (
        {one.uid: one for one in m.Weighing.objects.filter(batch=batch, session=session)}
        if sessions.is_name(session)
        else {}
    )
    values = {one.eggs: form.on.text(one.gross_g) for one in rows.values()}
    lines = tuple(_line(form, one, values.get(one.uid, "")) for one in eggs if one.uid not in out)
    laid = tray.lay(eggs, out)
    here = links.batch(batch.uid, "weigh/")
    return Page(
        head=common.head(form.voice, batch, _TITLE, request.now), form=form, lines=lines, columns=laid.columns,
        places=figures.places(laid, values, form.voice), unit=form.on.unit, decimals=form.on.decimals,
        done=figures.entered(lines), total=len(lines), send=here, so_far=f"{here}so-far/?session={session}",
        last=figures.last_of("Weighing", {uid: one.eggs for uid, one in rows.items()}), tip=form.voice.say(_TIP),
        again=form.voice.say(mark("Weigh again")),
        cautions=cautions(form.voice, _CAUTIONS), anew=f"{here}?new=1", setting=form.voice.say(_SETTING),
        fields=(form["scale"], form["tare"], form["at"]),
        other=((f"{here}together/", form.voice.say(mark("The whole tray in one figure"))),),
    )  # fmt: skip


def _line(form: WeighForm, egg: "m.Egg", value: str) -> Line:
    known, voice, scale = form.known.get(egg.uid), form.voice, form.on
    facts: list[tuple[str, str]] = []
    low = high = ""
    if known is not None:
        on = expected.in_unit(known.on, scale)
        if known.first_g:
            facts.append((voice.say(mark("first")), scale.text(known.first_g)))
        if known.last_g and known.last_g != known.first_g:
            facts.append((voice.say(mark("last")), scale.text(known.last_g)))
        span = DASH.join(f"{each:.{scale.decimals}f}" for each in (on.expected.low, on.expected.high))
        facts.append((voice.say(mark("expect")), span))
        low, high = f"{on.usual.low:.4f}", f"{on.usual.high:.4f}"
    return Line(
        egg=egg.uid, label=figures.label_of(egg, voice), field=form[form.name_of(egg.uid)], facts=tuple(facts), low=low,
        high=high, value=value, questions=form.questions_of(egg.uid),
    )  # fmt: skip


@require_safe
def so_far(request: Asked, uid: str) -> HttpResponse:
    """What the weights say so far: a part of the page, fetched anew after each entry."""
    batch = common.batch_or_404(uid)
    voice = common.voice_of(request, batch)
    said = weighed(voice, batch, request.GET.get("session", ""), request.now)
    return render(request, "entry/so_far.html", {"said": said, "voice": voice})
