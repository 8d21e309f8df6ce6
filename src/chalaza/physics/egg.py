"""The egg as a body: volume, surface, outline, air cell, shell conductance and the water it loses.

Numbers of one kind (specific conductance, term, targets) are arguments. Formulas that compete stand in registries with
source and standing. Scalars and arrays pass alike; outside a span `OutOfRange` is raised.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

from chalaza.errors import ChalazaError
from chalaza.physics import air
from chalaza.physics._arrays import Array, like, within
from chalaza.physics.constants import (
    PA_PER_TORR,
    STANDARD_PRESSURE_PA,
    WATER_DENSITY_G_PER_ML,
)
from chalaza.units import Number

LOW_G, HIGH_G = 0.5, 2_500.0
LOW_LENGTH_MM, HIGH_LENGTH_MM = 8.0, 200.0
LOW_BREADTH_MM, HIGH_BREADTH_MM = 6.0, 160.0

#: asmundson-1940: fresh hens' eggs; interspecific formulas lie 2 % lower.
FRESH_DENSITY_G_PER_ML = 1.082


@dataclass(frozen=True, slots=True)
class Formula:
    """One of several published formulas for the same thing."""

    of: Callable[..., Any]
    source: str
    status: str


def _formula(registry: Mapping[str, Formula], key: str) -> Callable[..., Any]:
    try:
        return registry[key].of
    except KeyError:
        raise ChalazaError(f"no formula {key!r}; allowed: {', '.join(registry)}") from None


def _mass(mass_g: npt.ArrayLike) -> Array:
    return within("mass_g", mass_g, LOW_G, HIGH_G, "g")


def _sides(length_mm: npt.ArrayLike, breadth_mm: npt.ArrayLike) -> tuple[Array, Array]:
    length = within("length_mm", length_mm, LOW_LENGTH_MM, HIGH_LENGTH_MM, "mm")
    breadth = within("breadth_mm", breadth_mm, LOW_BREADTH_MM, HIGH_BREADTH_MM, "mm")
    # An egg is never broader than long; swapped fields are the usual reason.
    within("breadth_share", breadth / length, 0.4, 1.0, "1")
    return length, breadth


# --- Size -----------------------------------------------------------------------------------------------------------

#: Volume [mL] from length and breadth [mm].
VOLUME: Mapping[str, Formula] = MappingProxyType(
    {
        "hoyt-1979": Formula(lambda length, breadth: 0.51 * length * breadth**2 / 1000.0, "hoyt-1979", "checked"),
        "narushin-2005": Formula(
            lambda length, b: (0.6057 - 0.0018 * b) * length * b**2 / 1000.0, "narushin-2005", "checked"
        ),
    }
)

#: Mass per L B² of a fresh egg [g/cm³]; species lie between 0.53 and 0.56.
FRESH_MASS_COEFFICIENT = 0.548  # hoyt-1979 (memory)


def volume(length_mm: Number, breadth_mm: Number | float, *, formula: str = "hoyt-1979") -> Number:
    """Volume of an egg. [mL]

    `length_mm`: 8 to 200; `breadth_mm`: 6 to 160, 0.4 to 1 of the length; outside raises `OutOfRange`. `formula`: a key
    of `VOLUME` (`narushin-2005` was fitted on hens' eggs). About ±2-3 %; pointed (wader) eggs 8 % too large.
    """
    length, breadth = _sides(length_mm, breadth_mm)
    return like(length_mm, np.asarray(_formula(VOLUME, formula)(length, breadth)))


def mass_from_size(
    length_mm: Number, breadth_mm: Number | float, *, coefficient: Number | float = FRESH_MASS_COEFFICIENT
) -> Number:
    """Mass of the egg when it was laid; it holds at any age, because the shell keeps its size. [g]

    `coefficient`: g per cm³ of L B², 0.45 to 0.65; best found on the keeper's own fresh eggs. Source: hoyt-1979.
    """
    length, breadth = _sides(length_mm, breadth_mm)
    return like(length_mm, within("coefficient", coefficient, 0.45, 0.65, "g/cm³") * length * breadth**2 / 1000.0)


def surface(length_mm: Number, breadth_mm: Number | float) -> Number:
    """Area of the shell, fitted on hens' eggs. [cm²] Spans as `volume`. Source: narushin-2005."""
    length, breadth = _sides(length_mm, breadth_mm)
    return like(length_mm, (3.155 - 0.0136 * length + 0.0115 * breadth) * length * breadth / 100.0)


def surface_from_mass(mass_g: Number) -> Number:
    """Area of the shell. [cm²] `mass_g`: 0.5 to 2500; outside raises `OutOfRange`. Source: paganelli-1974 (memory)."""
    return like(mass_g, np.asarray(4.835 * _mass(mass_g) ** 0.662))


# --- Outline --------------------------------------------------------------------------------------------------------
# narushin-2021, first factor of the universal formula. The shift w moves the widest place towards the blunt pole; as a
# share of the length it is 0.02-0.05 for hens (memory). With s the distance from the blunt pole and L, B, w in mm
# y² = B² s (L - s) / ((L - 2 w)² + 8 w s).

HEN_SHIFT_SHARE = 0.035
HIGH_SHIFT_SHARE = 0.25

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)


