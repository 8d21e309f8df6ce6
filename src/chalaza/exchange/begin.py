"""A batch on the day it is set: rows for all that is known then, and every other table ready to be filled in."""

import re
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from chalaza.facts import kind
from chalaza.facts.kinds import usual_temp
from chalaza.values.evidence import (
    Airflow,
    Batch,
    Egg,
    Evidence,
    LaidAt,
    Lot,
    Machine,
    Mount,
    Origin,
    Place,
    Probe,
    ProbeSort,
    Series,
    Setting,
    Stay,
)

#: Eggs in a row of the tray, as they are labelled: A1 to A6, then B1.
ROW_OF_EGGS = 6
PLACE, LOT, TRAY = "place", "lot-1", "tray"
#: What a box is called that nobody named.
BOX = "box"


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """What is known when the eggs are set. `counted`: one row for them all, else one for each egg.

    `kind` is a key of the table of kinds; moments are seconds UTC; `uid` and `name` are those of the batch. What is
    learnt is kept by the names of box, probe and parents, so the display of a named box is named after it.
    """

    uid: str
    name: str
    kind: str
    eggs: int
    set_at: int
    zone: str
    parents: str
    box: str = BOX
    airflow: Airflow = Airflow.FAN
    probe: ProbeSort = ProbeSort.DISPLAY
    height_mm: float | None = None
    altitude_m: float = 0.0
    wanted: int | None = None
    laid_first: int | None = None
    laid_last: int | None = None
    posted: bool = False
    counted: bool = False


def slug(name: str, otherwise: str) -> str:
    """A name as a uid: small letters, figures and hyphens, at most 40; `otherwise` where nothing of it is left."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or otherwise


def begun(start: Start) -> Evidence:
    """The evidence of a batch just set. Plans are the usual ones of its kind; the probe has its file, still empty.

    Raises `EvidenceError` for no such kind.
    """
    known = kind(start.kind)
    temp = usual_temp(known, start.airflow)
    return Evidence(
        setting=_setting(start),
        batch=Batch(
            uid=start.uid, name=start.name, kind=known.key, set_at=start.set_at, zone=start.zone,
            planned_rh=known.rh_setting.typical, planned_temp_degc=None if temp is None else temp.typical,
            wanted_young=start.wanted,
        ),
        stays=(Stay(uid="stay-1", batch=start.uid, machine=slug(start.box, BOX), start=start.set_at),),
        lots=(_lot(start),),
        eggs=_eggs(start),
    )  # fmt: skip


def _setting(start: Start) -> Setting:
    box, probe = slug(start.box, BOX), str(start.probe)
    if start.probe is ProbeSort.DISPLAY and box != BOX:
        probe = f"{box}-{probe}"
    empty = Series(np.empty(0, np.int64), np.empty(0, np.float32), np.empty(0, np.float32))
    mount = Mount(uid="mount-1", probe=probe, machine=box, start=start.set_at, height_mm=start.height_mm)
    return Setting(
        place=Place(uid=PLACE, name=PLACE, altitude_m=start.altitude_m, zone=start.zone),
        machines=(Machine(uid=box, name=start.box, airflow=start.airflow),),
        probes=(Probe(uid=probe, name=probe, sort=start.probe),),
        mounts=(mount,),
        series=MappingProxyType({probe: empty}),
    )


def _lot(start: Start) -> Lot:
    return Lot(
        uid=LOT,
        parents=start.parents,
        origin=Origin.POSTED if start.posted else Origin.OWN,
        laid_first=start.laid_first,
        laid_last=start.laid_last,
        laid_at=LaidAt.UNKNOWN if start.posted else LaidAt.HERE,
    )


def _eggs(start: Start) -> tuple[Egg, ...]:
    if start.counted:
        return (Egg(uid=TRAY, label=TRAY, lot=LOT, count=start.eggs),)
    return tuple(Egg(uid=label, label=label, lot=LOT) for label in map(label_of, range(start.eggs)))


def label_of(number: int, in_a_row: int = ROW_OF_EGGS) -> str:
    """What is written on an egg, counted from 0: A1 to A6, B1 and so on; after row Z comes row AA."""
    row, place = divmod(number, in_a_row)
    letters = ""
    row += 1
    while row:
        row, letter = divmod(row - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return f"{letters}{place + 1}"
