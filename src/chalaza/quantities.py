"""Each quantity once: its unit inside the program, its hard span, its words and the units it may be shown in.

The hard span says what can be true at all, not what is wanted: outside it a value is refused at the edge (form, file,
command line) with a sentence. Records, folder, manual and `docs/nomenclature.md` read this one registry.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """One quantity: `unit` is the unit it has everywhere inside, `displays` those a person may choose (first: default)."""

    key: str
    unit: str
    low: float
    high: float
    words: str
    displays: tuple[str, ...]

    def holds(self, value: float) -> bool:
        """Whether `value` (in `unit`) lies in the hard span; NaN never does."""
        return self.low <= value <= self.high


_TEMP = ("°C", "°F")
_MASS = ("g", "oz")
_LENGTH = ("mm", "in")
_SHARE = ("%",)

TEMP_DEGC = Quantity(key="temp", unit="°C", low=-40.0, high=60.0, words="temperature of the air", displays=_TEMP)
TEMP_ROOM_DEGC = Quantity(
    key="temp_room", unit="°C", low=-30.0, high=50.0, words="temperature of a room", displays=_TEMP
)
TEMP_BATH_DEGC = Quantity(
    key="temp_bath", unit="°C", low=-5.0, high=105.0, words="temperature of a check bath", displays=_TEMP
)
TEMP_DIFF_K = Quantity(
    key="temp_diff", unit="K", low=-20.0, high=20.0, words="difference of temperature", displays=("K", "°F")
)
DEGREE_HOURS = Quantity(key="degree_hours", unit="K h", low=0.0, high=50_000.0, words="degree-hours", displays=("K h",))
RH = Quantity(key="rh", unit="1", low=0.0, high=1.0, words="relative humidity", displays=_SHARE)
SHARE = Quantity(key="share", unit="1", low=0.0, high=1.0, words="share", displays=_SHARE)
PRESSURE_PA = Quantity(
    key="pressure",
    unit="Pa",
    low=50_000.0,
    high=110_000.0,
    words="air pressure at the place",
    displays=("hPa", "inHg", "mmHg"),
)
VAPOUR_PA = Quantity(key="vapour", unit="Pa", low=0.0, high=25_000.0, words="vapour pressure", displays=("hPa", "mmHg"))
ALTITUDE_M = Quantity(key="altitude", unit="m", low=-430.0, high=5_500.0, words="altitude", displays=("m", "ft"))
MASS_G = Quantity(key="mass", unit="g", low=0.5, high=2_500.0, words="mass of an egg", displays=_MASS)
LOAD_G = Quantity(key="load", unit="g", low=0.0, high=60_000.0, words="mass on the scale", displays=_MASS)
RESOLUTION_G = Quantity(
    key="resolution", unit="g", low=0.0001, high=50.0, words="smallest step of the scale", displays=_MASS
)
LENGTH_MM = Quantity(key="length", unit="mm", low=8.0, high=200.0, words="length of an egg", displays=_LENGTH)
BREADTH_MM = Quantity(key="breadth", unit="mm", low=6.0, high=160.0, words="breadth of an egg", displays=_LENGTH)
DEPTH_MM = Quantity(key="depth", unit="mm", low=0.0, high=80.0, words="depth of the air cell", displays=_LENGTH)
HEIGHT_MM = Quantity(
    key="height", unit="mm", low=-300.0, high=1_000.0, words="height of a probe over the egg tops", displays=_LENGTH
)
VOLUME_L = Quantity(key="volume", unit="L", low=0.5, high=5_000.0, words="inner volume of a machine", displays=("L",))
AREA_CM2 = Quantity(key="area", unit="cm²", low=0.0, high=20_000.0, words="open water surface", displays=("cm²", "in²"))
AGE_D = Quantity(key="age", unit="d", low=0.0, high=80.0, words="age in days since setting", displays=("d",))
DURATION_H = Quantity(key="duration", unit="h", low=0.0, high=2_000.0, words="length of time", displays=("h",))
MINUTES = Quantity(key="minutes", unit="min", low=0.0, high=100_000.0, words="minutes of work", displays=("min",))
STORAGE_D = Quantity(key="storage", unit="d", low=0.0, high=60.0, words="days in store before setting", displays=("d",))
WEEKS = Quantity(key="weeks", unit="wk", low=0.0, high=1_000.0, words="age of the parents in weeks", displays=("wk",))
TURNS_PER_D = Quantity(key="turns", unit="1/d", low=0.0, high=200.0, words="turns a day", displays=("1/d",))
EGGS = Quantity(key="eggs", unit="eggs", low=0.0, high=20_000.0, words="number of eggs", displays=("eggs",))
YOUNG = Quantity(key="young", unit="young", low=0.0, high=20_000.0, words="number of young", displays=("young",))
SET_POINT = Quantity(key="set_point", unit="°C", low=20.0, high=45.0, words="set point of a machine", displays=_TEMP)
VENTS = Quantity(key="vents", unit="1", low=0.0, high=1.0, words="share of the vents that is open", displays=_SHARE)
MOMENT = Quantity(
    key="moment",
    unit="epoch_s",
    low=0.0,
    high=4_102_444_800.0,
    words="moment, seconds since 1970 in UTC",
    displays=("date and hour",),
)

QUANTITIES: Mapping[str, Quantity] = MappingProxyType(
    {value.key: value for value in list(globals().values()) if isinstance(value, Quantity)}
)
