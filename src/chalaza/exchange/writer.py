"""Writing `Evidence` and `Beliefs` as an open batch folder or a zip of it: whole or not at all, always the same bytes."""

import os
import shutil
import uuid
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from operator import attrgetter
from pathlib import Path
from typing import Any, BinaryIO

from chalaza.errors import FolderError
from chalaza.exchange import beliefs as belief_rows
from chalaza.exchange import package, readings
from chalaza.exchange.cells import Refused, allowed, text_of
from chalaza.exchange.check import check
from chalaza.exchange.lines import line
from chalaza.exchange.problems import Problems
from chalaza.exchange.schema import BELIEFS, DESCRIPTOR, MAX_READINGS, MAX_ROWS, READINGS, TABLES, Table, specs
from chalaza.exchange.source import FREE_BYTES, MAX_BYTES, MAX_MEMBERS, MAX_RATIO
from chalaza.values.beliefs import Beliefs
from chalaza.values.evidence import Evidence

#: A zip knows no time before this; a fixed one keeps the bytes the same.
_ZIP_TIME = (1980, 1, 1, 0, 0, 0)
_PLAIN_FILE = 0o100644 << 16
_UNIX = 3

#: What makes the bytes of each file, anew at every call.
Files = Mapping[str, Callable[[], Iterable[bytes]]]


def write_folder(path: str | os.PathLike[str], evidence: Evidence, beliefs: Beliefs | None = None) -> None:
    """Write a new folder at `path`: under another name first, then renamed, so that it is whole or not there.

    Raises `FolderError` for what could not be read again, and if `path` is there already and not an empty folder.
    """
    goal = Path(path)
    if goal.is_symlink() or (goal.exists() and not (goal.is_dir() and not any(goal.iterdir()))):
        raise FolderError("something is there already", given=str(goal), allowed="a new name, or an empty folder")
    files = _files(evidence, beliefs)
    part = _part(goal)
    part.mkdir(parents=True)
    try:
        size = 0
        for name, data in files.items():
            with open(part / name, "xb") as file:
                size += sum(file.write(chunk) for chunk in data())
        _bearable("bytes", size, MAX_BYTES)
        if goal.exists():
            goal.rmdir()
        part.rename(goal)
    finally:
        shutil.rmtree(part, ignore_errors=True)


def write_zip(place: str | os.PathLike[str] | BinaryIO, evidence: Evidence, beliefs: Beliefs | None = None) -> None:
    """Write a zip to a path (whole or not at all, in place of a file already there) or to an open file.

    Raises `FolderError` for what could not be read again.
    """
    files = _files(evidence, beliefs)
    if len(files) > MAX_MEMBERS:
        raise FolderError("too many files for a zip", given=str(len(files)), allowed=f"{MAX_MEMBERS}; write a folder")
    if not isinstance(place, (str, os.PathLike)):
        _zip(place, files)
        return
    goal = Path(place)
    part = _part(goal)
    part.parent.mkdir(parents=True, exist_ok=True)
    try:
        with open(part, "xb") as file:
            _zip(file, files)
        part.replace(goal)
    finally:
        part.unlink(missing_ok=True)


def _part(goal: Path) -> Path:
    return goal.with_name(f".{goal.name}.{uuid.uuid4().hex[:8]}.part")


def _zip(file: BinaryIO, files: Files) -> None:
    """Pack; and store instead where packing is so good that a careful reader takes it for an attack."""
    start = file.tell()
    unpacked = _packed(file, files, zipfile.ZIP_DEFLATED)
    if unpacked > max(FREE_BYTES, MAX_RATIO * (file.tell() - start)):
        file.seek(start)
        file.truncate()
        _packed(file, files, zipfile.ZIP_STORED)


