"""`chalaza read FILE --into FOLDER`: the readings of a logger file into the probes of a batch folder."""

import shlex
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from chalaza.cli.terminal import Terminal
from chalaza.errors import FolderError, ReadingError
from chalaza.exchange import Added, add_all
from chalaza.intake.report import REASON_WORDS
from chalaza.values.evidence import Evidence, Probe, Series
from chalaza.words import numbers
from chalaza.words.language import Plural, mark
from chalaza.words.numbers import Voice

if TYPE_CHECKING:
    from chalaza.intake import ProbeLog, Reading, Report

#: Set-aside lines that were never meant as readings.
_NO_ROWS = frozenset({"blank", "comment", "repeated-header", "footer"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """The folder readings go into, what is in it, and which probe was named for what."""

    folder: Path
    evidence: Evidence
    probe: str | None
    pairs: tuple[str, ...]

    @property
    def probes(self) -> Mapping[str, Probe]:
        """The probes of the folder by uid."""
        return {one.uid: one for one in self.evidence.setting.probes}


def goal(folder: Path, probe: str | None, pairs: tuple[str, ...]) -> Goal:
    """The folder, read and sound. Raises `FolderError`, also for a zip and for a probe that is not in it."""
    from chalaza.cli.assess import opened

    if probe is not None and pairs:
        raise click.UsageError("--probe is for a file of one probe, --probe-of for several: give one of them")
    evidence, _ = opened(folder)
    if not folder.is_dir() and folder.name != "datapackage.json":
        raise FolderError("nothing can be added to a zip", given=str(folder), allowed="the folder, unpacked")
    found = Goal(folder=folder, evidence=evidence, probe=probe, pairs=pairs)
    if not found.probes:
        raise FolderError(
            "it has no rows, so there is no probe to add to", file="probes.csv", allowed="a row for the probe"
        )
    if probe is not None:
        _known(found, probe)
    elif not pairs and len(found.probes) > 1:
        raise FolderError(f"there are several probes: {_listed(found)}", allowed="--probe with one of these names")
    return found


def _known(to: Goal, probe: str) -> str:
    if probe not in to.probes:
        near = get_close_matches(probe, to.probes, n=1)
        hint = f"; nearest: {near[0]}" if near else ""
        raise FolderError(f"there is no probe {probe!r}{hint}; there are: {_listed(to)}", file="probes.csv")
    return probe


def _listed(to: Goal) -> str:
    return ", ".join(f"{one.uid} ({one.name})" if one.name != one.uid else one.uid for one in to.probes.values())


def block(report: "Report", file: Path) -> None:
    """Raise `ReadingError` with the questions that must be answered before anything is written."""
    asked = [one for one in report.questions if one.blocking or one.code == "zone"]
    if not asked:
        return
    lines = ["Nothing was written: the file can be read in more than one way."]
    lines += [line for question in asked for line in question.lines()]
    lines.append(f"Answer with --answer CODE=CHOICE. More about the file: chalaza read {shlex.quote(str(file))}")
    raise ReadingError("\n".join(lines))


def chosen(reading: "Reading", to: Goal) -> Mapping[str, "ProbeLog"]:
    """Which readings of the file go to which probe of the folder, by uid.

    Raises `ReadingError` where the file holds several and it was not said which is which, and for names not in it.
    """
    logs = {log.name: log for log in reading.probes}
    if not logs:
        raise ReadingError("the file holds no reading of temperature or humidity: nothing was written")
    if to.pairs:
        return {uid: logs[name] for name, uid in _paired(logs, to).items()}
    if len(logs) > 1:
        named = ", ".join(f"{name} ({len(log)} readings)" for name, log in logs.items())
        raise ReadingError(
            f"the file holds several probes: {named}; the folder has: {_listed(to)}; say which is which, such as "
            f"--probe-of {shlex.quote(f'{next(iter(logs))}={next(iter(to.probes))}')}; those you leave out stay out"
        )
    uid = to.probe if to.probe is not None else next(iter(to.probes))
    return {uid: next(iter(logs.values()))}


def _paired(names: Iterable[str], to: Goal) -> Mapping[str, str]:
    """The pairs NAME=UID as a mapping."""
    found: dict[str, str] = {}
    for text in to.pairs:
        name, equals, uid = text.rpartition("=")
        if not (name.strip() and equals and uid.strip()):
            raise click.BadParameter(f"{text!r} is not NAME=UID, for example Probe 1=display", param_hint="--probe-of")
        if name not in names:
            raise ReadingError(f"the file holds no probe {name!r}; it holds: {', '.join(names)}")
        if name in found or uid in found.values():
            raise ReadingError(f"{text!r} names a probe a second time; pair each probe once")
        found[name] = _known(to, uid)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """What came in for one probe of the folder."""

    uid: str
    name: str
    series: Series
    result: Added


def bring(reading: "Reading", to: Goal) -> tuple[Brought, ...]:
    """Add the readings. Raises `ReadingError` and `FolderError`; then nothing was written."""
    logs = chosen(reading, to)
    series = {uid: log.series() for uid, log in logs.items()}
    done = add_all(to.folder, series)
    return tuple(Brought(uid=uid, name=logs[uid].name, series=series[uid], result=done[uid]) for uid in logs)


def as_json(brought: tuple[Brought, ...], to: Goal, by_batch: bool) -> dict[str, Any]:
    """What came in, as plain values; `zone_from` says whether the zone was that of the batch."""
    return {
        "folder": str(to.folder),
        "zone_from": "batch" if by_batch else "file or option",
        "probes": [{"probe": one.uid, "name": one.name, **asdict(one.result)} for one in brought],
    }


# What is said -----------------------------------------------------------------------------------------------------


def lines(
    reading: "Reading", brought: tuple[Brought, ...], to: Goal, file: Path, *, by_batch: bool, t: Terminal
) -> Iterable[str]:
    """What came in and what did not, for a terminal."""
    voice = Voice(zone=to.evidence.batch.zone, set_at=to.evidence.batch.set_at)
    for one in brought:
        yield from _probe_lines(voice, one, to, t)
    yield from t.hung(voice.say(mark("zone")), _zone(voice, reading.report, brought, to, by_batch))
    notes = [*_left(voice, reading, brought, file), *_taken(reading.report), *reading.report.notes]
    for i, note in enumerate(notes):
        yield from t.hung(voice.say(mark("note")) if i == 0 else "", note)
    yield ""
    yield from t.hung(voice.say(mark("next")), voice.say(mark("Ask what to do.")))
    yield " " * (t.axis + 2) + t.shown(f"chalaza assess {shlex.quote(str(to.folder))}")


def _probe_lines(voice: Voice, one: Brought, to: Goal, t: Terminal) -> list[str]:
    result = one.result
    added = Plural(
        mark("{n} reading of {name} came in."), mark("{n} readings of {name} came in."), "n"
    ) if result.added else mark("No reading of {name} is new.")  # fmt: skip
    holes = {"n": f"{result.added:,}", "name": to.probes[one.uid].name, "file": one.name}
    said = [voice.say(added, holes, result.added), _span(voice, one.series)]
    told = (
        (result.same, Plural(mark("{n} stood there already, the same."), mark("{n} stood there already, the same."), "n")),
        (result.filled, Plural(mark("In {n} a figure was missing and was filled in."),
                               mark("In {n} a figure was missing and was filled in."), "n")),
        (result.differing, Plural(mark("{n} differs from what stands there for its second: that stays."),
                                  mark("{n} differ from what stands there for their second: that stays."), "n")),
    )  # fmt: skip
    said += [voice.say(text, {"n": f"{n:,}"}, n) for n, text in told if n]
    total = result.kept + result.added
    text = voice.language.ngettext("The folder holds {n} now.", "The folder holds {n} now.", total)
    said.append(text.format(n=f"{total:,}"))
    if len(one.series) and one.series.t[-1] < voice.set_at:
        late = mark("All of it lies before setting, {set}. Is it the right file, the right zone?")
        said.append(voice.say(late, {"set": numbers.moment(voice, voice.set_at, year=True)}))
    return t.hung(one.uid if len(one.uid) < t.axis else "", " ".join(said))


def _span(voice: Voice, series: Series) -> str:
    """First and last, and between what the figures lie: a wrong unit or column shows here."""
    holes = {
        "first": numbers.moment(voice, int(series.t[0]), year=True),
        "last": numbers.moment(voice, int(series.t[-1]), year=True),
        "figures": ", ".join(_figures(voice, series)),
    }
    return voice.say(mark("They run from {first} to {last}: {figures}."), holes)


def _figures(voice: Voice, series: Series) -> Iterable[str]:
    for column, style, text in (
        (series.temp_degc, "temperature", mark("{span}")),
        (series.rh, "humidity", mark("{span} humidity")),
    ):
        good = column[~np.isnan(column)].astype(np.float64)
        if len(good):
            yield voice.say(text, {"span": numbers.band(voice, float(good.min()), float(good.max()), style)})


def _zone(voice: Voice, report: "Report", brought: tuple[Brought, ...], to: Goal, by_batch: bool) -> str:
    zone = report.zone or ""
    if not by_batch:
        return voice.say(mark("The clock of the logger: {zone}."), {"zone": zone})
    said = [voice.say(mark("The file names no zone. It was read in {zone}, that of the batch."), {"zone": zone})]
    if not any(one.result.kept for one in brought):
        text = mark("Was it another? Empty {files} below the first row, then read again with --zone.")
        files = _files(to, [one.uid for one in brought])
        said.append(voice.say(text, {"files": ", ".join(files)}))
    return " ".join(said)


def _files(to: Goal, uids: Iterable[str]) -> list[str]:
    from chalaza.exchange import readings_files

    listed = readings_files(to.folder)
    return [listed[uid] for uid in uids if uid in listed]


def _left(voice: Voice, reading: "Reading", brought: tuple[Brought, ...], file: Path) -> Iterable[str]:
    """What of the file did not come in: lines set aside with their reasons, probes nobody named."""
    aside = {why: n for why, n in reading.report.rows_rejected.items() if why not in _NO_ROWS and n}
    if aside:
        why = ", ".join(f"{n:,} {REASON_WORDS.get(reason, reason)}" for reason, n in aside.items())
        text = mark("Rows set aside: {why}. More: chalaza read {file}")
        yield voice.say(text, {"why": why, "file": shlex.quote(str(file))})
    for column in reading.report.columns:
        if column.used and column.aside:
            why = ", ".join(f"{n:,} {REASON_WORDS.get(reason, reason)}" for reason, n in column.aside.items())
            text = mark("Figures of column {number} set aside: {why}.")
            yield voice.say(text, {"number": str(column.number), "why": why})
    if reading.report.repeated_times:
        text = mark("Rows with a time that another has too: {n}. Their mean was taken.")
        yield voice.say(text, {"n": f"{reading.report.repeated_times:,}"})
    came = {one.name for one in brought}
    out = [log.name for log in reading.probes if log.name not in came]
    if out:
        yield voice.say(mark("Not brought in: {names}."), {"names": ", ".join(out)})


def _taken(report: "Report") -> Iterable[str]:
    """What was taken without an answer, because only one reading of it is likely."""
    return [question.lines()[0] for question in report.questions]
