"""A file that waits, as far as it was looked at: its questions, its probes, what was answered and what is still wrong."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.http import QueryDict

from chalaza.errors import ChalazaError, EvidenceError, ReadingError
from chalaza.intake.clock import offset_of
from chalaza.intake.likely import Verdict
from chalaza.intake.preview import HEAD_BYTES, Ask, Preview, Way, clocks, pair, preview, settled_by_the_rest
from chalaza.intake.typed import zone_of
from chalaza.pages.logs import ours
from chalaza.records import files, logs, work
from chalaza.records import models as m
from chalaza.words.language import mark

#: Chosen for a probe of the file that is left out; no row is called so.
LEFT_OUT = "-"
#: A clock that is in no list.
OTHER = "other"
CHOOSE, WHICH, NOTHING = (
    mark("Choose one of these."),
    mark("Say which of your probes this is, or leave it out."),
    mark("Keep at least one of the probes of the file, or leave the whole file out."),
)
_NO_MOMENT = mark("This is no day and hour: write it like 2026-03-01T10:00.")
_NO_ZONE = mark("There is no such clock: write a name such as Europe/Paris, or an offset such as +01:00.")
#: Lines from so many places of a large file, and of so many bytes each, are looked at before a question is put.
_SLICES, _EACH_BYTES = 12, 8 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What was answered, as it was sent: codes -> keys, the clock, probes of the file -> ours, `LEFT_OUT` or ""."""

    answers: Mapping[str, str] = field(default_factory=dict)
    zone: str = ""
    other: str = ""
    probes: Mapping[str, str] = field(default_factory=dict)
    remember: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """A file looked at. `refused`: why nothing of it can be read; `problems`: field -> what is wrong with the answer."""

    said: Said
    preview: Preview | None = None
    clock: Ask | None = None
    asks: tuple[Ask, ...] = ()
    names: tuple[str, ...] = ()
    whole: bool = True
    recipe: str = ""
    refused: ChalazaError | None = None
    problems: Mapping[str, str] = field(default_factory=dict)

    @property
    def zone(self) -> str:
        """The clock chosen, or that which stands meanwhile."""
        return self.said.other if self.said.zone == OTHER else self.said.zone


def sent(data: QueryDict) -> Said:
    """What a form says."""
    answers = {name[2:]: str(data[name]).strip() for name in data if name.startswith("q-")}
    names = {name[2:]: str(data[name]) for name in data if name.startswith("n-")}
    return Said(
        answers={code: answer for code, answer in answers.items() if answer}, zone=data.get("zone", ""),
        other=data.get("zone_other", "").strip(), remember="remember" in data,
        probes={name: data.get(f"p-{at}", "") for at, name in names.items()},
    )  # fmt: skip


def kept(upload: "m.Upload") -> Said | None:
    """What was answered the last time this file was to be read."""
    done = m.Work.objects.filter(uid=upload.work).first() if upload.work else None
    if done is None:
        return None
    given = done.arguments
    probes = {name: uid or LEFT_OUT for name, uid in given["probes"].items()}
    return Said(answers=given["answers"], zone=given["zone"], probes=probes, remember=given["remember"])


def seen(keeper: "m.Keeper", upload: "m.Upload", now: int, said: Said | None, *, check: bool) -> Seen:
    """Look at a file. `said`: what was answered; else what was the last time, or for files of its look. `check`: find
    what is still wrong."""
    try:
        return _seen(keeper, upload, now, said, check=check)
    except (ReadingError, files.FileRefused) as refused:
        return Seen(said=said or Said(), refused=refused)


def _seen(keeper: "m.Keeper", upload: "m.Upload", now: int, said: Said | None, *, check: bool) -> Seen:
    head = files.head(upload.sha256, HEAD_BYTES)
    given = said or kept(upload)
    zones = ours.zones(keeper, now)
    recipe = None
    if given is None:
        look = preview(head, {}, zones[0], now).reading.report.look
        if (recipe := logs.recipe_for(look)) is not None:
            probes = {name: uid or LEFT_OUT for name, uid in recipe.probes.items()}
            given = Said(answers=recipe.answers, zone=recipe.zone, probes=probes, remember=True)
    given = given or Said()
    problems: dict[str, str] = {}
    zone = _zone(given, zones[0], problems)
    seen_ = _looked(head, upload, _without_bad_start(given, problems), zone, now)
    listed = tuple(dict.fromkeys([zone, *zones] if given.zone and given.zone != OTHER else zones))
    clock = clocks(head, seen_.settled, listed, given.zone, now)
    asks = (*seen_.asks, *_of_the_whole(upload, seen_, given))
    names = _names(upload, seen_)
    given = _completed(given, clock, names, ours.probes_named())
    if check:
        problems |= _wrong(given, asks, clock, names)
    return Seen(
        said=given, preview=seen_, clock=clock, asks=asks, names=names, whole=upload.size <= HEAD_BYTES,
        recipe=recipe.name if recipe is not None else "", problems=problems,
    )  # fmt: skip


