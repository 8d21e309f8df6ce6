"""Every number that reaches a person: a value, its 90 % interval, its unit and where it comes from."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from types import MappingProxyType

from chalaza.errors import BalanceError

#: Half-width of a 90 % interval in standard deviations of a Gaussian.
Z90 = 1.6448536269514722


@dataclass(frozen=True, slots=True)
class Basis:
    """Where a number comes from, as keys: `method` into the manual, `inputs` into the records, `sources` into sources.toml."""

    method: str
    inputs: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with its 90 % interval. A moment is an estimate in unit `epoch_s`.

    Raises `BalanceError` if the numbers are not finite or not in order (that is our bug, never the keeper's).
    """

    value: float
    low: float
    high: float
    unit: str
    basis: Basis

    def __post_init__(self) -> None:
        if not all(map(isfinite, (self.value, self.low, self.high))):
            raise BalanceError(f"estimate is not finite: {self.value}, {self.low}, {self.high} {self.unit}")
        slack = 1e-9 * max(1.0, abs(self.value))
        if not self.low - slack <= self.value <= self.high + slack:
            raise BalanceError(f"estimate out of order: {self.low} <= {self.value} <= {self.high} {self.unit}")

    @classmethod
    def normal(cls, mean: float, sd: float, unit: str, basis: Basis) -> "Estimate":
        """The estimate of a Gaussian: mean and the central 90 %."""
        half = Z90 * abs(float(sd))
        return cls(float(mean), float(mean) - half, float(mean) + half, unit, basis)

    @property
    def half_width(self) -> float:
        """Half the width of the 90 % interval, in `unit`."""
        return (self.high - self.low) / 2.0


Figure = Estimate | float | int | str
Figures = Mapping[str, Figure]


def figures(**items: Figure) -> Figures:
    """A read-only mapping of figures, for `Advice`."""
    return MappingProxyType(dict(items))


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A wanted band: edges, what is typical, and where it is said."""

    low: float
    typical: float
    high: float
    unit: str
    source: str = ""
    status: str = ""
    sources: tuple[str, ...] = field(default=())
