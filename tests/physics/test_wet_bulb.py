"""Wet bulb and wick against printed tables, a slow sure solution, and themselves read backwards."""

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.errors import ChalazaError
from chalaza.physics import air

temps = st.floats(-40.0, 60.0)
pressures = st.floats(60_000.0, 110_000.0)


def fahrenheit(temp_degf: float) -> float:
    return (temp_degf - 32.0) / 1.8


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


def test_unknown_ventilation_names_the_known_ones() -> None:
    with pytest.raises(ChalazaError, match="no wick 'windy'; allowed: ventilated, natural, unventilated, reference"):
        air.rh_from_wick(37.5, 30.0, ventilation="windy")


# --- The solution itself


def states() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """States over all of the span, with more of the hot and dry ones, where the bulb stands farthest from the air."""
    rng = np.random.default_rng(0)
    temp, rh = rng.uniform(-40.0, 60.0, 20_000), rng.uniform(0.0, 1.0, 20_000)
    temp[:5_000], rh[:5_000] = rng.uniform(45.0, 60.0, 5_000), rng.uniform(0.0, 0.1, 5_000)
    rh[:1_000] = 0.0
    return temp, rh, rng.uniform(45_000.0, 110_000.0, 20_000)


def bisected(rising: Callable[[np.ndarray], np.ndarray], above: np.ndarray) -> np.ndarray:
    low, high = np.full(above.size, -60.0), above.copy()
    for _ in range(60):
        middle = 0.5 * (low + high)
        over = rising(middle) > 0.0
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    return 0.5 * (low + high)


def full(temp_degc: np.ndarray) -> np.ndarray:
    """Saturation below our span too, where bisection looks: the equation of Hyland and Wexler as printed (memory)."""
    k = temp_degc + 273.15
    powers = 1.3914993 - 4.8640239e-2 * k + 4.1764768e-5 * k**2 - 1.4452093e-8 * k**3
    return np.exp(-5.8002206e3 / k + powers + 6.5459673 * np.log(k))


def test_wet_bulb_solves_the_equation_as_printed() -> None:
    # ASHRAE Fundamentals (2017) ch. 1, equation 33, by bisection on the printed saturation curve. The refit of the curve
    # leaves 1e-5 of the vapour at the bulb and as much of that in the air, which is less; over a slope of at least 0.048
    # of the former per kelvin that is 4.2e-4 K. What the solution itself adds is bounded below.
    temp, rh, pressure = states()

    def ratio(vapour: np.ndarray) -> np.ndarray:
        return 0.621945 * vapour / (pressure - vapour)

    held = ratio(rh * full(temp))

    def rising(wet: np.ndarray) -> np.ndarray:
        taken = (2501.0 - 2.326 * wet) * ratio(full(wet)) - 1.006 * (temp - wet)
        return taken - held * (2501.0 + 1.86 * temp - 4.186 * wet)

    assert np.abs(air.wet_bulb(temp, rh, pressure) - bisected(rising, temp)).max() < 4.2e-4


@pytest.mark.parametrize("ventilation", sorted(air.WICKS))
def test_wick_solves_the_psychrometer_equation(ventilation: str) -> None:
    # FAO-56, equation 15, by bisection as above.
    temp, rh, pressure = states()
    pull = air.WICKS[ventilation].coefficient_per_k * pressure
    held = rh * full(temp)
    wick = bisected(lambda w: full(w) - pull * (temp - w) - held, temp)
    assert np.abs(air.wick_reading(temp, rh, pressure, ventilation=ventilation) - wick).max() < 4.2e-4


def test_bulbs_come_back_within_a_hundred_thousandth_of_a_kelvin() -> None:
    # The inverses are explicit, so what a round trip leaves is the solution alone. A bulb wrong by 1e-5 K shows as
    # (de/dT + A) 1e-5 K of vapour; de/dT is at least 0.048 e up to 60 °C, and A at least 6e-4 of the pressure.
    temp, rh, pressure = states()
    there = full(temp)
    for ventilation in air.WICKS:
        wick = air.wick_reading(temp, rh, pressure, ventilation=ventilation)
        back = air.rh_from_wick(temp, wick, pressure, ventilation=ventilation)
        assert np.all(np.abs(back - rh) * there < 1e-5 * (0.048 * full(wick) + 6e-4 * pressure))
    wet = air.wet_bulb(temp, rh, pressure)
    back = air.rh_from_wet_bulb(temp, wet, pressure)
    assert np.all(np.abs(back - rh) * there < 1e-5 * (0.048 * full(wet) + 6e-4 * pressure))


def test_a_long_log_and_its_moments_one_by_one_have_the_same_bulb() -> None:
    # A log goes through single precision on its way, a single state does not; both are held to 1e-5 K.
    temp, rh, pressure = (column[::40] for column in states())
    one = [air.wet_bulb(float(t), float(h), float(p)) for t, h, p in zip(temp, rh, pressure, strict=True)]
    assert np.abs(air.wet_bulb(temp, rh, pressure) - one).max() < 1e-5
    assert np.abs(air.wet_bulb(temp, 0.5) - [air.wet_bulb(float(t), 0.5) for t in temp]).max() < 1e-5
