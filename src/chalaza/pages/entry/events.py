"""What happened to a machine or to a batch: chosen among big keys, then noted with its hours."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

from django import forms
from django.db.models import Q
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from chalaza import quantities as q
from chalaza import units
from chalaza.decide import slips
from chalaza.pages import links
from chalaza.pages.entry import common, plain, tray
from chalaza.pages.entry.choose import Big, Sorts
from chalaza.pages.entry.common import EntryForm
from chalaza.pages.entry.figures import label_of
from chalaza.pages.forms import Measure, Moment, Words
from chalaza.pages.keeper import Asked
from chalaza.records import models as m
from chalaza.values.evidence import EventSort
from chalaza.words import slips as slip_words
from chalaza.words.events import EVENTS
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

#: What happens to a machine, and so to every batch in it.
OF_MACHINE = (EventSort.WATER, EventSort.SET_POINT, EventSort.VENTS, EventSort.LID, EventSort.POWER_OFF)
OF_BATCH = (
    EventSort.TURNING_MISSED, EventSort.TURNING_STOPPED, EventSort.MISTED, EventSort.COOLED, EventSort.REMOVED,
    EventSort.MOVED,
)  # fmt: skip
#: What lasts for a while.
_LASTS = frozenset(
    {EventSort.LID, EventSort.POWER_OFF, EventSort.MISTED, EventSort.COOLED, EventSort.TURNING_MISSED}
)  # fmt: skip
CAUTIONS: Mapping[EventSort, tuple[str, ...]] = MappingProxyType(
    {
        EventSort.WATER: ("mains_water",),
        EventSort.POWER_OFF: ("power_keep", "no_flame", "generator"),
        EventSort.MISTED: ("mains_water", "misting_weigh"),
        EventSort.REMOVED: ("one_look", "late_eggs", "dispatch", "rotten_burst", "never_eat", "wash_hands"),
        EventSort.LID: ("lid_shut",),
    }
)
_HINTS: Mapping[EventSort, str] = MappingProxyType(
    {
        EventSort.WATER: mark("Which trough, and how much, if it matters."),
        EventSort.VENTS: mark("How many are open now."),
        EventSort.LID: mark("Why, and what was seen."),
        EventSort.POWER_OFF: mark("What was done meanwhile: wrapped, warm bottles."),
    }
)
_ENDED = mark("It ended before it began.")
_NOWHERE = mark("No stay says which machine the eggs were in then. Choose another hour, or note the move first.")
_NO_EGGS = mark("Choose the eggs that were taken out.")
_FOR = Plural(
    mark("Noted for {machine}, and so for {batches}."), mark("Noted for {machine}, and so for {batches}."), by="n"
)
_FROM, _WHEN = mark("From"), mark("When")


class EventForm(EntryForm):
    """One happening of a sort; fields that the sort has no use for are left out."""

    sort = forms.CharField(max_length=40, widget=forms.HiddenInput)
    until = Moment(required=False, label=mark("Until"), help_text=mark("Empty while it lasts, or if it took no time."))
    set_point_degc = Measure(q.SET_POINT, decimals=1, label=mark("New set point"))
    note = Words(lines=3, required=False, label=mark("Note"))
    eggs = forms.MultipleChoiceField(required=False)

    def __init__(self, *args: Any, of: EventSort, inside: Sequence["m.Egg"] = (), **extra: Any) -> None:
        self.of, self.inside = of, {one.uid: one for one in inside}
        super().__init__(*args, **{**extra, "initial": {"sort": of.value, **extra.get("initial", {})}})
        unused = [
            ("until", of in _LASTS),
            ("set_point_degc", of is EventSort.SET_POINT),
            ("eggs", of is EventSort.REMOVED),
        ]
        for name in (name for name, used in unused if not used):
            del self.fields[name]
        self.fields["at"].label = _FROM if of in _LASTS else _WHEN
        self.fields["note"].help_text = _HINTS.get(of, "")
        if isinstance(eggs := self.fields.get("eggs"), forms.MultipleChoiceField):
            eggs.choices = [(uid, one.label) for uid, one in self.inside.items()]

    def clean(self) -> dict[str, Any]:
        said = super().clean()
        until, at = said.get("until"), said.get("at")
        if until is not None and at is not None:
            if until < at:
                self.add_error("until", _ENDED)
            else:
                self.ask_moment("until", until, begin=None)
        if "set_point_degc" in self.fields:
            self._set_point()
        if "eggs" in self.fields and not said.get("eggs"):
            self.add_error("eggs", _NO_EGGS)
        return said

    def _set_point(self) -> None:
        """A figure in the other unit is asked about, also where it is none that could be set."""
        field, value = self.fields["set_point_degc"], self.bare("set_point_degc")
        if value is None or not isinstance(field, Measure):
            return
        show = field.show
        others = {
            unit: float(units.shown(units.inside(value, unit), show)) for unit in field.of.displays if unit != show
        }
        slip = slips.temperature(slips.Typed(value, 1), slips.box(show), others)
        if slip is None or ("set_point_degc" in self.errors and not slip.likely):
            return
        self.ask_slip("set_point_degc", slip_words.figure(self.voice, slip, unit=show, decimals=1))

    def record(self, **of: Any) -> "m.Event":
        """The event, of a batch or of a machine."""
        said = self.cleaned_data
        return m.Event(
            uid=self.act_uid, at=self.at_done, sort=self.of.value, until=said.get("until"),
            set_point_degc=said.get("set_point_degc"), note=said.get("note") or "", **of,
        )  # fmt: skip


def _sort(request: Asked, allowed: Sequence[EventSort]) -> EventSort | None:
    """The sort asked for, None for none yet. Raises `Http404` for one there is not."""
    text = request.POST.get("sort", "") or request.GET.get("sort", "")
    if not text:
        return None
    found = next((one for one in allowed if one.value == text), None)
    if found is None:
        raise Http404(f"no sort {text!r}")
    return found


@require_http_methods(["GET", "HEAD", "POST"])
def event(request: Asked, uid: str) -> HttpResponse:
    """What happened to a batch, or to the machine it is in."""
    batch = common.batch_or_404(uid)
    voice, here = common.voice_of(request, batch), links.batch(batch.uid, "event/")
    sort = _sort(request, (*OF_MACHINE, *OF_BATCH))
    if sort is None:
        return _chosen(request, voice, common.head(voice, batch, mark("What happened?"), request.now), here, batch)
    if sort is EventSort.MOVED:
        return HttpResponseRedirect(links.batch(batch.uid, "move/"))
    eggs = tray.in_order(m.Egg.objects.filter(batch=batch)) if sort is EventSort.REMOVED else []
    out = tray.gone(batch.uid, eggs, request.now)
    form = EventForm(**plain.arguments(request, batch), of=sort, inside=[one for one in eggs if one.uid not in out])

    def store(form: EventForm) -> "m.Act | None":
        if sort in OF_MACHINE:
            machine = machine_at(batch, form.at_done)
            if machine is None:
                form.add_error("at", _NOWHERE)
                return None
            return common.do(request, form, "event", save=[form.record(machine_id=machine.uid)], subject=machine.name)
        taken = [form.inside[one] for one in form.cleaned_data.get("eggs") or ()]
        for one in taken:
            one.removed_at = form.at_done
        verb = "remove" if taken else "turn_stop" if sort is EventSort.TURNING_STOPPED else "event"
        return common.do(request, form, verb, save=[*taken, form.record(batch_id=batch.uid)], subject=batch.name)

    machine = machine_at(batch, request.now) if sort in OF_MACHINE else None
    lead = _lead(voice, machine, request.now) if machine is not None else ()

    def page(form: EventForm) -> plain.Page:
        head = common.head(voice, batch, EVENTS[sort], request.now)
        return _page(form, head, lead, f"{here}?sort={sort.value}")

    return plain.serve(request, form, page, store, to=common.to_batch(batch))


@require_http_methods(["GET", "HEAD", "POST"])
def machine_event(request: Asked, uid: str) -> HttpResponse:
    """What happened to a machine, also to one without a batch. Raises `Http404` for no such machine."""
    machine = m.Machine.objects.select_related("place").filter(uid=uid).first()
    if machine is None:
        raise Http404(f"no machine {uid!r}")
    voice, to = request.voice.of(machine.place.zone, 0), common.to_machine(machine)
    here, sort = f"{to}event/", _sort(request, OF_MACHINE)
    head = common.Head(
        title=voice.say(EVENTS[sort] if sort else mark("What happened?")), href=to, name=machine.name, when=""
    )
    if sort is None:
        return _chosen(request, voice, head, here, None)
    posted = request.POST if request.method == "POST" else None
    form = EventForm(posted, voice=voice, zone=machine.place.zone, now=request.now, begin=None, of=sort)

    def store(form: EventForm) -> "m.Act | None":
        return common.do(request, form, "event", save=[form.record(machine_id=machine.uid)], subject=machine.name)

    def page(form: EventForm) -> plain.Page:
        return _page(form, head, _lead(voice, machine, request.now), f"{here}?sort={sort.value}")

    return plain.serve(request, form, page, store, to=to)


def machine_at(batch: "m.Batch", at: int) -> "m.Machine | None":
    """The machine a batch was in at a moment."""
    stay = (
        m.Stay.objects.select_related("machine")
        .filter(Q(end=None) | Q(end__gt=at), batch=batch, start__lte=at)
        .order_by("-start", "-id")
        .first()
    )
    return stay.machine if stay is not None else None


def _lead(voice: Voice, machine: "m.Machine", now: int) -> tuple[str, ...]:
    """Whom it reaches: every batch that is in the machine."""
    within = m.Stay.objects.filter(Q(end=None) | Q(end__gt=now), machine=machine, start__lte=now)
    names = list(dict.fromkeys(within.order_by("start", "id").values_list("batch__name", flat=True)))
    if not names:
        return ()
    return (voice.say(_FOR, {"machine": machine.name, "batches": ", ".join(names)}, len(names)),)


def _chosen(request: Asked, voice: Voice, head: common.Head, here: str, batch: "m.Batch | None") -> HttpResponse:
    """The keys to choose what happened."""
    listed = [*OF_MACHINE, *(OF_BATCH if batch is not None else ())]
    bigs = tuple(Big(href=f"{here}?sort={one.value}", word=_first(voice.say(EVENTS[one]))) for one in listed)
    page = Sorts(head=head, bigs=bigs)
    return render(request, "entry/sorts.html", {"page": page, "voice": voice, "place": "write"})


def _first(word: str) -> str:
    return word[:1].upper() + word[1:]


def _page(form: EventForm, head: common.Head, lead: tuple[str, ...], send: str) -> plain.Page:
    voice = form.voice
    names = [name for name in ("set_point_degc", "at", "until", "note") if name in form.fields]
    picks: tuple[plain.Picks, ...] = ()
    if "eggs" in form.fields:
        picks = (plain.picks(form, "eggs", mark("Which eggs"), list(form.inside.values()), label_of),)
    return plain.Page(
        head=common.Head(title=_first(head.title), href=head.href, name=head.name, when=head.when), form=form, lead=lead,
        fields=tuple(form[name] for name in names), picks=picks, key=voice.say(mark("Store it")),
        cautions=plain.warned(voice, CAUTIONS.get(form.of, ())), send=send, label=head.title,
    )  # fmt: skip
