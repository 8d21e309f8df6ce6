"""The embryo against hatch times, oxygen curves and survival tables that have been published."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.errors import OutOfRange
from chalaza.physics import embryo

TABLES = Path(embryo.__file__).parents[1] / "facts/tables"
#: Ande & Wilson (1981): hours at 43.3 °C that halve the hatch, by age; the last is "less than 5".
HEAT = {"ages_d": (3.0, 7.0, 11.0, 16.0, 19.0), "medians_h": (12.0, 4.0, 7.0, 7.0, 4.0)}
CHILLS_H = (12.0, 24.0, 36.0, 48.0, 72.0)


@pytest.fixture(scope="module")
def curve() -> embryo.Curve:
    with (TABLES / "embryo_oxygen_chicken.csv").open() as file:
        rows = list(csv.DictReader(file))
    return np.array([float(r["age_d"]) for r in rows]), np.array([float(r["oxygen_ml_per_d"]) for r in rows])


def _hatch_h(temp_by_age: list[tuple[float, float]], *, term_h: float = 496.0) -> float:
    """Hours to hatch at shell temperatures (from day, °C), ten steps an hour, the age counted in development."""
    age_h, hour = 0.0, 0.0
    while age_h < term_h:
        temp = [degc for day, degc in temp_by_age if hour >= 24.0 * day][-1]
        factor = embryo.age_factor(age_h / 24.0, term_d=term_h / 24.0)
        age_h += 0.1 * embryo.rate_of_development(temp, age_factor=factor)
        hour += 0.1
    return hour


# --- Rate of development


# Poultry Science 2020 99:3897, table 1: 496 h at 37.8 °C shell; hatch moved by warmth in week 2 (38.9) and coolness in
# week 3 (36.7). The trial looked every 6 h and gives whole hours: 1 h, 2 h where two of its groups differ (facts C28-30).
@pytest.mark.parametrize(
    ("weeks", "shift_h", "near"),
    [
        ([(0.0, 37.8), (7.0, 38.9), (14.0, 37.8)], -5.0, 1.0),
        ([(0.0, 37.8), (14.0, 36.7)], 7.5, 1.5),
        ([(0.0, 37.8), (7.0, 38.9), (14.0, 36.7)], 2.0, 1.0),
    ],
)
def test_hatch_moves_as_in_the_trial(weeks: list[tuple[float, float]], shift_h: float, near: float) -> None:
    assert _hatch_h([(0.0, 37.8)]) == pytest.approx(496.0, abs=0.2)
    assert _hatch_h(weeks) - 496.0 == pytest.approx(shift_h, abs=near)


def test_dabbling_ducks_hatch_a_day_sooner_in_the_warmer_box() -> None:
    # Wells-Berlin et al. (2005): 38.3 against 37.5 °C air, 24-25 d: one day, 0.3 d (fact C31). Air is taken for shell
    # (both shift alike), the normal lies between the two; slope 4.8 %/K is the trial's own over that step.
    rates = embryo.rate_of_development(np.array([37.5, 38.3]), normal_degc=38.0, slope=0.048)
    assert 24.5 / rates[0] - 24.5 / rates[1] == pytest.approx(1.0, abs=0.3)


def test_emus_keep_their_own_normal() -> None:
    # Szczerbinska et al. (2003): 51.5 d at 36.4, 49.9 d at 37.1 °C. With a slope of 4.5 %/K about their own normal, 1 d
    # for the part above normal that is slower; a hen's normal would make the same term 2.5 d longer.
    own = embryo.rate_of_development(np.array([36.4, 37.1]), normal_degc=36.7, slope=0.045)
    assert 50.8 / own == pytest.approx([51.5, 49.9], abs=0.5)
    assert 50.8 / embryo.rate_of_development(36.7, slope=0.045) > 50.8 + 2.0


def test_default_curve_follows_the_working_points(shared: Path) -> None:
    # egg/rate_curve_default.csv (memory, except 36.7 and 38.9 °C): the straight parts between them differ by 0.03 at most,
    # and our zero is 26.5 where the table has 27.
    with (shared / "facts/egg/rate_curve_default.csv").open() as file:
        rows = [row for row in csv.DictReader(file) if float(row["temp_C"]) <= 38.9]
    temp = np.array([float(row["temp_C"]) for row in rows])
    rate = np.array([float(row["rate_relative_to_37.8"]) for row in rows])
    assert np.abs(embryo.rate_of_development(temp) - rate).max() < 0.04


@given(
    st.floats(34.0, 40.0),
    st.floats(0.02, 0.066),
    st.floats(0.0, 1.4),
    st.floats(0.5, 1.25),
    st.floats(0.1, 0.4),
    st.floats(20.0, 29.0),
)
def test_rate_is_continuous_and_never_falls(
    normal: float, slope: float, ratio: float, factor: float, r30: float, zero: float
) -> None:
    temp = np.linspace(-20.0, 60.0, 8001)
    rate = embryo.rate_of_development(
        temp, normal_degc=normal, slope=slope, slope_above_ratio=ratio, age_factor=factor, r30=r30, zero_degc=zero
    )
    steps = np.diff(rate)
    assert steps.min() >= -1e-12
    assert steps.max() < 0.006  # 0.01 K on the steepest part, 0.55 per K from zero at 29 °C to r30
    assert embryo.rate_of_development(normal, normal_degc=normal, slope=slope, age_factor=factor) == 1.0
    assert (rate[0], rate[-1]) == (0.0, pytest.approx(1.0 + 1.2 * slope * factor * ratio))


def test_rate_takes_normals_and_weights_that_change_with_age() -> None:
    temp, normal, factor = np.array([36.0, 30.0, 39.5]), np.array([37.4, 37.8, 38.4]), np.array([1.25, 0.9, 0.85])
    together = embryo.rate_of_development(temp, normal_degc=normal, age_factor=factor)
    for i in range(3):
        alone = embryo.rate_of_development(float(temp[i]), normal_degc=float(normal[i]), age_factor=float(factor[i]))
        assert together[i] == pytest.approx(alone, abs=1e-12)


@given(st.floats(0.2, 2.0), st.floats(0.2, 2.0), st.floats(0.2, 2.0), st.floats(14.0, 60.0))
def test_age_weights_have_a_mean_of_one(a: float, b: float, c: float, term: float) -> None:
    age = (np.arange(3000) + 0.5) / 3000.0 * term
    assert np.mean(embryo.age_factor(age, term_d=term, thirds=(a, b, c))) == pytest.approx(1.0, abs=1e-9)


def test_early_warmth_counts_most() -> None:
    factor = embryo.age_factor(np.array([0.0, 6.9, 7.1, 13.9, 14.1, 25.0]), term_d=21.0)
    assert factor == pytest.approx([1.25, 1.25, 0.90, 0.90, 0.85, 0.85])


# --- Oxygen and heat


def test_oxygen_follows_the_measured_points(curve: embryo.Curve, shared: Path) -> None:
    # Romijn & Lokhorst (1951), 18 points as carried by the open data. The table is made never to fall and joined by
    # straight lines a day long: 5 % from day 7 on, 5 mL/d before.
    points = np.loadtxt(shared / "data/growth/chicken_embryo_o2.csv", delimiter=",", skiprows=1)
    found = embryo.oxygen(points[:, 0], curve)
    late = points[:, 0] > 7.0
    assert np.abs(found[late] / points[late, 1] - 1.0).max() < 0.05
    assert np.abs(found[~late] - points[~late, 1]).max() < 5.0
    # Its whole: 3887 mL between days 2.11 and 18.86; 1 %.
    age = np.linspace(points[0, 0], points[-1, 0], 5000)
    assert np.trapezoid(embryo.oxygen(age, curve), age) == pytest.approx(3886.7, rel=0.01)


def test_plateau_heat_agrees_with_an_independent_measurement(curve: embryo.Curve) -> None:
    # 2.01 W/kg on day 18, another laboratory (fact C22): 0.1206 W for 60 g. The two differ by 5 %.
    assert embryo.heat(18.0, curve) == pytest.approx(2.01e-3 * 60.0, rel=0.06)
    # Hoyt & Rahn (1980) across birds: 501 mL/d at 60 g; fowl lie a tenth above.
    assert embryo.oxygen(18.0, curve) == pytest.approx(embryo.oxygen_before_pipping(60.0), rel=0.12)


def test_heat_on_day_14_is_that_of_the_table_not_of_the_old_working_curve(curve: embryo.Curve) -> None:
    # 107 mW by the measured curve; the logistic 120/(1 + exp(-(d - 13)/1.55)) reads 79.
    assert 1000.0 * embryo.heat(14.0, curve) == pytest.approx(107.0, abs=1.0)
    logistic = 120.0 / (1.0 + np.exp(-(14.0 - 13.0) / 1.55))
    assert logistic < 0.75 * 1000.0 * embryo.heat(14.0, curve)


def test_goose_eggs_are_foretold_within_the_prior(curve: embryo.Curve, shared: Path) -> None:
    # Vleck, Hoyt & Vleck (1979), goose, 152 points (open data). Egg 165 g, 28 d (memory): the chicken curve stretched
    # and scaled by mass^0.73 is believed to a quarter (sd of the logarithm 0.25).
    points = np.loadtxt(shared / "data/growth/goose_embryo_o2.csv", delimiter=",", skiprows=1)
    late = points[:, 0] > 16.0
    foretold = embryo.oxygen(points[late, 0], curve, mass_g=165.0, term_d=28.0)
    log_gap = np.log(foretold / points[late, 1])
    assert abs(np.median(log_gap)) < 0.25


def test_pores_and_quotient_of_respiration() -> None:
    # Ar & Rahn (1985): 68 and 49 µL/d through a pore of 1.5 µg/(d torr): 653 mL/d at 14.4, RQ 0.72 (facts C20, C21).
    assert embryo.oxygen_by_pores(14.4) == pytest.approx(653.0, abs=1.0)
    assert embryo.carbon_dioxide(1.0) == pytest.approx(0.72, abs=0.005)


def test_carbon_dioxide_sets_the_vents() -> None:
    # Mass balance of fact C38: 1000 eggs, 0.5 % against 0.05 %: 84 m³/d, from 526 mL O2 an egg at RQ 0.72; 2 %.
    per_egg = embryo.carbon_dioxide(526.0)
    assert per_egg == pytest.approx(379.0, abs=1.0)
    assert 1000.0 * per_egg / 1e6 / (0.005 - 0.0005) == pytest.approx(84.0, rel=0.02)


def test_pips_double_the_level_of_the_plateau_before_they_hatch(curve: embryo.Curve) -> None:
    # Classic tables per 1000 eggs: 45.4 ft³ on day 21 to 30.0 on day 18, a ratio of 1.51 (memory); 1 %.
    assert embryo.oxygen(21.0, curve) / embryo.oxygen(18.0, curve) == pytest.approx(45.4 / 30.0, rel=0.01)


def test_curve_never_falls_and_starts_at_nothing(curve: embryo.Curve) -> None:
    assert curve[1][0] == 0.0
    assert np.all(np.diff(curve[1]) >= 0.0)
    assert np.array_equal(curve[0], np.arange(22.0))


@given(st.floats(0.0, 1.0), st.floats(5.0, 1500.0), st.floats(14.0, 55.0))
def test_other_kinds_stretch_and_scale_the_curve(part: float, mass: float, term: float) -> None:
    curve = (np.arange(22.0), np.arange(22.0) ** 2)
    scaled = embryo.oxygen(part * term, curve, mass_g=mass, term_d=term)
    assert scaled == pytest.approx(embryo.oxygen(part * 21.0, curve) * (mass / 60.0) ** 0.73, rel=1e-9, abs=1e-9)


def test_heat_halves_for_each_ten_kelvin() -> None:
    assert embryo.heat_factor(np.array([37.8, 27.8, 17.8])) == pytest.approx([1.0, 0.5, 0.25])


def test_shell_above_air_is_the_worked_one() -> None:
    # Facts C26, C27: 120 mW or none, 11.3 mW of evaporation, 80 mW/K.
    assert embryo.shell_above_air(0.120, 0.0113, 0.080) == pytest.approx(1.36, abs=0.02)
    assert embryo.shell_above_air(0.0, 0.0113, 0.080) == pytest.approx(-0.14, abs=0.01)


# --- Heat that harms


@pytest.mark.parametrize(("age_d", "hours"), [(3.0, 12.0), (7.0, 4.0), (11.0, 7.0), (16.0, 7.0)])
def test_halving_times_are_those_of_the_table(age_d: float, hours: float) -> None:
    # Ande & Wilson (1981), exact (fact C32); between the table's ages straight lines.
    assert embryo.halving_time_h(43.3, age_d, **HEAT) == hours
    assert embryo.heat_spell_survival(43.3, hours, age_d, **HEAT).share == pytest.approx(0.5)


def test_acute_trials_on_day_16_are_told_apart() -> None:
    # Poultry Science 1976 55:892: 24 h at 40.6 °C no major loss; 6 h at 43.3 falls, after 9 severe; 3 h at 46.1 all dead
    # (the span ends at 46.0).
    def share(temp: float, hours: float) -> float:
        return float(embryo.heat_spell_survival(temp, hours, 16.0, **HEAT).share)

    assert share(40.6, 24.0) > 0.85
    assert 0.4 < share(43.3, 9.0) < share(43.3, 6.0) < 0.7
    assert share(46.0, 3.0) < 0.01


@given(st.floats(40.5, 46.0), st.floats(0.0, 24.0), st.floats(3.0, 19.0))
def test_survival_lies_within_its_band_and_falls_with_time_and_warmth(temp: float, hours: float, age: float) -> None:
    seen = embryo.heat_spell_survival(temp, hours, age, **HEAT)
    assert 0.0 <= seen.low <= seen.share <= seen.high <= 1.0
    if hours <= 23.0 and temp <= 45.5:
        assert embryo.heat_spell_survival(temp, hours + 1.0, age, **HEAT).share <= seen.share
        assert embryo.heat_spell_survival(temp + 0.5, hours, age, **HEAT).share <= seen.share


def test_no_spell_leaves_all_and_odds_are_for_against() -> None:
    assert embryo.heat_spell_survival(43.3, 0.0, 7.0, **HEAT).share == 1.0
    assert embryo.odds(np.array([0.5, 0.75])) == pytest.approx([1.0, 3.0])
    with pytest.raises(OutOfRange, match="share is 1"):
        embryo.odds(1.0)


def test_beyond_the_acute_table_it_refuses_to_tell() -> None:
    # 46-47 °C inside the egg is lethal at any age (fact C33); a week at 41.7 °C kept 75 % alive (chronic): no law here.
    with pytest.raises(OutOfRange, match=r"temp_degc is 46\.1 °C; this model holds from 40\.5 to 46 °C"):
        embryo.halving_time_h(46.1, 16.0, **HEAT)
    with pytest.raises(OutOfRange, match=r"temp_degc is 40\.4"):
        embryo.halving_time_h(40.4, 16.0, **HEAT)
    with pytest.raises(OutOfRange, match="spell_h is 168 h; this model holds from 0 to 24 h"):
        embryo.heat_spell_survival(41.7, 168.0, 16.0, **HEAT)
    with pytest.raises(OutOfRange, match="age_d is 20 d; this model holds from 3 to 19 d"):
        embryo.halving_time_h(43.3, 20.0, **HEAT)


# --- Cold


@pytest.mark.parametrize(("hours", "row"), [(0.0, 0), (12.0, 0), (12.1, 1), (24.0, 1), (30.0, 2), (48.0, 3), (72.0, 4)])
def test_a_chill_falls_into_the_row_that_is_not_shorter(hours: float, row: int) -> None:
    assert embryo.chill_bracket(hours, CHILLS_H) == row


@pytest.mark.parametrize("hours", [-1.0, 72.1, float("nan")])
def test_chills_outside_the_table_are_refused(hours: float) -> None:
    with pytest.raises(OutOfRange, match="chilled_h"):
        embryo.chill_bracket(hours, CHILLS_H)


# --- Refusals


def test_numbers_that_would_make_warmth_slow_the_embryo_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"r34 is 0\.95"):
        embryo.rate_of_development(37.8, r34=0.95)
    with pytest.raises(OutOfRange, match=r"r30 is 0\.8"):
        embryo.rate_of_development(37.8, r30=0.8)
    with pytest.raises(OutOfRange, match="zero_degc is 30 °C"):
        embryo.rate_of_development(37.8, zero_degc=30.0)
    with pytest.raises(OutOfRange, match="flat_above_degc is 37 °C"):
        embryo.rate_of_development(37.8, flat_above_degc=37.0)


def test_temperatures_no_box_reaches_are_refused_with_their_place() -> None:
    with pytest.raises(OutOfRange, match="temp_degc is 150 °C at position 1; this model holds from -20 to 60 °C"):
        embryo.rate_of_development(np.array([37.8, 150.0]))
    with pytest.raises(OutOfRange, match="normal_degc is 100 °C"):
        embryo.rate_of_development(37.8, normal_degc=100.0)


def test_ages_outside_the_curve_are_refused(curve: embryo.Curve) -> None:
    with pytest.raises(OutOfRange, match="age_d is 22 d of a term of 21"):
        embryo.oxygen(22.0, curve)
    with pytest.raises(OutOfRange, match="age_share"):
        embryo.age_factor(-1.0, term_d=21.0)
    with pytest.raises(OutOfRange, match="curve_step_d is 0"):
        embryo.oxygen(1.0, (np.array([0.0, 0.0]), np.array([1.0, 2.0])))
    with pytest.raises(OutOfRange, match="heat_w is -1 W"):
        embryo.shell_above_air(-1.0, 0.0, 0.1)
