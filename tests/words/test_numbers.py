"""Figures as people read them, against conversions fixed by definition and the calendar of another library."""

import re
from calendar import day_abbr, month_name
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.errors import ChalazaError
from chalaza.values.estimate import Basis, Estimate
from chalaza.words import numbers
from chalaza.words.numbers import NB, STYLES, Preference, Voice

BOTH, METRIC, US = (Voice(units=each) for each in Preference)
BASIS = Basis("exposure")


def plain(text: str) -> str:
    """With ordinary spaces."""
    return text.replace(NB, " ")


def of(value: float, low: float, high: float, unit: str = "°C") -> Estimate:
    """An estimate."""
    return Estimate(value, low, high, unit, BASIS)


def test_celsius_comes_first_with_fahrenheit_in_the_same_line() -> None:
    # 99.5 °F is 37.5 °C by the definition of the degree Fahrenheit (NIST SP 811, B.8).
    assert plain(numbers.quantity(BOTH, of(37.5, 37.2, 37.8), "temperature")) == "37.5 °C (37.2–37.8; 99.5 °F)"


def test_one_system_alone_has_its_range_in_its_own_unit() -> None:
    estimate = of(37.5, 37.2, 37.8)
    assert plain(numbers.quantity(METRIC, estimate, "temperature")) == "37.5 °C (37.2–37.8)"
    assert plain(numbers.quantity(US, estimate, "temperature")) == "99.5 °F (99.0–100.0)"


@pytest.mark.parametrize(
    ("value", "style", "metric", "us"),
    [
        # Exact by definition: 1 oz = 28.349523125 g, 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 K = 1.8 °F (NIST SP 811, B.8).
        (56.69904625, "mass", "56.7 g", "2.00 oz"),
        (50.8, "length", "50.8 mm", "2.00 in"),
        (304.8, "altitude", "305 m", "1000 ft"),
        (0.5, "step", "0.5 °C", "0.9 °F"),
        (-0.5, "change", "−0.5 °C", "−0.9 °F"),
        (0.5, "change", "+0.5 °C", "+0.9 °F"),
        (10.0, "dose", "10 °C·h", "18 °F·h"),
        (0.1355, "loss", "13.6 %", "13.6 %"),
        (0.455, "humidity", "46 %", "46 %"),
    ],
)
def test_units_convert_by_their_definitions(value: float, style: str, metric: str, us: str) -> None:
    assert plain(numbers.quantity(METRIC, value, style)) == metric
    assert plain(numbers.quantity(US, value, style)) == us


@given(st.floats(20.0, 45.0), st.floats(0.001, 3.0), st.sampled_from([METRIC, US]))
def test_value_and_range_have_the_same_decimals_and_the_value_lies_within(
    middle: float, half: float, voice: Voice
) -> None:
    said = plain(numbers.quantity(voice, of(middle, middle - half, middle + half), "temperature"))
    found = re.fullmatch(r"([\d.]+) °[CF](?: \(([\d.]+)–([\d.]+)\))?", said)
    assert found, said
    shown = [each for each in found.groups() if each]
    assert len({len(each.partition(".")[2]) for each in shown}) == 1
    value, *ends = map(float, shown)
    assert not ends or ends[0] <= value <= ends[1]


def test_a_narrow_range_gets_a_decimal_more_rather_than_none() -> None:
    assert plain(numbers.quantity(METRIC, of(0.4612, 0.4604, 0.4618, "1"), "humidity")) == "46.1 % (46.0–46.2)"


def test_a_range_too_narrow_to_see_is_not_shown() -> None:
    assert plain(numbers.quantity(METRIC, of(15.0, 15.0 - 1e-9, 15.0 + 1e-9, "young"), "count")) == "15"


def test_ranges_across_zero_are_not_joined_by_a_dash() -> None:
    assert plain(numbers.quantity(METRIC, of(0.1, -0.2, 0.4, "K"), "change")) == "+0.1 °C (−0.2 … +0.4)"


