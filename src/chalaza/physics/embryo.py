"""The embryo: how fast it develops at a temperature, what it breathes and heats, what it survives.

Numbers of one kind (normal temperature, slope, term, oxygen curve, survival tables) are arguments. Scalars and arrays
pass alike; outside a span `OutOfRange` is raised.
"""

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from chalaza.errors import OutOfRange
from chalaza.physics._arrays import Array, like, within
from chalaza.physics.constants import OXYGEN_HEAT_J_PER_ML, RESPIRATORY_QUOTIENT, SECONDS_PER_D
from chalaza.units import Number

LOW_DEGC, HIGH_DEGC = -20.0, 60.0
LOW_NORMAL_DEGC, HIGH_NORMAL_DEGC = 34.0, 40.0

# --- Rate of development --------------------------------------------------------------------------------------------
# The curve was measured on hens' eggs, whose normal shell temperature is 37.8 °C. Each of its temperatures is kept as a
# distance from the normal one, so that a kind that is kept cooler has the same curve about its own normal.

HEN_NORMAL_DEGC = 37.8  # lourens-2005: best hatch and development
SLOPE_PER_K = 0.042  # ps-2020-temperature: 2.7-4.4 %/K in weeks 2 and 3; wells-berlin-2005: 4.8 %/K whole term
SLOPE_ABOVE_RATIO = 0.7  # ps-2020-temperature: 2.7 %/K above against 4.1 below
FLAT_ABOVE_DEGC = 39.0  # ps-2020-temperature: damage, not speed, beyond
RATE_34, RATE_30, ZERO_DEGC = 0.72, 0.25, 26.5  # barott-1937 and funk-biellier-1944, recalled (memory)
_STRAIGHT_FROM_DEGC = 35.0

#: Weight of the slope in the thirds of the term (romanoff-1938 as quoted; sizes are judgement): early warmth counts most.
AGE_FACTORS = (1.25, 0.90, 0.85)


def age_factor(age_d: Number, *, term_d: Number | float, thirds: tuple[float, float, float] = AGE_FACTORS) -> Number:
    """How strongly temperature acts at an age, against its mean over the term. [1]

    `age_d`: developmental age, 0 to 1.5 terms; `term_d`: 10 to 80; `thirds`: weights of the three thirds, brought to a
    mean of 1. After the term the last third goes on. Outside raises `OutOfRange`.
    """
    share = _age_share(age_d, term_d)
    weights = within("thirds", thirds, 0.0, 10.0, "1")
    weights = weights / weights.mean()
    return like(age_d, weights[np.minimum((3.0 * share).astype(np.intp), 2)])


def _age_share(age_d: npt.ArrayLike, term_d: npt.ArrayLike) -> Array:
    term = within("term_d", term_d, 10.0, 80.0, "d")
    age = np.asarray(age_d, dtype=np.float64)
    return within("age_share", age / term, 0.0, 1.5, "1")


