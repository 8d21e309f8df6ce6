"""The tray as a map: eggs where they lie, in rows, by the letter and number on their shells."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from chalaza.records import models as m

_PLACE = re.compile(r"([A-Za-z]{1,2})[ .-]?(\d{1,2})")
#: So many columns at most a phone shows with places of 44 px; without places the eggs stand in rows of seven.
_WIDEST, _USUAL, _GROUPS = 8, 7, 4


@dataclass(frozen=True, slots=True)
class Cell:
    """A place of the map: an egg, or nothing (`egg` is None). `out`: it is no longer in the box."""

    egg: "m.Egg | None"
    out: bool = False


@dataclass(frozen=True, slots=True)
class Tray:
    """Cells row by row, and how many there are in a row."""

    columns: int
    cells: tuple[Cell, ...]


def in_order(eggs: Iterable["m.Egg"]) -> list["m.Egg"]:
    """Eggs as they lie: A1, A2, ..., A10, B1; others by the figures in their labels."""
    return sorted(eggs, key=lambda one: (_natural(_name(one)), one.pk))


def _name(egg: "m.Egg") -> str:
    return str(egg.position if _PLACE.fullmatch(egg.position) else egg.label)


def _natural(text: str) -> tuple[tuple[int, int, str], ...]:
    return tuple((1, int(part), "") if part.isdigit() else (0, 0, part.casefold()) for part in re.split(r"(\d+)", text))


def gone(batch: str, eggs: Iterable["m.Egg"], at: int) -> set[str]:
    """Uids of the eggs that were no longer in the box at a moment: taken out, hatched, or opened, each wholly."""
    left: dict[str, int] = {one.uid: one.count for one in eggs}
    for egg, count in [
        *m.Hatch.objects.filter(batch__uid=batch, stage="out", at__lte=at)
        .exclude(egg=None)
        .values_list("egg_id", "count"),
        *m.Breakout.objects.filter(batch__uid=batch, at__lte=at).exclude(egg=None).values_list("egg_id", "count"),
    ]:
        left[str(egg)] = left.get(str(egg), 0) - count
    removed = {one.uid for one in eggs if one.removed_at is not None and one.removed_at <= at}
    return removed | {uid for uid, n in left.items() if n <= 0}


def lay(eggs: Sequence["m.Egg"], out: set[str]) -> Tray:
    """The map of those eggs, which are in order."""
    if any(one.count > 1 for one in eggs):
        return Tray(_GROUPS, tuple(Cell(one, one.uid in out) for one in eggs))
    places = {_place(one): one for one in eggs}
    columns = max((column for _, column in places), default=0)
    if len(places) < len(eggs) or (("", 0) in places) or not 1 <= columns <= _WIDEST:
        return Tray(_USUAL, tuple(Cell(one, one.uid in out) for one in eggs))
    return Tray(max(columns, 4), _filled(places, max(columns, 4), out))


def _place(egg: "m.Egg") -> tuple[str, int]:
    found = _PLACE.fullmatch(_name(egg))
    return (found[1].upper(), int(found[2])) if found and int(found[2]) > 0 else ("", 0)


def _filled(places: Mapping[tuple[str, int], "m.Egg"], columns: int, out: set[str]) -> tuple[Cell, ...]:
    rows = sorted({row for row, _ in places}, key=lambda row: (len(row), row))
    found = [places.get((row, column)) for row in rows for column in range(1, columns + 1)]
    return tuple(Cell(one, one is not None and one.uid in out) for one in found)
