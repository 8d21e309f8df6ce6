"""Zones against the standard library's `zoneinfo`, hour by hour."""

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from chalaza.errors import ReadingError
from chalaza.intake import clock
from chalaza.intake.questions import Asked

ZONES = ("Europe/Paris", "America/New_York", "Australia/Lord_Howe", "America/Sao_Paulo", "Asia/Kolkata", "UTC")


@pytest.mark.parametrize("step_min", [15, 30, 60, 180])
@pytest.mark.parametrize("zone", ZONES)
def test_a_record_that_follows_its_zone_goes_back_to_utc(zone: str, step_min: int) -> None:
    # Every step of 2017 and 2018 in UTC, printed as local time by zoneinfo, must come back as it was.
    start = dt.datetime(2017, 1, 1, tzinfo=dt.UTC)
    utc = [start + dt.timedelta(minutes=step_min * at) for at in range(2 * 365 * 1440 // step_min)]
    local = [moment.astimezone(ZoneInfo(zone)).replace(tzinfo=dt.UTC) for moment in utc]
    printed = np.array([int(moment.timestamp()) for moment in local], np.int64)
    placed = clock.to_utc(printed, zone, Asked({}))
    assert not placed.blocked
    assert not placed.missing.any()
    assert placed.utc.tolist() == [int(moment.timestamp()) for moment in utc]


def test_changes_are_found_to_the_second() -> None:
    offset, found = clock.changes("Europe/Paris", 1_672_531_200, 1_703_980_800)  # 2023
    assert offset == 3600
    assert [str(np.datetime64(change.utc, "s")) for change in found] == ["2023-03-26T01:00:00", "2023-10-29T01:00:00"]
    assert [(change.before, change.after) for change in found] == [(3600, 7200), (7200, 3600)]


@pytest.mark.parametrize(
    ("text", "offset"),
    [
        ("+01:00", 3600),
        ("UTC", 0),
        ("-0330", -12600),
        ("GMT+2", 7200),
        ("CEST", 7200),
        ("Europe/Paris", None),
        ("CST", None),
    ],
)
def test_offsets_by_name(text: str, offset: int | None) -> None:
    assert clock.offset_of(text) == offset


@pytest.mark.parametrize(
    ("text", "offset"), [("Date Time, GMT+00:00", 0), ("Time (UTC-05:30)", -19800), ("Time", None), ("UTC", 0)]
)
def test_offsets_in_a_header(text: str, offset: int | None) -> None:
    assert clock.zone_in(text) == offset


def test_an_impossible_zone_is_refused_with_what_to_give() -> None:
    with pytest.raises(ReadingError, match="give a name such as 'Europe/Paris'"):
        clock.to_utc(np.zeros(1, np.int64), "../etc/passwd", Asked({}))
    with pytest.raises(ReadingError, match="from -14:00 to"):
        clock.offset_of("+25:00")


def test_only_stretches_of_a_fallen_back_clock_are_reset() -> None:
    day = 86_400
    good = 1_710_000_000 + np.arange(20) * day
    lost = 946_684_800 + np.arange(5) * day  # 2000-01-01
    assert clock.reset_rows(np.concatenate((good[:10], lost, good[10:]))).nonzero()[0].tolist() == [10, 11, 12, 13, 14]
    assert clock.reset_rows(np.concatenate((lost, good))).nonzero()[0].tolist() == [0, 1, 2, 3, 4]
    assert not clock.reset_rows(np.concatenate((good - 400 * day, good))).any(), "a winter without the machine is a gap"
