"""Other readings of a moment typed by hand."""

from datetime import datetime
from zoneinfo import ZoneInfo

from chalaza.intake import misread

BERLIN = ZoneInfo("Europe/Berlin")


def _at(text: str) -> int:
    return int(datetime.fromisoformat(text).replace(tzinfo=BERLIN).timestamp())


def test_day_month_and_year_are_read_the_other_way_at_the_same_hour_of_the_clock() -> None:
    found = misread.moments(_at("2026-04-03 18:40"), "Europe/Berlin")
    assert found == {
        "day": _at("2026-04-02 18:40"),
        "swing": _at("2026-03-04 18:40"),
        "year": _at("2025-04-03 18:40"),
        "next_year": _at("2027-04-03 18:40"),
    }


def test_a_day_before_a_change_of_the_clock_keeps_its_hour() -> None:
    assert misread.moments(_at("2026-03-29 18:00"), "Europe/Berlin")["day"] == _at("2026-03-28 18:00")


def test_what_the_calendar_does_not_have_is_not_offered() -> None:
    found = misread.moments(_at("2028-02-29 12:00"), "Europe/Berlin")
    assert set(found) == {"day"}
    assert "swing" not in misread.moments(_at("2026-04-17 12:00"), "Europe/Berlin")
    assert "swing" not in misread.moments(_at("2026-04-04 12:00"), "Europe/Berlin")
