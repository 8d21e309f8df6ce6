"""Universal constants, each with its source; coefficients of one formula stand beside that formula."""

# Temperature and pressure: exact by definition.
ZERO_DEGC_K = 273.15  # bipm-si-2019
STANDARD_PRESSURE_PA = 101_325.0  # iso-2533: pressure at sea level in the standard atmosphere
PA_PER_TORR = 101_325.0 / 760.0  # nist-sp-811: one torr is 1/760 of a standard atmosphere

# Standard atmosphere below 11 km (iso-2533).
SEA_LEVEL_TEMP_K = 288.15
LAPSE_K_PER_M = 0.0065
GRAVITY_M_PER_S2 = 9.80665
AIR_GAS_CONSTANT_J_PER_KG_K = 287.05287

# Moist air in the engineering form (ashrae-2017, chapter 1).
VAPOUR_TO_AIR_MASS = 0.621945  # ratio of the molar masses of water and dry air
DRY_AIR_GAS_CONSTANT_J_PER_KG_K = 287.042
VAPOUR_GAS_CONSTANT_J_PER_KG_K = 461.5  # wmo-8: rounded

# Water.
WATER_DENSITY_G_PER_ML = 0.993  # kell-1975: at 38 °C, an egg's temperature
VAPORISATION_J_PER_G = 2_410.0  # ashrae-2017: latent heat at 38 °C, rounded

# Gas exchange of embryos.
OXYGEN_HEAT_J_PER_ML = 19.7  # brouwer-1965: at a respiratory quotient of 0.72; 20.08 is in use for mixed food
RESPIRATORY_QUOTIENT = 49.0 / 68.0  # ar-rahn-1985: fluxes of carbon dioxide and oxygen through one pore, µL/d

SECONDS_PER_D = 86_400.0
SECONDS_PER_H = 3_600.0