def _zone(said: Said, usual: str, problems: dict[str, str]) -> str:
    """The clock to read by; one that is none is a problem, and the usual one stands meanwhile."""
    given = said.other if said.zone == OTHER else said.zone
    if not given:
        if said.zone == OTHER:
            problems["zone"] = _NO_ZONE
        return usual
    try:
        if offset_of(given) is None:
            zone_of(given)
    except (ReadingError, EvidenceError):
        problems["zone"] = _NO_ZONE
        return usual
    return given


def _without_bad_start(said: Said, problems: dict[str, str]) -> Said:
    """What was answered, without a day and hour that is none: that is a problem, and what was typed stays in the form."""
    given = said.answers.get("start")
    if not given:
        return said
    try:
        datetime.fromisoformat(given)
    except ValueError:
        problems["start"] = _NO_MOMENT
        return replace(said, answers={code: answer for code, answer in said.answers.items() if code != "start"})
    return said


def _looked(head: bytes, upload: "m.Upload", said: Said, zone: str, now: int) -> Preview:
    """The first bytes looked at; of a large file, questions that the rest of it settles are not put."""
    spans = [(start, end) for start, end, _ in ours.batches(now)]
    first = preview(head, said.answers, zone, now, spans)
    if upload.size <= HEAD_BYTES or not any(ask.blocking for ask in first.asks):
        return first
    rest = files.spread(upload.sha256, HEAD_BYTES // 2, _SLICES, _EACH_BYTES)
    settled = settled_by_the_rest(rest, first.asks, zone)
    if not settled:
        return first
    return preview(head, {**said.answers, **settled}, zone, now, spans, decided=frozenset(settled))


def _result(upload: "m.Upload") -> Mapping[str, Any]:
    """What reading the whole file came to, if questions were left."""
    done = m.Work.objects.filter(uid=upload.work, state=work.State.DONE).first() if upload.work else None
    return (done.result or {}) if done is not None else {}


def _of_the_whole(upload: "m.Upload", first: Preview, said: Said) -> list[Ask]:
    """Questions that came up only when the whole file was read."""
    result = _result(upload)
    known = {ask.code for ask in first.asks}
    return [
        Ask(
            code=one["code"], words=one["words"], blocking=True, free=one["free"] or "", likely=Verdict(),
            chosen=said.answers.get(one["code"], ""),
            ways=tuple(
                Way(key=each["key"], words=each["words"], examples=tuple(pair(line) for line in each["preview"]))
                for each in one["options"]
            ),
        )
        for one in result.get("report", {}).get("questions", ())
        if one["code"] in result.get("asks", ()) and one["code"] not in known
    ]  # fmt: skip


def _names(upload: "m.Upload", first: Preview) -> tuple[str, ...]:
    """The probes of the file by name, those that were found only in the whole of it too."""
    result = _result(upload)
    more = [str(one) for one in result.get("unnamed", ())]
    return tuple(dict.fromkeys([*(log.name for log in first.reading.probes), *more]))


def _completed(said: Said, clock: Ask | None, names: tuple[str, ...], there: Mapping[str, str]) -> Said:
    """What was said, and where it is clear what is meant, that."""
    zone = said.zone or (clock.likely.key if clock is not None else "")
    probes = {name: said.probes.get(name, "") for name in names}
    probes = {name: uid if uid in there or uid == LEFT_OUT else "" for name, uid in probes.items()}
    if len(names) == 1 and len(there) == 1 and not probes[names[0]]:
        probes[names[0]] = next(iter(there))
    for name, chosen in probes.items():
        alike = [uid for uid, own in there.items() if own.casefold() == name.casefold()]
        if not chosen and len(alike) == 1:
            probes[name] = alike[0]
    return replace(said, zone=zone, probes=probes)


def _wrong(said: Said, asks: tuple[Ask, ...], clock: Ask | None, names: tuple[str, ...]) -> dict[str, str]:
    """What has not been answered."""
    found = {ask.code: CHOOSE for ask in asks if ask.blocking and not said.answers.get(ask.code)}
    if clock is not None and not said.zone:
        found["zone"] = CHOOSE
    for name in names:
        if not said.probes.get(name):
            found[f"probe {name}"] = WHICH
    chosen = [uid for uid in said.probes.values() if uid and uid != LEFT_OUT]
    if names and not chosen and not any(key.startswith("probe ") for key in found):
        found["probes"] = NOTHING
    for name, uid in said.probes.items():
        if uid != LEFT_OUT and chosen.count(uid) > 1:
            found[f"probe {name}"] = mark("Two probes of the file are named as this one: keep one of them.")
    return found
