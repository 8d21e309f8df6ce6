"""The eggs of a batch as a table one can write in: labels, sizes, shells, lots, places, what was taken out; more eggs."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from chalaza import quantities as q
from chalaza.pages.forms import Measure, Moment, Pick, Whole, Words
from chalaza.pages.keeper import Asked
from chalaza.pages.setup.begin import labels_of
from chalaza.pages.setup.begin_form import MOST_ROWS, TRAY
from chalaza.pages.setup.common import Change, Line, SetForm, address, as_begun, do, fill, lines, on_clock, one, told
from chalaza.pages.setup.fields import Tick
from chalaza.records import models as m
from chalaza.records.acts import ActError
from chalaza.values.evidence import Shell
from chalaza.words import things
from chalaza.words.language import mark
from chalaza.words.numbers import Voice


class EggForm(SetForm):
    """One egg or group, a row of the table."""

    label = Words(max_length=40, label=mark("On the shell"))
    count = Whole(q.EGGS, min_value=1, label=mark("Eggs"))
    length_mm = Measure(q.LENGTH_MM, required=False, label=mark("Length"))
    breadth_mm = Measure(q.BREADTH_MM, required=False, label=mark("Breadth"))
    shell = Pick(choices=list(things.SHELLS.items()), label=mark("Shell"))
    lot = Pick(required=False, label=mark("Lot"))
    position = Words(max_length=40, required=False, label=mark("Place"))
    out = Tick(label=mark("Taken out"))

    def __init__(self, *args: Any, egg: m.Egg, was: m.Egg, lots: list[tuple[str, str]], **extra: Any) -> None:
        self.egg = egg
        first = {name: getattr(was, name) for name in _ROW} | {"lot": was.lot_id, "out": was.removed_at is not None}
        super().__init__(*args, **{**extra, "initial": first})
        field = self.fields["lot"]
        if isinstance(field, Pick):
            field.choices = [("", "—"), *lots]

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        length, breadth = said.get("length_mm"), said.get("breadth_mm")
        if length is not None and breadth is not None and breadth > length:
            self.add_error("breadth_mm", mark("An egg is longer than broad: are the two figures the other way round?"))
        return said

    @property
    def touched(self) -> bool:
        """Whether anything was written in this row."""
        return any(self[name].data is not None and self[name].field.has_changed(self._first(name), self[name].data)
                   for name in self.fields if name not in ("uid", "began"))  # fmt: skip

    def _first(self, name: str) -> Any:
        field = self.fields[name]
        return field.prepare_value(self.get_initial_for_field(field, name))


_ROW = ("label", "count", "length_mm", "breadth_mm", "shell", "position")


class MoreForm(SetForm):
    """When those newly ticked were taken out; more eggs, one by one or as a group."""

    out_at = Moment(required=False, label=mark("The eggs newly ticked as taken out left at"))
    more = Whole(q.EGGS, min_value=1, max_value=MOST_ROWS, required=False, label=mark("More eggs, one row each"))
    group = Whole(q.EGGS, min_value=1, required=False, label=mark("More eggs, counted together in one row"))
    group_label = Words(max_length=40, required=False, label=mark("What the group is called"))
    never = Words(
        max_length=4000, required=False, label=mark("Rows that never were eggs"),
        help_text=mark("Their labels, separated by commas. Eggs that were taken out stay: tick those."),
    )  # fmt: skip

    def gone(self) -> tuple[str, ...]:
        """Labels of the rows to take away."""
        return tuple(part.strip() for part in str(self.cleaned_data.get("never") or "").split(",") if part.strip())

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if said.get("group") and not said.get("group_label"):
            self.add_error("group_label", mark("A group wants a name, such as second tray."))
        elif said.get("group_label") and "group" in said and not said["group"]:
            self.add_error("group", mark("How many eggs are in the group?"))
        return said


@dataclass(frozen=True, slots=True, kw_only=True)
class EggsPage:
    """The table."""

    title: str
    lead: str
    rows: tuple[EggForm, ...]
    many_lots: bool
    groups: bool
    total: int
    form: MoreForm
    lines: tuple[Line, ...]
    save: str
    back: str
    back_to: str


@require_http_methods(["GET", "HEAD", "POST"])
def eggs(request: Asked, uid: str) -> HttpResponse:
    """The eggs of a batch; what was written is one act."""
    batch = one(m.Batch, uid)
    voice = on_clock(request.voice, batch.zone)
    data = request.POST or None
    found = list(batch.eggs.select_related("lot__parents").order_by("id"))
    lots = [(lot.uid, lot.parents.name) for lot in batch.lots.select_related("parents").order_by("id")]
    rows = tuple(
        EggForm(data, voice=voice, egg=egg, was=was, lots=lots, prefix=f"e{egg.pk}")
        for egg, was in zip(found, as_begun(request, *found), strict=True)
    )
    form = MoreForm(data, voice=voice, zone=batch.zone, initial={"out_at": request.now - request.now % 60})
    if data is not None and _ready(rows, form, batch, request.now):
        try:
            return do(request, form, _change(batch, rows, form, lots))
        except ActError as refused:
            told(form, refused)
    context = {"page": _page(voice, batch, rows, form, lots), "place": "batches", "voice": voice, "lots": lots}  # fmt: skip
    return render(request, "setup/eggs.html", context, status=200 if data is None else 422)


def _page(
    voice: Voice, batch: m.Batch, rows: tuple[EggForm, ...], form: MoreForm, lots: list[tuple[str, str]]
) -> EggsPage:
    return EggsPage(
        title=voice.say(mark("Eggs of {batch}"), {"batch": batch.name}), rows=rows, form=form, many_lots=len(lots) > 1,
        lead=voice.say(mark("Sizes help to read air cells and weights. Leave empty what you do not know.")),
        groups=any(row.egg.count > 1 for row in rows), lines=lines(form, "out_at", "more", "group", "group_label", "never"),
        total=sum(row.egg.count for row in rows),
        save=voice.say(mark("Keep the eggs")), back=voice.say(mark("Back to the batch")),
        back_to=address("batches", batch.uid, "edit/"),
    )  # fmt: skip


def _ready(rows: tuple[EggForm, ...], form: MoreForm, batch: m.Batch, now: int) -> bool:
    """Whether all rows that were written in are allowed, and together."""
    valid = [row.is_valid() or not row.touched for row in rows]  # each row is looked at, also after one that is wrong
    fine = form.ready and all(valid)
    held: dict[str, list[EggForm]] = {}
    for row in rows:
        held.setdefault(str(row.cleaned_data["label"]) if row.is_valid() else row.egg.label, []).append(row)
    for row in (each for same in held.values() if len(same) > 1 for each in same if each.touched):
        row.add_error("label", mark("Another egg has this label already."))
        fine = False
    known = {row.egg.label for row in rows}
    strangers = [label for label in (form.gone() if form.is_valid() else ()) if label not in known]
    if strangers:
        text = mark("No egg is called {label}.")
        form.add_error("never", form.voice.say(text, {"label": strangers[0]}))
        fine = False
    newly_out = [row for row in rows if row.is_valid() and row.cleaned_data["out"] and row.egg.removed_at is None]
    out_at = form.cleaned_data.get("out_at") if form.is_valid() else None
    if newly_out and form.is_valid() and not (out_at is not None and batch.set_at <= out_at <= now + 60):
        form.add_error("out_at", mark("A moment after the setting and not after now, please."))
        fine = False
    return fine


def _change(batch: m.Batch, rows: tuple[EggForm, ...], form: MoreForm, lots: list[tuple[str, str]]) -> Change:
    save: list[m.Egg] = []
    delete: list[m.Egg] = []
    gone = form.gone()
    for row in rows:
        if row.egg.label in gone:
            delete.append(row.egg)
            continue
        if not row.touched:
            continue
        fill(row.egg, row, *_ROW, lot_id="lot")
        row.egg.lot_id = row.egg.lot_id or None
        if row.cleaned_data["out"] not in (row.initial["out"], row.egg.removed_at is not None):
            row.egg.removed_at = form.cleaned_data["out_at"] if row.cleaned_data["out"] else None
        save.append(row.egg)
    save += _added(batch, rows, form, lots)
    to = address("batches", batch.uid, "eggs/")
    return Change(verb="change", to=to, save=tuple(save), delete=tuple(delete), subject=batch.name)


def _added(batch: m.Batch, rows: tuple[EggForm, ...], form: MoreForm, lots: list[tuple[str, str]]) -> list[m.Egg]:
    """New rows, labelled on from those that are there."""
    said, lot = form.cleaned_data, lots[0][0] if len(lots) == 1 else None
    taken = {row.egg.label for row in rows}
    stay = batch.stays.select_related("machine").order_by("start").first()
    shell = rows[-1].egg.shell if rows else str(Shell.LIGHT)
    added: list[m.Egg] = []
    free = [pair for pair in labels_of(len(rows) + 2 * MOST_ROWS, TRAY, stay.machine.tray if stay else "")
            if pair[0] not in taken]  # fmt: skip
    for number, (label, place) in enumerate(free[: said["more"] or 0], start=1):
        added.append(
            m.Egg(
                uid=f"{form.own_uid}-e{number}",
                batch_id=batch.uid,
                lot_id=lot,
                label=label,
                position=place,
                shell=shell,
            )
        )
    if said["group"]:
        if said["group_label"] in taken:
            raise ActError("", {"group_label": [form.voice.say(mark("Another egg has this label already."))]})
        added.append(
            m.Egg(uid=f"{form.own_uid}-g", batch_id=batch.uid, lot_id=lot, label=said["group_label"], count=said["group"],
                  shell=shell)
        )  # fmt: skip
    return added
