"""Fixed points of probes and the corrections they give, against printed tables and the worked uncertainty budgets."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.errors import ChalazaError, OutOfRange
from chalaza.physics import air, probe
from chalaza.physics.probe import Point

# --- Salts


# Greenspan (1977), table 1, as computed from its coefficients (facts S1-S4); 0.02 %RH is the rounding of the table.
@pytest.mark.parametrize(
    ("salt", "temp_degc", "percent"),
    [
        ("sodium_chloride", [20, 25, 30, 35, 40], [75.48, 75.30, 75.09, 74.88, 74.69]),
        ("magnesium_chloride", [20, 25, 30, 35, 40], [33.07, 32.79, 32.45, 32.05, 31.61]),
        ("potassium_carbonate", [20, 25, 30], [43.16, 43.17, 43.18]),
        ("potassium_chloride", [25], [84.35]),
        ("potassium_sulphate", [25], [97.30]),
        ("lithium_chloride", [25], [11.30]),
        ("magnesium_nitrate", [25], [52.90]),
    ],
)
def test_salts_hold_the_printed_humidity(salt: str, temp_degc: list[float], percent: list[float]) -> None:
    assert probe.salt_rh(salt, np.array(temp_degc, dtype=float)) * 100.0 == pytest.approx(percent, abs=0.02)


def test_salts_agree_with_the_table_of_fixed_points(shared: Path) -> None:
    # salt_fixed_points.csv, column of Greenspan; potassium carbonate ends at 30 °C. Three decimals printed.
    by_name = {entry.name: key for key, entry in probe.SALTS.items()}
    seen = 0
    with (shared / "facts/machine/salt_fixed_points.csv").open() as file:
        for row in csv.DictReader(file):
            key, printed = by_name.get(row["salt"]), row["RH_Greenspan1977_pct"]
            if key is None or not printed or float(row["T_C"]) > probe.SALTS[key].high_degc:
                continue
            seen += 1
            assert probe.salt_rh(key, float(row["T_C"])) * 100.0 == pytest.approx(float(printed), abs=6e-4)
    assert seen >= 35


def test_salts_are_close_to_an_independent_measurement() -> None:
    # Wexler and Hasegawa (1954): NaCl 74.9 % at 0 °C, 75.6 % at 30 °C; Greenspan lies up to 0.6 away from them.
    assert probe.salt_rh("sodium_chloride", np.array([0.0, 30.0])) * 100 == pytest.approx([74.9, 75.6], abs=0.65)


def test_potassium_carbonate_is_refused_above_thirty_degrees() -> None:
    with pytest.raises(OutOfRange, match=r"temp_degc is 30\.1 °C; this model holds from 0 to 30 °C"):
        probe.salt_rh("potassium_carbonate", 30.1)
    assert probe.salt_rh("potassium_carbonate", 30.0) > 0.43


def test_unknown_salt_names_the_known_ones() -> None:
    with pytest.raises(ChalazaError, match="no salt 'sugar'; allowed: sodium_chloride"):
        probe.salt_rh("sugar", 25.0)


# --- Boiling water


def test_boiling_point_follows_altitude(shared: Path) -> None:
    # altitude_boiling.csv: IAPWS-95 and IF97 agree to its three decimals (fact S5, 0.003 °C).
    with (shared / "facts/machine/altitude_boiling.csv").open() as file:
        rows = list(csv.DictReader(file))
    pressure = np.array([float(row["ISA_P_Pa"]) for row in rows])
    table = np.array([float(row["boil_C_CoolProp"]) for row in rows])
    assert np.abs(probe.boiling_point(pressure) - table).max() < 0.003
    altitude = np.array([float(row["altitude_m"]) for row in rows])
    assert np.abs(air.pressure_from_altitude(altitude) - pressure).max() < 1.0


def test_boiling_point_agrees_with_a_steam_library() -> None:
    # CoolProp's IAPWS-95, called here; IF97 follows it within 0.001 K in this span.
    from CoolProp.CoolProp import PropsSI

    for pressure in (50_000.0, 70_000.0, 101_325.0, 108_000.0):
        true = PropsSI("T", "P", pressure, "Q", 0, "Water") - 273.15
        assert probe.boiling_point(pressure) == pytest.approx(true, abs=0.002)


def test_boiling_pressure_is_the_printed_one_at_a_hundred_degrees() -> None:
    # ASHRAE Fundamentals (2017) ch. 1, table 3: 101 418 Pa (fact P2), 3e-4.
    assert probe.boiling_pressure(100.0) == pytest.approx(101_418.0, rel=3e-4)


def test_iapws_verification_value() -> None:
    # IAPWS R7-97, table 36: 0.1 MPa boils at 372.755919 K. All digits printed.
    assert probe.boiling_point(100_000.0) + 273.15 == pytest.approx(372.755919, abs=1e-6)


@given(st.floats(45_000.0, 110_000.0))
def test_boiling_point_goes_both_ways(pressure_pa: float) -> None:
    temp = probe.boiling_point(pressure_pa)
    if probe.boiling_point(45_000.0) < temp < probe.boiling_point(110_000.0):
        assert probe.boiling_pressure(temp) == pytest.approx(pressure_pa, rel=1e-9)


def test_pressure_of_a_forecast_in_hectopascal_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"pressure_pa is 1013 Pa; this model holds from 45000 to 110000 Pa"):
        probe.boiling_point(1013.0)


# --- Corrections


def _salt_points(reading_u: float) -> tuple[Point, Point]:
    """The worked example of fact S6: MgCl2 and NaCl at 25 °C; the jars' temperature is ±0.3 K, rectangular."""
    low, high = probe.SALTS["magnesium_chloride"], probe.SALTS["sodium_chloride"]
    jar_k = probe.from_half_width(0.3)
    return (
        Point(36.0, 32.788, reading_u, float(np.hypot(50.0 * low.expanded, 1.95 * jar_k))),
        Point(73.2, 75.298, reading_u, float(np.hypot(50.0 * high.expanded, 4.49 * jar_k))),
    )


