"""Candling one egg after the other, on one screen; and what the look says so far."""

from collections import defaultdict
from collections.abc import Sequence

from django.db import models
from django.http import HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.http import require_http_methods, require_safe

from chalaza import charts, facts
from chalaza.charts import lamp
from chalaza.errors import ChalazaError
from chalaza.pages import links
from chalaza.pages.entry import choices, common, expected, figures, tray
from chalaza.pages.entry import session as sessions
from chalaza.pages.entry.choices import ChoicesForm, Option, Page
from chalaza.pages.entry.sofar import candled
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.values.evidence import Finding
from chalaza.words.cautions import cautions
from chalaza.words.language import mark
from chalaza.words.numbers import Voice

_CAUTIONS = ("wash_hands", "one_look", "lamp_hot")
_TITLE = mark("Candle")
_WORDS = {Finding.LIVE: mark("Alive"), Finding.UNSURE: mark("Unsure"), Finding.DEAD: mark("Stopped"),
          Finding.CLEAR: mark("Clear")}  # fmt: skip
_TIP = mark(
    "A mark goes to the egg at hand and moves on. Dark or blue shell? Unsure is an honest answer. Tap any egg to go back. "
    "Keep each row under 10 minutes out of the warmth."
)
_SETTING = mark("Looked at another hour")
#: Marks that a page of candling draws, beside those of the findings.
_DRAWN = ("not_looked", "at_hand", "out")


def options(voice: Voice) -> tuple[Option, ...]:
    """The four findings as marks."""
    return tuple(
        Option(value=one.value, word=voice.say(word), short=voice.say(word), drawing=lamp.BY_FINDING[one])
        for one, word in _WORDS.items()
    )


@require_http_methods(["GET", "HEAD", "POST"])
def candle(request: Asked, uid: str) -> HttpResponse:
    """The look at a batch: marks are stored egg by egg, or all lines of the form at once."""
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
        return common.refused(request, form, "entry/choices.html", context)
    return render(request, "entry/choices.html", context)


def _form(request: Asked, batch: "m.Batch", inside: Sequence["m.Egg"]) -> ChoicesForm:
    voice = common.voice_of(request, batch)
    posted = request.POST if request.method == "POST" else None
    return ChoicesForm(
        posted, voice=voice, zone=batch.zone, now=request.now, begin=batch.set_at, eggs=inside, options=options(voice),
        initial={"session": _session(request, batch)},
    )  # fmt: skip


def _session(request: Asked, batch: "m.Batch") -> str:
    if "new" in request.GET:
        return sessions.fresh()
    rows = m.Candling.objects.filter(egg__batch=batch).order_by("-at", "-id").values_list("uid", "at")[:200]
    return sessions.going_on(rows, request.now) or sessions.fresh()


def _store(request: Asked, batch: "m.Batch", form: ChoicesForm) -> "m.Act | None":
    session = str(form.cleaned_data["session"])
    before = {one.uid: one for one in m.Candling.objects.filter(egg__batch=batch, uid__startswith=f"{session}-")}

    def row(egg: str, finding: str, n: int, *about: str) -> "m.Candling":
        """What was seen before keeps its hour."""
        uid = sessions.row_uid(session, egg, *about)
        old = before.get(uid)
        same = old is not None and (old.finding, old.count) == (finding, n)
        at = old.at if old is not None and same else form.at_done
        return m.Candling(uid=uid, egg_id=egg, at=at, finding=finding, count=n)

    save: list[models.Model] = [row(egg, finding, 1) for egg, finding in form.marked.items()]
    delete: list[models.Model] = []
    for egg, counts in form.counted.items():
        for finding, n in counts.items():
            if n:
                save.append(row(egg, finding, n, finding))
            else:
                delete.extend(m.Candling.objects.filter(uid=sessions.row_uid(session, egg, finding)))
    return common.do(request, form, "candle", save=save, delete=delete, subject=batch.name)


def _page(request: Asked, batch: "m.Batch", form: ChoicesForm, eggs: Sequence["m.Egg"], out: set[str]) -> Page:
    session = str(form["session"].value() or "")
    rows = (
        m.Candling.objects.filter(egg__batch=batch, uid__startswith=f"{session}-") if sessions.is_name(session) else ()
    )
    values = _values(rows, form)
    inside = [one for one in eggs if one.uid not in out]
    laid, here = tray.lay(eggs, out), links.batch(batch.uid, "candle/")
    drawing, said = _expect(form.voice, batch, request.now)
    return Page(
        head=common.head(form.voice, batch, _TITLE, request.now), form=form, options=form.options,
        lines=choices.lines(form, inside, values), columns=laid.columns, drawn=True,
        places=choices.places(laid, values, form.options, form.voice), symbols=_symbols(), expect=drawing, expected=said,
        done=sum(one.uid in values for one in inside), total=len(inside),
        last=figures.last_of("Candling", {one.uid: one.egg_id for one in rows}),
        ask=form.voice.say(mark("What do you see?")), none=form.voice.say(mark("No egg is in the box any more.")),
        tip=form.voice.say(_TIP), cautions=cautions(form.voice, _CAUTIONS),
        questions=tuple(form.questions), setting=form.voice.say(_SETTING), fields=(form["at"],), send=here,
        so_far=f"{here}so-far/?session={session}", anew=f"{here}?new=1",
        other=((links.batch(batch.uid, "mark/"), form.voice.say(mark("Air cells"))),
               (links.batch(batch.uid, "note/"), form.voice.say(mark("A crack, a note")))),
    )  # fmt: skip


def _values(rows: "models.QuerySet[m.Candling] | tuple[()]", form: ChoicesForm) -> dict[str, str]:
    """What each egg was marked with in this session; of a group how many with each mark."""
    counts: dict[str, dict[str, int]] = defaultdict(dict)
    for one in rows:
        counts[one.egg_id][one.finding] = one.count
    return {
        egg: next(iter(found)) if egg in form.eggs and form.eggs[egg].count == 1 else choices.group_words(found, form.options)
        for egg, found in counts.items()
    }  # fmt: skip


def _symbols() -> tuple[tuple[str, SafeString], ...]:
    names = (*lamp.BY_FINDING.values(), *_DRAWN)
    return tuple((name, mark_safe(lamp.MARKS[name]())) for name in dict.fromkeys(names))


def _expect(voice: Voice, batch: "m.Batch", now: int) -> tuple[SafeString, str]:
    """What a live egg of this age looks like under the lamp: drawn, and in words; nothing for an unknown kind."""
    found = expected.understood(batch.uid, now)
    try:
        bird = facts.kind(batch.kind)
        day = max(0.0, (now - batch.set_at) / 86_400) if found is None else found.assessment.clock.age_d.value
        share = min(day / bird.term_d.typical, 1.0)
        cell = charts.air_cell_usual(bird.key, day)
    except ChalazaError:
        return SafeString(""), ""
    row = lamp.expected(share)
    seen = voice.say(row.seen)
    return mark_safe(lamp.expect(share, cell, label=seen)), voice.say(mark("Expect: {seen}."), {"seen": seen})


@require_safe
def so_far(request: Asked, uid: str) -> HttpResponse:
    """What the look says so far: a part of the page, fetched anew after each mark."""
    batch = common.batch_or_404(uid)
    voice = common.voice_of(request, batch)
    said = candled(voice, batch, request.GET.get("session", ""), request.now)
    return render(request, "entry/so_far.html", {"said": said, "voice": voice})
