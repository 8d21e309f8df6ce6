"""Reading an open batch folder, or a zip of it, into `Evidence` and `Beliefs`."""

import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Any

from chalaza.errors import FolderError
from chalaza.exchange import beliefs as belief_rows
from chalaza.exchange import package, readings
from chalaza.exchange.cells import Refused, allowed, value_of
from chalaza.exchange.check import check
from chalaza.exchange.lines import records
from chalaza.exchange.problems import Problems
from chalaza.exchange.schema import BELIEFS, DESCRIPTOR, MAX_READINGS, MAX_ROWS, TABLES, Spec, Table, specs
from chalaza.exchange.source import Folder, Place, Source, opened_zip
from chalaza.values.beliefs import Beliefs
from chalaza.values.evidence import Evidence, Series, Setting

Read = tuple[Evidence, Beliefs | None]
Numbered = list[tuple[int, Any]]


def read(place: Place) -> Read:
    """The evidence of a batch and the beliefs it was assessed with, from a folder, its descriptor, or a zip.

    Raises `FolderError`, `FolderErrors` for several faults: each says file, row, field, what was given and allowed.
    """
    if isinstance(place, (str, os.PathLike)):
        path = Path(place)
        if path.is_dir():
            return read_folder(path)
        if path.name == DESCRIPTOR:
            return read_folder(path.parent)
    return read_zip(place)


def read_folder(path: str | os.PathLike[str]) -> Read:
    """As `read`, from a folder. Files that `datapackage.json` does not name are left alone (`left_out` lists them)."""
    return _read(Folder(Path(path)))


def read_zip(place: Place) -> Read:
    """As `read`, from a zip by its path or open file. Members are read in place; nothing is extracted."""
    with opened_zip(place) as archive:
        return _read(archive)


def left_out(path: str | os.PathLike[str]) -> tuple[str, ...]:
    """Names of what lies in a folder and is not read, since `datapackage.json` does not name it. Raises `FolderError`."""
    folder = Folder(Path(path))
    files = _listed(folder).files
    return tuple(name for name in folder.names if name not in files)


def _read(source: Source) -> Read:
    listed = _listed(source)
    problems = Problems()
    rows: dict[str, Numbered] = {}
    for name in (*TABLES, BELIEFS.name):
        if name in listed.tables:
            room = MAX_ROWS - sum(map(len, rows.values()))
            rows[name] = _table(source, TABLES.get(name, BELIEFS), room, problems)
    believed = rows.pop(BELIEFS.name, None)
    problems.settle()
    check(rows, problems)
    belief_rows.check(believed or (), problems)
    _check_probes(listed.series, rows.get("probes", []), problems)
    problems.settle()
    series: dict[str, Series] = {}
    for probe, file in listed.series.items():
        with source.open(file) as stream:
            series[probe] = readings.read(stream, file, MAX_READINGS - sum(map(len, series.values())))
    beliefs = None if believed is None else belief_rows.beliefs_of([row for _, row in believed])
    return _evidence({name: tuple(row for _, row in rows.get(name, [])) for name in TABLES}, series), beliefs


def _listed(source: Source) -> package.Listed:
    if DESCRIPTOR not in source.names:
        raise FolderError("is missing", file=DESCRIPTOR, allowed="a data package that names the tables")
    with source.open(DESCRIPTOR) as stream:
        text = stream.read(package.MAX_BYTES + 1)
    if len(text) > package.MAX_BYTES:
        raise FolderError("too long", file=DESCRIPTOR, allowed=f"{package.MAX_BYTES:,} bytes")
    listed = package.listed(text)
    for file in sorted(listed.files):
        if file not in source.names:
            raise FolderError(f"named in {DESCRIPTOR} and missing", file=file, allowed="the file")
    for name in source.names:
        if package.is_known(name) and name not in listed.files:
            raise FolderError(f"not named in {DESCRIPTOR}, so not read", file=name, allowed="each table named there")
    for table in TABLES.values():
        if table.single and table.name not in listed.tables:
            raise FolderError(f"not named in {DESCRIPTOR}", file=table.file, allowed="exactly one row")
    return listed


def _table(source: Source, table: Table, room: int, problems: Problems) -> Numbered:
    with source.open(table.file) as stream:
        rows = records(stream, table.file)
        order = _header(table, next(rows, (1, []))[1], problems)
        return [] if order is None else _rows(table, order, rows, room, problems)


def _header(table: Table, header: Sequence[str], problems: Problems) -> Sequence[Spec] | None:
    """The columns in the order of the file; None if they cannot be told."""
    known = {spec.name: spec for spec in specs(table)}
    wrong = False
    for name in dict.fromkeys(header):
        problem = "no such column" if name not in known else "a column twice" if header.count(name) > 1 else ""
        if problem:
            wrong = True
            problems.add(problem, file=table.file, row=1, given=name, allowed=", ".join(known))
    for spec in known.values():
        if spec.required and spec.name not in header:
            wrong = True
            problems.add("a column is missing", file=table.file, row=1, field=spec.name, allowed=allowed(spec))
    return None if wrong else [known[name] for name in header]


def _rows(
    table: Table, order: Sequence[Spec], rows: Iterable[tuple[int, list[str]]], room: int, problems: Problems
) -> Numbered:
    found: Numbered = []
    for number, cells in rows:
        if len(found) >= room:
            raise FolderError("too many rows", file=table.file, row=number, allowed=f"{MAX_ROWS:,} in all tables")
        if len(cells) != len(order):
            problems.add(
                "more or fewer cells than columns",
                file=table.file,
                row=number,
                given=f"{len(cells)} cells",
                allowed=str(len(order)),
            )
            continue
        values = _values(table, number, zip(order, cells, strict=True), problems)
        if len(values) == len(order):
            found.append((number, table.row(**values)))
    return found


def _values(table: Table, number: int, cells: Iterable[tuple[Spec, str]], problems: Problems) -> Mapping[str, Any]:
    values = {}
    for spec, cell in cells:
        try:
            values[spec.name] = value_of(spec, cell)
        except Refused as fault:
            problems.add(str(fault), file=table.file, row=number, field=spec.name, given=cell, allowed=allowed(spec))
    return values


def _check_probes(series: Mapping[str, str], probes: Numbered, problems: Problems) -> None:
    known = {probe.uid for _, probe in probes}
    for probe, file in series.items():
        if probe not in known:
            problems.add(
                f"readings of a probe that is not in {TABLES['probes'].file}",
                file=file,
                given=probe,
                allowed=", ".join(sorted(known)) or "none, for that file has no rows",
            )


def _evidence(rows: Mapping[str, tuple[Any, ...]], series: Mapping[str, Series]) -> Evidence:
    setting: dict[str, Any] = {"series": MappingProxyType(dict(series))}
    whole: dict[str, Any] = {}
    for name, table in TABLES.items():
        for home in table.homes:
            of_setting, _, field = home.rpartition(".")
            found = rows[name] if len(table.homes) == 1 else _share(rows[name], of_setting != "")
            (setting if of_setting else whole)[field] = found[0] if table.single else found
    return Evidence(setting=Setting(**setting), **whole)


def _share(events: tuple[Any, ...], of_machines: bool) -> tuple[Any, ...]:
    """Events are one table: those of a machine belong to the setting, the others to the batch."""
    return tuple(event for event in events if (event.machine is not None) == of_machines)
