"""The one thermal model of the egg: its numbers, its lags, and the three ways to run it held to one course."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from chalaza.errors import ChalazaError, OutOfRange
from chalaza.physics import egg_heat
from chalaza.physics.egg_heat import Drive, Warmth

MINUTE = 60.0


# --- Numbers of one egg


def test_heat_of_a_hens_egg() -> None:
    # 198 J/K at 3.3 J/(g K) is in use, 3.18 has been seen: ours lies between.
    assert 60.0 * 3.18 < egg_heat.heat_capacity(60.0) < 198.0


def test_still_air_cools_an_egg_as_measured() -> None:
    # Tazawa & Nakagawa (1985): k 0.022-0.025 per min, half-time 27-28 min (facts C24, C25); K = C k = 77.6 mW/K.
    assert egg_heat.heat_conductance(60.0, "still") == pytest.approx(0.0776, abs=0.001)
    tau = egg_heat.time_constant(60.0, "still")
    assert 1.0 / 0.025 < tau / MINUTE < 1.0 / 0.022
    half = egg_heat.time_to(31.0, 38.0, 24.0, MINUTE / 0.0252)
    assert half / MINUTE == pytest.approx(27.5, abs=0.1)


def test_conductances_lie_in_the_computed_table(shared: Path) -> None:
    # egg/thermal_conductance_60g.csv: sphere correlations at 0 and 0.1-0.5 m/s (memory). Still within 8 %; a fan of unknown
    # speed somewhere in its span.
    with (shared / "facts/egg/thermal_conductance_60g.csv").open() as file:
        rows = {row["air_speed_m_per_s"]: float(row["K_mW_per_K"]) / 1000.0 for row in csv.DictReader(file)}
    assert egg_heat.heat_conductance(60.0, "still") == pytest.approx(rows["0"], rel=0.08)
    assert rows["0.1"] < egg_heat.heat_conductance(60.0, "fan") < rows["0.5"]


def test_small_and_large_eggs_lag_as_derived() -> None:
    # Still air (egg pack, section 10): quail 20-25, duck 45-50, goose 55-65 min; 15 % for the exponent of a derived row.
    tau = egg_heat.time_constant(np.array([11.0, 80.0, 150.0]), "still") / MINUTE
    assert tau == pytest.approx([22.5, 47.5, 60.0], rel=0.15)


def test_evaporation_takes_the_printed_heat() -> None:
    # 405 mg/d at 2.41 kJ/g: 11.3 mW.
    assert 1000.0 * egg_heat.evaporation_heat(0.405) == pytest.approx(11.3, abs=0.05)


def test_inner_lag_and_rise_are_those_of_a_conducting_sphere() -> None:
    # Independent: the series for a sphere whose surface warms steadily (Carslaw & Jaeger 1959) tends to a lag of R²/(6a)
    # at the centre; here the heat equation itself is solved on 200 shells. 1 %.
    mass, k = 60.0, egg_heat.INNER_CONDUCTIVITY_W_PER_M_K
    rho_c = 1082.0 * 1000.0 * egg_heat.SPECIFIC_HEAT_J_PER_G_K
    radius = (0.75 / np.pi * mass / 1.082e6) ** (1.0 / 3.0)
    n = 200
    r = (np.arange(n) + 0.5) * radius / n
    face = np.arange(1, n) * radius / n

    def change(temp: np.ndarray, surface: float, source: float) -> np.ndarray:
        flow = k * face**2 * np.diff(temp) / (radius / n)
        last = k * radius**2 * (surface - temp[-1]) / (0.5 * radius / n)
        flows = np.concatenate(([0.0], flow, [last]))
        return (np.diff(flows) / (r**2 * radius / n) + source) / rho_c

    ramp = 1e-3  # K/s
    run = solve_ivp(
        lambda t, y: change(y, ramp * t, 0.0), (0.0, 12_000.0), np.zeros(n), method="BDF", rtol=1e-8, atol=1e-9
    )
    lag = (ramp * 12_000.0 - run.y[0, -1]) / ramp
    assert egg_heat.inner_time_constant(mass) == pytest.approx(lag, rel=0.01)
    heat = 0.127
    source = heat / (4.0 / 3.0 * np.pi * radius**3)
    run = solve_ivp(
        lambda t, y: change(y, 0.0, source), (0.0, 20_000.0), np.zeros(n), method="BDF", rtol=1e-8, atol=1e-9
    )
    assert egg_heat.centre_above_shell(heat, mass) == pytest.approx(run.y[0, -1], rel=0.01)


def test_an_egg_put_into_the_box_takes_two_hours_for_nine_tenths() -> None:
    # Am J Physiol 1978 234:R183: bench at 25 °C to incubator at 38 °C, about 2 h to regain 90 % of the heat. Still air
    # gives 1.75 h at the centre, a fan less; 0.4 h for "about".
    body = egg_heat.body(60.0, "still")
    t = np.arange(0.0, 4.0 * 3600.0, 10.0)
    cold = Warmth(shell_degc=25.0, centre_degc=25.0)
    _, centre = egg_heat.course(body, t, np.full(t.size, 38.0), start=cold)
    reached = t[np.argmax(centre >= 25.0 + 0.9 * 13.0)] / 3600.0
    assert reached == pytest.approx(2.0, abs=0.4)


# --- Lags


# Readings come at whole seconds: steps are none, or no shorter than a thousandth of one.
times = st.lists(st.just(0.0) | st.floats(1e-3, 5_000.0), min_size=2, max_size=40)


@given(times, st.integers(0, 2**31), st.floats(30.0, 20_000.0), st.floats(10.0, 45.0))
def test_whole_log_is_the_loop_of_single_steps(gaps: list[float], seed: int, tau: float, start: float) -> None:
    moments = np.cumsum(gaps)
    driver = np.random.default_rng(seed).uniform(-10.0, 45.0, moments.size)
    whole = egg_heat.lagged(moments, driver, tau, start)
    value, values = start, [start]
    for k in range(1, moments.size):
        value = egg_heat.step(
            value, float(driver[k - 1]), float(driver[k]), step_s=float(moments[k] - moments[k - 1]), tau_s=tau
        )
        values.append(value)
    # Mechanism asks for 0.01 °C; the solve does the same sums.
    assert np.abs(whole - np.array(values)).max() < 1e-9


@given(times, st.integers(0, 2**31), st.sampled_from(["fan", "still"]), st.floats(8.0, 1500.0))
def test_shell_and_centre_run_alike_step_by_step_and_as_a_whole(
    gaps: list[float], seed: int, airflow: str, mass: float
) -> None:
    rng = np.random.default_rng(seed)
    moments = np.cumsum(gaps)
    air, heat = rng.uniform(5.0, 42.0, moments.size), rng.uniform(0.0, 0.3, moments.size)
    body, spent = egg_heat.body(mass, airflow), 0.011
    shell, centre = egg_heat.course(body, moments, air, heat_w=heat, evaporation_w=spent)
    drives = [Drive(air_degc=float(a), heat_w=float(h), evaporation_w=spent) for a, h in zip(air, heat, strict=True)]
    now = egg_heat.rest(body, drives[0])
    for k in range(1, moments.size):
        now = egg_heat.advance(body, now, drives[k - 1], drives[k], float(moments[k] - moments[k - 1]))
        assert now.shell_degc == pytest.approx(shell[k], abs=1e-9)
        assert now.centre_degc == pytest.approx(centre[k], abs=1e-9)


@given(st.integers(0, 2**31), st.floats(30.0, 900.0))
def test_readings_put_between_change_no_later_one(seed: int, every_s: float) -> None:
    # The steps are exact for straight lines: a log thinned where it was straight gives the same course.
    rng = np.random.default_rng(seed)
    coarse = np.arange(12) * every_s
    air = rng.uniform(20.0, 42.0, coarse.size)
    fine = np.unique(np.concatenate((coarse, rng.uniform(0.0, coarse[-1], 60))))
    body = egg_heat.body(60.0, "fan")
    few = egg_heat.course(body, coarse, air)
    many = egg_heat.course(body, fine, np.interp(fine, coarse, air))
    at = np.searchsorted(fine, coarse)
    for one, other in zip(few, many, strict=True):
        assert np.abs(one - other[at]).max() < 1e-9


def test_course_agrees_with_a_general_solver() -> None:
    # scipy's solve_ivp on the two equations themselves; its tolerance 1e-10 leaves 1e-6.
    body = egg_heat.body(60.0, "still")
    moments, air = np.array([0.0, 600.0, 660.0, 4000.0, 9000.0]), np.array([37.5, 37.5, 20.0, 18.0, 37.5])
    heat, spent = 0.1, 0.011
    rise = egg_heat.centre_above_shell(heat, 60.0)

    def change(t: float, y: np.ndarray) -> list[float]:
        target = np.interp(t, moments, air) + (heat - spent) / body.conductance_w_per_k
        return [(target - y[0]) / body.tau_s, (y[0] + rise - y[1]) / body.inner_tau_s]

    shell, centre = egg_heat.course(body, moments, air, heat_w=heat, evaporation_w=spent)
    y = np.array([shell[0], centre[0]])
    for k in range(1, moments.size):
        y = solve_ivp(change, (moments[k - 1], moments[k]), y, rtol=1e-10, atol=1e-10).y[:, -1]
        assert (shell[k], centre[k]) == pytest.approx(tuple(y), abs=1e-6)


def test_equal_lags_have_no_singularity() -> None:
    even = egg_heat.Body(mass_g=60.0, capacity_j_per_k=195.0, conductance_w_per_k=0.195, inner_tau_s=1000.0)
    near = egg_heat.Body(mass_g=60.0, capacity_j_per_k=195.0, conductance_w_per_k=0.195, inner_tau_s=1000.001)
    t, air = np.arange(0.0, 6000.0, 300.0), np.where(np.arange(20) < 3, 37.5, 20.0)
    _, centre = egg_heat.course(even, t, air)
    assert np.abs(centre - egg_heat.course(near, t, air)[1]).max() < 1e-4
    # Two equal lags behind a step of the driver from 37.5 to 20 held: 1 - (1 + x) exp(-x).
    held = egg_heat.advance(
        even, Warmth(shell_degc=37.5, centre_degc=37.5), Drive(air_degc=20.0), Drive(air_degc=20.0), 1500.0
    )
    assert held.centre_degc == pytest.approx(20.0 + 17.5 * 2.5 * np.exp(-1.5), abs=1e-9)


def test_lag_may_change_along_the_log() -> None:
    moments, driver = np.arange(0.0, 1000.0, 100.0), np.linspace(37.0, 20.0, 10)
    tau = np.where(np.arange(10) < 5, 1700.0, 2500.0)
    whole = egg_heat.lagged(moments, driver, tau)
    first = egg_heat.lagged(moments[:5], driver[:5], 1700.0)
    rest = egg_heat.lagged(moments[4:], driver[4:], 2500.0, float(first[-1]))
    assert whole == pytest.approx(np.concatenate((first[:-1], rest)), abs=1e-12)


def test_a_ripple_passes_as_filters_let_it() -> None:
    # Sensor lag of the machine pack, section 2.4: of a ripple of 317 s a lag of 60 s passes 64 %, one of 31 min 2.7 %.
    t = np.arange(0.0, 40_000.0, 1.0)
    ripple = np.sin(2.0 * np.pi * t / 317.0)
    for tau, passes in ((10.0, 0.98), (60.0, 0.64), (120.0, 0.39), (1860.0, 0.027)):
        assert np.abs(egg_heat.lagged(t, ripple, tau)[-3000:]).max() == pytest.approx(passes, abs=0.005)


def test_lag_of_short_and_empty_logs() -> None:
    assert egg_heat.lagged([], [], 1000.0).shape == (0,)
    assert egg_heat.lagged([5.0], [37.5], 1000.0).tolist() == [37.5]
    assert egg_heat.lagged([5.0], [37.5], 1000.0, 20.0).tolist() == [20.0]
    shell, centre = egg_heat.course(egg_heat.body(60.0, "fan"), np.empty(0), np.empty(0))
    assert (shell.size, centre.size) == (0, 0)


def test_repeated_moment_jumps_the_driver_not_the_egg() -> None:
    course = egg_heat.lagged([0.0, 100.0, 100.0, 200.0], [37.5, 37.5, 20.0, 20.0], 1000.0)
    assert course[2] == course[1]
    assert course[3] == pytest.approx(20.0 + 17.5 * np.exp(-0.1), abs=1e-12)


# --- Cooling


def test_cooling_of_the_lumped_box() -> None:
    # Facts T1, T2: C 10 824 J/K, UA 1.0 W/K, room 18 °C, 37.5 to 30 °C; with 40 eggs of 0.13 W held constant. 0.002 h.
    tau = 10_824.0 / 1.0
    assert egg_heat.time_to(30.0, 37.5, 18.0, tau) / 3600.0 == pytest.approx(1.460, abs=0.002)
    assert egg_heat.time_to(30.0, 37.5, 18.0 + 40 * 0.13, tau) / 3600.0 == pytest.approx(2.235, abs=0.002)


def test_cooling_times_of_the_power_cut_table(shared: Path) -> None:
    # machine/power_cut_lumped.csv, four decimals of an hour; rows that never reach 30 °C have no time.
    seen = 0
    with (shared / "facts/machine/power_cut_lumped.csv").open() as file:
        for row in csv.DictReader(file):
            around, tau = float(row["T_inf_C"]), float(row["C_J_K"]) / float(row["UA_W_K"])
            if around >= 30.0 or not row["t_to_30C_h"]:
                continue
            seen += 1
            assert egg_heat.time_to(30.0, 37.5, around, tau) / 3600.0 == pytest.approx(
                float(row["t_to_30C_h"]), abs=0.002
            )
    assert seen > 100


@given(st.floats(0.0, 20_000.0), st.floats(25.0, 40.0), st.floats(-20.0, 20.0), st.floats(1_000.0, 10_000.0))
def test_cooling_and_its_time_go_both_ways(seconds: float, start: float, around: float, tau: float) -> None:
    level = egg_heat.cooling(seconds, start, around, tau)
    assert egg_heat.time_to(min(level, start), start, around, tau) == pytest.approx(seconds, abs=1e-4)


@given(st.floats(1.0, 20_000.0), st.floats(1_000.0, 10_000.0))
def test_cooling_is_the_lag_behind_a_constant(seconds: float, tau: float) -> None:
    stepped = egg_heat.step(37.5, 18.0, 18.0, step_s=seconds, tau_s=tau)
    assert stepped == pytest.approx(egg_heat.cooling(seconds, 37.5, 18.0, tau), abs=1e-9)


def test_a_germ_under_the_shell_falls_faster_than_the_lump() -> None:
    # Am J Physiol 1978 234:R183: the site of an early embryo falls over 8 °C in the first 10 min on a 25 °C bench. Shell
    # and centre of the model fall less: it stands for the whole egg, not for the germ. Said here so that it stays known.
    body = egg_heat.body(60.0, "still")
    warm, bench = Warmth(shell_degc=38.0, centre_degc=38.0), Drive(air_degc=25.0)
    after = egg_heat.advance(body, warm, bench, bench, 600.0)
    assert 38.0 - 8.0 < after.shell_degc < after.centre_degc < 38.0


# --- Refusals


def test_strays_and_steps_back_are_refused_with_their_place() -> None:
    with pytest.raises(OutOfRange, match="temp_degc is nan °C at position 1"):
        egg_heat.lagged([0.0, 60.0], [37.5, np.nan], 1000.0)
    with pytest.raises(OutOfRange, match="step_s is -60 s at position 1"):
        egg_heat.lagged([0.0, 120.0, 60.0], [37.5, 37.5, 37.5], 1000.0)
    with pytest.raises(OutOfRange, match="tau_s is 0 s; this model holds from 1 to 1e"):
        egg_heat.lagged([0.0, 60.0], [37.5, 37.5], 0.0)
    with pytest.raises(OutOfRange, match="step_s is -1 s"):
        egg_heat.step(37.0, 37.0, 37.0, step_s=-1.0, tau_s=100.0)


def test_levels_never_reached_are_refused() -> None:
    for level in (18.0, 10.0, 38.0):
        with pytest.raises(OutOfRange, match="share_left"):
            egg_heat.time_to(level, 37.5, 18.0, 3600.0)
    assert egg_heat.time_to(37.5, 37.5, 37.5, 3600.0) == 0.0


def test_unknown_airflow_names_the_known_ones() -> None:
    with pytest.raises(ChalazaError, match="no airflow 'gale'; allowed: fan, still"):
        egg_heat.heat_conductance(60.0, "gale")


def test_masses_and_factors_outside_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"mass_g is 0\.4 g; this model holds from 0\.5 to 2500 g"):
        egg_heat.heat_capacity(0.4)
    with pytest.raises(OutOfRange, match="conductance_factor is 10"):
        egg_heat.body(60.0, "fan", conductance_factor=10.0)
    with pytest.raises(OutOfRange, match="loss_g_per_d is -1 g/d"):
        egg_heat.evaporation_heat(-1.0)
