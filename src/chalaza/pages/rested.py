"""The records a figure rests on, listed: weighings, looks, marks, checks, young seen, and what the log holds."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from django.db.models import Max, Min, Sum

from chalaza.pages import links
from chalaza.pages.links import Link
from chalaza.records import models as m
from chalaza.records.daybook import Daybook
from chalaza.values.answers import Assessment
from chalaza.values.evidence import CheckSort
from chalaza.words import numbers
from chalaza.words.basis import INPUTS
from chalaza.words.events import FINDINGS, HATCH_STAGES
from chalaza.words.language import mark
from chalaza.words.numbers import Voice
from chalaza.words.things import CHECK_SORTS

#: Rows shown of one sort: the newest ones.
MOST = 200
_DAY_S = 86_400
_ALL = mark("all eggs")
Cells = tuple[str | Link, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """Records of one sort as a table; what has a page of its own leads there. `n`: how many, where not all are shown."""

    key: str
    title: str
    head: tuple[str, ...]
    rows: tuple[Cells, ...]
    n: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class _From:
    """What the lists are made from."""

    voice: Voice
    book: Daybook
    a: Assessment

    def when(self, at: float) -> str:
        return numbers.moment(self.voice, at)

    def egg(self, uid: str | None) -> str:
        """The label of an egg."""
        return next((one.label for one in self.book.eggs if one.uid == uid), "")


def records(voice: Voice, book: Daybook, a: Assessment, inputs: Sequence[str]) -> tuple[Records, ...]:
    """The records behind some inputs (keys of `words.basis.INPUTS`), up to the moment of the assessment."""
    made = _From(voice, book, a)
    return tuple(_listed(made, name, *LISTS[name](made)) for name in INPUTS if name in inputs)


def _listed(made: _From, name: str, head: Sequence[str], rows: Sequence[Cells], note: str = "") -> Records:
    voice = made.voice
    shown = tuple(rows[-MOST:])
    n = voice.say(mark("The newest {shown} of {n}."), {"shown": str(len(shown)), "n": str(len(rows))})
    return Records(
        key=name, title=voice.say(INPUTS[name]), head=tuple(voice.say(one) for one in head), rows=shown,
        n=n if len(rows) > len(shown) else "", note=note,
    )  # fmt: skip


_Lists = tuple[Sequence[str], Sequence[Cells]]


def _weighings(made: _From) -> _Lists:
    rows = sorted((one for one in made.book.weighings if one.at <= made.a.as_of), key=lambda one: one.at)
    labels = {one.uid: one.label for one in made.book.eggs}

    def eggs(text: str) -> str:
        if text.strip() == "all":
            return made.voice.say(_ALL)
        return ", ".join(labels.get(uid, uid) for uid in text.split())

    def mass(value: float) -> str:
        return numbers.quantity(made.voice, value, "mass")

    cells = [
        (made.when(one.at), eggs(one.eggs), mass(one.gross_g), mass(one.tare_g) if one.tare_g else "") for one in rows
    ]
    return (mark("when"), mark("eggs"), mark("on the scale"), mark("tray or bag")), cells


def _air_cells(made: _From) -> _Lists:
    rows = sorted((one for one in made.book.air_cells if one.at <= made.a.as_of), key=lambda one: one.at)
    cells = [
        (made.when(one.at), made.egg(one.egg), numbers.quantity(made.voice, one.depth_mm, "length")) for one in rows
    ]
    return (mark("when"), mark("egg"), mark("depth")), cells


def _candlings(made: _From) -> _Lists:
    rows = sorted((one for one in made.book.candlings if one.at <= made.a.as_of), key=lambda one: one.at)
    cells = [
        (made.when(one.at), made.egg(one.egg), made.voice.say(FINDINGS[one.finding]), str(one.count)) for one in rows
    ]
    return (mark("when"), mark("egg"), mark("what the lamp showed"), mark("eggs")), cells


def _hatches(made: _From) -> _Lists:
    rows = sorted((one for one in made.book.hatches if one.at <= made.a.as_of), key=lambda one: one.at)
    cells = [
        (made.when(one.at), made.egg(one.egg), made.voice.say(HATCH_STAGES[one.stage]), str(one.count)) for one in rows
    ]
    return (mark("when"), mark("egg"), mark("what was seen"), mark("young")), cells


def _probes(made: _From) -> "list[m.Probe]":
    """The probes that hang, or hung, in the machines of the batch."""
    boxes = {one.machine for one in made.book.stays}
    return list(m.Probe.objects.filter(mounts__machine__uid__in=boxes).distinct().order_by("id"))


def _checks(made: _From) -> _Lists:
    names = {one.uid: Link(links.probe(one.uid), one.name) for one in _probes(made)}
    found = m.ProbeCheck.objects.filter(probe__uid__in=names, at__lte=made.a.as_of).order_by("at", "id")
    cells = [
        (made.when(one.at), names[one.probe_id], made.voice.say(CHECK_SORTS[CheckSort(one.sort)]), _shown(made.voice, one),
         _true(made.voice, one))
        for one in found
    ]  # fmt: skip
    return (mark("when"), mark("probe"), mark("how"), mark("it showed"), mark("true")), cells


def _shown(voice: Voice, one: "m.ProbeCheck") -> str:
    return _either(voice, one.reading_degc, one.reading_rh)


def _true(voice: Voice, one: "m.ProbeCheck") -> str:
    return _either(voice, one.reference_degc, one.reference_rh)


def _either(voice: Voice, temp_degc: float | None, rh: float | None) -> str:
    if temp_degc is not None:
        return numbers.quantity(voice, temp_degc, "temperature")
    return "" if rh is None else numbers.quantity(voice, rh, "humidity")


def _readings(made: _From) -> tuple[Sequence[str], Sequence[Cells], str]:
    """Each probe with its logs in force over the days of the batch. What was set aside of them is told beneath."""
    probes = {one.uid: Link(links.probe(one.uid), one.name) for one in _probes(made)}
    first, last = (int(at) // _DAY_S for at in (made.a.set_at, made.a.as_of))
    logs = (
        m.Chunk.objects.filter(probe__uid__in=probes, day__range=(first, last), source__withdrawn=False)
        .values_list("probe_id", "source__uid", "source__name")
        .annotate(rows=Sum("n"), begin=Min("first"), end=Max("last"))
        .order_by("probe_id", "begin", "source__id")
    )
    cells = [
        (
            probes[probe],
            Link(links.log(log), name or log),
            f"{rows:,}".replace(",", numbers.NB),
            made.when(begin),
            made.when(end),
        )
        for probe, log, name, rows, begin, end in logs
    ]
    return (mark("probe"), mark("log"), mark("readings"), mark("from"), mark("to")), cells, _aside(made)


def _aside(made: _From) -> str:
    """How many readings were set aside, and how much of the time no log covers."""
    n = sum(count for reasons in made.a.warmth.set_aside.values() for count in reasons.values())
    holes = {
        "n": str(n), "covered": numbers.quantity(made.voice, made.a.warmth.covered, "share"),
    }  # fmt: skip
    return made.voice.say(
        mark("The log covers {covered} of the hours since setting; {n} readings were set aside."), holes
    )


LISTS: Mapping[
    str, Callable[[_From], tuple[Sequence[str], Sequence[Cells]] | tuple[Sequence[str], Sequence[Cells], str]]
] = MappingProxyType(
    {
        "readings": _readings,
        "weighings": _weighings,
        "air_cells": _air_cells,
        "probe_checks": _checks,
        "candlings": _candlings,
        "hatches": _hatches,
    }
)
