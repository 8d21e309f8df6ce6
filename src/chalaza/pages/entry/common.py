"""What every entry shares: whose batch it is, when it was done, how it is answered, and that sending it twice does it once."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from django import forms
from django.db import models
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import render

from chalaza.decide import slips
from chalaza.errors import ChalazaError
from chalaza.intake import misread
from chalaza.intake.typed import moment_in
from chalaza.pages import links
from chalaza.pages.forms import Choice, Form, Moment
from chalaza.pages.keeper import Asked
from chalaza.pages.see import see, sent_uid
from chalaza.pages.uids import Uid
from chalaza.quantities import MOMENT
from chalaza.records import acts
from chalaza.records import models as m
from chalaza.records.acts import ActError
from chalaza.records.fields import new_uid
from chalaza.words import slips as slip_words
from chalaza.words.language import mark
from chalaza.words.numbers import NB, Voice
from chalaza.words.slips import Asked as AskedSlip

#: The header by which a page says that it keeps what is not taken, and wants an answer it can read.
OUTBOX = "Outbox"
_BARE = re.compile(r"\s*(\d{1,6}(?:[.,]\d+)?)\s*")
#: A page's own clock may run ahead of ours by this much. [s]
_AHEAD_S = 600
_AHEAD = mark("This page's clock runs ahead. Write down when it was done.")
_ASTRAY = mark("This page's clock is astray. Write down when it was done.")
_STALE = mark("This page is too old. Load it anew; what you typed is still there.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The head of a page of entry: what is done, to which batch, and on which day."""

    title: str
    href: str
    name: str
    when: str


def batch_or_404(uid: str) -> "m.Batch":
    """The batch of that uid. Raises `Http404` for no such batch."""
    found = m.Batch.objects.filter(uid=uid).first()
    if found is None:
        raise Http404(f"no batch {uid!r}")
    return found


def voice_of(request: Asked, batch: "m.Batch") -> Voice:
    """The keeper's voice for a batch: its zone, its day of setting."""
    return request.voice.of(batch.zone, batch.set_at)


