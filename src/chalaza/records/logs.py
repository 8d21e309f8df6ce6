"""Log files: sent, asked about, read as a source, withdrawn, and gone for good 30 days later.

A file that was sent lies in the data folder and waits as an `Upload` until its questions are answered; then it is read
as slow work, and becomes a `Source` whose readings count. A file that counts already is known by its content.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from django.db import transaction
from django.db.models import Max, Min, Sum

from chalaza.errors import NotebookError
from chalaza.records import files, series, work
from chalaza.records import models as m
from chalaza.records.acts import act, history
from chalaza.records.clock import now
from chalaza.values.evidence import Series
from chalaza.words.language import mark

DAY_S = 86_400
#: What was withdrawn can be taken in again for so long. [s]
KEPT_S = 30 * DAY_S
#: The kind of the slow work that reads a log.
IMPORT = "import_log"
#: Rows of work that ended are kept so long. [s]
_WORK_KEPT_S = 30 * DAY_S


_KNOWN = mark("This file counts already, as {name}. Nothing was added.")


class Known(NotebookError):
    """A file that counts already; `source` is what it was read as."""

    def __init__(self, source: "m.Source") -> None:
        self.source = source
        super().__init__(_KNOWN, name=source.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What was said about a file: answers to questions of the reader, the zone of its clock, its probes -> ours or "".

    `remember`: the same holds for every file of this look.
    """

    answers: Mapping[str, str] = field(default_factory=dict)
    zone: str = ""
    probes: Mapping[str, str] = field(default_factory=dict)
    remember: bool = False


def in_force(sha256: str) -> "m.Source | None":
    """The source that a file of this content counts as."""
    return m.Source.objects.filter(sha256=sha256, withdrawn=False).order_by("id").first()


def send(keeper: "m.Keeper", kept: files.Kept, name: str) -> "m.Upload":
    """A file was sent: it waits to be answered. One that waits already is given back. Raises `Known` if it counts."""
    if (source := in_force(kept.sha256)) is not None:
        raise Known(source)
    found = m.Upload.objects.filter(sha256=kept.sha256).order_by("id").first()
    if found is not None:
        return found
    upload = m.Upload(name=named(name), sha256=kept.sha256, size=kept.size, at=now())
    act(keeper, "send_log", save=[upload], subject=upload.name)
    return upload


def named(name: str) -> str:
    """The name of a file as it can be kept: no path, no control characters, at most 200."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    clean = "".join(each for each in last if each.isprintable() and not 0xD800 <= ord(each) <= 0xDFFF).strip()
    return clean[:200] or "log"


def leave_out(keeper: "m.Keeper", upload: "m.Upload", uid: str | None = None) -> "m.Act":
    """The file is left out: it waits no more; its bytes stay until they are purged, so that this can be undone."""
    return act(keeper, "leave_log", delete=[upload], uid=uid, subject=upload.name)


def begin(keeper: "m.Keeper", upload: "m.Upload", said: Answers, uid: str) -> "m.Work":
    """Have a file read as answered; the work. Sent twice under one `uid` it is done once."""
    arguments = {
        "upload": upload.uid, "sha256": upload.sha256, "name": upload.name, "size": upload.size,
        "answers": dict(said.answers), "zone": said.zone, "probes": dict(said.probes), "remember": said.remember,
    }  # fmt: skip
    with transaction.atomic():
        made = work.ask(IMPORT, arguments, keeper, uid)
        m.Upload.objects.filter(pk=upload.pk).update(work=made.uid)  # technical: no part of the history
    return made


def recipe_for(look: str) -> "m.Recipe | None":
    """What was said about files of this look, to be remembered; probes that are no more are left out."""
    found = m.Recipe.objects.filter(look=look).first()
    if found is not None:
        there = set(m.Probe.objects.filter(uid__in=list(found.probes.values())).values_list("uid", flat=True))
        found.probes = {name: uid for name, uid in found.probes.items() if not uid or uid in there}
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlap:
    """What of new readings was there already: `same` says nothing new, `differing` contradicts it, `filled` adds a figure."""

    new: int
    same: int
    differing: int
    filled: int


def overlap(probe: str, one: Series) -> Overlap:
    """What these readings of a probe bring that is not there already."""
    if not len(one):
        return Overlap(new=0, same=0, differing=0, filled=0)
    held = series.read(probe, int(one.t[0]), int(one.t[-1]) + 1)
    there = [(held.series.t, held.series.temp_degc, held.series.rh), (one.t, one.temp_degc, one.rh)]
    both = series.merged(there)
    shared = int(np.isin(one.t, held.series.t, assume_unique=True).sum())
    return Overlap(
        new=len(one) - shared, same=shared - both.differing - both.filled, differing=both.differing, filled=both.filled
    )


def count(
    keeper: "m.Keeper", source: "m.Source", made: Sequence["m.Chunk"], upload: str, recipe: "m.Recipe | None"
) -> None:
    """A file counts from now on: source, readings, and what is remembered, in the caller's transaction; once by uid.

    Raises `Known` if a file of this content came to count meanwhile.
    """
    if m.Source.objects.filter(uid=source.uid).exists():
        return
    if (other := in_force(source.sha256)) is not None:
        raise Known(other)
    waiting = m.Upload.objects.filter(uid=upload)
    act(keeper, "log", save=[source], delete=waiting, uid=f"log-{source.uid}", subject=source.name)
    series.store(source.uid, made)
    if recipe is not None:
        old = m.Recipe.objects.filter(look=recipe.look).first()
        recipe.uid = old.uid if old is not None else recipe.uid
        act(keeper, "remember", save=[recipe], uid=f"remember-{source.uid}", subject=source.name)


def withdraw(keeper: "m.Keeper", source: "m.Source", uid: str | None = None) -> "m.Act":
    """The readings of a source count no more; what others gave for its seconds counts again."""
    source.withdrawn = True
    return act(keeper, "withdraw_log", save=[source], uid=uid, subject=source.name)


def take_again(keeper: "m.Keeper", source: "m.Source", uid: str | None = None) -> "m.Act":
    """The readings of a withdrawn source count again. Raises `ActError` if they are gone, `Known` if they count already."""
    other = in_force(source.sha256) if source.sha256 else None
    if other is not None and other.uid != source.uid:
        raise Known(other)
    source.withdrawn = False
    return act(keeper, "take_log", save=[source], uid=uid, subject=source.name)


def read_otherwise(keeper: "m.Keeper", source: "m.Source", uid: str | None = None) -> "m.Upload":
    """Withdraw a log and put its file back to wait, to be answered anew."""
    with transaction.atomic():
        if not source.withdrawn:
            withdraw(keeper, source, uid)
        return send(keeper, files.Kept(source.sha256, source.size), source.name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Readings of one probe in one source: how many, first and last moment, in how many other sources its days are too."""

    probe: str
    n: int
    first: int
    last: int


