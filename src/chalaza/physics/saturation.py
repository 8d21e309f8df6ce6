"""Saturation of air with vapour over liquid water and over ice, and its inverses, dew point and frost point.

One curve for each, read both ways. Below 0 °C liquid water is supercooled. Everything takes scalars or arrays; outside
a span it raises `OutOfRange` with the position of the first stray. `chalaza.physics.air` passes these on.
"""

from typing import Any, NamedTuple

import numpy as np

from chalaza.physics._arrays import Array, Buffer, Span, in_blocks, like
from chalaza.physics._spans import HIGH_DEGC, LOW_DEGC, TEMP
from chalaza.physics.constants import ZERO_DEGC_K
from chalaza.units import Number

LOW_ICE_DEGC, HIGH_ICE_DEGC = -40.0, 0.01

# hyland-wexler-1983: coefficients of 1/T, 1, T, T², T³, T⁴ and ln T in ln(Pa), T in kelvin.
_LIQUID = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)
_ICE = (-5.6745359e3, 6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13, 4.1635019)


def _published(coefficients: tuple[float, ...], temp_degc: Array) -> Array:
    """ln of the saturation pressure [Pa] exactly as printed (hyland-wexler-1983, equations 17 and 18)."""
    k = temp_degc + ZERO_DEGC_K
    a, b, c, d, e, f, g = coefficients
    return a / k + b + k * (c + k * (d + k * (e + k * f))) + g * np.log(k)


class Curve(NamedTuple):
    """ln(p) = top + scale (x + lead) / (x² + bend), x = t + shift; and the same read backwards.

    t = base + y ± √(y² + dip), y = half / (ln(p) - top) + lead; `plus`: which of the two roots.
    """

    top: float
    scale: float
    lead: float
    bend: float
    shift: float
    base: float
    half: float
    dip: float
    plus: bool


def _curve(coefficients: tuple[float, ...], at_degc: tuple[float, ...]) -> Curve:
    """The published curve as a constant and a quotient, equal to it at the five temperatures `at_degc`.

    It needs one exponential and no logarithm, and its inverse is the root of a quadratic: pressure and dew point are
    then one curve read both ways. It leaves the published one by at most 1e-5 of the pressure (liquid) and 1e-7 (ice)
    over the span, thirty times less than the tables differ among themselves.
    """
    t = np.array(at_degc)
    log_p = _published(coefficients, t)
    # As a quotient of two parabolas the fit is linear: a0 + a1 t + a2 t² - ln(p) (b1 t + b2 t²) = ln(p).
    matrix = np.stack([np.ones(5), t, t * t, -log_p * t, -log_p * t * t], axis=1)
    a0, a1, a2, b1, b2 = (float(x) for x in np.linalg.solve(matrix, log_p))
    # ln(p) = k + (m t + n) / (t² + q t + r), then both parabolas about their vertex.
    k = a2 / b2
    m, n, q, r = (a1 - k * b1) / b2, (a0 - k) / b2, b1 / b2, 1.0 / b2
    shift, lead = 0.5 * q, n / m - 0.5 * q
    bend = r - shift * shift
    return Curve(k, m, lead, bend, shift, -shift - lead, 0.5 * m, -bend - lead * lead, q > 0.0)


# Five temperatures that keep the largest gap smallest, one of them where eggs are kept.
_WATER_CURVE = _curve(_LIQUID, (-38.0, -22.0, 6.0, 37.5, 57.0))
_ICE_CURVE = _curve(_ICE, (-39.0, -32.0, -20.0, -8.0, -1.0))


#: What `relative_pressure` is counted in [Pa]; a ratio of two pressures needs no other unit and saves a pass.
UNIT_PA = float(np.exp(_WATER_CURVE.top))
PER_UNIT = 1.0 / UNIT_PA


def _above_top(t: Any, scale: float, curve: Curve, room: Buffer, other: Buffer) -> Any:
    """ln(p) - top in `room`, in the precision of `t`; `scale`: that of the curve, or the same with its sign turned."""
    x = np.add(t, curve.shift, out=room)
    below = np.multiply(x, x, out=other)
    below += curve.bend
    x += curve.lead
    x *= scale
    x /= below
    return x


def pressure_over(t: Any, room: Buffer, other: Buffer, curve: Curve = _WATER_CURVE) -> Any:
    """Saturation pressure [Pa] in `room`, unchecked."""
    x = _above_top(t, curve.scale, curve, room, other)
    x += curve.top
    return np.exp(x, out=room)


