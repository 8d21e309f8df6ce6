"""Moist air against printed tables, two independent libraries and itself read backwards."""

import csv
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.errors import ChalazaError, OutOfRange
from chalaza.physics import air

psychrolib.SetUnitSystem(psychrolib.SI)

temps = st.floats(-40.0, 60.0)
shares = st.floats(0.01, 1.0)
pressures = st.floats(60_000.0, 110_000.0)


def fahrenheit(temp_degf: float) -> float:
    return (temp_degf - 32.0) / 1.8


@pytest.fixture(scope="module")
def grid(shared: Path) -> dict[str, np.ndarray]:
    with (shared / "facts/machine/moist_air_grid.csv").open() as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 2205
    numbers = [name for name in rows[0] if name not in ("source", "status")]
    return {name: np.array([float(row[name]) for row in rows]) for name in numbers}


# --- Saturation


# ASHRAE Handbook - Fundamentals (2017), ch. 1, table 3 (checked: tests of psychrolib). The handbook claims 300 ppm for
# its own fit to that table; that is the tolerance. 100 °C of the same table lies outside our span: see test_probe.
@pytest.mark.parametrize(("temp_degc", "pressure_pa"), [(5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3)])
def test_saturation_pressure_matches_the_printed_table(temp_degc: float, pressure_pa: float) -> None:
    assert air.saturation_pressure(temp_degc) == pytest.approx(pressure_pa, rel=3e-4)


def test_saturation_pressure_is_hyland_wexler_where_eggs_are_kept() -> None:
    # psychrolib 2.5.0 prints 6454.17 at 37.5 °C (fact P3); the curve is laid through this very point.
    assert air.saturation_pressure(37.5) == pytest.approx(6454.17, abs=0.05)


def test_curve_leaves_the_published_equation_by_a_hundred_thousandth() -> None:
    # psychrolib evaluates the equation of Hyland and Wexler as printed, over water from 0.01 °C and over ice below.
    temp = np.linspace(0.02, 60.0, 500)
    printed = np.array([psychrolib.GetSatVapPres(t) for t in temp])
    assert np.abs(air.saturation_pressure(temp) / printed - 1.0).max() < 1e-5
    frost = np.linspace(-40.0, 0.0, 500)
    printed = np.array([psychrolib.GetSatVapPres(t) for t in frost])
    assert np.abs(air.saturation_pressure_ice(frost) / printed - 1.0).max() < 2e-7