def held(sources: Iterable["m.Source"]) -> dict[str, list[Held]]:
    """What each source holds, probe by probe; a log that says so in its report costs no query."""
    listed = list(sources)
    found: dict[str, list[Held]] = {}
    for one in listed:
        said = one.report.get("held")
        if said is not None:
            found[one.uid] = [Held(**each) for each in said]
    rest = [one.uid for one in listed if one.uid not in found]
    rows = (
        m.Chunk.objects.filter(source__uid__in=rest).values("source_id", "probe_id").order_by("source_id", "probe_id")
        .annotate(rows=Sum("n"), start=Min("first"), end=Max("last"))
    ) if rest else ()  # fmt: skip
    for row in rows:
        part = Held(probe=str(row["probe_id"]), n=row["rows"], first=row["start"], last=row["end"])
        found.setdefault(str(row["source_id"]), []).append(part)
    return found


def overlapping(source: "m.Source") -> list["m.Source"]:
    """Other sources in force that have days of the same probes."""
    mine: dict[str, list[int]] = {}
    for probe, day in m.Chunk.objects.filter(source_id=source.uid).order_by("id").values_list("probe_id", "day"):
        mine.setdefault(str(probe), []).append(day)
    others: set[str] = set()
    for uid, days in mine.items():
        seen = m.Chunk.objects.filter(probe_id=uid, day__gte=min(days), day__lte=max(days), source__withdrawn=False)
        wanted = set(days)
        others |= {str(other) for other, day in seen.order_by("id").values_list("source_id", "day") if day in wanted}
    return list(m.Source.objects.filter(uid__in=others - {source.uid}).order_by("id"))


def withdrawn_at(source: "m.Source") -> int | None:
    """When a source was withdrawn; None while it counts."""
    newest = history("Source", source.uid).first() if source.withdrawn else None
    return None if newest is None else int(newest.act.at)


def purge(moment: int) -> dict[str, int]:
    """Take away what was withdrawn 30 days ago with its file, files nobody speaks of, and rows of work long ended."""
    gone = 0
    for source in m.Source.objects.filter(withdrawn=True, purged=False).order_by("id"):
        since = withdrawn_at(source)
        if since is not None and since < moment - KEPT_S:
            with transaction.atomic():
                m.Chunk.objects.filter(source_id=source.uid).delete()
                m.Source.objects.filter(pk=source.pk, withdrawn=True).update(purged=True)
            gone += 1
    known = set(m.Upload.objects.values_list("sha256", flat=True))
    known |= set(m.Source.objects.filter(purged=False).values_list("sha256", flat=True))
    strays = files.stray(known, moment - KEPT_S)
    for path in strays:
        path.unlink(missing_ok=True)
    old = m.Work.objects.filter(ended__lt=moment - _WORK_KEPT_S)
    rows, _ = old.delete()
    return {"sources": gone, "files": len(strays), "work": rows}
