"""The depth of the air cell, egg by egg, as measured or marked under the lamp."""

from collections.abc import Mapping, Sequence
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from chalaza import quantities as q
from chalaza import units
from chalaza.charts import AirCell
from chalaza.decide import slips
from chalaza.pages import links
from chalaza.pages.entry import common, expected, figures, tray
from chalaza.pages.entry import session as sessions
from chalaza.pages.entry.figures import FiguresForm, Line, Page
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.words import slips as slip_words
from chalaza.words.cautions import cautions
from chalaza.words.language import mark
from chalaza.words.numbers import DASH, Preference

_CAUTIONS = ("wash_hands", "lamp_hot")
_TITLE = mark("Air cells")
_TIP = mark("Measure from the blunt end down to the edge of the air cell, along the shell's axis, blunt end up.")
_SETTING = mark("Measured at another hour")
#: Decimals of a ruler or caliper held to an egg. Common practice.
_DECIMALS = {"mm": 1, "in": 2}


class MarksForm(FiguresForm):
    """A depth for each egg."""

    def __init__(
        self, *args: Any, unit: str, cells: Mapping[str, AirCell], last: Mapping[str, float], **extra: Any
    ) -> None:
        self.cells, self.last = cells, last
        super().__init__(*args, of=q.DEPTH_MM, unit=unit, decimals=_DECIMALS[unit], **extra)

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        for uid, cell in self.cells.items():
            depth, typed = self.written.get(uid), self.bare(self.name_of(uid))
            if depth is not None:
                self._ask(uid, self.shown(depth), cell)
            elif typed is not None:
                self._ask(uid, typed, cell)
        return said

    def shown(self, mm: float) -> float:
        """A depth in the unit of the form."""
        return float(units.shown(mm, self.unit))

    def _ask(self, uid: str, value: float, cell: AirCell) -> None:
        others = {
            unit: self.shown(float(units.inside(value, unit))) for unit in ("mm", "cm", "in") if unit != self.unit
        }
        slip = slips.depth(
            slips.Typed(value, self.decimals), slips.Span(self.shown(cell.shallow_mm), self.shown(cell.reach_mm)),
            last=self.shown(self.last.get(uid, 0.0)), per_mm=self.shown(1.0), others=others,
        )  # fmt: skip
        if slip is not None and (slip.likely or self.name_of(uid) not in self.errors):
            asked = slip_words.figure(self.voice, slip, unit=self.unit, decimals=self.decimals)
            self.ask_slip(self.name_of(uid), asked)


@require_http_methods(["GET", "HEAD", "POST"])
def marks(request: Asked, uid: str) -> HttpResponse:
    """The session of a batch: depths are stored egg by egg, or all lines of the form at once."""
    batch = common.batch_or_404(uid)
    if request.method == "POST" and (before := common.done_before(request)) is not None:
        return common.answered(request, before, common.to_batch(batch))
    eggs = tray.in_order(m.Egg.objects.filter(batch=batch))
    out = tray.gone(batch.uid, eggs, common.said_at(request, batch))
    form = _form(request, batch, [one for one in eggs if one.uid not in out])
    if request.method == "POST" and form.ready and (done := _store(request, batch, form)) is not None:
        return common.answered(request, done, common.to_batch(batch))
    context = {"page": _page(request, batch, form, eggs, out), "voice": form.voice, "place": "write"}
    if request.method == "POST":
        return common.refused(request, form, "entry/figures.html", context)
    return render(request, "entry/figures.html", context)


def _form(request: Asked, batch: "m.Batch", inside: Sequence["m.Egg"]) -> MarksForm:
    unit = "in" if Preference(request.keeper.units) is Preference.US else "mm"
    rows = m.AirCellMark.objects.filter(egg__batch=batch).order_by("at", "id")
    session = request.POST.get("session") or _session(request, batch)
    last = {one.egg_id: one.depth_mm for one in rows if sessions.of_row(one.uid) != session}
    return MarksForm(
        request.POST if request.method == "POST" else None, voice=common.voice_of(request, batch), zone=batch.zone,
        now=request.now, begin=batch.set_at, eggs=inside, unit=unit, last=last,
        cells=expected.cells(batch, inside, request.now), initial={"session": session},
    )  # fmt: skip


def _session(request: Asked, batch: "m.Batch") -> str:
    if "new" in request.GET:
        return sessions.fresh()
    rows = m.AirCellMark.objects.filter(egg__batch=batch).order_by("-at", "-id").values_list("uid", "at")[:200]
    return sessions.going_on(rows, request.now) or sessions.fresh()


def _store(request: Asked, batch: "m.Batch", form: MarksForm) -> "m.Act | None":
    session = str(form.cleaned_data["session"])
    rows = [
        m.AirCellMark(uid=sessions.row_uid(session, egg), egg_id=egg, at=form.at_done, depth_mm=depth)
        for egg, depth in form.written.items()
    ]
    return common.do(request, form, "mark", save=rows, subject=batch.name)


def _page(request: Asked, batch: "m.Batch", form: MarksForm, eggs: Sequence["m.Egg"], out: set[str]) -> Page:
    session = str(form["session"].value() or "")
    rows = (
        list(m.AirCellMark.objects.filter(egg__batch=batch, uid__startswith=f"{session}-"))
        if sessions.is_name(session)
        else []
    )
    values = {one.egg_id: f"{form.shown(one.depth_mm):.{form.decimals}f}" for one in rows}
    lines = tuple(_line(form, one, values.get(one.uid, "")) for one in eggs if one.uid not in out)
    laid, here = tray.lay(eggs, out), links.batch(batch.uid, "mark/")
    return Page(
        head=common.head(form.voice, batch, _TITLE, request.now), form=form, lines=lines, columns=laid.columns,
        places=figures.places(laid, values, form.voice), unit=form.unit, decimals=form.decimals,
        done=figures.entered(lines), total=len(lines), send=here, so_far="",
        last=figures.last_of("AirCellMark", {one.uid: one.egg_id for one in rows}), tip=form.voice.say(_TIP),
        again=form.voice.say(mark("Measure again")), cautions=cautions(form.voice, _CAUTIONS),
        setting=form.voice.say(_SETTING), fields=(form["at"],), anew=f"{here}?new=1",
        other=((links.batch(batch.uid, "air-cells/"), form.voice.say(mark("Where the edges should run"))),),
    )  # fmt: skip


def _line(form: MarksForm, egg: "m.Egg", value: str) -> Line:
    cell, voice = form.cells.get(egg.uid), form.voice
    facts: list[tuple[str, str]] = []
    low = high = ""
    if egg.uid in form.last:
        facts.append((voice.say(mark("last")), f"{form.shown(form.last[egg.uid]):.{form.decimals}f}"))
    if cell is not None:
        ends = [form.shown(each) for each in (cell.shallow_mm, cell.reach_mm)]
        facts.append((voice.say(mark("expect")), DASH.join(f"{each:.{form.decimals}f}" for each in ends)))
        low, high = (f"{each:.4f}" for each in ends)
    return Line(
        egg=egg.uid, label=figures.label_of(egg, voice), field=form[form.name_of(egg.uid)], facts=tuple(facts), low=low,
        high=high, value=value, questions=form.questions_of(egg.uid),
    )  # fmt: skip
