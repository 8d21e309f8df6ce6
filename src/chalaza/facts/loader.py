"""One reader for every table of facts: it refuses what it does not know instead of guessing.

A table is a CSV file in `tables/` with one row a fact; its columns stand in `schema.SPECS`. Row numbers in errors are
lines of the file, the header being line 1. An empty cell means unknown and is allowed only where the schema says so.
"""

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from math import isfinite
from re import fullmatch
from types import MappingProxyType
from typing import TYPE_CHECKING

from chalaza.errors import TableError
from chalaza.facts.schema import SHAPES, SPECS, STATUSES, Column, Spec

if TYPE_CHECKING:
    from importlib.resources.abc import Traversable

Row = Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where figures come from. `status` is `checked` if the page or abstract was seen; `grade` A science, B trade, C web."""

    key: str
    cite: str
    url: str
    status: str
    grade: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What cells may refer to: the keys of kinds, groups, units and sources."""

    kinds: frozenset[str]
    groups: frozenset[str]
    units: frozenset[str]
    sources: Mapping[str, Source]


_NOTHING = Known(kinds=frozenset(), groups=frozenset(), units=frozenset(), sources=MappingProxyType({}))


def parse(name: str, text: str, spec: Spec, known: Known) -> tuple[Row, ...]:
    """The rows of one table, checked. Raises `TableError` with table, line and problem."""
    lines = list(csv.reader(text.splitlines()))
    names = [column.name for column in spec.columns]
    if not lines or lines[0] != names:
        raise TableError(name, 1, f"columns are {lines[0] if lines else []}; they must be {names}")
    rows: list[Row] = []
    seen: dict[tuple[str, ...], int] = {}
    for number, cells in enumerate(lines[1:], start=2):
        if len(cells) != len(names):
            raise TableError(name, number, f"{len(cells)} cells, but {len(names)} columns")
        row = dict(zip(names, cells, strict=True))
        _check_row(name, number, row, spec, known)
        key = tuple(row[column] for column in spec.key)
        if key in seen:
            raise TableError(name, number, f"says again what row {seen[key]} says: {', '.join(filter(None, key))}")
        seen[key] = number
        rows.append(MappingProxyType(row))
    return tuple(rows)


def _check_row(name: str, number: int, row: dict[str, str], spec: Spec, known: Known) -> None:
    for column in spec.columns:
        cell = row[column.name]
        if cell != cell.strip():
            raise TableError(name, number, f"blanks around {cell!r} in '{column.name}'")
        if cell:
            _check_cell(name, number, column, cell, known)
        elif not column.optional:
            raise TableError(name, number, f"'{column.name}' is empty")
    _check_span(name, number, row)
    if row.get("status") and row.get("source"):
        _check_standing(name, number, row, known)


def _check_cell(name: str, number: int, column: Column, cell: str, known: Known) -> None:
    match column.type:
        case "text":
            return
        case "number":
            if not _is_number(cell):
                raise TableError(name, number, f"{cell!r} in '{column.name}' is not a number")
            return
        case "slug":
            if not fullmatch(r"[a-z0-9_.]+", cell):
                raise TableError(name, number, f"{cell!r} in '{column.name}' is not a key (small letters, digits, _)")
            return
        case "status":
            allowed, words = STATUSES, [cell]
        case "shape":
            allowed, words = frozenset(SHAPES), [cell]
        case "unit":
            allowed, words = known.units, [cell]
        case "kind":
            allowed, words = known.kinds, [cell]
        case "subject":
            allowed, words = known.kinds | known.groups, cell.split()
        case "source":
            allowed, words = frozenset(known.sources), cell.split()
        case other:
            raise TableError(name, number, f"the schema has no type {other!r}")
    strangers = [word for word in words if word not in allowed]
    if strangers:
        raise TableError(name, number, f"unknown {column.type} {strangers[0]!r} in '{column.name}'")
    if len(set(words)) < len(words):
        raise TableError(name, number, f"'{column.name}' names the same {column.type} twice")


def _is_number(cell: str) -> bool:
    try:
        return isfinite(float(cell))
    except ValueError:
        return False


