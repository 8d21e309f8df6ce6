"""Moist air: humidity in its several forms, enthalpy, density, altitude; with saturation and the wet bulb passed on.

Ideal mixture of dry air and vapour in the engineering form of ashrae-2017 (chapter 1). Against a real-gas formulation it
gives humidity ratios 0.3-0.6 % low, because the enhancement factor is left out; wet bulb and dew point agree within
0.025 K. All saturation is over liquid water, below 0 °C supercooled (as hygrometers are calibrated), unless a name
says ice. Everything takes scalars or arrays; outside a span it raises `OutOfRange` with the position of the first stray.
"""

from typing import Any

import numpy as np

from chalaza.physics._arrays import Buffer, Span, in_blocks, like, scaled, within
from chalaza.physics._spans import HIGH_DEGC as HIGH_DEGC
from chalaza.physics._spans import HIGH_PA as HIGH_PA
from chalaza.physics._spans import LOW_DEGC as LOW_DEGC
from chalaza.physics._spans import LOW_PA as LOW_PA
from chalaza.physics._spans import PRESSURE, RH, TEMP, settled_rh
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
from chalaza.physics.saturation import HIGH_ICE_DEGC as HIGH_ICE_DEGC
from chalaza.physics.saturation import LOW_ICE_DEGC as LOW_ICE_DEGC
from chalaza.physics.saturation import (
    PER_UNIT,
    UNIT_PA,
    pressure_over,
    reciprocal_pressure,
    relative_pressure,
)
from chalaza.physics.saturation import dew_point as dew_point
from chalaza.physics.saturation import frost_point as frost_point
from chalaza.physics.saturation import saturation_pressure as saturation_pressure
from chalaza.physics.saturation import saturation_pressure_ice as saturation_pressure_ice
from chalaza.physics.wet_bulb import LOW_WET_DEGC as LOW_WET_DEGC
from chalaza.physics.wet_bulb import WICKS as WICKS
from chalaza.physics.wet_bulb import Wick as Wick
from chalaza.physics.wet_bulb import rh_from_wet_bulb as rh_from_wet_bulb
from chalaza.physics.wet_bulb import rh_from_wick as rh_from_wick
from chalaza.physics.wet_bulb import wet_bulb as wet_bulb
from chalaza.physics.wet_bulb import wick_reading as wick_reading
from chalaza.units import Number

LOW_M, HIGH_M = -500.0, 6_000.0

_VAPOUR = Span("vapour_pa", 0.0, HIGH_PA, "Pa")
_DEW = Span("dew_point_degc", LOW_DEGC, HIGH_DEGC, "°C")
_RATIO = Span("ratio", 0.0, 1.0, "kg/kg")


# --- Forms of humidity ------------------------------------------------------------------------------------------------


def _vapour_pressure(t: Any, rh: Any, place: Buffer, room: Buffer) -> Any:
    result = pressure_over(t, place, room)
    result *= rh
    return result


def vapour_pressure(temp_degc: Number, rh: Number | float) -> Number:
    """Pressure of the vapour in air. [Pa]

    `temp_degc`: -40 to 60 [°C]; `rh`: 0 to 1, relative to liquid water. Outside raises `OutOfRange`.
    """
    return like(temp_degc, in_blocks(_vapour_pressure, temp_degc, rh, spans=(TEMP, RH), buffers=2))


def _rh_from_vapour_pressure(t: Any, vapour: Any, place: Buffer, room: Buffer) -> Any:
    result = reciprocal_pressure(t, place, room)
    result *= vapour
    result *= PER_UNIT
    return settled_rh(result)


def rh_from_vapour_pressure(temp_degc: Number, vapour_pa: Number | float) -> Number:
    """Inverse of `vapour_pressure`. [1] More vapour than saturates the air raises `OutOfRange` (`rh`)."""
    found = in_blocks(_rh_from_vapour_pressure, temp_degc, vapour_pa, spans=(TEMP, _VAPOUR), buffers=2)
    return like(temp_degc, found)


def _rh_from_dew_point(t: Any, dew: Any, place: Buffer, room: Buffer, other: Buffer) -> Any:
    result = relative_pressure(dew, place, room)
    result *= reciprocal_pressure(t, room, other)
    return settled_rh(result)


def rh_from_dew_point(temp_degc: Number, dew_point_degc: Number | float) -> Number:
    """Relative humidity of air with this dew point (over liquid water). [1] A dew point above the air raises."""
    return like(temp_degc, in_blocks(_rh_from_dew_point, temp_degc, dew_point_degc, spans=(TEMP, _DEW), buffers=3))


def dew_point_of(temp_degc: Number, rh: Number | float) -> Number:
    """Dew point of air at `temp_degc` [°C] and `rh` [1], over liquid water. [°C] Below -40 °C raises `OutOfRange`."""
    return like(temp_degc, np.asarray(dew_point(np.asarray(vapour_pressure(temp_degc, rh)))))


