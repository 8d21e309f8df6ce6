"""`datapackage.json`: made from the tables, and looked at with suspicion when read.

Standard: Data Package and Table Schema (specs.frictionlessdata.io, version 1). Ours alone is what the standard leaves
free: the properties `format_version`, `formula_rule`, `probe` (whose readings a file holds) and `unit`.
"""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from chalaza.errors import FolderError
from chalaza.exchange import schema
from chalaza.exchange.cells import FORMULA_RULE, stamp
from chalaza.exchange.schema import BELIEFS, DESCRIPTOR, FORMAT_VERSION, READINGS, SERIES, TABLES, Sort, Spec, Table
from chalaza.values.evidence import Batch

MAX_BYTES = 4_000_000
_READINGS_FILE = re.compile(rf"{READINGS}[A-Za-z0-9][A-Za-z0-9._-]{{0,80}}\.csv")
_PLAIN = re.compile(r"[a-z0-9][a-z0-9_-]{0,39}")
_DIALECT = {"delimiter": ",", "quoteChar": '"', "doubleQuote": True, "lineTerminator": "\n", "header": True}


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """What a `datapackage.json` names: files of tables by table name, files of readings by uid of the probe."""

    tables: Mapping[str, str]
    series: Mapping[str, str]

    @property
    def files(self) -> frozenset[str]:
        """All files named, the descriptor itself among them."""
        return frozenset((*self.tables.values(), *self.series.values(), DESCRIPTOR))


def slug(uid: str) -> str:
    """A name for files that is safe on every disk, and another for every uid, also where capitals are not told apart."""
    if _PLAIN.fullmatch(uid):
        return uid
    kept = re.sub(r"[^a-z0-9]+", "-", uid.lower()).strip("-")[:40]
    return f"{kept or 'x'}.{sha256(uid.encode()).hexdigest()[:16]}"


def is_known(name: str) -> bool:
    """Whether a file of this name may belong to a folder."""
    tables = {table.file for table in (*TABLES.values(), BELIEFS)}
    return name == DESCRIPTOR or name in tables or _READINGS_FILE.fullmatch(name) is not None


def descriptor(batch: Batch, probes: Sequence[str], with_beliefs: bool) -> bytes:
    """The text of `datapackage.json`, the same bytes for the same batch; `probes`: uids of those with readings."""
    tables = [*TABLES.values(), *([BELIEFS] if with_beliefs else [])]
    package = {
        "profile": "tabular-data-package",
        "name": f"batch-{slug(batch.uid)}",
        "title": batch.name,
        "description": "One batch of eggs with all its evidence. Moments are ISO 8601 in UTC. " + FORMULA_RULE,
        "format_version": FORMAT_VERSION,
        "formula_rule": FORMULA_RULE,
        "resources": [*(_resource(table, table.name) for table in tables), *map(_readings, probes)],
    }
    return _written(package)


def with_readings(text: bytes, probes: Sequence[str]) -> bytes:
    """A `datapackage.json` that names the readings of more probes as well; all else in it stays. Raises `FolderError`."""
    package = dict(_parsed(text))
    package["resources"] = [*package["resources"], *map(_readings, probes)]
    return _written(package)


def _written(package: Mapping[str, Any]) -> bytes:
    return (json.dumps(package, ensure_ascii=False, indent=1) + "\n").encode()


def _readings(probe: str) -> Mapping[str, Any]:
    resource = _resource(SERIES, READINGS + slug(probe))
    return {**resource, "probe": probe}


def _resource(table: Table, name: str) -> Mapping[str, Any]:
    return {
        "name": name,
        "path": f"{name}.csv",
        "profile": "tabular-data-resource",
        "description": table.help,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": _DIALECT,
        "schema": _table_schema(table),
    }


def _table_schema(table: Table) -> Mapping[str, Any]:
    specs = schema.specs(table)
    keys = [spec.name for spec in specs if spec.sort is Sort.UID] or [specs[0].name]
    references = [
        {"fields": [spec.name], "reference": {"resource": spec.field.ref, "fields": ["uid"]}}
        for spec in specs
        if spec.field.ref and not spec.many
    ]
    made: dict[str, Any] = {"fields": [_field(spec) for spec in specs], "missingValues": [""], "primaryKey": keys}
    if references:
        made["foreignKeys"] = references
    return made


def _field(spec: Spec) -> Mapping[str, Any]:
    made: dict[str, Any] = {"name": spec.name, "type": spec.sort.type_name, "description": spec.field.help}
    if spec.unit:
        made["unit"] = spec.unit
    constraints = dict(_constraints(spec))
    if constraints:
        made["constraints"] = constraints
    return made