def rate_of_development(
    temp_degc: Number,
    *,
    normal_degc: Number | float = HEN_NORMAL_DEGC,
    slope: Number | float = SLOPE_PER_K,
    slope_above_ratio: float = SLOPE_ABOVE_RATIO,
    age_factor: Number | float = 1.0,
    flat_above_degc: float = FLAT_ABOVE_DEGC,
    r34: float = RATE_34,
    r30: float = RATE_30,
    zero_degc: float = ZERO_DEGC,
) -> Number:
    """Days of development gained in a day at this shell temperature. [1]

    1 at `normal_degc`; below it falls by `slope` times `age_factor` [1/K], above it rises by that times
    `slope_above_ratio` up to `flat_above_degc` and stays there (heat beyond does harm, it does not hasten). More than
    2.8 K below normal it goes straight through `r34` and `r30` to nothing at `zero_degc`: growth there is slow and out
    of proportion. Continuous, never falling. `flat_above_degc` and the three points are those of a kind whose normal is
    37.8 °C and move with `normal_degc`.

    `temp_degc`: -20 to 60; `normal_degc`: 34 to 40 (by age, if an array). Outside, and for numbers that would make the
    rate fall with warmth, raises `OutOfRange`. Sources: beside the constants.
    """
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    normal = within("normal_degc", normal_degc, LOW_NORMAL_DEGC, HIGH_NORMAL_DEGC, "°C")
    ratio = float(within("slope_above_ratio", slope_above_ratio, 0.0, 2.0, "1"))
    steep = within("slope", slope, 0.0, 0.2, "1/K") * within("age_factor", age_factor, 0.0, 10.0, "1")
    zero = float(within("zero_degc", zero_degc, 10.0, 29.9, "°C"))
    within("r30", r30, 0.0, r34, "1")
    flat = float(within("flat_above_degc", flat_above_degc, HEN_NORMAL_DEGC, HIGH_DEGC, "°C"))

    off = t - normal
    near = np.clip(off, _STRAIGHT_FROM_DEGC - HEN_NORMAL_DEGC, flat - HEN_NORMAL_DEGC)
    straight = 1.0 + steep * np.where(near > 0.0, ratio * near, near)
    lowest = 1.0 + steep * (_STRAIGHT_FROM_DEGC - HEN_NORMAL_DEGC)
    within("r34", r34, 0.0, float(np.min(lowest, initial=np.inf)), "1")
    hen = off + HEN_NORMAL_DEGC
    cold = np.interp(hen, (zero, 30.0, 34.0), (0.0, r30, r34))
    # The last kelvin joins the point at 34 °C to the straight part, wherever its slope has put that.
    joining = r34 + (lowest - r34) * (hen - 34.0)
    below = np.where(hen < 34.0, cold, joining)
    return like(temp_degc, np.where(hen < _STRAIGHT_FROM_DEGC, below, straight))


# --- Breath and heat -----------------------------------------------------------------------------------------------

#: The egg and the term the chicken curve belongs to (romijn-lokhorst-1951).
CURVE_MASS_G, CURVE_TERM_D = 60.0, 21.0
MASS_EXPONENT = 0.73  # hoyt-rahn-1980: oxygen uptake before pipping across birds goes with mass to this power (memory)

Curve = tuple[Array, Array]


def oxygen(
    age_d: Number, curve: Curve, *, mass_g: Number | float = CURVE_MASS_G, term_d: Number | float = CURVE_TERM_D
) -> Number:
    """Oxygen an embryo takes up. [mL/d at 0 °C and sea level]

    `age_d`: developmental age, 0 to the term; `curve`: ages [d] and uptakes [mL/d] of a 60 g hen's egg with a term of
    21 days, joined by straight lines; other kinds stretch it by their term and scale it by mass to 0.73. `mass_g`: 0.5
    to 2500; `term_d`: 10 to 80. Outside raises `OutOfRange`. Sources: romijn-lokhorst-1951, hoyt-rahn-1980.
    """
    ages, uptake = (np.asarray(side, dtype=np.float64) for side in curve)
    within("curve_step_d", np.diff(ages), 1e-6, np.inf, "d")
    mass = within("mass_g", mass_g, 0.5, 2_500.0, "g")
    age = _age_share(age_d, term_d) * CURVE_TERM_D
    within("age_d", age, float(ages[0]), float(ages[-1]), "d of a term of 21")
    return like(age_d, np.interp(age, ages, uptake) * (mass / CURVE_MASS_G) ** MASS_EXPONENT)


def oxygen_before_pipping(mass_g: Number) -> Number:
    """Oxygen uptake across birds just before internal pip. [mL/d] `mass_g`: 0.5 to 2500. hoyt-rahn-1980 (memory)."""
    return like(mass_g, np.asarray(25.2 * within("mass_g", mass_g, 0.5, 2_500.0, "g") ** MASS_EXPONENT))


def oxygen_by_pores(conductance_mg: Number) -> Number:
    """Oxygen uptake before pipping that fits the pores of a shell: 68 µL/d of oxygen to 1.5 µg/(d torr). [mL/d]

    `conductance_mg`: 0.05 to 5000 mg/(d torr); outside raises `OutOfRange`. Source: ar-rahn-1985.
    """
    return like(conductance_mg, within("conductance_mg", conductance_mg, 0.05, 5_000.0, "mg/(d torr)") * (68.0 / 1.5))


