"""Limits of a kind of bird, by name: the row that speaks of it most closely."""

from dataclasses import dataclass
from functools import cache

from chalaza.facts.loader import members, table


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit: its value in `unit`, the first of its sources, and how far it was checked."""

    value: float
    unit: str
    source: str
    status: str


@cache
def limit(name: str, kind: str) -> Limit | None:
    """The limit `name` of limits.csv for the kind of key `kind`; None where nothing is printed for it.

    A row that names the kind goes before one that names a group of it, and that before `any`.
    """
    ranked = [
        (rank, row)
        for row in table("limits")
        if row["limit"] == name and (rank := members(row["subject"]).get(kind)) is not None
    ]
    if not ranked:
        return None
    row = min(ranked, key=lambda one: one[0])[1]
    return Limit(float(row["value"]), row["unit"], row["source"].split()[0], row["status"])