def test_two_salts_give_the_worked_line_and_budget() -> None:
    # Fact S6 (form of JCGM 100): slope, offset and corrected value to the digits printed, u to 0.01.
    reading_u = float(np.hypot(0.15, probe.from_resolution(0.1)))
    low, high = _salt_points(reading_u)
    assert (low.true_u, high.true_u) == pytest.approx((0.35, 0.78), abs=0.005)
    line = probe.two_point(low, high)
    assert line.slope == pytest.approx(1.142742, abs=1e-5)
    assert line.offset == pytest.approx(-8.35071, abs=1e-4)
    assert probe.corrected(line, 55.0) == pytest.approx(54.500, abs=1e-3)
    assert probe.corrected_u(line, 55.0, reading_u=reading_u) == pytest.approx(0.48, abs=0.01)
    drift = float(np.hypot(probe.from_half_width(0.5), probe.from_half_width(1.0)))
    assert probe.corrected_u(line, 55.0, reading_u=reading_u, drift_u=drift) == pytest.approx(0.81, abs=0.01)
    outside = probe.corrected_u(line, 80.0, reading_u=reading_u)
    assert probe.corrected(line, 80.0) == pytest.approx(83.07, abs=0.01)
    assert outside == pytest.approx(0.96, abs=0.01)


def test_ice_and_boiling_water_give_the_worked_correction() -> None:
    # Fact S7: 0.3 in ice, 95.6 in boiling water at 1500 m.
    boil = probe.boiling_point(air.pressure_from_altitude(1500.0))
    ice, water = Point(0.3, probe.ICE_POINT_DEGC, 0.0, 0.05), Point(95.6, boil, 0.0, 0.15)
    line = probe.two_point(ice, water)
    assert probe.corrected(line, 37.8) == pytest.approx(37.375, abs=0.001)
    assert probe.corrected_u(line, 37.8) == pytest.approx(0.066, abs=0.001)
    assert probe.corrected(probe.one_point(ice), 37.8) == pytest.approx(37.500, abs=0.001)