def _shape(length_mm: npt.ArrayLike, breadth_mm: npt.ArrayLike, shift_mm: npt.ArrayLike) -> tuple[Array, Array, Array]:
    length, breadth = _sides(length_mm, breadth_mm)
    shift = np.asarray(shift_mm, dtype=np.float64)
    within("shift_share", shift / length, 0.0, HIGH_SHIFT_SHARE, "1")
    return length, breadth, shift


def _square(s: Array, length: Array, breadth: Array, shift: Array) -> Array:
    return np.asarray(breadth**2 * s * (length - s) / ((length - 2.0 * shift) ** 2 + 8.0 * shift * s))


def outline(
    depth_mm: Number, length_mm: Number | float, breadth_mm: Number | float, shift_mm: Number | float = 0.0
) -> Number:
    """Half the width of the egg at a distance from its blunt pole. [mm]

    `depth_mm`: 0 to the length; `shift_mm`: of the widest place towards the blunt pole, 0 to a quarter of the length.
    Outside raises `OutOfRange`. Source: narushin-2021.
    """
    length, breadth, shift = _shape(length_mm, breadth_mm, shift_mm)
    s = np.asarray(depth_mm, dtype=np.float64)
    within("depth_share", s / length, 0.0, 1.0, "1")
    return like(depth_mm, np.asarray(np.sqrt(_square(s, length, breadth, shift))))


def _cut_volume(depth: Array, length: Array, breadth: Array, shift: Array) -> Array:
    """Volume between the blunt pole and a plane at `depth`, by quadrature exact to rounding. [mm³]"""
    depth, length, breadth, shift = (x[..., None] for x in np.broadcast_arrays(depth, length, breadth, shift))
    s = 0.5 * depth * (1.0 + _NODES)
    return np.asarray(np.pi * 0.5 * depth[..., 0] * (_square(s, length, breadth, shift) @ _WEIGHTS))


def outline_volume(length_mm: Number, breadth_mm: Number | float, shift_mm: Number | float = 0.0) -> Number:
    """Volume of the body with this outline. [mL] Spans as `outline`."""
    length, breadth, shift = _shape(length_mm, breadth_mm, shift_mm)
    return like(length_mm, _cut_volume(length, length, breadth, shift) / 1000.0)


# --- Air cell -------------------------------------------------------------------------------------------------------


def air_cell_volume(
    depth_mm: Number, length_mm: Number | float, breadth_mm: Number | float, shift_mm: Number | float = 0.0
) -> Number:
    """Volume of an air cell with a flat membrane across the blunt end. [mL]

    `depth_mm`: of the flat membrane below the pole (see `flat_depth` for what a torch shows), 0 to the length.
    Outside raises `OutOfRange`. Source: geometry of narushin-2021.
    """
    length, breadth, shift = _shape(length_mm, breadth_mm, shift_mm)
    depth = np.asarray(depth_mm, dtype=np.float64)
    within("depth_share", depth / length, 0.0, 1.0, "1")
    return like(depth_mm, _cut_volume(depth, length, breadth, shift) / 1000.0)