def _humidity_ratio(t: Any, rh: Any, p: Any, place: Buffer, room: Buffer) -> Any:
    result = relative_pressure(t, place, room)
    result *= rh
    dry = np.subtract(scaled(p, PER_UNIT, room), result, out=room)
    result *= VAPOUR_TO_AIR_MASS
    result /= dry
    return result


def humidity_ratio(temp_degc: Number, rh: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA) -> Number:
    """Mass of vapour per mass of dry air. [kg/kg]

    `temp_degc`: -40 to 60 [°C]; `rh`: 0 to 1; `pressure_pa`: 45 000 to 110 000. Outside raises `OutOfRange`.
    Source: ashrae-2017, chapter 1, equation 20.
    """
    found = in_blocks(_humidity_ratio, temp_degc, rh, pressure_pa, spans=(TEMP, RH, PRESSURE), buffers=2)
    return like(temp_degc, found)


def _rh_from_humidity_ratio(t: Any, ratio: Any, p: Any, place: Buffer, room: Buffer) -> Any:
    result = reciprocal_pressure(t, place, room)
    result *= ratio
    result *= scaled(p, PER_UNIT, room)
    result /= np.add(ratio, VAPOUR_TO_AIR_MASS, out=room)
    return settled_rh(result)


def rh_from_humidity_ratio(
    temp_degc: Number, ratio: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA
) -> Number:
    """Inverse of `humidity_ratio`. [1] `ratio`: 0 to 1 kg/kg; more than saturates the air raises `OutOfRange` (`rh`)."""
    given = temp_degc, ratio, pressure_pa
    return like(temp_degc, in_blocks(_rh_from_humidity_ratio, *given, spans=(TEMP, _RATIO, PRESSURE), buffers=2))


def _vapour_density(t: Any, rh: Any, place: Buffer, room: Buffer) -> Any:
    result = relative_pressure(t, place, room)
    result *= rh
    result *= 1000.0 * UNIT_PA / VAPOUR_GAS_CONSTANT_J_PER_KG_K
    result /= np.add(t, ZERO_DEGC_K, out=room)
    return result


def vapour_density(temp_degc: Number, rh: Number | float) -> Number:
    """Absolute humidity: mass of vapour in a volume of air. [g/m³] Source: gas law, vapour constant of wmo-8."""
    return like(temp_degc, in_blocks(_vapour_density, temp_degc, rh, spans=(TEMP, RH), buffers=2))


# --- Energy and mass --------------------------------------------------------------------------------------------------


def _enthalpy(t: Any, ratio: Any, place: Buffer, room: Buffer) -> Any:
    result = np.multiply(t, 1860.0, out=place)
    result += 2_501_000.0
    result *= ratio
    result += np.multiply(t, 1006.0, out=room)
    return result


def enthalpy(temp_degc: Number, ratio: Number | float) -> Number:
    """Enthalpy of moist air per kilogram of dry air, zero at 0 °C and dry. [J/kg]

    `temp_degc`: -40 to 60 [°C]; `ratio`: 0 to 1 [kg/kg]. Source: ashrae-2017, chapter 1, equation 30.
    """
    return like(temp_degc, in_blocks(_enthalpy, temp_degc, ratio, spans=(TEMP, _RATIO), buffers=2))


def _specific_volume(t: Any, ratio: Any, p: Any, place: Buffer, room: Buffer) -> Any:
    result = np.multiply(ratio, 1.0 / VAPOUR_TO_AIR_MASS, out=place)
    result += 1.0
    result *= np.add(t, ZERO_DEGC_K, out=room)
    result *= DRY_AIR_GAS_CONSTANT_J_PER_KG_K
    result /= p
    return result


def specific_volume(
    temp_degc: Number, ratio: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA
) -> Number:
    """Volume of moist air per kilogram of dry air. [m³/kg] Source: ashrae-2017, chapter 1, equation 26."""
    given = temp_degc, ratio, pressure_pa
    return like(temp_degc, in_blocks(_specific_volume, *given, spans=(TEMP, _RATIO, PRESSURE), buffers=2))


def _density(t: Any, rh: Any, p: Any, place: Buffer, room: Buffer) -> Any:
    # (1 + W)/v with W and v written out: dry air and vapour side by side.
    result = relative_pressure(t, place, room)
    result *= rh
    result *= UNIT_PA * (VAPOUR_TO_AIR_MASS - 1.0) / DRY_AIR_GAS_CONSTANT_J_PER_KG_K
    result += scaled(p, 1.0 / DRY_AIR_GAS_CONSTANT_J_PER_KG_K, room)
    result /= np.add(t, ZERO_DEGC_K, out=room)
    return result


def density(temp_degc: Number, rh: Number | float, pressure_pa: Number | float = STANDARD_PRESSURE_PA) -> Number:
    """Density of moist air. [kg/m³] `temp_degc`: -40 to 60 [°C]; `rh`: 0 to 1. Source: ashrae-2017, chapter 1."""
    found = in_blocks(_density, temp_degc, rh, pressure_pa, spans=(TEMP, RH, PRESSURE), buffers=2)
    return like(temp_degc, found)


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