def _check_span(name: str, number: int, row: dict[str, str]) -> None:
    middle = "typical" if "typical" in row else "best"
    span = [(key, float(row[key])) for key in ("low", middle, "high") if row.get(key)]
    for (left, low), (right, high) in pairwise(span):
        if low > high:
            raise TableError(name, number, f"impossible span: {left} {low:g} is above {right} {high:g}")


def _check_standing(name: str, number: int, row: dict[str, str], known: Known) -> None:
    """A row stands no better than its sources: `checked` needs a checked one, `practice` one of practice."""
    status = row["status"]
    if status in ("checked", "practice") and not any(
        known.sources[key].status == status for key in row["source"].split()
    ):
        raise TableError(name, number, f"status {status!r} without a source of that status: {row['source']}")


def parse_sources(text: str) -> Mapping[str, Source]:
    """The sources of `sources.toml`: slug -> `Source`. Raises `TableError` for missing or strange fields."""
    import tomllib  # here and below, so that importing the facts stays quick

    found = {}
    for key, entry in tomllib.loads(text).items():
        extra = set(entry) - {"cite", "url", "status", "grade"}
        if extra or not entry.get("cite"):
            raise TableError(
                "sources.toml", None, f"[{key}] " + (f"has no field {min(extra)!r}" if extra else "has no cite")
            )
        if entry.get("status") not in STATUSES:
            raise TableError("sources.toml", None, f"[{key}] unknown status {entry.get('status')!r}")
        found[key] = Source(
            key=key, cite=entry["cite"], url=entry.get("url", ""), status=entry["status"], grade=entry.get("grade", "")
        )
    return MappingProxyType(found)


def _folder() -> "Traversable":
    from importlib.resources import files

    return files("chalaza.facts") / "tables"


def _text(file: str) -> str:
    try:
        return (_folder() / file).read_text(encoding="utf-8")
    except FileNotFoundError:
        raise TableError(file, None, "the table is missing from the package") from None


@cache
def sources() -> Mapping[str, Source]:
    """Every source the tables and the physics may name, by key."""
    return parse_sources(_text("sources.toml"))


@cache
def known() -> Known:
    """The keys that cells of the other tables may use."""
    from chalaza.units import UNITS  # here, because it brings numpy along

    units = _bare("units", _NOTHING)
    kinds = frozenset(row["kind"] for row in _bare("kinds", _NOTHING))
    groups = _bare("kind_groups", Known(kinds=kinds, groups=frozenset(), units=frozenset(), sources={}))
    return Known(
        kinds=kinds,
        groups=frozenset(row["group"] for row in groups),
        units=UNITS | {row["unit"] for row in units},
        sources=sources(),
    )


def _bare(name: str, so_far: Known) -> tuple[Row, ...]:
    return parse(f"{name}.csv", _text(f"{name}.csv"), SPECS[name], so_far)


@cache
def table(name: str) -> tuple[Row, ...]:
    """The checked rows of table `name` (without ".csv"), as text. Raises `TableError` for no such table or a bad row."""
    if name not in SPECS:
        raise TableError(name, None, f"no such table; there are: {', '.join(sorted(SPECS))}")
    return _bare(name, known())


@cache
def members(subject: str) -> Mapping[str, int]:
    """The kinds a `subject` cell covers, each with its rank: 0 named itself, 1 in a named group, 2 only in `any`."""
    ranks: dict[str, int] = {}
    groups = table("kind_groups")
    for word in subject.split():
        rank = 2 if word == "any" else 1
        found: Iterable[tuple[str, int]] = [(row["kind"], rank) for row in groups if row["group"] == word]
        for kind, its_rank in found or [(word, 0)]:
            ranks[kind] = min(its_rank, ranks.get(kind, its_rank))
    return MappingProxyType(ranks)


@cache
def digest() -> str:
    """SHA-256 over all tables and sources, in the order of their names: names the state of the facts in an answer."""
    import hashlib

    total = hashlib.sha256()
    for file in sorted(_folder().iterdir(), key=lambda entry: entry.name):
        if file.name.endswith((".csv", ".toml")):
            total.update(file.name.encode() + b"\0" + file.read_bytes().replace(b"\r\n", b"\n") + b"\0")
    return total.hexdigest()