def test_no_minus_stands_before_nothing() -> None:
    assert numbers.number(-0.04, 1) == "0.0"
    assert numbers.number(-0.06, 1) == "−0.1"


def test_a_band_has_its_unit_once() -> None:
    assert plain(numbers.band(BOTH, 37.2, 37.8, "temperature")) == "37.2–37.8 °C (99.0–100.0 °F)"
    assert plain(numbers.band(BOTH, 0.11, 0.135, "loss")) == "11.0–13.5 %"


@given(st.integers(0, 4_000_000_000))
def test_moments_agree_with_the_calendar_of_the_library(at: int) -> None:
    when = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=60 * round(at / 60))
    wanted = (
        f"{day_abbr[when.weekday()]} {when.day} {month_name[when.month]} {when.year}, {when.hour:02}:{when.minute:02}"
    )
    assert plain(numbers.moment(Voice(zone="UTC"), at, year=True)) == wanted


def test_moments_are_those_of_the_batch_on_both_sides_of_a_clock_change() -> None:
    # Central European Summer Time began on 29 March 2026 at 01:00 UTC (EU directive 2000/84/EC: last Sunday of March).
    at = int(datetime(2026, 3, 29, 0, 59, tzinfo=UTC).timestamp())
    voice = Voice(zone="Europe/Berlin")
    assert plain(numbers.moment(voice, at)) == "Sun 29 March, 01:59"
    assert plain(numbers.moment(voice, at + 60)) == "Sun 29 March, 03:00"


def at(day: int, hour: int) -> float:
    """An hour in April 2026, UTC."""
    return datetime(2026, 4, day, hour, tzinfo=UTC).timestamp()


def test_a_symmetric_forecast_has_its_half_width() -> None:
    when = of(at(23, 3), at(22, 14), at(23, 16), "epoch_s")
    assert plain(numbers.moment_range(BOTH, when)) == "Thu 23 April, 03:00 (± 13 h)"


def test_a_lopsided_forecast_has_both_ends() -> None:
    when = of(at(23, 3), at(23, 1), at(24, 16), "epoch_s")
    assert plain(numbers.moment_range(BOTH, when)) == "Thu 23 April, 03:00 (Thu 23 April, 01:00 to Fri 24 April, 16:00)"
    within = of(at(23, 3), at(23, 1), at(23, 16), "epoch_s")
    assert plain(numbers.moment_range(BOTH, within)) == "Thu 23 April, 03:00 (01:00 to 16:00)"


def test_a_moment_without_doubt_stands_alone() -> None:
    assert plain(numbers.moment_range(BOTH, of(at(23, 3), at(23, 3), at(23, 3), "epoch_s"))) == "Thu 23 April, 03:00"


def test_a_day_never_stands_without_its_date() -> None:
    voice = Voice(zone="UTC", set_at=int(at(1, 18)))
    assert plain(numbers.day(voice, 7.0)) == "day 7, Wed 8 April"


def test_behind_and_ahead_are_told_apart_with_signed_ends() -> None:
    assert plain(numbers.lag(BOTH, of(4.2, -12.0, 20.0, "h"))) == "4 h behind the calendar (by −12 to +20 h)"
    assert plain(numbers.lag(BOTH, of(-4.2, -20.0, 12.0, "h"))) == "4 h ahead of the calendar (by −12 to +20 h)"


def test_half_a_width_has_its_unit() -> None:
    assert plain(numbers.half_width(BOTH, 23.9, "hours")) == "± 24 h"
    assert plain(numbers.half_width(BOTH, 0.0046, "loss")) == "± 0.5 %"


def test_text_is_no_number() -> None:
    with pytest.raises(ChalazaError, match="is text where a number is wanted"):
        numbers.quantity(BOTH, "warm", "temperature")


@pytest.mark.parametrize("name", sorted(STYLES))
def test_every_style_shows_a_number(name: str) -> None:
    for voice in (BOTH, METRIC, US):
        assert re.match(r"[+−]?\d", numbers.quantity(voice, 1.5, name))