def _packed(file: BinaryIO, files: Files, compression: int) -> int:
    with zipfile.ZipFile(file, "w", compression) as archive:
        for name, data in files.items():
            member = zipfile.ZipInfo(name, _ZIP_TIME)
            member.compress_type, member.external_attr, member.create_system = compression, _PLAIN_FILE, _UNIX
            with archive.open(member, "w") as stream:
                for chunk in data():
                    stream.write(chunk)
        unpacked = sum(member.file_size for member in archive.infolist())
    _bearable("bytes", unpacked, MAX_BYTES)
    return unpacked


def _bearable(what: str, count: int, most: int) -> None:
    if count > most:
        raise FolderError(f"too many {what}", given=f"{count:,}", allowed=f"{most:,} in all")


def _files(evidence: Evidence, beliefs: Beliefs | None) -> Files:
    """Everything but the readings is text already when this returns, so that faults show before anything is written."""
    problems = Problems()
    rows = {name: tuple(enumerate(_rows_of(evidence, table), start=2)) for name, table in TABLES.items()}
    believed = None if beliefs is None else tuple(enumerate(belief_rows.rows_of(beliefs), start=2))
    _bearable("rows", sum(map(len, (*rows.values(), believed or ()))), MAX_ROWS)
    _bearable("readings", sum(map(len, evidence.setting.series.values())), MAX_READINGS)
    texts = {table.file: _text(table, rows[name], problems) for name, table in TABLES.items()}
    if believed is not None:
        texts[BELIEFS.file] = _text(BELIEFS, believed, problems)
    problems.settle()
    check(rows, problems)
    belief_rows.check(believed or (), problems)
    _check_setting(evidence, problems)
    problems.settle()
    if beliefs is not None and believed is not None:
        belief_rows.check_kept(beliefs, believed, problems)
        problems.settle()
    series = evidence.setting.series
    text = package.descriptor(evidence.batch, list(series), beliefs is not None)
    files: dict[str, Callable[[], Iterable[bytes]]] = {DESCRIPTOR: partial(tuple, (text,))}
    files |= {file: partial(tuple, (made,)) for file, made in texts.items()}
    for probe, readings_of in series.items():
        file = f"{READINGS}{package.slug(probe)}.csv"
        files[file] = partial(readings.chunks, readings_of, file)
    return files


def _rows_of(evidence: Evidence, table: Table) -> tuple[Any, ...]:
    found = tuple(attrgetter(home)(evidence) for home in table.homes)
    return found if table.single else tuple(row for rows in found for row in rows)


def _text(table: Table, numbered: Sequence[tuple[int, Any]], problems: Problems) -> bytes:
    header = line(spec.name for spec in specs(table))
    return "".join([header, *(line(_cells(table, number, row, problems)) for number, row in numbered)]).encode()


def _cells(table: Table, number: int, row: Any, problems: Problems) -> list[str]:
    cells = []
    for spec in specs(table):
        value = getattr(row, spec.name)
        try:
            cells.append(text_of(spec, value))
        except Refused as fault:
            problems.add(
                str(fault), file=table.file, row=number, field=spec.name, given=str(value), allowed=allowed(spec)
            )
    return cells


def _check_setting(evidence: Evidence, problems: Problems) -> None:
    """What a folder cannot tell: events in the wrong place, readings of no probe."""
    table = TABLES["events"]
    for number, event in enumerate(_rows_of(evidence, table), start=2):
        if (event.machine is not None) != (number - 2 < len(evidence.setting.events)):
            problems.add(
                "an event of a machine belongs to the setting, any other to the batch",
                file=table.file,
                row=number,
                field="machine",
                given=event.machine or "",
                allowed="a machine in the events of the setting, none in those of the batch",
            )
    probes = {probe.uid for probe in evidence.setting.probes}
    for probe in evidence.setting.series:
        if probe not in probes:
            file = f"{READINGS}{package.slug(probe)}.csv"
            problems.add("readings of a probe that is not in probes.csv", file=file, given=probe, allowed="a probe")