def air_cell_depth(
    volume_ml: Number, length_mm: Number | float, breadth_mm: Number | float, shift_mm: Number | float = 0.0
) -> Number:
    """Inverse of `air_cell_volume`, within 1e-9 mm: Newton's steps, held in a bracket. [mm]

    `volume_ml`: 0 to the volume of the whole outline; outside raises `OutOfRange` (`volume_share`).
    """
    length, breadth, shift = _shape(length_mm, breadth_mm, shift_mm)
    whole = _cut_volume(length, length, breadth, shift)
    volume = np.asarray(volume_ml, dtype=np.float64)
    # mL over mL: the whole outline is 1, not 1 + 2e-16
    within("volume_share", volume / (whole / 1000.0), 0.0, 1.0, "1")
    wanted = 1000.0 * volume
    wanted, length, breadth, shift = np.broadcast_arrays(wanted, length, breadth, shift)
    low, high = np.zeros_like(wanted), np.array(length)
    # Near the pole the body is a paraboloid: volume = pi R s², R its radius there.
    radius = breadth**2 * length / (2.0 * (length - 2.0 * shift) ** 2)
    depth = np.minimum(np.sqrt(wanted / (np.pi * radius)), 0.5 * length)
    for _ in range(100):
        excess = _cut_volume(depth, length, breadth, shift) - wanted
        low, high = np.where(excess < 0.0, depth, low), np.where(excess > 0.0, depth, high)
        slope = np.pi * _square(depth, length, breadth, shift)
        tried = depth - np.divide(excess, slope, out=np.zeros_like(excess), where=slope > 0.0)
        inside = (tried > low) & (tried < high)
        new = np.where(excess == 0.0, depth, np.where(inside, tried, 0.5 * (low + high)))
        moved = np.abs(new - depth).max(initial=0.0)
        depth = new
        if moved < 1e-10:
            break
    return like(volume_ml, np.asarray(depth))


def rim_diameter(
    depth_mm: Number, length_mm: Number | float, breadth_mm: Number | float, shift_mm: Number | float = 0.0
) -> Number:
    """Width of the rim of an air cell with a flat membrane at `depth_mm`. [mm] Spans as `outline`."""
    return like(depth_mm, np.asarray(2.0 * np.asarray(outline(depth_mm, length_mm, breadth_mm, shift_mm))))


def candled_depth(flat_depth_mm: Number, *, offset_mm: Number | float, slope: Number | float) -> Number:
    """Depth a torch shows for a flat membrane at `flat_depth_mm`: offset + slope * depth. [mm]

    The real membrane is domed and is read at its rim: one study saw 4.5 and 3.5 mm more than flat (durojaye-2018).
    `offset_mm`: -10 to 10; `slope`: 0.3 to 2; outside raises `OutOfRange`.
    """
    flat = within("flat_depth_mm", flat_depth_mm, 0.0, HIGH_LENGTH_MM, "mm")
    return like(flat_depth_mm, _offset(offset_mm) + _slope(slope) * flat)


def flat_depth(candled_mm: Number, *, offset_mm: Number | float, slope: Number | float) -> Number:
    """Inverse of `candled_depth`. [mm] A candled depth below the offset raises `OutOfRange` (`flat_depth_mm`)."""
    seen = within("candled_mm", candled_mm, 0.0, HIGH_LENGTH_MM, "mm")
    flat = (seen - _offset(offset_mm)) / _slope(slope)
    return like(candled_mm, within("flat_depth_mm", flat, 0.0, HIGH_LENGTH_MM, "mm"))


def _offset(offset_mm: npt.ArrayLike) -> Array:
    return within("offset_mm", offset_mm, -10.0, 10.0, "mm")


def _slope(slope: npt.ArrayLike) -> Array:
    return within("slope", slope, 0.3, 2.0, "1")