def test_ice_alone_leaves_the_doubt_of_the_gain() -> None:
    # A gain doubt of 0.4 % leaves 0.15 °C at 37.5 °C, so the probe is known to 0.16, not to the 0.05 of the ice.
    ice = probe.one_point(Point(0.0, 0.0, 0.0, 0.05), slope_u=0.004)
    assert probe.corrected_u(ice, 37.5) == pytest.approx(np.hypot(0.05, 0.15), abs=1e-6)
    assert probe.corrected_u(ice, 0.0) == pytest.approx(0.05, abs=1e-9)


def test_uncertainty_equals_that_of_simulated_checks() -> None:
    # An independent way to the same number: draw the four inputs and the reading, fit the line, look at the spread.
    # 40 000 draws give a standard deviation to 0.4 %.
    rng = np.random.default_rng(3)
    low, high = Point(36.0, 32.8, 0.16, 0.35), Point(73.2, 75.3, 0.16, 0.78)
    r1, r2 = rng.normal(low.true, low.true_u, 40_000), rng.normal(high.true, high.true_u, 40_000)
    x1, x2 = rng.normal(low.reading, low.reading_u, 40_000), rng.normal(high.reading, high.reading_u, 40_000)
    x = rng.normal(62.0, 0.16, 40_000)
    drawn = r1 + (r2 - r1) / (x2 - x1) * (x - x1)
    told = probe.corrected_u(probe.two_point(low, high), 62.0, reading_u=0.16)
    assert told == pytest.approx(np.std(drawn), rel=0.02)


@given(st.floats(-5.0, 5.0), st.floats(90.0, 104.0), st.floats(0.0, 100.0))
def test_correction_goes_both_ways(ice: float, boil: float, reading: float) -> None:
    line = probe.two_point(Point(ice, 0.0), Point(boil, 97.0))
    assert probe.read_as(line, probe.corrected(line, reading)) == pytest.approx(reading, abs=1e-9)


def test_the_points_themselves_come_out_true() -> None:
    line = probe.two_point(Point(36.0, 32.8), Point(73.2, 75.3))
    assert probe.corrected(line, np.array([36.0, 73.2])) == pytest.approx([32.8, 75.3], abs=1e-12)


def test_a_blunder_at_a_point_is_refused_as_slope() -> None:
    with pytest.raises(OutOfRange, match=r"slope is 1\.5.*; this model holds from 0\.8 to 1\.25"):
        probe.two_point(Point(0.3, 0.0), Point(63.0, 95.0))
    with pytest.raises(OutOfRange, match="slope is inf"):
        probe.two_point(Point(50.0, 33.0), Point(50.0, 75.0))
    with pytest.raises(OutOfRange, match="reading is nan"):
        probe.one_point(Point(float("nan"), 0.0))
    with pytest.raises(OutOfRange, match="true_u is -1"):
        probe.one_point(Point(0.0, 0.0, 0.0, -1.0))


def test_standard_uncertainties_of_one_thing() -> None:
    # JCGM 100, 4.2.3 and 4.3.7: s/√n, a/√3, d/√12.
    assert probe.from_half_width(0.3) == pytest.approx(0.173205, abs=1e-6)
    assert probe.from_resolution(0.1) == pytest.approx(0.0288675, abs=1e-7)
    assert probe.from_repeats(0.2, 4) == pytest.approx(0.1)
    with pytest.raises(OutOfRange, match="count is 1"):
        probe.from_repeats(0.2, 1)
    with pytest.raises(OutOfRange, match="half_width is -1"):
        probe.from_half_width(-1.0)
