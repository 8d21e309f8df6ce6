"""Opening the eggs that did not hatch: at which stage each ended, marked on the map of the tray or counted."""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from django.db import models
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString
from django.views.decorators.http import require_http_methods

from chalaza.pages import links
from chalaza.pages.entry import choices, common, figures, tray
from chalaza.pages.entry import session as sessions
from chalaza.pages.entry.choices import ChoicesForm, Option, Page
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.values.evidence import DeathStage, HatchStage
from chalaza.words.cautions import cautions
from chalaza.words.events import DEATH_STAGES
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

CAUTIONS = ("rotten_burst", "wash_hands", "late_eggs", "dispatch", "never_eat")
_TITLE = mark("Open eggs")
_TIP = mark(
    "Gloves on, outdoors, away from any kitchen. Infertile: no blood, no ring. Early: a ring or a spot. Middle: an embryo "
    "without down. Late: down, filling the egg. Pipped: a hole in the shell."
)
_SETTING = mark("Opened at another hour")
_SHORT = {
    DeathStage.INFERTILE: mark("clear"),
    DeathStage.EARLY: mark("early"),
    DeathStage.MIDDLE: mark("middle"),
    DeathStage.LATE: mark("late"),
    DeathStage.PIPPED: mark("pipped"),
    DeathStage.UNKNOWN: "?",
}


def options(voice: Voice) -> tuple[Option, ...]:
    """The stages as marks."""
    return tuple(
        Option(value=one.value, word=voice.say(DEATH_STAGES[one]), short=voice.language.gettext(short))
        for one, short in _SHORT.items()
    )


@require_http_methods(["GET", "HEAD", "POST"])
def opened(request: Asked, uid: str) -> HttpResponse:
    """What opened eggs showed: stored egg by egg, or all lines of the form at once."""
    batch = common.batch_or_404(uid)
    if request.method == "POST" and (before := common.done_before(request)) is not None:
        return common.answered(request, before, common.to_batch(batch))
    eggs = tray.in_order(m.Egg.objects.filter(batch=batch))
    posted = request.POST.get("session", "")
    session = posted if sessions.is_name(posted) else _session(request, batch)
    out = _gone(batch, eggs, session)
    form = _form(request, batch, [one for one in eggs if one.uid not in out], session)
    if request.method == "POST" and form.ready and (done := _store(request, batch, form)) is not None:
        return common.answered(request, done, common.to_batch(batch))
    context = {"page": _page(request, batch, form, eggs, out), "voice": form.voice, "place": "write"}
    if request.method == "POST":
        return common.refused(request, form, "entry/choices.html", context)
    return render(request, "entry/choices.html", context)


def _gone(batch: "m.Batch", eggs: Sequence["m.Egg"], session: str) -> set[str]:
    """Eggs that hatched or were opened before; those taken out may still be opened, and those of this session put right."""
    mine = set(m.Breakout.objects.filter(batch=batch, uid__startswith=f"{session}-").values_list("egg_id", flat=True))
    left: dict[str, int] = {one.uid: one.count for one in eggs}
    before = m.Breakout.objects.filter(batch=batch).exclude(egg=None).exclude(uid__startswith=f"{session}-")
    hatched = m.Hatch.objects.filter(batch=batch, stage=HatchStage.OUT.value).exclude(egg=None)
    for egg, n in [*before.values_list("egg_id", "count"), *hatched.values_list("egg_id", "count")]:
        left[str(egg)] = left.get(str(egg), 0) - n
    return {uid for uid, n in left.items() if n <= 0} - mine


def _session(request: Asked, batch: "m.Batch") -> str:
    if "new" in request.GET:
        return sessions.fresh()
    rows = m.Breakout.objects.filter(batch=batch).order_by("-at", "-id").values_list("uid", "at")[:200]
    return sessions.going_on(rows, request.now) or sessions.fresh()


def _form(request: Asked, batch: "m.Batch", inside: Sequence["m.Egg"], session: str) -> ChoicesForm:
    voice = common.voice_of(request, batch)
    posted: Any = request.POST if request.method == "POST" else None
    return ChoicesForm(
        posted, voice=voice, zone=batch.zone, now=request.now, begin=batch.set_at, eggs=inside, options=options(voice),
        initial={"session": session},
    )  # fmt: skip


def _store(request: Asked, batch: "m.Batch", form: ChoicesForm) -> "m.Act | None":
    session = str(form.cleaned_data["session"])

    def row(egg: str, stage: str, n: int, *about: str) -> "m.Breakout":
        uid = sessions.row_uid(session, egg, *about)
        return m.Breakout(uid=uid, batch_id=batch.uid, egg_id=egg, at=form.at_done, stage=stage, count=n)

    save: list[models.Model] = [row(egg, stage, 1) for egg, stage in form.marked.items()]
    delete: list[models.Model] = []
    for egg, counts in form.counted.items():
        for stage, n in counts.items():
            if n:
                save.append(row(egg, stage, n, stage))
            else:
                delete.extend(m.Breakout.objects.filter(uid=sessions.row_uid(session, egg, stage)))
    return common.do(request, form, "open", save=save, delete=delete, subject=batch.name)


def _page(request: Asked, batch: "m.Batch", form: ChoicesForm, eggs: Sequence["m.Egg"], out: set[str]) -> Page:
    session, voice = str(form["session"].value() or ""), form.voice
    rows = (
        list(m.Breakout.objects.filter(batch=batch, uid__startswith=f"{session}-").exclude(egg=None))
        if sessions.is_name(session)
        else []
    )
    counts: dict[str, dict[str, int]] = defaultdict(dict)
    for one in rows:
        counts[str(one.egg_id)][one.stage] = one.count
    single = {one.uid for one in eggs if one.count == 1}
    values = {
        egg: next(iter(found)) if egg in single else choices.group_words(found, form.options)
        for egg, found in counts.items()
    }
    inside = [one for one in eggs if one.uid not in out]
    laid, here = tray.lay(eggs, out), links.batch(batch.uid, "open/")
    return Page(
        head=common.head(voice, batch, _TITLE, request.now), form=form, options=form.options,
        lines=choices.lines(form, inside, values), columns=laid.columns, drawn=False,
        places=choices.places(laid, values, form.options, voice), symbols=(), expect=SafeString(""), expected="",
        done=sum(one.uid in values for one in inside), total=len(inside),
        last=figures.last_of("Breakout", {one.uid: str(one.egg_id) for one in rows}),
        ask=voice.say(mark("Where did it end?")), none=voice.say(mark("Every egg hatched or was opened.")),
        tip=voice.say(_TIP), cautions=cautions(voice, CAUTIONS),
        questions=tuple(form.questions), setting=voice.say(_SETTING), fields=(form["at"],), send=here, so_far="",
        anew=f"{here}?new=1",
        other=((f"{here}counted/", voice.say(mark("Only counted"))), (links.batch(batch.uid, "note/"), voice.say(mark("A note")))),
    )  # fmt: skip