def air_cell_growth(loss_g: Number) -> Number:
    """How much an air cell has grown when the egg has lost this mass of water. [mL]

    Air takes the place of the water that left; gas exchange cancels within 0.5 %. To be added to the volume at setting.
    `loss_g`: 0 to 2500; outside raises `OutOfRange`. Source: mass balance, density of water at 38 °C kell-1975.
    """
    return like(loss_g, within("loss_g", loss_g, 0.0, HIGH_G, "g") / WATER_DENSITY_G_PER_ML)


def loss_from_growth(growth_ml: Number) -> Number:
    """Inverse of `air_cell_growth`. [g] An air cell smaller than at setting raises `OutOfRange` (`growth_ml`)."""
    return like(growth_ml, within("growth_ml", growth_ml, 0.0, HIGH_G, "mL") * WATER_DENSITY_G_PER_ML)


# --- Conductance of the shell ----------------------------------------------------------------------------------------
# In mg/(d torr) at sea level and incubation temperature, as the literature gives it; `loss_rate` is the one place where
# torr meets pascal.

#: Conductance of an egg nobody has weighed [mg/(d torr)], from mass [g] and term [d]. Domestic birds hatch faster than
#: wild ones of their egg size: the first two give a hen's egg 10.5 where 14-24 are measured.
CONDUCTANCE: Mapping[str, Formula] = MappingProxyType(
    {
        "ar-1974": Formula(lambda mass, term: 0.432 * mass**0.780 + 0.0 * term, "ar-1974", "memory"),
        "ar-rahn-1985": Formula(lambda mass, term: 0.384 * mass**0.814 + 0.0 * term, "ar-rahn-1985", "memory"),
        "ar-rahn-1978": Formula(lambda mass, term: 5.13 * mass / term, "ar-rahn-1978", "memory"),
    }
)


def conductance(mass_g: Number, specific: Number | float) -> Number:
    """Conductance of an egg from that per gram of its mass at setting. [mg/(d torr)]

    `mass_g`: 0.5 to 2500; `specific`: 0.02 to 2 mg/(g d torr), of the kind. Outside raises `OutOfRange`.
    """
    return like(mass_g, _mass(mass_g) * within("specific", specific, 0.02, 2.0, "mg/(g d torr)"))


def conductance_by(formula: str, mass_g: Number, *, term_d: Number | float) -> Number:
    """Conductance by a formula across birds, a key of `CONDUCTANCE`. [mg/(d torr)] `term_d`: 10 to 80."""
    term = within("term_d", term_d, 10.0, 80.0, "d")
    return like(mass_g, np.asarray(_formula(CONDUCTANCE, formula)(_mass(mass_g), term)))


def pressure_factor(pressure_pa: Number, *, native_share: Number | float = 1.0) -> Number:
    """How much faster vapour leaves at this pressure than at sea level. [1]

    `pressure_pa`: 45 000 to 110 000. `native_share`: 1 for eggs brought up from low land (tullett-altitude; diffusion
    goes with 1/p); nearer 0 for eggs laid where they are set, whose shells hold fewer pores (rahn-1977). Outside raises.
    """
    p = within("pressure_pa", pressure_pa, air.LOW_PA, air.HIGH_PA, "Pa")
    share = within("native_share", native_share, 0.0, 1.0, "1")
    return like(pressure_pa, np.asarray(1.0 + share * (STANDARD_PRESSURE_PA / p - 1.0)))


def vapour_drive(egg_degc: Number, air_degc: Number | float, rh: Number | float) -> Number:
    """Vapour pressure inside the shell less that of the air around it. [Pa]

    The egg is saturated at its own temperature; a negative drive (a cold egg in wet air) sweats. Spans of `air`.
    """
    egg_pa, air_pa = air.saturation_pressure(egg_degc), air.vapour_pressure(np.asarray(air_degc, dtype=np.float64), rh)
    return like(egg_degc, np.asarray(np.asarray(egg_pa) - air_pa))