def test_saturation_pressure_agrees_with_steam_formulations(shared: Path) -> None:
    # IAPWS-IF97 and IAPWS-95 (CoolProp) as tabulated; Hyland and Wexler lie up to 225 ppm below both,
    # and the refit another 10.
    with (shared / "facts/machine/saturation_pressure.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if 0.0 <= float(row["T_C"]) <= 60.0]
    temp = np.array([float(row["T_C"]) for row in rows])
    for column in ("IAPWS_IF97_Pa", "IAPWS95_CoolProp_Pa"):
        table = np.array([float(row[column]) for row in rows])
        assert np.abs(air.saturation_pressure(temp) / table - 1.0).max() < 2.4e-4


# Smithsonian Meteorological Tables (List 1951), table 94, over supercooled water (memory). Formulations differ by up to
# 0.8 % at -40 °C; ours extends the equation for liquid water and is good to 1 %.
@pytest.mark.parametrize(
    ("temp_degc", "pressure_pa"), [(-10.0, 286.27), (-20.0, 125.40), (-30.0, 50.88), (-40.0, 18.91)]
)
def test_supercooled_water_is_right_to_a_hundredth(temp_degc: float, pressure_pa: float) -> None:
    assert air.saturation_pressure(temp_degc) == pytest.approx(pressure_pa, rel=0.01)


def test_short_formulas_lie_below_by_what_is_known_of_them() -> None:
    # Fact P4: against IF97 Magnus, Tetens and Buck lie 0.02-0.31 % low in 15-42 °C; we lie 0.013-0.018 % low, hence
    # between +0.005 % and -0.30 % against us.
    t = np.linspace(15.0, 42.0, 100)
    ours = air.saturation_pressure(t)
    for a, b, c in ((611.2, 17.62, 243.12), (610.94, 17.625, 243.04), (610.8, 17.27, 237.3)):
        short = a * np.exp(b * t / (c + t))
        assert (short / ours - 1.0).min() > -0.0030
        assert (short / ours - 1.0).max() < 0.0001
    buck = 611.21 * np.exp((18.678 - t / 234.5) * t / (257.14 + t))
    assert np.abs(buck / ours - 1.0).max() < 3e-4


def test_saturation_in_torr_as_physiologists_print_it() -> None:
    # Fact C12: Buck's formula, 6.453 kPa = 48.40 torr at 37.5 °C; 0.2 %.
    assert air.saturation_pressure(37.5) / 133.322368 == pytest.approx(48.40, rel=2e-3)


@given(temps)
def test_dew_point_undoes_saturation_pressure(temp_degc: float) -> None:
    assert air.dew_point(air.saturation_pressure(temp_degc)) == pytest.approx(temp_degc, abs=1e-9)


@given(st.floats(-40.0, 0.01))
def test_frost_point_undoes_saturation_over_ice(temp_degc: float) -> None:
    assert air.frost_point(air.saturation_pressure_ice(temp_degc)) == pytest.approx(temp_degc, abs=1e-9)


def test_saturation_pressure_rises_all_the_way() -> None:
    assert np.all(np.diff(air.saturation_pressure(np.linspace(-40.0, 60.0, 100_001))) > 0.0)


# --- The grid of 2205 states and two libraries (facts P9-P12)


def test_one_state_in_full() -> None:
    # psychrolib 2.5.0 at 37.5 °C, 50 %, 101 325 Pa (row of moist_air_grid.csv); tolerances are the digits printed.
    ratio = air.humidity_ratio(37.5, 0.5)
    assert air.vapour_pressure(37.5, 0.5) == pytest.approx(3227.09, abs=0.02)
    assert ratio == pytest.approx(0.0204599, abs=2e-7)
    assert air.wet_bulb(37.5, 0.5) == pytest.approx(28.219, abs=0.003)
    assert air.dew_point_of(37.5, 0.5) == pytest.approx(25.304, abs=0.001)
    assert air.enthalpy(37.5, ratio) == pytest.approx(90_322, abs=2)
    assert air.density(37.5, 0.5) == pytest.approx(1.12264, abs=1e-5)


def test_every_state_of_the_grid_agrees_with_both_libraries(grid: dict[str, np.ndarray]) -> None:
    t, rh, p = grid["T_C"], grid["RH_pct"] / 100.0, grid["P_kPa"] * 1000.0
    vapour = air.vapour_pressure(t, rh)
    ratio, wet, rho = air.humidity_ratio(t, rh, p), air.wet_bulb(t, rh, p), air.density(t, rh, p)
    # Both libraries give the frost point below 0 °C.
    frozen = vapour < air.saturation_pressure_ice(0.01)
    dew = np.where(frozen, 0.0, 1.0)
    dew[frozen], dew[~frozen] = air.frost_point(vapour[frozen]), air.dew_point(vapour[~frozen])
    # Against psychrolib (the same equations): its printed digits, and 0.001 K of its own iteration.
    assert np.abs(ratio / grid["W_psychrolib"] - 1.0).max() < 6e-5
    assert np.abs(wet - grid["Twb_psychrolib"]).max() < 0.002
    assert np.abs(dew - grid["Tdp_psychrolib"]).max() < 0.001
    assert np.abs(vapour - grid["pv_Pa_psychrolib"]).max() < 0.08
    assert np.abs(air.enthalpy(t, ratio) - grid["h_J_per_kgda_psychrolib"]).max() < 3.0
    assert np.abs(rho - grid["rho_kg_m3_psychrolib"]).max() < 1e-5
    # Against CoolProp (real gas): what the enhancement factor leaves, as measured between the two libraries (fact P11).
    assert np.abs(ratio / grid["W_coolprop"] - 1.0).max() < 0.006
    assert np.abs(wet - grid["Twb_coolprop"]).max() < 0.025
    assert np.abs(dew - grid["Tdp_coolprop"]).max() < 0.02
    assert np.abs(rho / grid["rho_kg_m3_coolprop"] - 1.0).max() < 5e-4


def test_every_state_of_the_grid_comes_back(grid: dict[str, np.ndarray]) -> None:
    # Fact P12 asks for 0.05 %RH by the wet bulb and 0.02 %RH by the dew point; the inverses do far better.
    t, rh, p = grid["T_C"], grid["RH_pct"] / 100.0, grid["P_kPa"] * 1000.0
    assert np.abs(air.rh_from_wet_bulb(t, air.wet_bulb(t, rh, p), p) - rh).max() < 1e-6
    assert np.abs(air.rh_from_dew_point(t, air.dew_point_of(t, rh)) - rh).max() < 1e-12
    assert np.abs(air.rh_from_humidity_ratio(t, air.humidity_ratio(t, rh, p), p) - rh).max() < 1e-12


def test_live_real_gas_library_agrees() -> None:
    # CoolProp's HumidAirProp called here, not read from a table: bounds of fact P10 and P11.
    from CoolProp.HumidAirProp import HAPropsSI

    assert HAPropsSI("W", "T", 310.65, "P", 101_325, "R", 0.5) == pytest.approx(0.02056, abs=1e-5)
    for temp, rh, pressure in ((21.0, 0.45, 101_325.0), (37.5, 0.6, 85_000.0), (42.0, 0.9, 70_000.0)):
        state = ("T", temp + 273.15, "P", pressure, "R", rh)
        assert air.humidity_ratio(temp, rh, pressure) == pytest.approx(HAPropsSI("W", *state), rel=0.006)
        assert air.wet_bulb(temp, rh, pressure) == pytest.approx(HAPropsSI("B", *state) - 273.15, abs=0.025)
        assert air.dew_point_of(temp, rh) == pytest.approx(HAPropsSI("D", *state) - 273.15, abs=0.02)


@given(st.floats(0.02, 60.0), st.floats(0.2, 1.0), pressures)
def test_psychrolib_agrees_anywhere_above_freezing(temp_degc: float, rh: float, pressure_pa: float) -> None:
    # The same equations; 1e-5 is the refit of the saturation curve, 0.001 K the bisection of psychrolib.
    assert air.humidity_ratio(temp_degc, rh, pressure_pa) == pytest.approx(
        psychrolib.GetHumRatioFromRelHum(temp_degc, rh, pressure_pa), rel=2e-5
    )
    wet = psychrolib.GetTWetBulbFromRelHum(temp_degc, rh, pressure_pa)
    if wet > 0.01:  # below it psychrolib freezes the wick
        assert air.wet_bulb(temp_degc, rh, pressure_pa) == pytest.approx(wet, abs=0.003)


# --- Worked examples


def test_handbook_example_of_dry_and_wet_bulb() -> None:
    # ASHRAE Fundamentals (2017) ch. 1, example 1: read off a chart, hence coarse (fact P5) ...
    rh = air.rh_from_wet_bulb(40.0, 20.0)
    ratio = air.humidity_ratio(40.0, rh)
    assert ratio == pytest.approx(0.0065, abs=1e-4)
    assert air.dew_point_of(40.0, rh) == pytest.approx(7.0, abs=0.5)
    assert rh == pytest.approx(0.14, abs=0.01)
    assert air.enthalpy(40.0, ratio) == pytest.approx(56_700, abs=100)
    assert air.specific_volume(40.0, ratio) == pytest.approx(0.896, rel=0.01)
    # ... and the same by psychrolib 2.5.0 in full digits (fact P6).
    assert ratio == pytest.approx(0.0064008, abs=1e-6)
    assert air.dew_point_of(40.0, rh) == pytest.approx(7.434, abs=0.002)
    assert rh == pytest.approx(0.13979, abs=2e-5)
    assert air.enthalpy(40.0, ratio) == pytest.approx(56_724.6, abs=1.0)
    assert air.specific_volume(40.0, ratio) == pytest.approx(0.896248, abs=1e-5)


def test_saturated_humidity_ratio_of_the_handbook() -> None:
    # ASHRAE Fundamentals (2017) ch. 1, table 2: real air; the enhancement factor is worth 0.5 % (fact P7).
    assert air.humidity_ratio(25.0, 1.0) == pytest.approx(0.020173, rel=0.005)


# Handbook of hatching, rounded to a degree in the source (facts C34, C35).
@pytest.mark.parametrize(("temp_degc", "rh", "dew_degc", "near"), [(25.0, 0.50, 13.9, 0.1), (38.0, 0.55, 27.4, 0.2)])
def test_dew_points_of_the_trade(temp_degc: float, rh: float, dew_degc: float, near: float) -> None:
    assert air.dew_point_of(temp_degc, rh) == pytest.approx(dew_degc, abs=near)


# Thermodynamic wet bulb in °F at sea level (psychrolib and CoolProp; facts P13, P14); 0.02 °F is their difference.
@pytest.mark.parametrize(
    ("dry_degf", "rh", "wet_degf"),
    [
        (100.0, [45, 50, 55, 60, 65, 70], [81.14, 83.21, 85.19, 87.09, 88.92, 90.68]),
        (99.5, [45, 50, 55, 60, 65, 70, 75, 80], [80.74, 82.79, 84.77, 86.66, 88.47, 90.22, 91.90, 93.52]),
    ],
)
def test_wet_bulb_table_of_the_trade(dry_degf: float, rh: list[int], wet_degf: list[float]) -> None:
    wet = air.wet_bulb(np.full(len(rh), fahrenheit(dry_degf)), np.array(rh) / 100.0)
    assert wet * 1.8 + 32.0 == pytest.approx(wet_degf, abs=0.02)


def test_wet_bulb_table_at_three_ventilations_and_at_altitude(shared: Path) -> None:
    # Fact table wetbulb_F_table.csv: psychrolib, and the psychrometer equation with the coefficients of FAO-56. 0.02 °F.
    with (shared / "facts/machine/wetbulb_F_table.csv").open() as file:
        rows = list(csv.DictReader(file))
    dry = np.array([fahrenheit(float(row["dry_bulb_F"])) for row in rows])
    rh = np.array([float(row["RH_pct"]) / 100.0 for row in rows])
    found = {
        "WB_F_thermodynamic_psychrolib": air.wet_bulb(dry, rh),
        "WB_F_at_84.56kPa(1500m)": air.wet_bulb(dry, rh, 84_560.0),
        "WB_F_psychrometer_A6.62e-04": air.wick_reading(dry, rh, ventilation="ventilated"),
        "WB_F_psychrometer_A8.00e-04": air.wick_reading(dry, rh, ventilation="natural"),
        "WB_F_psychrometer_A1.20e-03": air.wick_reading(dry, rh, ventilation="unventilated"),
    }
    for column, values in found.items():
        table = np.array([float(row[column]) for row in rows])
        assert np.abs(values * 1.8 + 32.0 - table).max() < 0.02, column


# Mississippi State's table says 60 % for 100/87.3 °F; the equations say 60.6 (fact P15, 1 %RH). Others: fact P16.
@pytest.mark.parametrize(
    ("dry_degf", "wet_degf", "rh", "near"),
    [(100.0, 87.3, 0.60, 0.01), (100.0, 87.3, 0.606, 0.001), (102.0, 89.0, 0.604, 0.001), (100.0, 87.0, 0.597, 0.001)],
)
def test_humidity_from_the_wet_bulbs_keepers_read(dry_degf: float, wet_degf: float, rh: float, near: float) -> None:
    assert air.rh_from_wet_bulb(fahrenheit(dry_degf), fahrenheit(wet_degf)) == pytest.approx(rh, abs=near)


def test_a_wick_in_still_air_read_by_a_ventilated_table_shows_too_humid() -> None:
    # Fact P17: true 60 % at 37.5 °C shows as 65.1 %; 0.2 %RH.
    wick = air.wick_reading(37.5, 0.60, ventilation="unventilated")
    assert air.rh_from_wick(37.5, wick, ventilation="ventilated") == pytest.approx(0.651, abs=0.002)


def test_example_of_an_open_meteorological_library() -> None:
    # Documentation of MetPy: 958 hPa, 25 °C dry, 12 °C wet, A = 6.21e-4 -> 627.52 Pa, 19.84 % (fact P18). Its Magnus
    # constants lie 0.2-0.3 % off ours at 12 °C, and the vapour pressure is a small difference: 0.6 %.
    rh = air.rh_from_wick(25.0, 12.0, 95_800.0, ventilation="reference")
    assert rh == pytest.approx(0.1984, rel=0.006)
    assert air.vapour_pressure(25.0, rh) == pytest.approx(627.52, rel=0.006)


def test_airport_hours_agree_with_their_own_dew_point(shared: Path) -> None:
    # 400 station hours (ASOS, open data): humidity recorded beside dew point. Whole-degree rounding at the source gives
    # a spread of 0.9 points; a few station rows are wrong by 15-28 points: median and share, not the worst.
    with (shared / "data/psychro/airport_hourly_400.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if row["temp"] and row["dewp"] and row["humid"]]
    temp = np.array([fahrenheit(float(row["temp"])) for row in rows])
    dew = np.array([fahrenheit(float(row["dewp"])) for row in rows])
    humid = np.array([float(row["humid"]) for row in rows])
    gap = 100.0 * air.rh_from_dew_point(temp, dew) - humid
    assert abs(np.median(gap)) < 0.3
    assert np.mean(np.abs(gap) < 1.0) > 0.9


# --- Round trips


@given(temps, shares)
def test_vapour_pressure_goes_both_ways(temp_degc: float, rh: float) -> None:
    assert air.rh_from_vapour_pressure(temp_degc, air.vapour_pressure(temp_degc, rh)) == pytest.approx(rh, abs=1e-12)


@given(st.floats(-20.0, 60.0), st.floats(0.25, 1.0))
def test_dew_point_goes_both_ways(temp_degc: float, rh: float) -> None:
    assert air.rh_from_dew_point(temp_degc, air.dew_point_of(temp_degc, rh)) == pytest.approx(rh, abs=1e-12)


@given(temps, st.floats(0.0, 1.0), pressures)
def test_wet_bulb_goes_both_ways(temp_degc: float, rh: float, pressure_pa: float) -> None:
    wet = air.wet_bulb(temp_degc, rh, pressure_pa)
    # The bulb is solved to 1e-6 K; at -40 °C that is 4e-6 of the little vapour there can be.
    assert air.rh_from_wet_bulb(temp_degc, wet, pressure_pa) == pytest.approx(rh, abs=4e-6)
    assert wet <= temp_degc + 1e-9


@given(temps, st.floats(0.0, 1.0), pressures, st.sampled_from(sorted(air.WICKS)))
def test_wick_goes_both_ways(temp_degc: float, rh: float, pressure_pa: float, ventilation: str) -> None:
    wick = air.wick_reading(temp_degc, rh, pressure_pa, ventilation=ventilation)
    assert air.rh_from_wick(temp_degc, wick, pressure_pa, ventilation=ventilation) == pytest.approx(rh, abs=4e-6)


@given(temps, st.floats(0.0, 1.0), pressures)
def test_humidity_ratio_goes_both_ways(temp_degc: float, rh: float, pressure_pa: float) -> None:
    ratio = air.humidity_ratio(temp_degc, rh, pressure_pa)
    assert air.rh_from_humidity_ratio(temp_degc, ratio, pressure_pa) == pytest.approx(rh, abs=1e-12)


@given(st.floats(-500.0, 6_000.0))
def test_altitude_goes_both_ways(altitude_m: float) -> None:
    assert air.altitude_from_pressure(air.pressure_from_altitude(altitude_m)) == pytest.approx(altitude_m, abs=1e-7)


def test_saturated_air_has_one_temperature_for_all_bulbs() -> None:
    t = np.linspace(-40.0, 60.0, 201)
    assert np.abs(air.wet_bulb(t, 1.0) - t).max() < 1e-9
    assert np.abs(air.dew_point_of(t, 1.0) - t).max() < 1e-9
    assert np.abs(air.wick_reading(t, 1.0) - t).max() < 1e-9


def test_mass_of_vapour_and_dry_air_make_the_density() -> None:
    # Independent of the shared formula: partial densities from R/M with R = 8.314 462 618, M = 28.966 and 18.01528 g/mol.
    t, rh, p = 37.5, 0.6, 95_000.0
    vapour = air.vapour_pressure(t, rh)
    by_moles = ((p - vapour) * 28.966e-3 + vapour * 18.01528e-3) / (8.314462618 * (t + 273.15))
    assert air.density(t, rh, p) == pytest.approx(by_moles, rel=2e-5)
    assert air.vapour_density(t, rh) == pytest.approx(1000 * vapour * 18.01528e-3 / (8.314462618 * 310.65), rel=1e-4)


# --- Altitude


def test_standard_atmosphere_of_the_handbook() -> None:
    # ASHRAE Fundamentals (2017) ch. 1, table 1 (fact P8), 1 Pa.
    altitude = np.array([-500.0, 0.0, 500.0, 1000.0, 4000.0])
    assert air.pressure_from_altitude(altitude) == pytest.approx([107_478, 101_325, 95_461, 89_875, 61_640], abs=1.0)


# --- Refusals


@pytest.mark.parametrize("temp_degc", [-40.1, 60.1, float("inf")])
def test_temperature_outside_the_span_is_refused(temp_degc: float) -> None:
    with pytest.raises(OutOfRange, match=r"temp_degc is .* °C; this model holds from -40 to 60 °C"):
        air.saturation_pressure(temp_degc)


def test_each_function_refuses_what_its_arguments_cannot_be() -> None:
    with pytest.raises(OutOfRange, match=r"rh is 1\.01; this model holds from 0 to 1"):
        air.vapour_pressure(20.0, 1.01)
    with pytest.raises(OutOfRange, match="rh is 55"):
        air.humidity_ratio(20.0, 55.0)
    with pytest.raises(OutOfRange, match="pressure_pa is 1013 Pa; this model holds from 45000 to 110000 Pa"):
        air.wet_bulb(37.5, 0.5, 1013.0)
    with pytest.raises(OutOfRange, match="vapour_pa is 5 Pa"):
        air.dew_point(5.0)
    with pytest.raises(OutOfRange, match="altitude_m is 9000 m"):
        air.pressure_from_altitude(9000.0)
    with pytest.raises(OutOfRange, match=r"temp_degc is 0\.02 °C"):
        air.saturation_pressure_ice(0.02)


def test_impossible_pairs_are_refused_as_humidity() -> None:
    with pytest.raises(OutOfRange, match="rh is"):
        air.rh_from_wet_bulb(37.5, 38.0)  # bulb above the air
    with pytest.raises(OutOfRange, match="rh is"):
        air.rh_from_wet_bulb(37.5, 5.0)  # colder than dry air makes it
    with pytest.raises(OutOfRange, match="rh is"):
        air.rh_from_dew_point(20.0, 25.0)
    with pytest.raises(OutOfRange, match=r"rh is .* at position 1"):
        air.rh_from_wick(np.array([37.5, 37.5]), np.array([30.0, 2.0]))
    with pytest.raises(OutOfRange, match="rh is"):
        air.rh_from_humidity_ratio(20.0, 0.05)


def test_unknown_ventilation_names_the_known_ones() -> None:
    with pytest.raises(ChalazaError, match="no wick 'windy'; allowed: ventilated, natural, unventilated, reference"):
        air.rh_from_wick(37.5, 30.0, ventilation="windy")
