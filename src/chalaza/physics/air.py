"""Moist air: saturation, humidity in its several forms, wet bulb and wick, enthalpy, density, altitude.

Ideal mixture of dry air and vapour in the engineering form of ashrae-2017 (chapter 1). Against a real-gas formulation it
gives humidity ratios 0.3-0.6 % low, because the enhancement factor is left out; wet bulb and dew point agree within
0.025 K. All saturation is over liquid water, below 0 °C supercooled (as hygrometers are calibrated), unless a name
says ice. Everything takes scalars or arrays; outside a span it raises `OutOfRange` with the position of the first stray.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from chalaza.errors import ChalazaError
from chalaza.physics._arrays import Array, in_blocks, like, within
from chalaza.physics.constants import (
    AIR_GAS_CONSTANT_J_PER_KG_K,
    DRY_AIR_GAS_CONSTANT_J_PER_KG_K,
    GRAVITY_M_PER_S2,
    LAPSE_K_PER_M,
    SEA_LEVEL_TEMP_K,
    STANDARD_PRESSURE_PA,
    VAPOUR_GAS_CONSTANT_J_PER_KG_K,
    VAPOUR_TO_AIR_MASS,
    ZERO_DEGC_K,
)
from chalaza.units import Number

LOW_DEGC, HIGH_DEGC = -40.0, 60.0
LOW_WET_DEGC = -41.0  # a bulb in dry air at -40 °C
LOW_ICE_DEGC, HIGH_ICE_DEGC = -40.0, 0.01
LOW_PA, HIGH_PA = 45_000.0, 110_000.0
LOW_M, HIGH_M = -500.0, 6_000.0

#: A humidity found by an inverse may miss 0 or 1 by rounding alone; beyond this it is refused.
_ROUNDING = 1e-5


# --- Saturation -----------------------------------------------------------------------------------------------------

# hyland-wexler-1983: coefficients of 1/T, 1, T, T², T³, T⁴ and ln T in ln(Pa), T in kelvin.
_LIQUID = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)
_ICE = (-5.6745359e3, 6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13, 4.1635019)


def _published(coefficients: tuple[float, ...], temp_degc: Array) -> Array:
    """ln of the saturation pressure [Pa] exactly as printed (hyland-wexler-1983, equations 17 and 18)."""
    k = temp_degc + ZERO_DEGC_K
    a, b, c, d, e, f, g = coefficients
    return a / k + b + k * (c + k * (d + k * (e + k * f))) + g * np.log(k)


_Curve = tuple[float, float, float, float, float]


def _curve(coefficients: tuple[float, ...], at_degc: tuple[float, ...]) -> _Curve:
    """The published curve as a constant and a quotient, equal to it at the five temperatures `at_degc`.

    ln(p) = k + (m t + n) / (t² + q t + r). It needs one exponential and no logarithm, and its inverse is the root of a
    quadratic: pressure and dew point are then one curve read both ways. It leaves the published one by at most 1e-5 of
    the pressure (liquid) and 1e-7 (ice) over the span, thirty times less than the tables differ among themselves.
    """
    t = np.array(at_degc)
    log_p = _published(coefficients, t)
    # As a quotient of two parabolas the fit is linear: a0 + a1 t + a2 t² - ln(p) (b1 t + b2 t²) = ln(p).
    a0, a1, a2, b1, b2 = np.linalg.solve(np.stack([np.ones(5), t, t * t, -log_p * t, -log_p * t * t], axis=1), log_p)
    k = a2 / b2
    return float(k), float((a1 - k * b1) / b2), float((a0 - k) / b2), float(b1 / b2), float(1.0 / b2)


# Five temperatures that keep the largest gap smallest, one of them where eggs are kept.
_WATER_CURVE = _curve(_LIQUID, (-38.0, -22.0, 6.0, 37.5, 57.0))
_ICE_CURVE = _curve(_ICE, (-39.0, -32.0, -20.0, -8.0, -1.0))


def _pressure(t: Array, curve: _Curve = _WATER_CURVE) -> Array:
    # In place: this is the innermost pass of everything below.
    k, m, n, q, r = curve
    below = t + q
    below *= t
    below += r
    result = m * t
    result += n
    result /= below
    result += k
    return np.exp(result, out=result) if isinstance(result, np.ndarray) else np.exp(result)


def _pressure_and_slope(t: Array) -> tuple[Array, Array]:
    """Saturation pressure and the derivative of its logarithm."""
    k, m, n, q, r = _WATER_CURVE
    below = t + q
    turn = below + t
    below *= t
    below += r
    part = m * t
    part += n
    part /= below
    turn *= part
    part += k
    return np.exp(part), (m - turn) / below


def _temp_at(curve: _Curve, pressure: Array) -> Array:
    k, m, n, q, r = curve
    inverse = np.log(pressure) - k
    inverse = np.divide(1.0, inverse, out=inverse) if isinstance(inverse, np.ndarray) else 1.0 / inverse
    half = (-0.5 * m) * inverse
    half += 0.5 * q
    root = half * half
    inverse *= n
    root += inverse
    root -= r
    root = np.sqrt(root)
    return root - half if q > 0.0 else -(root + half)


def saturation_pressure(temp_degc: Number) -> Number:
    """Vapour pressure of air saturated over liquid water. [Pa]

    `temp_degc`: -40 to 60; below 0 over supercooled water. [°C] Outside raises `OutOfRange`.
    Source: hyland-wexler-1983, extended below 0 °C by the same equation (there 0.1-0.7 % above murphy-koop-2005).
    """
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    return like(temp_degc, in_blocks(_pressure, t))


def _ends(low: float, high: float) -> tuple[float, float]:
    """The span of an inverse, a rounding wider than the values at the ends of the forward span."""
    return low * (1.0 - 1e-12), high * (1.0 + 1e-12)


def dew_point(vapour_pa: Number) -> Number:
    """Inverse of `saturation_pressure`: same constants, same span, over liquid water. [°C]

    `vapour_pa`: vapour pressure, 19.1 to 19 944 Pa; outside raises `OutOfRange`.
    """
    p = within("vapour_pa", vapour_pa, *_ends(saturation_pressure(LOW_DEGC), saturation_pressure(HIGH_DEGC)), "Pa")
    return like(vapour_pa, in_blocks(lambda part: _temp_at(_WATER_CURVE, part), p))


def saturation_pressure_ice(temp_degc: Number) -> Number:
    """Vapour pressure of air saturated over ice. [Pa]

    `temp_degc`: -40 to 0.01 [°C]; outside raises `OutOfRange`. Source: hyland-wexler-1983.
    """
    t = within("temp_degc", temp_degc, LOW_ICE_DEGC, HIGH_ICE_DEGC, "°C")
    return like(temp_degc, in_blocks(lambda part: _pressure(part, _ICE_CURVE), t))


def frost_point(vapour_pa: Number) -> Number:
    """Inverse of `saturation_pressure_ice`: where hoar begins on a surface below 0 °C. [°C]"""
    ends = _ends(saturation_pressure_ice(LOW_ICE_DEGC), saturation_pressure_ice(HIGH_ICE_DEGC))
    p = within("vapour_pa", vapour_pa, *ends, "Pa")
    return like(vapour_pa, in_blocks(lambda part: _temp_at(_ICE_CURVE, part), p))


# --- Forms of humidity ----------------------------------------------------------------------------------------------


def _state(temp_degc: npt.ArrayLike, rh: npt.ArrayLike) -> tuple[Array, Array]:
    return within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C"), within("rh", rh, 0.0, 1.0, "1")


def _vapour(t: Array, rh: Array) -> Array:
    result = _pressure(t)
    result *= rh
    return result


def _place(pressure_pa: npt.ArrayLike) -> Array:
    return within("pressure_pa", pressure_pa, LOW_PA, HIGH_PA, "Pa")


def _humidity(rh: Array) -> Array:
    """A relative humidity found by an inverse: refused outside 0 to 1, freed of rounding at the ends."""
    if rh.size and rh.min() >= 0.0 and rh.max() <= 1.0:
        return rh
    return np.clip(within("rh", rh, -_ROUNDING, 1.0 + _ROUNDING, "1"), 0.0, 1.0)


def vapour_pressure(temp_degc: Number, rh: Number | float) -> Number:
    """Pressure of the vapour in air. [Pa]

    `temp_degc`: -40 to 60 [°C]; `rh`: 0 to 1, relative to liquid water. Outside raises `OutOfRange`.
    """
    return like(temp_degc, in_blocks(_vapour, *_state(temp_degc, rh)))


def rh_from_vapour_pressure(temp_degc: Number, vapour_pa: Number | float) -> Number:
    """Inverse of `vapour_pressure`. [1] More vapour than saturates the air raises `OutOfRange` (`rh`)."""
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    p = within("vapour_pa", vapour_pa, 0.0, HIGH_PA, "Pa")
    return like(temp_degc, _humidity(in_blocks(lambda a, b: b / _pressure(a), t, p)))


def rh_from_dew_point(temp_degc: Number, dew_point_degc: Number | float) -> Number:
    """Relative humidity of air with this dew point (over liquid water). [1] A dew point above the air raises."""
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    d = within("dew_point_degc", dew_point_degc, LOW_DEGC, HIGH_DEGC, "°C")
    return like(temp_degc, _humidity(in_blocks(lambda a, b: _pressure(b) / _pressure(a), t, d)))


def dew_point_of(temp_degc: Number, rh: Number | float) -> Number:
    """Dew point of air at `temp_degc` [°C] and `rh` [1], over liquid water. [°C] Below -40 °C raises `OutOfRange`."""
    return like(temp_degc, np.asarray(dew_point(np.asarray(vapour_pressure(temp_degc, rh)))))


def _ratio(vapour: Array, pressure: Array) -> Array:
    result = VAPOUR_TO_AIR_MASS * vapour
    result /= pressure - vapour
    return result


def humidity_ratio(temp_degc: Number, rh: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA) -> Number:
    """Mass of vapour per mass of dry air. [kg/kg]

    `temp_degc`: -40 to 60 [°C]; `rh`: 0 to 1; `pressure_pa`: 45 000 to 110 000. Outside raises `OutOfRange`.
    Source: ashrae-2017, chapter 1, equation 20.
    """
    t, h = _state(temp_degc, rh)
    return like(temp_degc, in_blocks(lambda a, b, p: _ratio(_vapour(a, b), p), t, h, _place(pressure_pa)))


def rh_from_humidity_ratio(
    temp_degc: Number, ratio: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA
) -> Number:
    """Inverse of `humidity_ratio`. [1] `ratio`: 0 to 1 kg/kg; more than saturates the air raises `OutOfRange` (`rh`)."""
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    w = within("ratio", ratio, 0.0, 1.0, "kg/kg")
    found = in_blocks(lambda a, b, p: p * b / ((VAPOUR_TO_AIR_MASS + b) * _pressure(a)), t, w, _place(pressure_pa))
    return like(temp_degc, _humidity(found))


def vapour_density(temp_degc: Number, rh: Number | float) -> Number:
    """Absolute humidity: mass of vapour in a volume of air. [g/m³] Source: gas law, vapour constant of wmo-8."""
    t, h = _state(temp_degc, rh)

    def kernel(a: Array, b: Array) -> Array:
        return 1000.0 * _vapour(a, b) / (VAPOUR_GAS_CONSTANT_J_PER_KG_K * (a + ZERO_DEGC_K))

    return like(temp_degc, in_blocks(kernel, t, h))


# --- Energy and mass ------------------------------------------------------------------------------------------------


def enthalpy(temp_degc: Number, ratio: Number | float) -> Number:
    """Enthalpy of moist air per kilogram of dry air, zero at 0 °C and dry. [J/kg]

    `temp_degc`: -40 to 60 [°C]; `ratio`: 0 to 1 [kg/kg]. Source: ashrae-2017, chapter 1, equation 30.
    """
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    w = within("ratio", ratio, 0.0, 1.0, "kg/kg")
    return like(temp_degc, in_blocks(lambda a, b: 1000.0 * (1.006 * a + b * (2501.0 + 1.86 * a)), t, w))


def specific_volume(
    temp_degc: Number, ratio: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA
) -> Number:
    """Volume of moist air per kilogram of dry air. [m³/kg] Source: ashrae-2017, chapter 1, equation 26."""
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    w = within("ratio", ratio, 0.0, 1.0, "kg/kg")

    def kernel(a: Array, b: Array, p: Array) -> Array:
        return DRY_AIR_GAS_CONSTANT_J_PER_KG_K * (a + ZERO_DEGC_K) * (1.0 + b / VAPOUR_TO_AIR_MASS) / p

    return like(temp_degc, in_blocks(kernel, t, w, _place(pressure_pa)))


def density(temp_degc: Number, rh: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA) -> Number:
    """Density of moist air. [kg/m³] `temp_degc`: -40 to 60 [°C]; `rh`: 0 to 1. Source: ashrae-2017, chapter 1."""
    t, h = _state(temp_degc, rh)

    def kernel(a: Array, b: Array, p: Array) -> Array:
        # (1 + W)/v with W and v written out: dry air and vapour side by side.
        result = _vapour(a, b)
        result *= (VAPOUR_TO_AIR_MASS - 1.0) / DRY_AIR_GAS_CONSTANT_J_PER_KG_K
        result += p / DRY_AIR_GAS_CONSTANT_J_PER_KG_K
        result /= a + ZERO_DEGC_K
        return result

    return like(temp_degc, in_blocks(kernel, t, h, _place(pressure_pa)))


# --- Wet bulb -------------------------------------------------------------------------------------------------------

_STEPS = 12
#: λ'/λ² is nearly constant on a saturation curve; this share of λ² makes a good second derivative of the pressure.
_BEND = 0.88


_Saturation = tuple[Array, Array]


def _descend(
    equation: Callable[[Array, Array, Array], tuple[Array, Array, Array]], start: Array, there: _Saturation
) -> Array:
    """Root of a rising convex function of the temperature, from its right side, by Halley's third-order steps.

    `equation(w, e, rise)` gives value, slope and second derivative from the saturation pressure at `w` and the
    derivative of its logarithm; `there` are these two at the start. The second derivative only speeds the way; a rough
    one serves.
    """
    w = start
    for _ in range(_STEPS):
        value, slope, bend = equation(w, *there)
        value /= slope
        bend *= value
        bend /= slope
        bend *= -0.5
        bend += 1.0
        value /= bend
        w = w - value
        # A step leaves behind it less than a thousandth of its square.
        if max(value.max(initial=0.0), -value.min(initial=0.0)) < 0.03:
            break
        there = _pressure_and_slope(w)
    return w


# ashrae-2017, chapter 1, equation 33, in kJ/kg: (2501 - 2.326 w) Ws(w) - 1.006 (t - w) = W (2501 + 1.86 t - 4.186 w).
def _wet_bulb(t: Array, rh: Array, p: Array) -> Array:
    at_air = _pressure_and_slope(t)
    ratio = _ratio(rh * at_air[0], p)
    energy = 1.006 * t + ratio * (2501.0 + 1.86 * t)
    fall = 1.006 + 4.186 * ratio
    head = 2501.0 * VAPOUR_TO_AIR_MASS + energy
    tail = 2.326 * VAPOUR_TO_AIR_MASS + fall
    free, lift = p * energy, p * fall

    # The equation times (p - e): e (head - tail w) - p (energy - fall w) = 0, without a division.
    def equation(w: Array, e: Array, rise: Array) -> tuple[Array, Array, Array]:
        weight = e * (head - tail * w)
        bent = rise * weight
        slope = bent - tail * e
        slope += lift
        weight += lift * w
        weight -= free
        bent *= _BEND * rise
        return weight, slope, bent

    return _descend(equation, t, at_air)


def wet_bulb(temp_degc: Number, rh: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA) -> Number:
    """Thermodynamic wet bulb, over liquid water. [°C]

    `temp_degc`: -40 to 60 [°C]; `rh`: 0 to 1; `pressure_pa`: 45 000 to 110 000. Outside raises `OutOfRange`.
    A wick that has frozen follows another curve: below 0 °C this is the bulb of an unfrozen one.
    Source: ashrae-2017, chapter 1, equation 33; solved within 1e-5 K.
    """
    t, h = _state(temp_degc, rh)
    return like(temp_degc, in_blocks(_wet_bulb, t, h, _place(pressure_pa)))


def rh_from_wet_bulb(
    temp_degc: Number, wet_bulb_degc: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA
) -> Number:
    """Inverse of `wet_bulb`. [1] A bulb above the air, or colder than dry air could make it, raises (`rh`)."""
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    b = within("wet_bulb_degc", wet_bulb_degc, LOW_WET_DEGC, HIGH_DEGC, "°C")

    def kernel(dry: Array, wet: Array, p: Array) -> Array:
        saturated = _ratio(_pressure(wet), p)
        ratio = ((2501.0 - 2.326 * wet) * saturated - 1.006 * (dry - wet)) / (2501.0 + 1.86 * dry - 4.186 * wet)
        return p * ratio / ((VAPOUR_TO_AIR_MASS + ratio) * _pressure(dry))

    return like(temp_degc, _humidity(in_blocks(kernel, t, b, _place(pressure_pa))))


# --- The wick thermometer -------------------------------------------------------------------------------------------


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


def _wick(ventilation: str) -> float:
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

    `temp_degc`, `wick_degc`: -40 (wick -41) to 60 [°C]; `ventilation`: a key of `WICKS`. A wick colder than dry air could make it,
    or above the air, raises `OutOfRange` (`rh`). A wick in still air stands higher than the table of a fan-blown one
    expects, so that reading it by that table shows 4-8 points too humid. Source: fao-56, chapter 3, equation 15.
    """
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    w = within("wick_degc", wick_degc, LOW_WET_DEGC, HIGH_DEGC, "°C")
    coefficient = _wick(ventilation)

    def kernel(dry: Array, wet: Array, p: Array) -> Array:
        return (_pressure(wet) - coefficient * p * (dry - wet)) / _pressure(dry)

    return like(temp_degc, _humidity(in_blocks(kernel, t, w, _place(pressure_pa))))