def loss_rate(conductance_mg: Number, drive_pa: Number | float, *, factor: Number | float = 1.0) -> Number:
    """Mass of water an egg loses in a day. [g/d]

    `conductance_mg`: 0.05 to 5000 mg/(d torr); `drive_pa`: -25 000 to 25 000; `factor`: of the pressure, 0.8 to 2.5.
    Outside raises `OutOfRange`. Above 80 % humidity eggs lose up to a tenth more than this (romao-2009).
    """
    g = within("conductance_mg", conductance_mg, 0.05, 5_000.0, "mg/(d torr)")
    drive = within("drive_pa", drive_pa, -25_000.0, 25_000.0, "Pa")
    return like(conductance_mg, g * within("factor", factor, 0.8, 2.5, "1") * drive / (1000.0 * PA_PER_TORR))


def conductance_from_loss(
    loss_g: Number, *, span_d: Number | float, drive_pa: Number | float, factor: Number | float = 1.0
) -> Number:
    """Conductance that explains a loss: the inverse of `loss_rate` over `span_d` days at a mean drive. [mg/(d torr)]

    `loss_g`: 0 to 2500; `span_d`: 0.01 to 100; `drive_pa`: 50 to 25 000. Outside raises `OutOfRange`.
    """
    loss = within("loss_g", loss_g, 0.0, HIGH_G, "g")
    days = within("span_d", span_d, 0.01, 100.0, "d")
    drive = within("drive_pa", drive_pa, 50.0, 25_000.0, "Pa") * within("factor", factor, 0.8, 2.5, "1")
    return like(loss_g, 1000.0 * PA_PER_TORR * loss / (days * drive))


def loss_over(age_d: Array, rate_g_per_d: Array) -> Array:
    """Loss since the first moment, from rates at each moment: the trapezoid sum. [g]

    `age_d`: (n,), rising; falling back raises `OutOfRange` (`step_d`). `rate_g_per_d`: (n,).
    """
    age, rate = np.asarray(age_d, dtype=np.float64), np.asarray(rate_g_per_d, dtype=np.float64)
    steps = within("step_d", np.diff(age), 0.0, np.inf, "d")
    return np.concatenate(([0.0], np.cumsum(0.5 * steps * (rate[1:] + rate[:-1]))))


def rh_for_loss(
    loss_share: Number,
    *,
    specific: Number | float,
    span_d: Number | float,
    egg_degc: Number | float,
    air_degc: Number | float,
    factor: Number | float = 1.0,
) -> Number:
    """Humidity at which an egg loses this share of its mass at setting in `span_d` days. [1]

    `loss_share`: 0 to 0.5; `specific`: mg/(g d torr); `span_d`: 0.01 to 100. A target that no humidity between 0 and 1
    reaches raises `OutOfRange` (`rh`).
    """
    share = within("loss_share", loss_share, 0.0, 0.5, "1")
    g = within("specific", specific, 0.02, 2.0, "mg/(g d torr)") * within("factor", factor, 0.8, 2.5, "1")
    days = within("span_d", span_d, 0.01, 100.0, "d")
    drive = 1000.0 * PA_PER_TORR * share / (g * days)
    inside = np.asarray(air.saturation_pressure(np.asarray(egg_degc, dtype=np.float64)))
    around = np.asarray(air.saturation_pressure(np.asarray(air_degc, dtype=np.float64)))
    return like(loss_share, within("rh", (inside - drive) / around, 0.0, 1.0, "1"))


# --- Across birds ---------------------------------------------------------------------------------------------------

#: Term [d] from mass [g]. Domestic fowl hatch a quarter sooner: the tabulated term of a kind always goes before it.
TERM: Mapping[str, Formula] = MappingProxyType(
    {"rahn-ar-1974": Formula(lambda mass: 12.03 * mass**0.217, "rahn-ar-1974", "memory")}
)


def term_by(formula: str, mass_g: Number) -> Number:
    """Term by a formula across birds, a key of `TERM`. [d]"""
    return like(mass_g, np.asarray(_formula(TERM, formula)(_mass(mass_g))))
