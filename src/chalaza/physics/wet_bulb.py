"""Wet bulb and wick: the thermodynamic wet bulb, the thermometer with a wick, and humidity from either.

Both are one psychrometer equation, e(bulb) - e = A (air - bulb): a wick has its coefficient times the pressure for A, the
thermodynamic bulb an A that follows from the balance of energy. Over liquid water throughout: a frozen wick follows
another curve. Outside a span everything raises `OutOfRange` with the position of the first stray.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from chalaza.errors import ChalazaError
from chalaza.physics._arrays import Buffer, Span, double, halves, in_blocks, like, scaled, single
from chalaza.physics._spans import HIGH_DEGC, PRESSURE, RH, TEMP, settled_rh
from chalaza.physics.constants import STANDARD_PRESSURE_PA, VAPOUR_TO_AIR_MASS
from chalaza.physics.saturation import (
    PER_UNIT,
    reciprocal_pressure,
    relative_pressure,
    relative_pressure_and_slope,
)
from chalaza.units import Number

LOW_WET_DEGC = -41.0  # a bulb in dry air at -40 °C
_WET, _WICK = (Span(name, LOW_WET_DEGC, HIGH_DEGC, "°C") for name in ("wet_bulb_degc", "wick_degc"))


# --- A of the psychrometer equation -----------------------------------------------------------------------------------

# ashrae-2017, chapter 1, equation 33, in kJ/kg: (2501 - 2.326 w) Ws(w) - 1.006 (t - w) = W (2501 + 1.86 t - 4.186 w).
# Put W = r e/(p - e) with r the ratio of masses, d = t - w, and g = 1.006/r + (4.186 - 2.326 - 1.006/r) e/p; then
# A = (p - e) g / (2501 - 2.326 t + (2.326 + g) d) exactly.
_LATENT, _COOLER = 2501.0, 2.326
_DRY = 1.006 / VAPOUR_TO_AIR_MASS
_MOIST = 4.186 - _COOLER - _DRY


class _Pull(NamedTuple):
    """A = top / (below + growth d) for d kelvin between air and bulb; a bare `top` where A is a constant."""

    top: Any
    below: Any = None
    growth: Any = None


#: (air, vapour pressure, pressure, three blocks of scratch) -> `_Pull`.
_Pulling = Callable[[Any, Any, Any, tuple[Buffer, ...]], _Pull]


def _moist(vapour: Any, p: Any, room: Buffer) -> Any:
    """The part of g that is made by the vapour, in `room`."""
    if isinstance(p, float):
        return np.multiply(vapour, _MOIST / p, out=room)
    share = np.divide(vapour, p, out=room)
    share *= _MOIST
    return share


def _adiabatic(t: Any, vapour: Any, p: Any, rooms: tuple[Buffer, ...]) -> _Pull:
    growth = _moist(vapour, p, rooms[0])
    growth += _DRY
    top = np.subtract(p, vapour, out=rooms[1])
    top *= growth
    growth += _COOLER
    below = np.multiply(t, -_COOLER, out=rooms[2])
    below += _LATENT
    return _Pull(top, below, growth)


def _factor(pull: _Pull, d: Any, room: Buffer, other: Buffer) -> tuple[Any, Any]:
    """A at `d` in `room`, and what `top` is divided by for it in `other` (None for a constant A)."""
    if pull.growth is None:
        return pull.top, None
    below = np.multiply(d, pull.growth, out=other)
    below += pull.below
    return np.divide(pull.top, below, out=room), below


def _steepness(pull: _Pull, factor: Any, below: Any) -> Any:
    """Derivative of A d by d, in the place of `below`."""
    if below is None:
        return factor
    slope = np.divide(pull.below, below, out=below if isinstance(below, np.ndarray) else None)
    slope *= factor
    return slope


# --- The bulb ---------------------------------------------------------------------------------------------------------

# A straight line between air and bulb for the saturation curve, its slope by the vapour at both ends: within 1.8 K
# over all of the span. Fitted to the solution itself; it decides how soon the steps below arrive, not where.
_BY_PRESSURE, _BY_FULL, _BY_FULL_K, _BY_VAPOUR = 1.17e-3, 0.0277, -1.47e-4, 0.0387
_STEPS = 2


def _start(t: Any, full: Any, vapour: Any, p: Any, by_pressure: float, rooms: tuple[Buffer, ...]) -> Any:
    """Roughly how far the bulb stands below the air, in `full`, its place."""
    slope = np.multiply(t, _BY_FULL_K, out=rooms[0])
    slope += _BY_FULL
    slope *= full
    slope += np.multiply(vapour, _BY_VAPOUR, out=rooms[1])
    slope += scaled(p, by_pressure, rooms[1])
    full -= vapour
    full /= slope
    return full


def _near(
    t: Any, full: Any, vapour: Any, p: Any, pulling: _Pulling, by_pressure: float, rooms: tuple[Buffer, ...]
) -> tuple[Any, Any, Any]:
    """How far the bulb stands below the air, by Newton's steps in single precision; slope of the last step; A there.

    From 1.8 K a step leaves 0.1 K and the next 0.0003 K: single precision holds that, at half the cost of double.
    """
    pull = pulling(t, vapour, p, rooms[:3])
    d = _start(t, full, vapour, p, by_pressure, rooms[3:5])
    slope: Any = None
    for _ in range(_STEPS):
        bulb = np.subtract(t, d, out=rooms[3])
        value, slope = relative_pressure_and_slope(bulb, rooms[4], rooms[3], rooms[5])
        slope *= value
        factor, below = _factor(pull, d, rooms[6], rooms[5])
        value -= vapour
        value -= np.multiply(factor, d, out=rooms[7])
        slope += _steepness(pull, factor, below)
        value /= slope
        d += value
    return d, slope, _factor(pull, d, rooms[6], rooms[5])[0]


def _bulb(t: Any, rh: Any, p: Any, place: Buffer, *rooms: Buffer, pulling: _Pulling, by_pressure: float) -> Any:
    """Temperature of the bulb in `place`. `rooms`: ten blocks of scratch. All pressures in units of `UNIT_PA`."""
    vapour = relative_pressure(t, rooms[0], place)
    halved = [half for room in rooms[4:] for half in halves(room)]
    full = single(vapour, halved[0])
    vapour *= rh
    rough = single(t, halved[1]), full, single(vapour, halved[2]), scaled(single(p, halved[3]), PER_UNIT, halved[3])
    near = _near(*rough, pulling, by_pressure, tuple(halved[4:]))
    # One more step in full, by the slope at hand. A is right to 3e-7 in single precision: 1e-6 K for a bulb 10 K below.
    d, slope, fall = (double(value, room) for value, room in zip(near, rooms[1:4], strict=True))
    value = relative_pressure(np.subtract(t, d, out=place), place, rooms[4])
    value -= vapour
    value -= np.multiply(fall, d, out=rooms[3])
    value /= slope
    value += d
    return np.subtract(t, value, out=place)


def _wet_bulb(t: Any, rh: Any, p: Any, *rooms: Buffer) -> Any:
    return _bulb(t, rh, p, *rooms, pulling=_adiabatic, by_pressure=_BY_PRESSURE)


def wet_bulb(temp_degc: Number, rh: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA) -> Number:
    """Thermodynamic wet bulb, over liquid water. [°C]

    `temp_degc`: -40 to 60 [°C]; `rh`: 0 to 1; `pressure_pa`: 45 000 to 110 000. Outside raises `OutOfRange`.
    A wick that has frozen follows another curve: below 0 °C this is the bulb of an unfrozen one.
    Source: ashrae-2017, chapter 1, equation 33; solved within 1e-5 K.
    """
    return like(temp_degc, in_blocks(_wet_bulb, temp_degc, rh, pressure_pa, spans=(TEMP, RH, PRESSURE), buffers=11))


def _rh_from_wet_bulb(dry: Any, wet: Any, p: Any, place: Buffer, *rooms: Buffer) -> Any:
    # The same equation seen from the bulb: A = (p - e) g / (2501 - 2.326 w + b d (p - e)/p), where e is that of the
    # bulb, g = 1.006/r + b e/p and b = 4.186 - 2.326 - 1.006/r.
    vapour = relative_pressure(wet, place, rooms[0])
    p = scaled(p, PER_UNIT, rooms[3])
    fall = np.subtract(dry, wet, out=rooms[0])
    share = _moist(vapour, p, rooms[1])
    below = np.subtract(_MOIST, share, out=rooms[2])
    below *= fall
    share += _DRY
    fall *= share
    fall *= np.subtract(p, vapour, out=rooms[1])
    below += np.multiply(wet, -_COOLER, out=rooms[1])
    below += _LATENT
    fall /= below
    vapour -= fall
    vapour *= reciprocal_pressure(dry, rooms[0], rooms[1])
    return settled_rh(vapour)


def rh_from_wet_bulb(
    temp_degc: Number, wet_bulb_degc: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA
) -> Number:
    """Inverse of `wet_bulb`. [1] A bulb above the air, or colder than dry air could make it, raises (`rh`)."""
    given = temp_degc, wet_bulb_degc, pressure_pa
    return like(temp_degc, in_blocks(_rh_from_wet_bulb, *given, spans=(TEMP, _WET, PRESSURE), buffers=5))


# --- The wick thermometer ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Wick:
    """How a wick is ventilated: `coefficient_per_k` of the psychrometer equation, its source, its standing."""

    coefficient_per_k: float
    source: str
    status: str


#: fao-56, chapter 3: aspirated at about 5 m/s, natural draught of about 1 m/s, indoors without ventilation; and a
#: laboratory psychrometer.
WICKS: Mapping[str, Wick] = MappingProxyType(
    {
        "ventilated": Wick(6.62e-4, "fao-56", "checked"),
        "natural": Wick(8.00e-4, "fao-56", "checked"),
        "unventilated": Wick(1.200e-3, "fao-56", "checked"),
        "reference": Wick(6.21e-4, "fan-1987", "checked"),
    }
)


def _coefficient(ventilation: str) -> float:
    try:
        return WICKS[ventilation].coefficient_per_k
    except KeyError:
        raise ChalazaError(f"no wick {ventilation!r}; allowed: {', '.join(WICKS)}") from None


def rh_from_wick(
    temp_degc: Number,
    wick_degc: Number | float,
    pressure_pa: Number | float = STANDARD_PRESSURE_PA,
    *,
    ventilation: str = "ventilated",
) -> Number:
    """Relative humidity from a dry and a wick thermometer: e = es(wick) - A p (air - wick). [1]

    `temp_degc`, `wick_degc`: -40 (wick -41) to 60 [°C]; `ventilation`: a key of `WICKS`. A wick colder than dry air
    could make it, or above the air, raises `OutOfRange` (`rh`). A wick in still air stands higher than the table of a
    fan-blown one expects, so that reading it by that table shows 4-8 points too humid. Source: fao-56, chapter 3,
    equation 15.
    """
    coefficient = _coefficient(ventilation)

    def kernel(dry: Any, wet: Any, p: Any, place: Buffer, *rooms: Buffer) -> Any:
        vapour = relative_pressure(wet, place, rooms[0])
        fall = np.subtract(dry, wet, out=rooms[0])
        fall *= scaled(p, coefficient * PER_UNIT, rooms[1])
        vapour -= fall
        vapour *= reciprocal_pressure(dry, rooms[0], rooms[1])
        return settled_rh(vapour)

    given = temp_degc, wick_degc, pressure_pa
    return like(temp_degc, in_blocks(kernel, *given, spans=(TEMP, _WICK, PRESSURE), buffers=3))


def wick_reading(
    temp_degc: Number,
    rh: Number | float,
    pressure_pa: Number | float = STANDARD_PRESSURE_PA,
    *,
    ventilation: str = "ventilated",
) -> Number:
    """Inverse of `rh_from_wick`: what the wick thermometer shows. [°C] Solved within 1e-5 K."""
    coefficient = _coefficient(ventilation)

    def pulling(t: Any, vapour: Any, p: Any, rooms: tuple[Buffer, ...]) -> _Pull:
        return _Pull(scaled(p, coefficient, rooms[0]))

    def kernel(t: Any, humid: Any, p: Any, *rooms: Buffer) -> Any:
        # Fitted like the others, over the coefficients of `WICKS`.
        return _bulb(t, humid, p, *rooms, pulling=pulling, by_pressure=1.84 * coefficient)

    return like(temp_degc, in_blocks(kernel, temp_degc, rh, pressure_pa, spans=(TEMP, RH, PRESSURE), buffers=11))
