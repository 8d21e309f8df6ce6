"""The kinds of bird whose eggs are set: what an egg measures, how long it takes and what it is given."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from chalaza.errors import EvidenceError, TableError
from chalaza.facts.loader import Row, table
from chalaza.values.estimate import Band

if TYPE_CHECKING:
    from chalaza.values.evidence import Airflow

#: Field of `Kind` -> quantity of kind_values.csv.
BANDS: Mapping[str, str] = MappingProxyType(
    {
        "egg_mass_g": "egg_mass",
        "egg_length_mm": "egg_length",
        "egg_breadth_mm": "egg_breadth",
        "term_d": "term",
        "stop_turning_d": "stop_turning",
        "temp_forced_degc": "temp_forced",
        "temp_still_degc": "temp_still_egg_top",
        "temp_hatch_degc": "temp_hatch_forced",
        "rh_setting": "rh_setting",
        "rh_hatching": "rh_hatching",
        "turns_per_d": "turns",
        "internal_pip_h": "internal_pip",
        "external_pip_h": "external_pip",
    }
)
_CANDLING = ("candle_first", "candle_second", "candle_last")
#: Not printed for every kind: pigeons, ratites and parrots are not hatched in still air.
_OPTIONAL = frozenset({"temp_still_egg_top"})


@dataclass(frozen=True, slots=True, kw_only=True)
class LossTarget:
    """Wanted loss of mass of a batch's mean from setting to `day_d`, as shares of the mass at setting."""

    low: float
    typical: float
    high: float
    day_d: float
    source: str
    status: str
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of bird. Every band carries its sources and how far they were checked.

    `temp_still_degc` is the reading level with the tops of the eggs in a box without a fan; None where nothing is
    printed. `temp_hatch_degc` is for boxes with a fan: for the last days in still air no figure was found, so there is
    none. `internal_pip_h` and `external_pip_h` are hours before hatch. `candle_d` is first, second and last day.
    """

    key: str
    name: str
    scientific_name: str
    group: str
    aliases: tuple[str, ...]
    egg_mass_g: Band
    egg_length_mm: Band
    egg_breadth_mm: Band
    term_d: Band
    stop_turning_d: Band
    temp_forced_degc: Band
    temp_still_degc: Band | None
    temp_hatch_degc: Band
    rh_setting: Band
    rh_hatching: Band
    turns_per_d: Band
    internal_pip_h: Band
    external_pip_h: Band
    candle_d: tuple[float, ...]
    loss_target: LossTarget


@cache
def kinds() -> Mapping[str, Kind]:
    """Every kind by its key, in the order of kinds.csv. Raises `TableError` if a kind lacks a row."""
    return MappingProxyType({row["kind"]: _kind(row) for row in table("kinds")})


def _kind(row: Row) -> Kind:
    key = row["kind"]
    values = {each["quantity"]: each for each in table("kind_values") if each["kind"] == key}
    for quantity in (*BANDS.values(), *_CANDLING):
        if quantity not in values and quantity not in _OPTIONAL:
            raise TableError("kind_values.csv", None, f"no row {quantity!r} for kind {key!r}")
    bands = {name: _band(values[quantity]) for name, quantity in BANDS.items() if quantity in values}
    fields: dict[str, Band | None] = {"temp_still_degc": None, **bands}
    return Kind(
        key=key,
        name=row["name"],
        scientific_name=row["scientific_name"],
        group=row["group"],
        aliases=tuple(filter(None, row["aliases"].split(";"))),
        candle_d=tuple(float(values[quantity]["typical"]) for quantity in _CANDLING),
        loss_target=_loss_target(key),
        **fields,  # type: ignore[arg-type]  # each field is named in BANDS; only temp_still_degc may be None
    )


def _band(row: Row) -> Band:
    typical = float(row["typical"])
    named = tuple(row["source"].split())
    return Band(
        low=float(row["low"] or typical),
        typical=typical,
        high=float(row["high"] or typical),
        unit=row["unit"],
        source=named[0],
        status=row["status"],
        sources=named,
    )


def _loss_target(key: str) -> LossTarget:
    for row in table("loss_targets"):
        if row["kind"] == key:
            low, typical, high, day_d = (float(row[name]) for name in ("low", "typical", "high", "day_d"))
            return LossTarget(
                low=low,
                typical=typical,
                high=high,
                day_d=day_d,
                source=row["source"].split()[0],
                status=row["status"],
                note=row["note"],
            )
    raise TableError("loss_targets.csv", None, f"no row for kind {key!r}")


def kind(name_or_alias: str) -> Kind:
    """The kind of that key, name or other common name, whatever its capitals, hyphens and blanks.

    Raises `EvidenceError` naming the nearest names and all that are allowed.
    """
    wanted, names = _plain(name_or_alias), _names()
    if wanted in names:
        return kinds()[names[wanted]]
    from difflib import get_close_matches  # only for the error

    near = dict.fromkeys(names[match] for match in get_close_matches(wanted, names, n=4, cutoff=0.6))
    hint = f"; nearest: {', '.join(near)}" if near else ""
    raise EvidenceError(f"no kind {name_or_alias!r}{hint}; allowed: {', '.join(kinds())}")


def usual_temp(of: Kind, airflow: "Airflow") -> Band | None:
    """The air temperature usual for a kind: in still air level with the egg tops, None where nothing is printed. [°C]"""
    from chalaza.values.evidence import Airflow  # here, because it brings numpy along

    return of.temp_still_degc if airflow is Airflow.STILL else of.temp_forced_degc


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("_", " ").replace("-", " ").replace("'", "").replace("’", "").split())


@cache
def _names() -> Mapping[str, str]:
    """Plain name -> key. Raises `TableError` if one name means two kinds."""
    names: dict[str, str] = {}
    for each in kinds().values():
        for name in dict.fromkeys(map(_plain, (each.key, each.name, *each.aliases))):
            if name in names:
                raise TableError("kinds.csv", None, f"{name!r} means {names[name]!r} and {each.key!r}")
            names[name] = each.key
    return MappingProxyType(names)
