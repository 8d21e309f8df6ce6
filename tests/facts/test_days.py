"""Local days: they follow each other without a gap, and have the hours the zone gives them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.errors import EvidenceError
from chalaza.facts import days

ZONES = ("UTC", "Europe/Berlin", "America/Sao_Paulo", "Asia/Kathmandu", "Pacific/Kiritimati", "America/Havana")
HOUR_S = 3600
#: 2026-03-29 12:00 UTC: the day on which Berlin puts its clock forward (at 02:00 local time).
SPRING = 1_774_785_600
#: 2026-10-25 12:00 UTC: the day on which Berlin puts it back (at 03:00).
AUTUMN = 1_792_929_600


@given(at=st.integers(0, 4_000_000_000), zone=st.sampled_from(ZONES))
def test_every_moment_lies_in_its_day_and_days_follow_each_other(at: int, zone: str) -> None:
    number = days.day(zone, at)
    first, after = days.begins(zone, number), days.begins(zone, number + 1)
    assert first <= at < after
    assert 22 * HOUR_S <= after - first <= 26 * HOUR_S
    assert days.day(zone, first) == number
    assert days.day(zone, after) == number + 1


@pytest.mark.parametrize(("at", "hours"), [(SPRING, 23), (AUTUMN, 25), (SPRING + 86_400, 24)])
def test_a_day_on_which_the_clock_is_moved_has_its_own_length(at: int, hours: int) -> None:
    number = days.day("Europe/Berlin", at)
    assert days.begins("Europe/Berlin", number + 1) - days.begins("Europe/Berlin", number) == hours * HOUR_S


def test_a_day_whose_midnight_is_left_out_begins_with_its_first_hour() -> None:
    # Sao Paulo put the clock from 00:00 to 01:00 on 4 November 2018 (IANA time zone database).
    number = days.day("America/Sao_Paulo", 1_541_346_000)
    assert days.clock_h("America/Sao_Paulo", days.begins("America/Sao_Paulo", number)) == 1.0


def test_the_clock_and_the_weekday_are_those_of_the_zone() -> None:
    # 1 January 2026 was a Thursday.
    new_year = 1_767_225_600
    assert (days.clock_h("UTC", new_year), days.weekday("UTC", new_year)) == (0.0, 3)
    assert (days.clock_h("Pacific/Kiritimati", new_year), days.weekday("Pacific/Kiritimati", new_year)) == (14.0, 3)
    assert days.weekday("America/Havana", new_year) == 2
    assert days.at_clock("Europe/Berlin", days.day("Europe/Berlin", new_year), 20) == new_year + 19 * HOUR_S


@pytest.mark.parametrize("name", ["Europe/Nowhere", "", "../etc", "a\0b"])
def test_a_zone_that_is_not_there_is_refused(name: str) -> None:
    with pytest.raises(EvidenceError, match="no time zone"):
        days.day(name, 0)
