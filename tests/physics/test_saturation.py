"""Saturation over water and ice against printed tables, steam formulations and itself read backwards."""

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


@pytest.mark.parametrize("temp_degc", [-40.1, 60.1, float("inf")])
def test_temperature_outside_the_span_is_refused(temp_degc: float) -> None:
    with pytest.raises(OutOfRange, match=r"temp_degc is .* °C; this model holds from -40 to 60 °C"):
        air.saturation_pressure(temp_degc)
