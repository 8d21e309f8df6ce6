"""The evidence of one batch: what the keeper's instruments and eyes said, as frozen rows.

These dataclasses are the schema of the open folder: `exchange` reads and writes them and the manual lists them, column
by column. A `Setting` (place, machines, probes, their readings and events) is all that a trial run needs; a batch adds
its own rows. Moments are whole seconds since 1970 in UTC; readings are float32 from the reader on.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated

import numpy as np
import numpy.typing as npt

from chalaza import quantities as q
from chalaza.errors import BalanceError
from chalaza.values.fields import Field

_UID = Field("name of this row, unique in its table and in a notebook", key=True)
_AT = Field("when it was done or seen", q.MOMENT)
_NOTE = Field("free words of the keeper")


class Airflow(StrEnum):
    """How the air of a machine is moved."""

    FAN = "fan"
    STILL = "still"


class ProbeSort(StrEnum):
    """What kind of instrument a probe is; it decides how far it is believed before any check."""

    DISPLAY = "display"
    DIGITAL = "digital"
    GLASS = "glass"
    WICK = "wick"


class CheckSort(StrEnum):
    """How a probe was checked."""

    ICE = "ice"
    BOIL = "boil"
    COMPARE = "compare"
    SALT = "salt"
    DRY_BOX = "dry_box"


class Shell(StrEnum):
    """How well a shell lets light through."""

    LIGHT = "light"
    DARK = "dark"


class Origin(StrEnum):
    """Where the eggs of a lot come from."""

    OWN = "own"
    POSTED = "posted"


class LaidAt(StrEnum):
    """Where the hens lived that laid the eggs, against the altitude at which the eggs are set."""

    HERE = "here"
    LOWLAND = "lowland"
    UNKNOWN = "unknown"


class Finding(StrEnum):
    """What the lamp showed."""

    LIVE = "live"
    UNSURE = "unsure"
    CLEAR = "clear"
    DEAD = "dead"


class EventSort(StrEnum):
    """What happened to a machine or to a batch."""

    SET_POINT = "set_point"
    WATER = "water"
    VENTS = "vents"
    LID = "lid"
    POWER_OFF = "power_off"
    TURNING_STOPPED = "turning_stopped"
    TURNING_MISSED = "turning_missed"
    MISTED = "misted"
    COOLED = "cooled"
    REMOVED = "removed"
    MOVED = "moved"


class HatchStage(StrEnum):
    """How far the young had come when seen."""

    PIPPED = "pipped"
    OUT = "out"


class DeathStage(StrEnum):
    """What an opened egg showed."""

    INFERTILE = "infertile"
    EARLY = "early"
    MIDDLE = "middle"
    LATE = "late"
    PIPPED = "pipped"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """The batch itself: one row."""

    uid: Annotated[str, _UID]
    name: Annotated[str, Field("what the keeper calls the batch")]
    kind: Annotated[str, Field("kind of bird, a key of the table of kinds")]
    set_at: Annotated[int, Field("when the eggs went under heat", q.MOMENT)]
    zone: Annotated[str, Field("time zone of the keeper, for example Europe/Berlin")] = "UTC"
    planned_rh: Annotated[float | None, Field("humidity the keeper means to run, as shown on the display", q.RH)] = None
    planned_temp_degc: Annotated[float | None, Field("temperature the keeper means to run", q.TEMP_DEGC)] = None
    wanted_young: Annotated[int | None, Field("young hoped for", q.YOUNG)] = None
    turns_per_d: Annotated[float | None, Field("turns a day", q.TURNS_PER_D)] = None
    finished_at: Annotated[int | None, Field("when the keeper closed the batch; empty while it runs", q.MOMENT)] = None
    note: Annotated[str, _NOTE] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the machines stand."""

    uid: Annotated[str, _UID]
    name: Annotated[str, Field("what the keeper calls the place")]
    altitude_m: Annotated[float, Field("altitude of the place", q.ALTITUDE_M)] = 0.0
    pressure_pa: Annotated[
        float | None, Field("station pressure, if known; not the sea-level figure of a forecast", q.PRESSURE_PA)
    ] = None
    zone: Annotated[str, Field("time zone of the place")] = "UTC"


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """An incubator or hatching box."""

    uid: Annotated[str, _UID]
    name: Annotated[str, Field("what the keeper calls the machine")]
    airflow: Annotated[Airflow, Field("whether a fan moves the air")]
    volume_l: Annotated[float | None, Field("inner volume", q.VOLUME_L)] = None
    troughs_cm2: Annotated[str, Field("open water surface of each trough in cm², separated by blanks")] = ""
    vents: Annotated[int | None, Field("number of vents", q.EGGS)] = None
    tray: Annotated[str, Field("places of the tray, rows by columns, for example 4x7")] = ""
    mapped: Annotated[bool, Field("whether the evenness of the box was mapped with probes compared first")] = False
    note: Annotated[str, _NOTE] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stay:
    """A batch in a machine for a time; the stays of one batch do not overlap."""

    uid: Annotated[str, _UID]
    batch: Annotated[str, Field("batch that stayed", ref="batch")]
    machine: Annotated[str, Field("machine it stayed in", ref="machines")]
    start: Annotated[int, Field("moved in", q.MOMENT)]
    end: Annotated[int | None, Field("moved out; empty while it is still there", q.MOMENT)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Probe:
    """A thermometer, hygrometer or display."""

    uid: Annotated[str, _UID]
    name: Annotated[str, Field("what the keeper calls the probe")]
    sort: Annotated[ProbeSort, Field("what kind of instrument it is")]
    controls: Annotated[
        bool, Field("whether this probe also steers the heater (its log then follows the set point)")
    ] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Mount:
    """A probe at a place for a time; the mounts of one probe do not overlap."""

    uid: Annotated[str, _UID]
    probe: Annotated[str, Field("probe that hung there", ref="probes")]
    machine: Annotated[str | None, Field("machine it hung in; empty: in the room", ref="machines")]
    start: Annotated[int, Field("hung up", q.MOMENT)]
    end: Annotated[int | None, Field("taken down; empty while it still hangs there", q.MOMENT)] = None
    height_mm: Annotated[float | None, Field("height over the egg tops; asked for in still air", q.HEIGHT_MM)] = None
    position: Annotated[str, Field("where in the box")] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeCheck:
    """A check of a probe against something known."""

    uid: Annotated[str, _UID]
    probe: Annotated[str, Field("probe that was checked", ref="probes")]
    at: Annotated[int, _AT]
    sort: Annotated[CheckSort, Field("how it was checked")]
    reading_degc: Annotated[float | None, Field("what the probe showed", q.TEMP_BATH_DEGC)] = None
    reference_degc: Annotated[float | None, Field("what was true: bath, ice or boiling point", q.TEMP_BATH_DEGC)] = None
    reading_rh: Annotated[float | None, Field("what the hygrometer showed", q.RH)] = None
    reference_rh: Annotated[float | None, Field("what was true: the humidity over the salt", q.RH)] = None
    note: Annotated[str, _NOTE] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """Something done or suffered, by a machine (power, water, vents, lid, set point) or by the batch (turning, misting)."""

    uid: Annotated[str, _UID]
    at: Annotated[int, _AT]
    sort: Annotated[EventSort, Field("what happened")]
    machine: Annotated[str | None, Field("machine it happened to; empty: to the batch", ref="machines")] = None
    until: Annotated[int | None, Field("when it ended", q.MOMENT)] = None
    set_point_degc: Annotated[float | None, Field("new set point", q.SET_POINT)] = None
    note: Annotated[str, _NOTE] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """Eggs of the same parents gathered and stored together."""

    uid: Annotated[str, _UID]
    parents: Annotated[str, Field("name of the flock or pair; batches of the same name share what is learnt")]
    origin: Annotated[Origin, Field("own eggs, or posted and bought ones")] = Origin.OWN
    laid_first: Annotated[int | None, Field("first egg of the lot laid", q.MOMENT)] = None
    laid_last: Annotated[int | None, Field("last egg of the lot laid", q.MOMENT)] = None
    store_temp_degc: Annotated[float | None, Field("temperature of the store", q.TEMP_ROOM_DEGC)] = None
    laid_at: Annotated[LaidAt, Field("laid at this altitude, or brought up from low land")] = LaidAt.HERE
    parents_weeks: Annotated[float | None, Field("age of the parents", q.WEEKS)] = None
    one_hen: Annotated[bool, Field("whether all eggs of the lot are of one hen or pair")] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Egg:
    """One egg, or a counted group of like eggs that is handled as one."""

    uid: Annotated[str, _UID]
    label: Annotated[str, Field("what is written on the shell or on the tray")]
    lot: Annotated[str | None, Field("lot it comes from", ref="lots")] = None
    count: Annotated[int, Field("number of eggs in this row: 1, or the size of the group", q.EGGS)] = 1
    length_mm: Annotated[float | None, Field("length", q.LENGTH_MM)] = None
    breadth_mm: Annotated[float | None, Field("breadth", q.BREADTH_MM)] = None
    shell: Annotated[Shell, Field("light or dark shell under the lamp")] = Shell.LIGHT
    position: Annotated[str, Field("place in the tray")] = ""
    removed_at: Annotated[int | None, Field("taken out before hatch", q.MOMENT)] = None
    note: Annotated[str, _NOTE] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighing:
    """One reading of a scale: an egg, a group or a whole tray. Gross mass less tare is the mass of the eggs named."""

    uid: Annotated[str, _UID]
    at: Annotated[int, _AT]
    eggs: Annotated[
        str, Field("eggs on the scale: their uids separated by blanks, or 'all' for all that are still in", ref="eggs")
    ]
    gross_g: Annotated[float, Field("what the scale showed", q.LOAD_G)]
    tare_g: Annotated[float, Field("tray or cup that stood on the scale as well", q.LOAD_G)] = 0.0
    resolution_g: Annotated[float, Field("smallest step of the scale", q.RESOLUTION_G)] = 0.1
    session: Annotated[str, Field("weighings of one session on one scale share its zero")] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class AirCellMark:
    """The edge of the air cell as marked or measured under the lamp."""

    uid: Annotated[str, _UID]
    at: Annotated[int, _AT]
    egg: Annotated[str, Field("egg", ref="eggs")]
    depth_mm: Annotated[float, Field("depth below the blunt end", q.DEPTH_MM)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Candling:
    """What one look under the lamp showed, of one egg or of some eggs of a group."""

    uid: Annotated[str, _UID]
    at: Annotated[int, _AT]
    egg: Annotated[str, Field("egg or group", ref="eggs")]
    finding: Annotated[Finding, Field("what was seen; 'unsure' is an answer")]
    count: Annotated[int, Field("number of eggs of the group with this finding", q.EGGS)] = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """Young seen pipping or out. A row tells how many were newly seen at that look."""

    uid: Annotated[str, _UID]
    at: Annotated[int, _AT]
    stage: Annotated[HatchStage, Field("pipped, or out of the shell")]
    egg: Annotated[str | None, Field("egg, if known", ref="eggs")] = None
    count: Annotated[int, Field("number newly seen", q.YOUNG)] = 1
    looked_before: Annotated[int | None, Field("the last look before, when they were not there yet", q.MOMENT)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Breakout:
    """What opened eggs showed."""

    uid: Annotated[str, _UID]
    at: Annotated[int, _AT]
    stage: Annotated[DeathStage, Field("stage at which development ended")]
    egg: Annotated[str | None, Field("egg, if known", ref="eggs")] = None
    count: Annotated[int, Field("number of eggs", q.EGGS)] = 1
    note: Annotated[str, _NOTE] = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """Free words with a date."""

    uid: Annotated[str, _UID]
    at: Annotated[int, _AT]
    text: Annotated[str, Field("what was noted")]


Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Series:
    """Readings of one probe in order of time: `t` int64 seconds UTC, `temp_degc` and `rh` float32, NaN where missing.

    Raises `BalanceError` when the columns are not of one length or time does not rise (the reader's fault).
    """

    t: npt.NDArray[np.int64]
    temp_degc: Floats
    rh: Floats

    def __post_init__(self) -> None:
        if not (len(self.t) == len(self.temp_degc) == len(self.rh)):
            raise BalanceError("columns of a series differ in length")
        if self.temp_degc.dtype != np.float32 or self.rh.dtype != np.float32 or self.t.dtype != np.int64:
            raise BalanceError("a series holds int64 seconds and float32 readings")
        if len(self.t) > 1 and not bool(np.all(np.diff(self.t) > 0)):
            raise BalanceError("the times of a series must rise")

    def __len__(self) -> int:
        return len(self.t)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Series):
            return NotImplemented
        return (
            np.array_equal(self.t, other.t)
            and np.array_equal(self.temp_degc, other.temp_degc, equal_nan=True)
            and np.array_equal(self.rh, other.rh, equal_nan=True)
        )

    def window(self, start: float, end: float) -> "Series":
        """The readings with start <= t < end."""
        a, b = np.searchsorted(self.t, (start, end))
        return Series(self.t[a:b], self.temp_degc[a:b], self.rh[a:b])


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Place, machines, probes with mounts, checks and readings, and what happened to the machines."""

    place: Place
    machines: tuple[Machine, ...]
    probes: tuple[Probe, ...] = ()
    mounts: tuple[Mount, ...] = ()
    checks: tuple[ProbeCheck, ...] = ()
    events: tuple[Event, ...] = ()
    series: Mapping[str, Series] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """A `Setting` and the rows of one batch: all that an assessment looks at."""

    setting: Setting
    batch: Batch
    stays: tuple[Stay, ...]
    lots: tuple[Lot, ...] = ()
    eggs: tuple[Egg, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    air_cells: tuple[AirCellMark, ...] = ()
    candlings: tuple[Candling, ...] = ()
    hatches: tuple[Hatch, ...] = ()
    breakouts: tuple[Breakout, ...] = ()
    notes: tuple[Note, ...] = ()
    events: tuple[Event, ...] = ()
