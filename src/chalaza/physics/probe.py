"""Where probes are checked: salt solutions, ice, boiling water, and the line through one or two such points.

A fixed point proves a probe at that point only. How far a correction may be trusted at the temperature of eggs is what
the uncertainties here are for.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import isnan, sqrt
from types import MappingProxyType

import numpy as np

from chalaza.errors import ChalazaError, OutOfRange
from chalaza.physics._arrays import Array, like, within
from chalaza.physics.constants import ZERO_DEGC_K
from chalaza.units import Number

#: Melting ice of clean water, stirred. bipm-its-90: the ice point is 0 °C within 0.001 K.
ICE_POINT_DEGC = 0.0


# --- Salts ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Salt:
    """A saturated solution: `coefficients` of RH in % by powers of the temperature in °C, and where they hold."""

    name: str
    coefficients: tuple[float, ...]
    low_degc: float
    high_degc: float
    expanded: float  # expanded uncertainty (k = 2) of the humidity at 25 °C, as a share
    source: str
    status: str


def _salt(
    name: str, coefficients: tuple[float, ...], high_degc: float, expanded: float, status: str = "checked"
) -> Salt:
    return Salt(name, coefficients, 0.0, high_degc, expanded, "greenspan-1977", status)


#: greenspan-1977, table 1; upper ends and uncertainties are from memory. A keeper meets the first two.
SALTS: Mapping[str, Salt] = MappingProxyType(
    {
        "sodium_chloride": _salt("NaCl", (75.5164, 0.0398321, -2.65459e-3, 2.848e-5), 80.0, 0.0012),
        "magnesium_chloride": _salt("MgCl2", (33.6686, -0.00797397, -1.08988e-3), 90.0, 0.0016),
        "potassium_carbonate": _salt("K2CO3", (43.1315, 0.00147523), 30.0, 0.0039, "memory"),
        "potassium_chloride": _salt("KCl", (88.619, -0.19334, 8.99706e-4), 90.0, 0.0026),
        "magnesium_nitrate": _salt("Mg(NO3)2", (60.3514, -0.298153), 50.0, 0.0022),
        "lithium_chloride": _salt("LiCl", (11.2323, 0.00824245, -2.1489e-4), 90.0, 0.0027),
        "potassium_sulphate": _salt("K2SO4", (98.7792, -0.0590502), 50.0, 0.0045),
    }
)


def salt_rh(salt: str, temp_degc: Number) -> Number:
    """Relative humidity over a saturated solution. [1]

    `salt`: a key of `SALTS`; `temp_degc`: of solution and sensor alike, from 0 °C to the end of that salt's span
    (potassium carbonate: 30 °C); outside raises `OutOfRange`. Source: greenspan-1977.
    """
    try:
        entry = SALTS[salt]
    except KeyError:
        raise ChalazaError(f"no salt {salt!r}; allowed: {', '.join(SALTS)}") from None
    t = within("temp_degc", temp_degc, entry.low_degc, entry.high_degc, "°C")
    percent = np.zeros_like(t)
    for coefficient in reversed(entry.coefficients):
        percent = percent * t + coefficient
    return like(temp_degc, np.asarray(percent / 100.0))


# --- Boiling water --------------------------------------------------------------------------------------------------

# iapws-if97, region 4: one quadratic in either direction, n1 to n10.
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
_LOW_BOIL_PA, _HIGH_BOIL_PA = 45_000.0, 110_000.0


def _boiling(pressure_pa: Array) -> Array:
    """Saturation temperature (iapws-if97, equation 31). [°C]"""
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    b = (pressure_pa / 1e6) ** 0.25
    e = b * (b + n3) + n6
    f = b * (n1 * b + n4) + n7
    g = b * (n2 * b + n5) + n8
    d = 2.0 * g / (-f - np.sqrt(f * f - 4.0 * e * g))
    return np.asarray(0.5 * (n10 + d - np.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d))) - ZERO_DEGC_K)


def boiling_point(pressure_pa: Number) -> Number:
    """Temperature at which clean water boils. [°C]

    `pressure_pa`: at the place, 45 000 to 110 000 (a forecast quotes it reduced to sea level); outside raises
    `OutOfRange`. 1 kPa moves it by 0.28 K. In a kitchen pot superheat and depth add 0.1-0.3 K.
    Source: iapws-if97, region 4.
    """
    p = within("pressure_pa", pressure_pa, _LOW_BOIL_PA, _HIGH_BOIL_PA, "Pa")
    return like(pressure_pa, _boiling(p))


def boiling_pressure(temp_degc: Number) -> Number:
    """Inverse of `boiling_point` (iapws-if97, equation 30). [Pa] `temp_degc`: 78.8 to 102.3; outside raises."""
    low, high = boiling_point(_LOW_BOIL_PA), boiling_point(_HIGH_BOIL_PA)
    t = within("temp_degc", temp_degc, low, high, "°C") + ZERO_DEGC_K
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _N
    v = t + n9 / (t - n10)
    a = v * (v + n1) + n2
    b = v * (n3 * v + n4) + n5
    c = v * (n6 * v + n7) + n8
    return like(temp_degc, np.asarray(1e6 * (2.0 * c / (-b + np.sqrt(b * b - 4.0 * a * c))) ** 4))


# --- Correction -----------------------------------------------------------------------------------------------------

#: A probe whose two points ask for a slope outside this is not out of adjustment: something went wrong at a point.
LOW_SLOPE, HIGH_SLOPE = 0.8, 1.25


@dataclass(frozen=True, slots=True)
class Point:
    """One check: what the probe read, what was true, and the standard uncertainties of both (one unit for all four)."""

    reading: float
    true: float
    reading_u: float = 0.0
    true_u: float = 0.0


@dataclass(frozen=True, slots=True)
class Correction:
    """true = offset + slope * reading, with the points it came from. `slope_u`: doubt of a slope that was not found."""

    slope: float
    offset: float
    points: tuple[Point, ...]
    slope_u: float = 0.0


def _point(point: Point) -> None:
    for name in ("reading", "true"):
        if isnan(getattr(point, name)):
            raise OutOfRange(name, getattr(point, name), -1e4, 1e4, "")
    for name in ("reading_u", "true_u"):
        within(name, getattr(point, name), 0.0, 1e4, "")


def one_point(point: Point, *, slope_u: float = 0.0) -> Correction:
    """Correction by an offset alone. `slope_u` is what the gain may be wrong by (share): it stays undiscovered."""
    _point(point)
    within("slope_u", slope_u, 0.0, 0.1, "1")
    return Correction(1.0, point.true - point.reading, (point,), slope_u)


def two_point(low: Point, high: Point) -> Correction:
    """Correction by the line through two checks.

    Raises `OutOfRange` (`slope`) for a slope outside 0.8 to 1.25 and for two equal readings: look for a mistake at one
    of the points. Source: the straight line; form of the uncertainty jcgm-100.
    """
    _point(low)
    _point(high)
    span = high.reading - low.reading
    slope = (high.true - low.true) / span if span else float("inf")
    within("slope", slope, LOW_SLOPE, HIGH_SLOPE, "1")
    return Correction(slope, low.true - slope * low.reading, (low, high))


def corrected(correction: Correction, reading: Number) -> Number:
    """What was true when the probe showed `reading`, in its unit."""
    return like(reading, np.asarray(correction.offset + correction.slope * np.asarray(reading, dtype=np.float64)))


def read_as(correction: Correction, true: Number) -> Number:
    """Inverse of `corrected`: what the probe shows when `true` is true."""
    return like(true, np.asarray((np.asarray(true, dtype=np.float64) - correction.offset) / correction.slope))


def corrected_u(correction: Correction, reading: Number, *, reading_u: float = 0.0, drift_u: float = 0.0) -> Number:
    """Standard uncertainty of `corrected`, by the sensitivities of the line.

    `reading_u`: repeatability and resolution of the new reading; `drift_u`: drift and hysteresis since the check.
    Source: jcgm-100, 5.1: root of the sum of squares of sensitivity times standard uncertainty, inputs independent.
    """
    within("reading_u", reading_u, 0.0, 1e4, "")
    within("drift_u", drift_u, 0.0, 1e4, "")
    x = np.asarray(reading, dtype=np.float64)
    slope = correction.slope
    shares: tuple[Array, ...] = (np.ones_like(x),)
    gain = correction.slope_u * (x - correction.points[0].reading)
    if len(correction.points) == 2:
        low, high = correction.points
        share = np.asarray((x - low.reading) / (high.reading - low.reading))
        shares = (1.0 - share, share)
    total = np.asarray((slope * reading_u) ** 2 + drift_u**2 + gain**2)
    for point, share in zip(correction.points, shares, strict=True):
        total = total + share**2 * (point.true_u**2 + (slope * point.reading_u) ** 2)
    return like(reading, np.asarray(np.sqrt(total)))


# --- Standard uncertainties of one thing (jcgm-100, 4.2 and 4.3) ------------------------------------------------------


def from_half_width(half_width: float) -> float:
    """Standard uncertainty of something known only to lie within ± `half_width`: rectangular, a/√3."""
    return float(within("half_width", half_width, 0.0, 1e9, "")) / sqrt(3.0)


def from_resolution(resolution: float) -> float:
    """Standard uncertainty of a display with steps of `resolution`: d/√12."""
    return float(within("resolution", resolution, 0.0, 1e9, "")) / sqrt(12.0)


def from_repeats(spread: float, count: int) -> float:
    """Standard uncertainty of the mean of `count` readings with standard deviation `spread`: s/√n."""
    within("count", count, 2, 1e9, "")
    return float(within("spread", spread, 0.0, 1e9, "")) / sqrt(count)