def heat_from_oxygen(oxygen_ml_per_d: Number) -> Number:
    """Heat that goes with an uptake of oxygen. [W] `oxygen_ml_per_d`: 0 to 100 000; outside raises. brouwer-1965."""
    uptake = within("oxygen_ml_per_d", oxygen_ml_per_d, 0.0, 100_000.0, "mL/d")
    return like(oxygen_ml_per_d, uptake * (OXYGEN_HEAT_J_PER_ML / SECONDS_PER_D))


def carbon_dioxide(oxygen_ml_per_d: Number, *, quotient: float = RESPIRATORY_QUOTIENT) -> Number:
    """Carbon dioxide given off with an uptake of oxygen. [mL/d] `quotient`: 0.6 to 1.1. Source: ar-rahn-1985."""
    uptake = within("oxygen_ml_per_d", oxygen_ml_per_d, 0.0, 100_000.0, "mL/d")
    return like(oxygen_ml_per_d, uptake * float(within("quotient", quotient, 0.6, 1.1, "1")))


def heat(
    age_d: Number,
    curve: Curve,
    *,
    mass_g: Number | float = CURVE_MASS_G,
    term_d: Number | float = CURVE_TERM_D,
    scale: Number | float = 1.0,
) -> Number:
    """Heat an embryo makes at its normal temperature. [W]

    Arguments as `oxygen`; `scale`: belief about the level of the curve, 0 to 5. Outside raises `OutOfRange`.
    """
    factor = within("scale", scale, 0.0, 5.0, "1")
    made = np.asarray(heat_from_oxygen(np.asarray(oxygen(age_d, curve, mass_g=mass_g, term_d=term_d))))
    return like(age_d, factor * made)


def heat_factor(temp_degc: Number, *, normal_degc: Number | float = HEN_NORMAL_DEGC, q10: float = 2.0) -> Number:
    """How heat and breath change with the embryo's temperature: q10 for every 10 K. [1]

    `temp_degc`: -20 to 60 and `normal_degc`: 34 to 40 [°C]; `q10`: 1 to 4. Outside raises `OutOfRange`. A bird's embryo
    does not warm itself: a cooling egg makes less heat. Source: q10-avian-embryos (below 2 at 30-34 °C on days 14-21).
    """
    t = within("temp_degc", temp_degc, LOW_DEGC, HIGH_DEGC, "°C")
    normal = within("normal_degc", normal_degc, LOW_NORMAL_DEGC, HIGH_NORMAL_DEGC, "°C")
    return like(temp_degc, np.asarray(float(within("q10", q10, 1.0, 4.0, "1")) ** ((t - normal) / 10.0)))


def shell_above_air(heat_w: Number, evaporation_w: Number | float, conductance_w_per_k: Number | float) -> Number:
    """Shell above the air around it at rest: (heat - evaporation) / conductance. [K]

    `heat_w`, `evaporation_w`: 0 to 20 W; `conductance_w_per_k`: 0.001 to 20. Outside raises `OutOfRange`.
    Source: french-1997.
    """
    made, spent = within("heat_w", heat_w, 0.0, 20.0, "W"), within("evaporation_w", evaporation_w, 0.0, 20.0, "W")
    return like(heat_w, (made - spent) / within("conductance_w_per_k", conductance_w_per_k, 0.001, 20.0, "W/K"))


# --- Heat that harms --------------------------------------------------------------------------------------------------
# Spells of hours only. Summed over days this law would announce the death of live batches: at 41.7 °C for a week it
# leaves 7 % where 75 % lived (csiro-1977). Sustained warmth is judged by limits, not by this.

LOW_SPELL_DEGC, HIGH_SPELL_DEGC = 40.5, 46.0
LONGEST_SPELL_H = 24.0
SPELL_REFERENCE_DEGC = 43.3
DOUBLING_STEP_K = 0.60  # wilson-1976: 40.6 °C for 24 h harmless, 46.1 °C for 3 h lethal on day 16 (memory)
_NINETY = 1.6448536269514722  # standard deviations from the middle to the 5 and 95 % points


