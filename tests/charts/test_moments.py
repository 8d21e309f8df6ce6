from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import pytest

from chalaza.charts.moments import dated, events, when, zone_of
from charts.cases import understood


def test_a_moment_has_its_weekday_day_and_hour_where_the_keeper_lives():
    # 2026-03-29 01:30 UTC: the clocks of Berlin have just gone from 02:00 to 03:00.
    assert when(1_774_747_800, ZoneInfo("Europe/Berlin"), str) == "Sun 29, 03:30"
    assert when(1_774_747_800, ZoneInfo("America/New_York"), str) == "Sat 28, 21:30"


def test_a_date_has_its_month():
    assert dated(1_774_747_800, ZoneInfo("Europe/Berlin"), str) == "29 Mar"
    german = {"Mar": "März", "{day} {month}": "{day}. {month}"}
    assert dated(1_774_747_800, ZoneInfo("UTC"), lambda text: german.get(text, text)) == "29. März"


def test_words_go_through_the_translation():
    assert when(1_774_747_800, ZoneInfo("UTC"), lambda text: {"Sun": "So"}[text]) == "So 29, 01:30"


def test_the_zone_is_that_of_the_batch_unless_another_is_asked_for():
    _, a = understood("day12")
    assert zone_of(a, None).key == "Europe/Berlin"
    assert zone_of(a, "UTC").key == "UTC"
    with pytest.raises(ZoneInfoNotFoundError):
        zone_of(a, "Nowhere/Land")


def test_events_come_in_order():
    _, a = understood("day12")
    moments = [one.value for _, one in events(a, str)]
    assert moments == sorted(moments)
