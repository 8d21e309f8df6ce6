"""Conversion at the edge: what people type and read, to and from the one unit each quantity has inside.

Inside the program every number is a float in the unit its `Quantity` names. Only forms, commands, readers and `words`
call this module.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

from chalaza.errors import ChalazaError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Number = TypeVar("Number", float, npt.NDArray[np.floating[Any]])
else:
    Number = TypeVar("Number")

#: unit -> (unit inside, factor, shift): inside = shown * factor + shift. Definitions, exact: BIPM SI brochure 2019,
#: NIST SP 811 (2008) appendix B.8 for the customary units (memory).
_TO_INSIDE: Mapping[str, tuple[str, float, float]] = MappingProxyType(
    {
        "°C": ("°C", 1.0, 0.0),
        "°F": ("°C", 5.0 / 9.0, -160.0 / 9.0),
        "kelvin": ("°C", 1.0, -273.15),
        "K": ("K", 1.0, 0.0),
        "K h": ("K h", 1.0, 0.0),
        "1": ("1", 1.0, 0.0),
        "%": ("1", 0.01, 0.0),
        "Pa": ("Pa", 1.0, 0.0),
        "hPa": ("Pa", 100.0, 0.0),
        "kPa": ("Pa", 1000.0, 0.0),
        "mmHg": ("Pa", 133.322387415, 0.0),
        "inHg": ("Pa", 3386.389, 0.0),
        "g": ("g", 1.0, 0.0),
        "kg": ("g", 1000.0, 0.0),
        "oz": ("g", 28.349523125, 0.0),
        "lb": ("g", 453.59237, 0.0),
        "mm": ("mm", 1.0, 0.0),
        "cm": ("mm", 10.0, 0.0),
        "in": ("mm", 25.4, 0.0),
        "m": ("m", 1.0, 0.0),
        "ft": ("m", 0.3048, 0.0),
        "L": ("L", 1.0, 0.0),
        "cm²": ("cm²", 1.0, 0.0),
        "in²": ("cm²", 6.4516, 0.0),
        "d": ("d", 1.0, 0.0),
        "h": ("h", 1.0, 0.0),
        "min": ("min", 1.0, 0.0),
        "wk": ("wk", 1.0, 0.0),
        "1/d": ("1/d", 1.0, 0.0),
        "eggs": ("eggs", 1.0, 0.0),
        "young": ("young", 1.0, 0.0),
        "epoch_s": ("epoch_s", 1.0, 0.0),
    }
)

UNITS = frozenset(_TO_INSIDE)


def _look_up(unit: str) -> tuple[str, float, float]:
    try:
        return _TO_INSIDE[unit]
    except KeyError:
        raise ChalazaError(f"no unit {unit!r}; allowed: {', '.join(sorted(UNITS))}") from None


def inside(value: Number, unit: str) -> Number:
    """`value` in `unit`, expressed in the unit used inside (`unit_inside`). Raises `ChalazaError` for no such unit."""
    _, factor, shift = _look_up(unit)
    return value * factor + shift


def shown(value: Number, unit: str) -> Number:
    """`value` in the unit used inside, expressed in `unit`: the inverse of `inside`."""
    _, factor, shift = _look_up(unit)
    return (value - shift) / factor


def unit_inside(unit: str) -> str:
    """The unit used inside for what is shown in `unit`."""
    return _look_up(unit)[0]
