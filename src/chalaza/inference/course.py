"""What is normal for a kind of bird: its temperatures by age, its own heat, and its rate of development.

Developmental time runs at 1 on this kind's own normal course of shell temperature in a fan box at its usual air
temperature. So a kind that is kept cooler than a hen's egg is not thereby late.
"""

from dataclasses import dataclass

import numpy as np

from chalaza.inference.grid import Floats
from chalaza.physics import egg_heat, embryo
from chalaza.values.evidence import Airflow

#: Share of its mass an egg usually loses by the end of turning: only for the small heat of evaporation here.
_USUAL_LOSS = 0.12
#: Shell this far above the normal course is too warm at any age. [K]; judgement.
_LATE_K = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Course:
    """The normal course of one kind and size of egg, and the means of what its rate of development depends on."""

    term_d: float
    stop_turning_d: float
    air_degc: float
    hatch_air_degc: float
    mass_g: float
    oxygen_age_d: tuple[float, ...]
    oxygen_ml_per_d: tuple[float, ...]
    slope: float
    slope_above: float
    rate_34: float
    rate_30: float
    zero_degc: float
    heat_limit_degc: float
    cold_limit_degc: float

    def normal_air(self, age_d: Floats) -> Floats:
        """Air temperature this kind is usually given at an age in days since setting. [°C]"""
        return np.where(age_d < self.stop_turning_d, self.air_degc, self.hatch_air_degc)

    def heat(self, age_d: Floats) -> Floats:
        """Heat the embryo makes at an age in days since setting. [W]"""
        curve = (np.asarray(self.oxygen_age_d), np.asarray(self.oxygen_ml_per_d))
        age = np.clip(age_d, 0.0, self.term_d)
        return np.asarray(embryo.heat(age, curve, mass_g=self.mass_g, term_d=self.term_d))

    def heat_rise(self, age_d: Floats, airflow: Airflow) -> Floats:
        """Shell above air at a steady state, from the embryo's heat less that of evaporation. [K]"""
        loss_g_per_d = _USUAL_LOSS * self.mass_g / self.stop_turning_d
        taken = egg_heat.evaporation_heat(loss_g_per_d)
        return np.asarray((self.heat(age_d) - taken) / egg_heat.heat_conductance(self.mass_g, airflow.value))

    def normal_shell(self, age_d: Floats) -> Floats:
        """Shell temperature on the normal course: a fan box at this kind's usual air temperature. [°C]"""
        return self.air_degc + self.heat_rise(age_d, Airflow.FAN)

    def heat_limit(self, age_d: Floats) -> Floats:
        """Shell temperature from which warmth that lasts does harm; never below what is usual at that age. [°C]

        A late embryo of a kind whose limit was found early in the term is warmer than that limit on its normal course.
        """
        return np.maximum(self.heat_limit_degc, self.normal_shell(age_d) + _LATE_K)

    def rate(self, shell_degc: Floats, normal_degc: Floats) -> Floats:
        """Rate of development relative to the normal course, at the mean slope and no weight of age."""
        return np.asarray(
            embryo.rate_of_development(
                shell_degc,
                normal_degc=normal_degc,
                slope=self.slope,
                slope_above_ratio=self.slope_above,
                r34=self.rate_34,
                r30=self.rate_30,
                zero_degc=self.zero_degc,
            )
        )
