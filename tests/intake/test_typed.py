"""What a keeper writes by hand: hours that come twice or never, days, measures, zones."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from chalaza import quantities as q
from chalaza.errors import EvidenceError
from chalaza.intake import typed
from chalaza.intake.typed import days_in, measure, moment_in, stored, tray_of, zone_of


@pytest.mark.parametrize(
    ("text", "zone", "utc"),
    [
        # Offsets by the tz database: Berlin +1 in winter, +2 in summer; New York -5; Kathmandu +5:45; no change in UTC.
        ("2026-11-01 18:00", "Europe/Berlin", "2026-11-01T17:00"),
        ("2026-07-01T18:00", "Europe/Berlin", "2026-07-01T16:00"),
        ("2026-11-02 08:00:30", "America/New_York", "2026-11-02T13:00:30"),
        ("2026-11-01 18:00", "Asia/Kathmandu", "2026-11-01T12:15"),
        ("2026-11-01 18:00+01:00", "America/New_York", "2026-11-01T17:00"),
        ("2026-11-01T18:00Z", "Europe/Berlin", "2026-11-01T18:00"),
        ("2026-10-25 02:30+02:00", "Europe/Berlin", "2026-10-25T00:30"),  # the first of two
        ("2026-10-25 02:30+01:00", "Europe/Berlin", "2026-10-25T01:30"),  # the second
        ("2026-10-25 02:30", "UTC", "2026-10-25T02:30"),
    ],
)
def test_a_moment_is_that_of_the_local_clock(text: str, zone: str, utc: str) -> None:
    assert datetime.fromtimestamp(moment_in(text, zone), UTC) == datetime.fromisoformat(utc).replace(tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "zone", "said"),
    [
        # The last Sundays of October and March 2026 in the European Union; the first of November in the United States.
        ("2026-10-25 02:30", "Europe/Berlin", "comes twice.*2026-10-25 02:30\\+02:00.*2026-10-25 02:30\\+01:00"),
        ("2026-11-01 01:00", "America/New_York", "comes twice.*01:00-04:00.*01:00-05:00"),
        ("2026-03-29 02:30", "Europe/Berlin", "does not exist.*2026-03-29 03:30"),
        ("2026-11-01", "UTC", "has no hour; write it like 2026-11-01 18:00"),
        ("tomorrow", "UTC", "is no moment; write it like"),
        ("1.11.2026 18:00", "UTC", "is no moment"),
        ("", "UTC", "is no moment"),
        ("2026-02-30 18:00", "UTC", "is no moment"),
        ("1969-12-31 18:00", "UTC", "1970 to 2100"),
        ("2200-01-01 18:00", "UTC", "1970 to 2100"),
        ("0001-01-01 00:00", "Asia/Kathmandu", "1970 to 2100"),
    ],
)
def test_an_hour_that_cannot_be_told_is_asked_back_in_words(text: str, zone: str, said: str) -> None:
    with pytest.raises(EvidenceError, match=said):
        moment_in(text, zone)


def test_what_is_offered_for_an_hour_that_comes_twice_is_taken() -> None:
    with pytest.raises(EvidenceError) as asked:
        moment_in("2026-10-25 02:30", "Europe/Berlin")
    words = str(asked.value)
    first, second = (words[at : at + 22] for at in (words.index("write ") + 6, words.index("first, ") + 7))
    assert moment_in(second, "Europe/Berlin") - moment_in(first, "Europe/Berlin") == 3600


def test_days_are_their_noons() -> None:
    noon = int(datetime(2026, 10, 24, 10, tzinfo=UTC).timestamp())  # 12:00 in Berlin, still summer time
    assert days_in("2026-10-24", "Europe/Berlin") == (noon, noon)
    first, last = days_in("2026-10-24..2026-10-30", "Europe/Berlin")
    assert (first, last - first) == (noon, 6 * 86_400 + 3_600)  # one of the days has 25 hours


@pytest.mark.parametrize("text", ["", "..", "2026-10-24..", "24.10.2026", "2026-10-24...2026-10-30"])
def test_what_is_no_day_is_refused(text: str) -> None:
    with pytest.raises(EvidenceError, match="is no day; write 2026-10-24"):
        days_in(text, "UTC")


def test_days_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(EvidenceError, match="ends before it begins"):
        days_in("2026-10-30..2026-10-24", "UTC")


@pytest.mark.parametrize(
    ("text", "of", "value"),
    [
        ("140", q.ALTITUDE_M, 140.0),
        ("140m", q.ALTITUDE_M, 140.0),
        ("460ft", q.ALTITUDE_M, 140.208),  # 0.3048 m to the foot by definition (NIST SP 811)
        ("-12.5 ft", q.ALTITUDE_M, -3.81),
        ("0.5in", q.HEIGHT_MM, 12.7),
        ("12", q.HEIGHT_MM, 12.0),
    ],
)
def test_a_measure_is_taken_in_either_unit(text: str, of: q.Quantity, value: float) -> None:
    assert measure(text, of) == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize("text", ["", "high", "140 km", "1,400", "140 m m", "nan"])
def test_what_is_no_measure_is_refused_with_its_units(text: str) -> None:
    with pytest.raises(EvidenceError, match="is no altitude; write it like 140m or 140ft; without a unit it is m"):
        measure(text, q.ALTITUDE_M)


def test_a_measure_beyond_what_can_be_is_refused_with_what_can() -> None:
    with pytest.raises(EvidenceError, match=r"allowed: -430 to 5,500 m or -1,411 to 18,045 ft"):
        measure("30000ft", q.ALTITUDE_M)


def test_a_zone_that_is_not_there_names_the_nearest() -> None:
    assert zone_of("Europe/Berlin") == ("Europe/Berlin", False)
    with pytest.raises(EvidenceError, match="no time zone 'Europe/Berlim'; nearest: Europe/Berlin"):
        zone_of("Europe/Berlim")
    for text in ("+02:00", "", "CEST"):
        with pytest.raises(EvidenceError, match="write a name such as Europe/Berlin"):
            zone_of(text)


def test_without_a_zone_that_of_this_computer_is_taken_or_asked_for(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("TZ", "Asia/Kathmandu")
    assert zone_of(None) == ("Asia/Kathmandu", True)
    monkeypatch.delenv("TZ")
    place = tmp_path / "zoneinfo" / "Europe"
    place.mkdir(parents=True)
    (place / "Lisbon").touch()
    (tmp_path / "localtime").symlink_to(place / "Lisbon")
    monkeypatch.setattr(typed, "_CLOCK", tmp_path / "localtime")
    assert zone_of(None) == ("Europe/Lisbon", True)
    monkeypatch.setattr(typed, "_CLOCK", tmp_path / "none")
    with pytest.raises(EvidenceError, match="does not say its time zone; write --zone"):
        zone_of(None)


@pytest.mark.parametrize("text", ["4x7", "4 x 7", "4×7", " 4X7 ", "4*7"])
def test_a_tray_is_rows_by_eggs_in_a_row(text: str) -> None:
    assert tray_of(text) == (4, 7)


@pytest.mark.parametrize("text", ["", "28", "4x", "0x7", "4x7x2", "999x999", "four by seven"])
def test_what_is_no_tray_is_told_how_one_is_written(text: str) -> None:
    with pytest.raises(EvidenceError, match="like 4x7"):
        tray_of(text)


def test_eggs_are_laid_before_they_are_set_and_not_kept_for_a_season() -> None:
    zone, set_at = "Europe/Berlin", moment_in("2026-11-01 08:00", "Europe/Berlin")
    first, last = stored(days_in("2026-10-24..2026-11-01", zone), set_at, zone)
    assert first == moment_in("2026-10-24 12:00", zone)
    assert last == set_at  # noon of the day of setting would be after it
    with pytest.raises(EvidenceError, match="laid on 2026-11-02 is after setting on 2026-11-01"):
        stored(days_in("2026-11-02", zone), set_at, zone)
    with pytest.raises(EvidenceError, match="more than 60 days before"):
        stored(days_in("2026-08-01", zone), set_at, zone)
