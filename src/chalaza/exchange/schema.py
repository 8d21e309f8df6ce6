"""The tables of the open folder: which row type each file holds, where its rows lie in `Evidence`, what a cell may be.

Everything is taken from the annotated rows of `values`; reader, writer, `datapackage.json` and manual loop over
`TABLES` and `specs`, so that none of them can say something else than the others.
"""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from enum import Enum, StrEnum
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any

from chalaza import quantities as q
from chalaza.quantities import Quantity
from chalaza.values import evidence as e
from chalaza.values.beliefs import BeliefRow, Shape
from chalaza.values.fields import Column, Field, columns

FORMAT_VERSION = 1
DESCRIPTOR = "datapackage.json"
READINGS = "readings_"
#: What `Weighing.eggs` says for every egg that is still in; no egg may be called so.
ALL_EGGS = "all"
#: Longest text of one cell, in characters; the csv module of the language stops at 131,072.
MAX_TEXT = 100_000
MAX_UID = 100
#: Rows of all tables together, and readings of all probes: far above any batch, and what memory bears.
MAX_ROWS = 500_000
MAX_READINGS = 20_000_000
CORRELATION = "correlation"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading of a probe; the readings of each probe are a file of their own."""

    at: Annotated[int, Field("when it was read; the readings are in order of time", q.MOMENT)]
    temp_degc: Annotated[float | None, Field("temperature as the probe gave it", q.TEMP_DEGC)] = None
    rh: Annotated[float | None, Field("humidity as the probe gave it, as a fraction", q.RH)] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """One file: `homes` are the paths of its rows in `Evidence`; `single` tables hold exactly one row."""

    name: str
    row: type
    help: str
    homes: tuple[str, ...]
    single: bool = False

    @property
    def file(self) -> str:
        """Name of the file in the folder."""
        return f"{self.name}.csv"


_ALL = (
    Table(name="batch", row=e.Batch, help="The batch: one row.", homes=("batch",), single=True),
    Table(name="place", row=e.Place, help="Where the machines stand: one row.", homes=("setting.place",), single=True),
    Table(name="machines", row=e.Machine, help="Incubators and hatching boxes.", homes=("setting.machines",)),
    Table(
        name="stays", row=e.Stay, help="When the batch was in which machine; stays do not overlap.", homes=("stays",)
    ),
    Table(name="probes", row=e.Probe, help="Thermometers, hygrometers and displays.", homes=("setting.probes",)),
    Table(
        name="mounts",
        row=e.Mount,
        help="Where each probe hung and when; the mounts of one probe do not overlap.",
        homes=("setting.mounts",),
    ),
    Table(
        name="probe_checks",
        row=e.ProbeCheck,
        help="Checks of probes against ice, boiling water, a salt or another instrument.",
        homes=("setting.checks",),
    ),
    Table(
        name="events",
        row=e.Event,
        help="What happened to a machine, or, where no machine is named, to the batch.",
        homes=("setting.events", "events"),
    ),
    Table(name="lots", row=e.Lot, help="Eggs of the same parents gathered and stored together.", homes=("lots",)),
    Table(name="eggs", row=e.Egg, help="The eggs, one by one or as counted groups.", homes=("eggs",)),
    Table(name="weighings", row=e.Weighing, help="Readings of the scale.", homes=("weighings",)),
    Table(name="air_cells", row=e.AirCellMark, help="Edges of air cells seen under the lamp.", homes=("air_cells",)),
    Table(name="candlings", row=e.Candling, help="What the lamp showed.", homes=("candlings",)),
    Table(name="hatches", row=e.Hatch, help="Young seen pipping or out.", homes=("hatches",)),
    Table(name="breakouts", row=e.Breakout, help="What opened eggs showed.", homes=("breakouts",)),
    Table(name="notes", row=e.Note, help="Free words with a date.", homes=("notes",)),
)

#: The tables of evidence, in the order in which they are written and listed.
TABLES: Mapping[str, Table] = MappingProxyType({table.name: table for table in _ALL})

#: The beliefs the batch was assessed with; the file is absent when none travel along.
BELIEFS = Table(name="beliefs", row=BeliefRow, help="The beliefs the batch was assessed with.", homes=())

#: The readings of one probe: `readings_<probe>.csv`. Their figures have no span, because a bad reading is evidence too:
#: it is set aside, and shown, when the batch is assessed.
SERIES = Table(
    name="readings_<probe>",
    row=Reading,
    help="The readings of one probe in order of time, one file for each probe, as single precision numbers. "
    "Any finite number may stand here: what cannot be true is set aside, and shown, when the batch is assessed.",
    homes=(),
)


class Sort(Enum):
    """What a cell holds; the value is how the table schema calls its type, with what sets it apart from like ones."""

    UID = ("string", "uid")
    TEXT = ("string", "text")
    CHOICE = ("string", "choice")
    ZONE = ("string", "zone")
    NUMBER = ("number", "")
    WHOLE = ("integer", "")
    MOMENT = ("datetime", "")
    TRUTH = ("boolean", "")

    @property
    def type_name(self) -> str:
        """Name of the type in the Table Schema standard."""
        return self.value[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spec:
    """All that decides what one cell may hold. `many`: several uids separated by blanks, or `ALL_EGGS`."""

    name: str
    sort: Sort
    field: Field
    optional: bool
    default: Any
    kind: type
    choices: tuple[str, ...] = ()
    span: Quantity | None = None
    many: bool = False

    @property
    def required(self) -> bool:
        """Whether an empty cell is refused."""
        return not self.optional and self.default is MISSING

    @property
    def unit(self) -> str:
        """Unit of the number, empty where there is none."""
        if self.sort not in (Sort.NUMBER, Sort.WHOLE) or self.field.quantity is None:
            return ""
        return self.field.quantity.unit


_CHOICES: Mapping[tuple[type, str], tuple[str, ...]] = MappingProxyType(
    {
        (BeliefRow, "shape"): (*(str(shape) for shape in Shape), CORRELATION),
        (BeliefRow, "scale"): ("plain", "log"),
    }
)


@cache
def specs(table: Table) -> tuple[Spec, ...]:
    """The columns of a table in the order in which they are written."""
    defaults = {f.name: f.default for f in fields(table.row)}
    return tuple(_spec(table, column, defaults[column.name]) for column in columns(table.row))


def _spec(table: Table, column: Column, default: Any) -> Spec:
    choices = _CHOICES.get((table.row, column.name), ())
    if issubclass(column.kind, StrEnum):
        choices = tuple(str(member) for member in column.kind)
    return Spec(
        name=column.name,
        sort=_sort(column, bool(choices)),
        field=column.field,
        optional=column.optional,
        default=default,
        kind=column.kind,
        choices=choices,
        span=None if table is SERIES and column.kind is float else column.field.quantity,
        many=table.row is e.Weighing and column.name == "eggs",
    )


def _sort(column: Column, choice: bool) -> Sort:
    if choice:
        return Sort.CHOICE
    if column.field.key:
        return Sort.UID
    if column.field.quantity is q.MOMENT:
        return Sort.MOMENT
    if column.name == "zone":
        return Sort.ZONE
    plain = {str: Sort.TEXT, float: Sort.NUMBER, int: Sort.WHOLE, bool: Sort.TRUTH}
    return plain[column.kind]
