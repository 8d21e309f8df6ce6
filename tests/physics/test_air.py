"""Moist air against printed tables, two independent libraries and itself read backwards."""

import csv
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.errors import OutOfRange
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