def relative_pressure(t: Any, room: Buffer, other: Buffer) -> Any:
    """Saturation pressure over water in `room`, in units of `UNIT_PA`, unchecked: the innermost pass of moist air."""
    return np.exp(_above_top(t, _WATER_CURVE.scale, _WATER_CURVE, room, other), out=room)


def reciprocal_pressure(t: Any, room: Buffer, other: Buffer) -> Any:
    """1 / `relative_pressure`: a multiplication by it is half a division."""
    return np.exp(_above_top(t, -_WATER_CURVE.scale, _WATER_CURVE, room, other), out=room)


def relative_pressure_and_slope(t: Any, room: Buffer, other: Buffer, third: Buffer) -> tuple[Any, Any]:
    """`relative_pressure` in `room` and the derivative of its logarithm in `other`, unchecked."""
    curve = _WATER_CURVE
    x = np.add(t, curve.shift, out=other)
    below = np.multiply(x, x, out=third)
    below += curve.bend
    part = np.add(x, curve.lead, out=room)
    part *= curve.scale
    part /= below
    x *= part
    x *= -2.0
    x += curve.scale
    x /= below
    return np.exp(part, out=room), x


def _temp_at(pressure: Any, room: Buffer, other: Buffer, curve: Curve = _WATER_CURVE) -> Any:
    y = np.log(pressure, out=room)
    y -= curve.top
    y = np.divide(curve.half, y, out=room)
    y += curve.lead
    root = np.multiply(y, y, out=other)
    root += curve.dip
    root = np.sqrt(root, out=other)
    y = np.add(y, root, out=room) if curve.plus else np.subtract(y, root, out=room)
    y += curve.base
    return y


def _ice_pressure(t: Any, room: Buffer, other: Buffer) -> Any:
    return pressure_over(t, room, other, _ICE_CURVE)


def _ice_temp_at(pressure: Any, room: Buffer, other: Buffer) -> Any:
    return _temp_at(pressure, room, other, _ICE_CURVE)


def _pressures(curve: Curve, low_degc: float, high_degc: float) -> Span:
    """The span of an inverse, a rounding wider than the values at the ends of the forward span."""
    low, high = (float(pressure_over(t, None, None, curve)) for t in (low_degc, high_degc))
    return Span("vapour_pa", low * (1.0 - 1e-12), high * (1.0 + 1e-12), "Pa")


_VAPOUR, _ICE_VAPOUR = (
    _pressures(_WATER_CURVE, LOW_DEGC, HIGH_DEGC),
    _pressures(_ICE_CURVE, LOW_ICE_DEGC, HIGH_ICE_DEGC),
)
_ICE_TEMP = Span("temp_degc", LOW_ICE_DEGC, HIGH_ICE_DEGC, "°C")


def saturation_pressure(temp_degc: Number) -> Number:
    """Vapour pressure of air saturated over liquid water. [Pa]

    `temp_degc`: -40 to 60; below 0 over supercooled water. [°C] Outside raises `OutOfRange`.
    Source: hyland-wexler-1983, extended below 0 °C by the same equation (there 0.1-0.7 % above murphy-koop-2005).
    """
    return like(temp_degc, in_blocks(pressure_over, temp_degc, spans=(TEMP,), buffers=2))


def dew_point(vapour_pa: Number) -> Number:
    """Inverse of `saturation_pressure`: same constants, same span, over liquid water. [°C]

    `vapour_pa`: vapour pressure, 19.1 to 19 944 Pa; outside raises `OutOfRange`.
    """
    return like(vapour_pa, in_blocks(_temp_at, vapour_pa, spans=(_VAPOUR,), buffers=2))


def saturation_pressure_ice(temp_degc: Number) -> Number:
    """Vapour pressure of air saturated over ice. [Pa]

    `temp_degc`: -40 to 0.01 [°C]; outside raises `OutOfRange`. Source: hyland-wexler-1983.
    """
    return like(temp_degc, in_blocks(_ice_pressure, temp_degc, spans=(_ICE_TEMP,), buffers=2))


def frost_point(vapour_pa: Number) -> Number:
    """Inverse of `saturation_pressure_ice`: where hoar begins on a surface below 0 °C. [°C]"""
    return like(vapour_pa, in_blocks(_ice_temp_at, vapour_pa, spans=(_ICE_VAPOUR,), buffers=2))
