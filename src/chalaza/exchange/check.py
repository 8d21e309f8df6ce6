"""What must hold between rows: names once, references met, spans of time in order and not overlapping.

Reader and writer ask the same questions, so that nothing is written which cannot be read.
"""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from math import inf
from types import MappingProxyType
from typing import Any

from chalaza.exchange import schema
from chalaza.exchange.cells import stamp
from chalaza.exchange.problems import Problems
from chalaza.exchange.schema import TABLES, Spec, Table

#: Rows of each table with their row numbers.
Rows = Mapping[str, Sequence[tuple[int, Any]]]

#: table -> (earlier field, later field, whose rows may not overlap: a field, or empty).
_SPANS: Mapping[str, tuple[str, str, str]] = MappingProxyType(
    {
        "stays": ("start", "end", "batch"),
        "mounts": ("start", "end", "probe"),
        "events": ("at", "until", ""),
        "lots": ("laid_first", "laid_last", ""),
        "hatches": ("looked_before", "at", ""),
    }
)


def check(rows: Rows, problems: Problems) -> None:
    """Take down everything that does not hold between rows. Raises `FolderErrors` at the twentieth fault."""
    uids = {name: _unique(TABLES[name], numbered, problems) for name, numbered in rows.items()}
    for name, numbered in rows.items():
        table = TABLES[name]
        if table.single and len(numbered) != 1:
            problems.add("not one row", file=table.file, given=f"{len(numbered)} rows", allowed="exactly one row")
        for spec in schema.specs(table):
            if spec.field.ref:
                _references(table, spec, numbered, uids, problems)
        if name in _SPANS:
            _order(table, numbered, problems)


def _unique(table: Table, numbered: Sequence[tuple[int, Any]], problems: Problems) -> Mapping[str, int]:
    seen: dict[str, int] = {}
    for number, row in numbered:
        if row.uid in seen:
            problems.add(
                f"the same name as row {seen[row.uid]}",
                file=table.file,
                row=number,
                field="uid",
                given=row.uid,
                allowed="each name once",
            )
        if table.name == "eggs" and row.uid == schema.ALL_EGGS:
            problems.add(
                "means all eggs in weighings.csv",
                file=table.file,
                row=number,
                field="uid",
                given=row.uid,
                allowed="any other name",
            )
        seen.setdefault(row.uid, number)
    return seen


def _references(
    table: Table,
    spec: Spec,
    numbered: Sequence[tuple[int, Any]],
    uids: Mapping[str, Mapping[str, int]],
    problems: Problems,
) -> None:
    known = uids.get(spec.field.ref, {})
    for number, row in numbered:
        for wanted in _wanted(spec, getattr(row, spec.name)):
            if wanted not in known:
                problems.add(
                    f"no such row in {spec.field.ref}.csv",
                    file=table.file,
                    row=number,
                    field=spec.name,
                    given=wanted,
                    allowed=_some(known),
                )


def _wanted(spec: Spec, value: str | None) -> Sequence[str]:
    if value is None:
        return ()
    if not spec.many:
        return (value,)
    return () if value == schema.ALL_EGGS else value.split() or (value,)


def _some(known: Mapping[str, int]) -> str:
    names = list(known)
    if not names:
        return "none, for that file has no rows"
    return ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")


def _order(table: Table, numbered: Sequence[tuple[int, Any]], problems: Problems) -> None:
    first, last, owner = _SPANS[table.name]
    for number, row in numbered:
        begin, end = getattr(row, first), getattr(row, last)
        if begin is not None and end is not None and end < begin:
            problems.add(
                f"earlier than '{first}'",
                file=table.file,
                row=number,
                field=last,
                given=stamp(end),
                allowed=f"{stamp(begin)} or later",
            )
    if owner:
        for spans in _by_owner(numbered, owner):
            _overlaps(table, spans, owner, problems)


def _by_owner(numbered: Sequence[tuple[int, Any]], owner: str) -> Iterator[list[tuple[int, float, int]]]:
    groups: dict[str, list[tuple[int, float, int]]] = {}
    for number, row in numbered:
        end = inf if row.end is None else row.end
        groups.setdefault(getattr(row, owner), []).append((row.start, end, number))
    yield from groups.values()


def _overlaps(table: Table, spans: list[tuple[int, float, int]], owner: str, problems: Problems) -> None:
    for (_, end, earlier), (start, _, number) in pairwise(sorted(spans)):
        if start < end:
            problems.add(
                f"overlaps row {earlier} of the same {owner}",
                file=table.file,
                row=number,
                field="start",
                given=stamp(start),
                allowed="after the other has ended" if end == inf else f"{stamp(int(end))} or later",
            )
