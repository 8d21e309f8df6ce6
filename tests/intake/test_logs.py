"""The 14 open logger files against figures taken from them by independent code (data/truth.json of the shared pack).

How they map: `records` rows_read; `first`/`last` as printed; `modal_step_s` step_s; `largest_gap_s`, `steps_not_modal`
the same after sorting; `chronological` in_order; `T_*`/`RH_*` the first column of that quantity, in the unit found;
`event_only_rows`, `blank_rows` reasons of rows_rejected; `sentinel` cells set aside. The truth rounds means to four
decimals, hence 5e-5; the other figures are exact.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from chalaza.intake import Reading, read

from .files import accounted, codes, same

pytestmark = pytest.mark.logs

FILES = (
    "forest_semicolon_dmy_bom.txt", "fahrenheit_mdy_dots.csv", "decimal_comma_semicolon_iso.csv",
    "decimal_comma_NA_soil.csv", "museum_preamble_time_before_date.csv", "museum_title_line_dmy_quoted.csv",
    "museum_three_header_lines_latin1.csv", "showcase_date_comma_time_semicolon.csv",
    "headerless_sentinel_minus200.csv", "four_header_lines_daily.dat", "outdoor_dmy_blank_missing_trailing.csv",
    "office_header_one_name_short.txt", "greenhouse_dmy_gaps.csv", "bluetit_nest_dmy.csv",
)  # fmt: skip


def _truth(shared: Path, name: str) -> dict[str, Any]:
    entries = json.loads((shared / "data" / "truth.json").read_text(encoding="utf-8"))
    return next(entry for entry in entries if entry["file"].split(" (")[0] == name)


def _read(shared: Path, name: str, **options: Any) -> Reading:
    return read(shared / "data" / "logs" / name, **options)


def test_every_file_of_the_truth_is_read(shared: Path) -> None:
    entries = json.loads((shared / "data" / "truth.json").read_text(encoding="utf-8"))
    assert sorted(entry["file"].split(" (")[0] for entry in entries) == sorted(FILES)


@pytest.mark.parametrize("name", FILES)
def test_rows_and_times_are_those_of_the_truth(shared: Path, name: str) -> None:
    truth, reading = _truth(shared, name), _read(shared, name)
    found = reading.report.to_json()
    assert found["rows_read"] == truth["records"]
    assert (found["first"], found["last"]) == (truth["first"], truth["last"])
    assert (found["step_s"], found["largest_gap_s"]) == (truth["modal_step_s"], truth["largest_gap_s"])
    assert found["steps_not_modal"] == truth["steps_not_modal"]
    assert found["in_order"] is truth["chronological"]
    assert found["repeated_times"] == truth["duplicate_times"] == 0
    assert found["rows_rejected"].get("event-only", 0) == truth.get("event_only_rows", 0)
    if "blank_rows" in truth:
        assert found["rows_rejected"]["blank"] == truth["blank_rows"]
    assert accounted(reading)


@pytest.mark.parametrize(("quantity", "key"), [("temperature", "T"), ("rh", "RH")])
@pytest.mark.parametrize("name", FILES)
def test_columns_are_those_of_the_truth(shared: Path, name: str, quantity: str, key: str) -> None:
    truth, report = _truth(shared, name), _read(shared, name).report
    found = [column for column in report.to_json()["columns"] if column["quantity"] == quantity]
    if truth[f"{key}_n"] == 0:
        assert found == []
        return
    first = found[0]
    assert first["n"] == truth[f"{key}_n"]
    assert (first["min"], first["max"]) == (truth[f"{key}_min"], truth[f"{key}_max"])
    assert first["mean"] == pytest.approx(truth[f"{key}_mean"], abs=5.1e-5)
    if key == "T":
        assert first["unit"] == "°" + truth["T_unit"]


def test_blocking_questions_are_asked_where_the_data_are_silent_only(shared: Path) -> None:
    asked = {name: [code for code, blocking in codes(_read(shared, name)).items() if blocking] for name in FILES}
    assert {name: found for name, found in asked.items() if found} == {
        "showcase_date_comma_time_semicolon.csv": ["date-order"]
    }


def test_an_answer_gives_the_readings_of_a_file_that_was_asked_about(shared: Path) -> None:
    name = "showcase_date_comma_time_semicolon.csv"
    assert _read(shared, name).probes == ()
    (log,) = _read(shared, name, answers={"date-order": "dmy"}).probes
    assert len(log) == 10
    assert log.rh.tolist() == pytest.approx([0.55] * 10), "the set point of 56 % is no reading"
    assert _read(shared, name, answers={"date-order": "mdy"}).report.first == "2025-07-08T00:00:00"


def test_probes_hold_the_readings_inside_units(shared: Path) -> None:
    (log,) = _read(shared, "fahrenheit_mdy_dots.csv").probes
    assert log.temp_degc.min() == pytest.approx((45.444 - 32) / 1.8, abs=1e-5)
    assert log.rh.max() == pytest.approx(0.54603, abs=1e-7)
    (log,) = _read(shared, "outdoor_dmy_blank_missing_trailing.csv").probes
    assert len(log) == 8991, "366 rows without temperature and humidity are no readings of this probe"


def test_a_date_order_is_asked_until_a_row_decides_it(shared: Path) -> None:
    lines = (shared / "data" / "logs" / "outdoor_dmy_blank_missing_trailing.csv").read_bytes().split(b"\n")
    open_, decided = (read(b"\n".join(lines[: 1 + count]) + b"\n") for count in (54, 55))
    assert codes(open_)["date-order"] is True
    assert open_.probes == ()
    (question,) = (q for q in open_.report.questions if q.code == "date-order")
    assert [option.key for option in question.options] == ["dmy", "mdy"]
    assert any("2004-10-03T18:00:00" in line for line in question.options[1].preview)
    assert "date-order" not in codes(decided)
    assert len(decided.probes[0]) == 55


def test_daily_extremes_warn_and_are_no_readings(shared: Path) -> None:
    reading = _read(shared, "four_header_lines_daily.dat")
    assert reading.probes == ()
    assert any("daily extremes, not readings" in note for note in reading.report.notes)
    assert {c.name: c.statistic for c in reading.report.columns}["AirT_Max"] == "max"


def test_columns_that_are_no_readings_are_told_apart(shared: Path) -> None:
    def roles(name: str) -> dict[str, str]:
        return {c.name or str(c.number): c.quantity for c in _read(shared, name).report.columns}

    showcase = roles("showcase_date_comma_time_semicolon.csv")
    assert (showcase["set/%"], showcase["alarmMax/%"]) == ("set-point", "alarm")
    assert roles("outdoor_dmy_blank_missing_trailing.csv")["AH"] == "absolute-humidity"
    assert roles("office_header_one_name_short.txt")["HumidityRatio"] == "absolute-humidity"
    assert roles("office_header_one_name_short.txt")["1"] == "index"
    assert [what for name, what in roles("fahrenheit_mdy_dots.csv").items() if "DewPt" in name] == ["dew-point"]
    assert roles("headerless_sentinel_minus200.csv")["5"] == "no-sensor"


def test_codes_and_words_for_nothing_are_counted_by_column(shared: Path) -> None:
    soil = _read(shared, "decimal_comma_NA_soil.csv").report.columns[1]
    assert dict(soil.aside) == {"missing": 23}
    sentinel = _read(shared, "headerless_sentinel_minus200.csv").report.columns
    assert [dict(sentinel[at].aside) for at in (4, 5)] == [{"sensor-code": 101}] * 2
    outdoor = _read(shared, "outdoor_dmy_blank_missing_trailing.csv").report.columns[11]
    assert dict(outdoor.aside) == {"blank": 366}


def test_a_zone_in_the_header_is_honoured(shared: Path) -> None:
    report = _read(shared, "fahrenheit_mdy_dots.csv", zone="Europe/Paris").report
    assert report.zone == "UTC+00:00"
    assert any("was not used" in note for note in report.notes)


def test_a_gap_of_six_weeks_and_saturated_air_are_named(shared: Path) -> None:
    report = _read(shared, "greenhouse_dmy_gaps.csv").report
    assert max(seconds for _, _, seconds in report.gaps) == 3_723_300
    assert any("stands at 100" in note and "saturated" in note for note in report.notes)


@pytest.mark.parametrize("name", FILES)
def test_cell_by_cell_gives_the_same_as_all_at_once(shared: Path, name: str) -> None:
    assert same(_read(shared, name), _read(shared, name, careful=True))