def _constraints(spec: Spec) -> Iterator[tuple[str, Any]]:
    if spec.required:
        yield "required", True
    if spec.choices:
        yield "enum", list(spec.choices)
    if spec.sort is Sort.UID:
        yield "pattern", rf"'?\S{{1,{schema.MAX_UID}}}"
    if spec.span is not None:
        low, high = spec.span.low, spec.span.high
        if spec.sort is Sort.MOMENT:
            yield from (("minimum", stamp(int(low))), ("maximum", stamp(int(high))))
        elif spec.sort is Sort.WHOLE:
            yield from (("minimum", int(low)), ("maximum", int(high)))
        else:
            yield from (("minimum", low), ("maximum", high))


def listed(text: bytes) -> Listed:
    """What a `datapackage.json` names. Raises `FolderError` for what is no such thing, or names what we do not open."""
    package = _parsed(text)
    version = package.get("format_version", FORMAT_VERSION)
    if version != FORMAT_VERSION:
        raise _wrong("another version of the folder", "format_version", version, str(FORMAT_VERSION))
    resources = package.get("resources")
    if not isinstance(resources, list) or not resources:
        raise _wrong("names no files", "resources", resources, "a list of resources")
    tables: dict[str, str] = {}
    series: dict[str, str] = {}
    for resource in resources:
        name, file = _named(resource)
        owner, goal = (_probe(resource, name), series) if name.startswith(READINGS) else (name, tables)
        if owner in goal:
            raise _wrong("named twice", "resources", owner, "each table and each probe once")
        goal[owner] = file
    return Listed(tables=tables, series=series)


def _parsed(text: bytes) -> Mapping[str, Any]:
    try:
        package = json.loads(text.decode("utf-8-sig"))
    except (ValueError, RecursionError) as fault:
        raise FolderError(f"not readable as JSON ({fault})", file=DESCRIPTOR, allowed="a data package") from None
    if not isinstance(package, dict):
        raise FolderError("not a data package", file=DESCRIPTOR, allowed="a JSON object with resources")
    return package


def _named(resource: Any) -> tuple[str, str]:
    """Name and file of one resource, after all that the standard allows and this folder does not."""
    if not isinstance(resource, dict):
        raise _wrong("not a resource", "resources", resource, "an object with name and path")
    path, name = resource.get("path"), resource.get("name")
    _check_path(path)
    if not isinstance(path, str) or not is_known(path) or path == DESCRIPTOR:
        tables = ", ".join(table.file for table in (*TABLES.values(), BELIEFS))
        raise _wrong("no file of this format", "path", path, f"{tables}, readings_<probe>.csv")
    if name != path.removesuffix(".csv"):
        raise _wrong("not the name of its file", "name", name, path.removesuffix(".csv"))
    _check_plain(resource)
    return path.removesuffix(".csv"), path


def _check_path(path: Any) -> None:
    if not isinstance(path, str):
        raise _wrong("not the path of one file", "path", path, "a file name")
    if "://" in path or path.startswith(("/", "\\", "~")) or re.match(r"[A-Za-z]:", path) or ".." in path:
        raise _wrong("a path that leads out of the folder", "path", path, "a file name without a folder")
    if "/" in path or "\\" in path:
        raise _wrong("a path into another folder", "path", path, "a file name without a folder")


def _check_plain(resource: Mapping[str, Any]) -> None:
    """Refuse ways of writing a table that the standard knows and this reader does not, rather than misread it."""
    fields, dialect = resource.get("schema"), resource.get("dialect")
    fields, dialect = (given if isinstance(given, dict) else {} for given in (fields, dialect))
    wanted = (
        ("encoding", resource.get("encoding", "utf-8"), ("utf-8", "UTF-8", "utf8", "utf-8-sig")),
        ("compression", resource.get("compression"), (None, "no", "")),
        ("delimiter", dialect.get("delimiter", ","), (",",)),
        ("quoteChar", dialect.get("quoteChar", '"'), ('"',)),
        ("header", dialect.get("header", True), (True,)),
        ("missingValues", fields.get("missingValues", [""]), ([""],)),
    )
    for field, given, may in wanted:
        if given not in may:
            raise _wrong("a table in another form", field, given, str(may[0] or "none"))


def _probe(resource: Mapping[str, Any], name: str) -> str:
    probe = resource.get("probe", name.removeprefix(READINGS))
    if not isinstance(probe, str) or not probe:
        raise _wrong("names no probe", "probe", probe, "uid of a row of probes.csv")
    return probe


def _wrong(problem: str, field: str, given: Any, may: str) -> FolderError:
    shown = given if isinstance(given, str) else json.dumps(given, ensure_ascii=True, default=str)
    return FolderError(problem, file=DESCRIPTOR, field=field, given=shown[:80], allowed=may)