class Survival(NamedTuple):
    """Share of the living that outlive something: the middle and a 90 % band (`odds` turns each into odds)."""

    share: npt.NDArray[np.floating[Any]] | float
    low: npt.NDArray[np.floating[Any]] | float
    high: npt.NDArray[np.floating[Any]] | float


def halving_time_h(
    temp_degc: Number,
    age_d: Number | float,
    *,
    ages_d: npt.ArrayLike,
    medians_h: npt.ArrayLike,
    step_k: float = DOUBLING_STEP_K,
) -> Number:
    """Hours of heat that halve the number of living embryos. [h]

    `temp_degc`: of the egg, 40.5 to 46; `age_d`: within `ages_d`; `ages_d`, `medians_h`: the halving times seen at
    43.3 °C, joined by straight lines (hens' eggs 3, 7, 11, 16, 19 d: 12, 4, 7, 7, 4 h, ande-wilson-1981); `step_k`:
    warmth that halves them again, 0.2 to 2. Outside raises `OutOfRange`: there are no data to go further on.
    """
    t = within("temp_degc", temp_degc, LOW_SPELL_DEGC, HIGH_SPELL_DEGC, "°C")
    ages, medians = np.asarray(ages_d, dtype=np.float64), within("medians_h", medians_h, 0.01, 1_000.0, "h")
    within("ages_step_d", np.diff(ages), 1e-6, np.inf, "d")
    age = within("age_d", age_d, float(ages[0]), float(ages[-1]), "d")
    step = float(within("step_k", step_k, 0.2, 2.0, "K"))
    return like(temp_degc, np.interp(age, ages, medians) * 2.0 ** ((SPELL_REFERENCE_DEGC - t) / step))


def heat_spell_survival(
    temp_degc: Number,
    spell_h: Number | float,
    age_d: Number | float,
    *,
    ages_d: npt.ArrayLike,
    medians_h: npt.ArrayLike,
    step_k: float = DOUBLING_STEP_K,
    sigma: float = 0.4,
) -> Survival:
    """Share of embryos that outlive one spell of heat, with a 90 % band.

    `spell_h`: 0 to 24; the rest as `halving_time_h`; `sigma`: doubt of the halving time, sd of its logarithm, 0 to 2.
    Outside raises `OutOfRange`; longer warmth is another thing. Whatever this says: candle in 2-4 days, discard nothing.
    """
    hours = within("spell_h", spell_h, 0.0, LONGEST_SPELL_H, "h")
    half = np.asarray(halving_time_h(temp_degc, age_d, ages_d=ages_d, medians_h=medians_h, step_k=step_k))
    wide = float(np.exp(_NINETY * float(within("sigma", sigma, 0.0, 2.0, "1"))))
    middle, low, high = (0.5 ** np.asarray(hours / (half * factor)) for factor in (1.0, 1.0 / wide, wide))
    return Survival(like(temp_degc, middle), like(temp_degc, low), like(temp_degc, high))


def odds(share: Number) -> Number:
    """Odds for against: share / (1 - share). [1] `share`: 0 up to, not including, 1; outside raises `OutOfRange`."""
    p = within("share", share, 0.0, float(np.nextafter(1.0, 0.0)), "1")
    return like(share, p / (1.0 - p))


# --- Cold -------------------------------------------------------------------------------------------------------------


def chill_bracket(chilled_h: float, lengths_h: npt.ArrayLike) -> int:
    """Row of a table of chills that holds for one of this length: the first whose length is not shorter.

    `chilled_h`: hours with the egg below 27 °C in one chill, 0 to the longest in the table; outside raises
    `OutOfRange`. `lengths_h`: (n,), rising (hens' eggs 12, 24, 36, 48, 72 h, suarez-1996). The row's survival is the
    caller's belief; between rows there is no law to interpolate by.
    """
    lengths = np.asarray(lengths_h, dtype=np.float64)
    within("lengths_step_h", np.diff(lengths), 1e-6, np.inf, "h")
    if not 0.0 <= chilled_h <= float(lengths[-1]):
        raise OutOfRange("chilled_h", chilled_h, 0.0, float(lengths[-1]), "h")
    return int(np.searchsorted(lengths, chilled_h, side="left"))