def head(voice: Voice, batch: "m.Batch", title: str, now: int) -> Head:
    """The head of a page about a batch."""
    day = max(0, int((now - batch.set_at) // 86_400))
    when = voice.say(mark("day {day}"), {"day": str(day)}).replace(" ", NB) if now >= batch.set_at else ""
    return Head(title=voice.say(title), href=to_batch(batch), name=batch.name, when=when)


class EntryForm(Form):
    """A form about something done at a moment. `at_s` is the moment a page's script took, where the keeper wrote none."""

    at = Moment(label=mark("When"))
    at_s = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, now: int, begin: int | None, **extra: Any) -> None:
        """`now`: this moment; `begin`: the setting of the batch, before which an entry is asked about (seconds UTC)."""
        self.now, self.begin = now, begin
        self.sentences: dict[str, tuple[str, ...]] = {}
        super().__init__(
            *args, **{**extra, "initial": {"at": now - now % 60, "uid": new_uid(), **extra.get("initial", {})}}
        )
        if self.data.get("at_s"):
            self.fields["at"].required = False

    def clean_uid(self) -> str:
        uid = str(self.cleaned_data["uid"])
        if not uid and self.data.get("uid"):  # sent anew it would be done twice
            raise forms.ValidationError(_STALE)
        return uid or new_uid()

    def clean(self) -> dict[str, Any]:
        said = super().clean() or {}
        stamped = said.get("at_s")
        if stamped is not None and (stamped > self.now + _AHEAD_S or not MOMENT.holds(stamped)):
            self.add_error("at", _AHEAD if stamped > self.now else _ASTRAY)
        elif stamped is not None:
            said["at"] = min(stamped, self.now)
        if isinstance(at := said.get("at"), int):
            self.ask_moment("at", at, begin=self.begin)
        return said

    def ask_moment(self, name: str, at: int, *, begin: int | None) -> None:
        """Ask about a moment to come, or one before `begin`."""
        zone = getattr(self.fields[name], "zone", self.voice.zone)
        slip = slips.moment(at, now=self.now, begin=begin, others=misread.moments(at, zone))
        if slip is not None:
            self.ask_slip(name, slip_words.moment(self.voice.of(zone, begin or 0), slip))

    def bare(self, name: str) -> float | None:
        """The figure typed in a field where it has no unit written to it, whether or not it is allowed."""
        found = _BARE.fullmatch(str(self.data.get(self.add_prefix(name), "")))
        return float(found[1].replace(",", ".")) if found else None

    def ask_slip(self, name: str, asked: AskedSlip, tare: str = "") -> None:
        """Ask about a slip in a field; `tare`: the field its ways out belong to where they are weights of a tray."""
        field = tare if asked.field == "tare" and tare else name
        ways = [Choice(way.value, way.label, likely=i == 0) for i, way in enumerate(asked.ways)]
        text = " ".join(asked.text)
        if field != name and self.data.get(f"keep_{name}") == str(self.data.get(name, "")):
            return
        self.sentences[text] = asked.text
        self.ask(field, text, *ways, keep=bool(asked.keep) and name not in self.errors)

    @property
    def at_done(self) -> int:
        """The moment it was done; of a form that is ready."""
        return int(self.cleaned_data["at"])

    @property
    def act_uid(self) -> str:
        """The uid of the act."""
        return str(self.cleaned_data["uid"])


def said_at(request: Asked, batch: "m.Batch") -> int:
    """The moment an entry that was sent is about; now, where it says none that can be. What was in the box then counts."""
    stamped = request.POST.get("at_s", "")
    if stamped.isdecimal() and len(stamped) < 12:
        at = int(stamped)
    else:
        try:
            at = moment_in(request.POST.get("at", ""), batch.zone)
        except ChalazaError:
            return request.now
    return at if batch.set_at <= at < request.now else request.now


def wants_word(request: Asked) -> bool:
    """Whether a page's script sent this, and not the browser itself."""
    return request.headers.get(OUTBOX) == "1"


def done_before(request: Asked) -> "m.Act | None":
    """The act this form did when it was sent before."""
    uid = sent_uid(request)
    return m.Act.objects.filter(uid=uid).first() if uid is not None else None


def answered(request: Asked, done: "m.Act", to: str) -> HttpResponse:
    """The answer to what was done: on to the next page, which offers to undo it; to a script, its uid."""
    if wants_word(request):
        return JsonResponse({"done": done.uid})
    return see(to, done)


def refused(request: Asked, form: EntryForm, template: str, context: dict[str, Any]) -> HttpResponse:
    """The form again with what was typed, what is wrong and what is asked; to a script, the same in words."""
    if not wants_word(request):
        return render(request, template, context, status=422)
    voice = form.voice
    said = [voice.language.gettext(str(text)) for texts in form.errors.values() for text in texts]
    said += [
        line for one in form.questions for line in form.sentences.get(one.text, (voice.language.gettext(one.text),))
    ]
    ways = [
        {"name": f"answer_{one.field}", "value": each.value, "label": voice.language.gettext(each.label)}
        for one in form.questions
        for each in one.choices
    ]
    ways += [
        {"name": f"keep_{one.field}", "value": one.keep, "label": voice.say(mark("Keep {typed}"), {"typed": one.keep})}
        for one in form.questions
        if one.keep
    ]
    return JsonResponse({"refused": said, "ways": ways}, status=422)


def do(
    request: Asked, form: EntryForm, verb: str, *, save: Iterable[models.Model] = (), delete: Iterable[models.Model] = (),
    subject: str,
) -> "m.Act | None":  # fmt: skip
    """Do what a ready form says; None where the records refuse it, which the form then says."""
    try:
        return acts.act(request.keeper, verb, save=save, delete=delete, uid=form.act_uid, subject=subject)
    except ActError as wrong:
        for name, texts in (wrong.problems or {"": [str(wrong)]}).items():
            form.add_error(name if name in form.fields else None, texts)
        return None


def remember(request: Asked, **values: Any) -> None:
    """Keep what the next form of the kind begins with: the scale, the unit, the tare."""
    known = dict(request.keeper.remembered)
    if any(known.get(name) != value for name, value in values.items()):
        request.keeper.remembered = {**known, **values}
        acts.act(request.keeper, "remember", save=[request.keeper])


def to_batch(batch: "m.Batch") -> str:
    """The page of a batch."""
    return links.batch(batch.uid)


def to_machine(machine: "m.Machine") -> str:
    """The page of a machine."""
    return f"/machines/{quote(Uid().to_url(machine.uid), safe='~')}/"