def wick_reading(
    temp_degc: Number,
    rh: Number | float,
    pressure_pa: Number | float = STANDARD_PRESSURE_PA,
    *,
    ventilation: str = "ventilated",
) -> Number:
    """Inverse of `rh_from_wick`: what the wick thermometer shows. [°C]"""
    coefficient = _wick(ventilation)
    t, h = _state(temp_degc, rh)

    def kernel(dry: Array, humid: Array, p: Array) -> Array:
        pull = coefficient * p
        at_air = _pressure_and_slope(dry)
        total = humid * at_air[0] + pull * dry

        def equation(w: Array, e: Array, rise: Array) -> tuple[Array, Array, Array]:
            bent = rise * e
            return e + pull * w - total, bent + pull, _BEND * rise * bent

        return _descend(equation, dry, at_air)

    return like(temp_degc, in_blocks(kernel, t, h, _place(pressure_pa)))


# --- Altitude -------------------------------------------------------------------------------------------------------

_ISA_POWER = GRAVITY_M_PER_S2 / (AIR_GAS_CONSTANT_J_PER_KG_K * LAPSE_K_PER_M)


def pressure_from_altitude(altitude_m: Number) -> Number:
    """Air pressure at a height in the standard atmosphere. [Pa]

    `altitude_m`: -500 to 6000, geopotential; outside raises `OutOfRange`. Weather moves the true pressure by ±3 kPa.
    Source: iso-2533.
    """
    z = within("altitude_m", altitude_m, LOW_M, HIGH_M, "m")
    return like(altitude_m, STANDARD_PRESSURE_PA * (1.0 - LAPSE_K_PER_M * z / SEA_LEVEL_TEMP_K) ** _ISA_POWER)


def altitude_from_pressure(pressure_pa: Number) -> Number:
    """Inverse of `pressure_from_altitude`. [m]"""
    low, high = pressure_from_altitude(HIGH_M), pressure_from_altitude(LOW_M)
    p = within("pressure_pa", pressure_pa, low, high, "Pa")
    return like(
        pressure_pa, SEA_LEVEL_TEMP_K / LAPSE_K_PER_M * (1.0 - (p / STANDARD_PRESSURE_PA) ** (1.0 / _ISA_POWER))
    )
