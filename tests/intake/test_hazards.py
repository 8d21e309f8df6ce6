"""One small invented file for every hazard listed in the fact pack `machine/import_hazards.csv`.

Each test names the hazards it stands for; the last test holds the list against the table of the pack.
"""

import csv
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
import pytest

from chalaza.errors import ReadingError
from chalaza.intake import Reading, read
from chalaza.intake.text import MAX_LINE

from .files import accounted, codes, rows, stamped, table, temperatures

HAZARDS: dict[str, str] = {}
Test = TypeVar("Test", bound=Callable[..., None])


def hazard(*beginnings: str) -> Callable[[Test], Test]:
    """Mark a test as the one for hazards whose text begins so."""

    def marked(test: Test) -> Test:
        HAZARDS.update(dict.fromkeys(beginnings, test.__name__))
        return test

    return marked


PLAIN = table(rows())
EXPECTED = temperatures(PLAIN)


def _reads_like_plain(data: bytes, **options: Any) -> Reading:
    reading = read(data, **options)
    (log,) = reading.probes
    (plain,) = read(PLAIN).probes
    assert np.array_equal(log.t, plain.t)
    assert np.array_equal(log.temp_degc, plain.temp_degc)
    assert np.array_equal(log.rh, plain.rh)
    assert accounted(reading)
    return reading


# encoding


@hazard("UTF-8 with byte-order mark")
def test_a_byte_order_mark_is_no_part_of_the_first_name() -> None:
    assert _reads_like_plain(b"\xef\xbb\xbf" + PLAIN).report.columns[0].name == "Time"


@hazard("UTF-16 LE/BE with BOM")
@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf_16_is_read_with_and_without_a_mark(encoding: str) -> None:
    _reads_like_plain(PLAIN.decode().replace(";", "\t").encode(encoding))


@hazard("single-byte code page")
@pytest.mark.parametrize("unit", ["°C", "ºC", "˚C", "Â°C", "deg C", "?C", "C", "oC", "℃", "Celsius"])
def test_the_degree_sign_may_be_damaged_or_missing(unit: str) -> None:
    reading = _reads_like_plain(table(rows(), f"Time;Temp ({unit});RH (%)"))
    assert reading.report.columns[1].unit == "°C"


@pytest.mark.parametrize(("page", "head"), [
    ("cp1252", "Zeit;Temperatur °C;Feuchte %"), ("cp437", "Time;Temp °C;RH %"), ("mac_roman", "Time;Temp °C;RH %"),
    ("cp1251", "Время;Температура °C;Влажность %"), ("shift_jis", "日時;温度 ℃;湿度 %"), ("gb18030", "时间;温度 ℃;湿度 %"),
])  # fmt: skip
def test_code_pages_are_told_by_their_words(page: str, head: str) -> None:
    reading = _reads_like_plain(table(rows(), head).decode().encode(page))
    assert [column.quantity for column in reading.report.columns] == ["time", "temperature", "rh"]


@hazard("Windows, old-Mac or mixed line ends")
def test_line_ends_may_be_mixed_and_the_end_torn() -> None:
    _reads_like_plain(PLAIN.replace(b"\n", b"\r\n"))
    _reads_like_plain(PLAIN.replace(b"\n", b"\r"))
    _reads_like_plain(PLAIN.replace(b"\n", b"\r\n", 7))
    torn = _reads_like_plain(PLAIN + b"2024-03-15 00:30;3\0\0\0\0")
    assert dict(torn.report.rows_rejected) == {"half-line": 1}
    inside = read(PLAIN.replace(b"03:30;37", b"03:30;3\0"))
    assert dict(inside.report.rows_rejected) == {"torn": 1}


# layout


@hazard("preamble of 0", "footer lines")
@pytest.mark.parametrize("count", [0, 1, 5, 40])
def test_preamble_and_footer_are_told_from_rows(count: int) -> None:
    above = "".join(f"# remark {at}\nLimit {at}: 36.0; 39.0\nSerial: A{at}; 1.2\n\n" for at in range(count // 4))
    above += "Interval: 30 min\n" * (count % 4)
    below = b"Average;37.6;55.8\nMin;37.5;55\n\nEnd of data\n"
    report = _reads_like_plain(above.encode() + PLAIN + below).report
    assert report.rows_rejected["footer"] == 3
    assert report.lines_above == above.count("\n") + 1


@hazard("header missing, in two rows")
def test_headers_may_be_missing_doubled_repeated_or_in_another_language() -> None:
    _reads_like_plain(table(rows(), "Time;Temperature;Humidity\n;°C;%"))
    again = PLAIN.split(b"\n")
    report = _reads_like_plain(b"\n".join([*again[:20], again[0], *again[20:]])).report
    assert dict(report.rows_rejected) == {"repeated-header": 1}
    for head in (
        "Zeit;Temperatur (°C);Luftfeuchte (%)",
        "Fecha;Temperatura (°C);Humedad (%)",
        "Heure;Température (°C);Humidité (%)",
    ):
        _reads_like_plain(table(rows(), head))
    bare = read(table(rows(), ""))
    assert codes(bare) == {"quantity:2": True, "quantity:3": True}
    _reads_like_plain(table(rows(), ""), answers={"quantity:2": "temp-degc", "quantity:3": "rh"})


@hazard("duplicate column names")
def test_doubled_names_are_made_unique_and_empty_columns_dropped() -> None:
    lines = [(at, stamp, t, rh, t - 1, rh + 1, "") for at, (stamp, t, rh) in enumerate(rows(), start=1)]
    reading = read(table(lines, ";Time;Temp °C;RH %;Temp °C;RH %;"))
    assert [c.name for c in reading.report.columns][2:6] == ["Temp °C", "RH %", "Temp °C (2)", "RH % (2)"]
    assert [c.quantity for c in reading.report.columns][::6] == ["index", "empty"]
    assert [round(float(log.temp_degc[0]), 2) for log in reading.probes] == [37.5, 36.5]


@hazard("long format")
def test_one_sensor_or_one_quantity_a_row() -> None:
    lines = [(stamp, sensor, what, value) for stamp, t, rh in rows() for sensor, add in (("top", 0), ("low", 0.5))
             for what, value in (("temperature", t + add), ("humidity", rh))]  # fmt: skip
    reading = read(table(lines, "time;sensor;type;value"))
    assert [log.name for log in reading.probes] == ["top", "low"]
    assert [round(float(v), 2) for v in reading.probes[0].temp_degc] == EXPECTED
    assert float(reading.probes[1].temp_degc[0]) == pytest.approx(38.0)
    assert bool(np.isfinite(reading.probes[0].rh).all())


# delimiters


@hazard("comma, semicolon, tab, pipe, or fixed blanks")
@pytest.mark.parametrize("mark", [",", ";", "\t", "|", "   ", " "])
def test_every_delimiter_is_found(mark: str) -> None:
    head = mark.join(("Date", "Time", "T/°C", "RH/%"))
    lines = [(*stamp.split(), t, rh) for stamp, t, rh in rows()]
    _reads_like_plain(table(lines, head, mark))


@pytest.mark.parametrize("mark", [";", ","])
def test_a_sep_line_is_honoured_and_no_row(mark: str) -> None:
    _reads_like_plain(f"sep={mark}\n".encode() + PLAIN.replace(b";", mark.encode()))


@hazard("decimal comma with semicolon")
def test_a_comma_that_divides_and_marks_decimals_is_asked_about() -> None:
    _reads_like_plain(PLAIN.replace(b".", b","))
    lines = [(stamp, f"{t:.2f}".replace(".", ","), f"{rh:.1f}".replace(".", ",")) for stamp, t, rh in rows()]
    both = table(lines, "Time,T °C,RH %", ",")
    asked = read(both)
    assert codes(asked) == {"decimal-comma": True}
    assert asked.probes == ()
    (question,) = (q for q in asked.report.questions if q.code == "decimal-comma")
    assert "37.50" in question.options[0].preview[0]
    assert "37 | 50" in question.options[1].preview[0]
    _reads_like_plain(both, answers={"decimal-comma": "decimal"})


@hazard("thousands separators")
def test_thousands_are_grouped_in_threes_only() -> None:
    lines = [(stamp, t, f"1 0{at % 90 + 10},25") for at, (stamp, t, _) in enumerate(rows())]
    report = read(table(lines, "Time;Temp °C;Pressure hPa").replace(b"37.", b"37,")).report
    assert report.columns[2].found.low == 1010.25
    odd = read(table([(s, "3 75" if at == 5 else t, rh) for at, (s, t, rh) in enumerate(rows())])).report
    assert dict(odd.columns[1].aside) == {"text": 1}


@hazard("quoted fields containing delimiter")
def test_quotes_may_hold_delimiters_and_line_ends() -> None:
    lines = [(f'"{stamp}"', f'"{t}"', f'"{rh}"', '"lid; open"' if at == 3 else '"turned\nby hand"' if at == 9 else '""')
             for at, (stamp, t, rh) in enumerate(rows())]  # fmt: skip
    report = _reads_like_plain(table(lines, '"Time";"Temp °C";"RH %";"Note"')).report
    assert report.continued == 1
    assert report.columns[3].quantity == "text"


# units


@hazard("unit in header, in cell")
def test_units_may_stand_in_the_cells_in_a_column_or_nowhere() -> None:
    _reads_like_plain(table([(s, f"{t} °C", f"{rh}%") for s, t, rh in rows()], "Time;A;B"))
    warm = [(s, f"{t * 1.8 + 32:.3f}", "F") for s, t, _ in rows()]
    column = table(warm, "Time;Temp;Unit")
    assert temperatures(column) == EXPECTED
    mixed = [(s, t, "C") if at < 20 else (s, f"{t * 1.8 + 32:.3f}", "F") for at, (s, t, _) in enumerate(rows())]
    assert temperatures(table(mixed, "Time;Temp;Unit")) == EXPECTED


def test_a_bare_temperature_is_asked_about_where_both_units_could_be() -> None:
    assert codes(read(stamped([37.5, 37.4, 38.0], "Time;Temp"))) == {"unit:2": False}
    assert temperatures(stamped([99.5, 99.3, 100.4], "Time;Temp")) == [37.5, 37.39, 38.0]
    cellar = stamped([50.0, 51.5, 54.0], "Time;Temp")
    assert codes(read(cellar)) == {"unit:2": True}
    assert read(cellar).probes == ()
    assert temperatures(cellar, answers={"unit:2": "degf"}) == [10.0, 10.83, 12.22]
    assert temperatures(cellar, answers={"unit:2": "degc"}) == [50.0, 51.5, 54.0]


@pytest.mark.parametrize(("value", "keys"), [
    (99.5, ["temp-degf", "rh", "ignore"]), (37.5, ["temp-degc", "rh", "ignore"]),
    (55.5, ["temp-degc", "temp-degf", "rh", "ignore"]), (0.55, ["temp-degc", "rh-fraction", "rh", "ignore"]),
])  # fmt: skip
def test_a_column_without_a_name_is_asked_about(value: float, keys: list[str]) -> None:
    reading = read(stamped([value, value + 0.2, value - 0.1, value], ""))
    (question,) = (q for q in reading.report.questions if q.code == "quantity:2")
    assert question.blocking
    assert [option.key for option in question.options] == keys
    assert reading.probes == ()


@hazard("unit switched part-way")
def test_a_switched_unit_is_found_and_asked_about() -> None:
    warm = [t for _, t, _ in rows(24)]
    switched = stamped([*warm[:10], *(round(t * 1.8 + 32, 3) for t in warm[10:])])
    reading = read(switched)
    assert codes(reading) == {"unit-switch:2": True}
    assert reading.probes == ()
    assert temperatures(switched, answers={"unit-switch:2": "switched"}) == [round(t, 2) for t in warm]
    assert len(temperatures(switched, answers={"unit-switch:2": "as-printed"})) == 10, "over 60 °C is set aside"


@hazard("RH as 0")
def test_humidity_as_a_fraction_is_read_and_other_moisture_is_not() -> None:
    lines = [(s, t, f"{rh / 100:.3f}", 27.5, 25.1) for s, t, rh in rows()]
    data = table(lines, "Time;Temp °C;RH;Dew point °C;Abs. humidity g/m³")
    reading = _reads_like_plain(data)
    assert codes(reading) == {"fraction:3": False}
    assert [c.quantity for c in reading.report.columns[3:]] == ["dew-point", "absolute-humidity"]
    percent = table(lines, "Time;Temp °C;RH %;Dew point °C;Abs. humidity g/m³")
    assert codes(read(percent)) == {"fraction:3": True}


@hazard("temperature in tenths")
@pytest.mark.parametrize(("scale", "cells"), [("100", [3750, 3745, 3761]), ("10", [375, 374, 376])])
def test_whole_tenths_are_asked_about(scale: str, cells: tuple[int, ...]) -> None:
    data = stamped(cells)
    reading = read(data)
    assert codes(reading) == {"scale:2": True}
    assert reading.probes == ()
    assert temperatures(data, answers={"scale:2": scale}) == [round(cell / int(scale), 2) for cell in cells]


# numbers


@hazard("minus sign U+2212")
def test_odd_signs_are_read_and_words_set_aside_by_reason() -> None:
    cells = [
        "37.5",
        "\u22121.5",
        "+37.1",
        "'37.4",
        "<10",
        ">95",
        "",
        "--",
        "---",
        "OL",
        "Err",
        "NaN",
        "NULL",
        "#N/A",
        "####",
    ]
    reading = read(table([(s, cell, "50") for (s, _, _), cell in zip(rows(), cells, strict=False)]))
    assert [round(float(v), 1) for v in reading.probes[0].temp_degc[:4]] == [37.5, -1.5, 37.1, 37.4]
    aside = dict(reading.report.columns[1].aside)
    assert aside == {"blank": 1, "missing": 5, "sensor-error": 3, "censored": 2}
    assert all(sample.line for sample in reading.report.samples)


@hazard("spreadsheet damage")
def test_what_a_spreadsheet_damaged_is_set_aside_with_its_line() -> None:
    report = read(stamped([37.5, "22-May", "3.75E+01", "Mai 22", 37.4])).report
    assert dict(report.columns[1].aside) == {"spreadsheet-damage": 3}
    assert [(s.line, s.text) for s in report.samples] == [(3, "22-May"), (4, "3.75E+01"), (5, "Mai 22")]
    assert temperatures(stamped(["3.75E+01", "3.76E+01"])) == [37.5, 37.6], "a whole column so is a way of writing"


# sensors


@hazard("1-wire codes", "other codes")
def test_codes_of_sensors_are_set_aside_in_temperature_columns_only() -> None:
    cells = [37.5, 85.0, 37.4, -127, 37.6, 127.94, 37.5, 0.0, 37.5, -40, 37.5, 6553.5, 37.4, 999, 37.4]
    report = read(table([(s, cell, 85) for (s, _, _), cell in zip(rows(), cells, strict=False)])).report
    assert dict(report.columns[1].aside) == {"sensor-code": 7}
    assert report.columns[1].found.n == 8
    assert dict(report.columns[2].aside) == {}, "85 % is a humidity"
    assert temperatures(stamped([0.5, 0.2, 0.0, -0.3, 0.0])) == [0.5, 0.2, 0.0, -0.3, 0.0], "a frost is no code"
    climbing = read(stamped([58.0, 66.0, 75.5, 85.0, 90.0, 52.0])).report.columns[1]
    assert dict(climbing.aside) == {"out-of-span": 4}


@hazard("stuck value")
def test_a_stuck_value_is_flagged_and_kept() -> None:
    lines = [(s, 37.51, 100.0) if at > 9 else (s, t, rh) for at, (s, t, rh) in enumerate(rows())]
    reading = read(table(lines))
    assert len(reading.probes[0]) == 48
    assert any("37.51 for 18.5 h" in note for note in reading.report.notes)
    assert any("saturated" in note for note in reading.report.notes)
    over = read(table([(s, t, 101.5 if at == 4 else rh) for at, (s, t, rh) in enumerate(rows())]))
    assert float(np.nanmax(over.probes[0].rh)) == pytest.approx(1.015)
    assert any("over saturation" in note for note in over.report.notes)


@hazard("probe swapped or moved", "clock reset to 1970")
def test_jumps_of_value_and_slow_clocks_are_left_to_those_who_know() -> None:
    lines = [(s, t - 9 if at > 30 else t, rh) for at, (s, t, rh) in enumerate(rows())]
    reading = read(table(lines))
    assert len(reading.probes[0]) == 48, "a moved probe is a reading; the exposure and the keeper judge it"
    assert codes(reading) == {}


# time


@hazard("date order d/m/y")
@pytest.mark.parametrize("form", [
    "{day:02d}/03/2024 {h:02d}:{m:02d}", "03/{day:02d}/2024 {h:02d}:{m:02d}", "2024/03/{day:02d} {h:02d}:{m:02d}",
    "{day}.3.2024 {h:02d}:{m:02d}", "{day:02d}-Mar-2024 {h}:{m:02d}", "{day} mars 2024 {h:02d}h{m:02d}",
    "{day}. März 2024 {h:02d}:{m:02d}", "{day} de marzo de 2024 {h:02d}:{m:02d}", "March {day}, 2024 {h:02d}:{m:02d}",
    "{h:02d}:{m:02d}:00 {day:02d}/Mar/2024", "2024-03-{day:02d}T{h:02d}:{m:02d}:00", "202403{day:02d}{h:02d}{m:02d}",
    "2024年3月{day}日 {h:02d}:{m:02d}", "{day:02d}.03.2024, {h:02d}.{m:02d}.00", "{day} марта 2024 {h:02d}:{m:02d}",
])  # fmt: skip
def test_dates_are_read_in_every_order_and_by_month_names(form: str) -> None:
    _reads_like_plain(table(rows(form=form)))


def test_a_date_order_open_to_both_is_asked_about() -> None:
    data = table(rows(20, day=4, form="{day:02d}/03/24 {h:02d}:{m:02d}"))
    reading = read(data)
    assert codes(reading) == {"date-order": True}
    assert reading.probes == ()
    assert reading.report.time_decided is False
    short_year = table(rows(20, form="{day}.3.24 {h:02d}:{m:02d}"))
    (question,) = (q for q in read(short_year).report.questions if q.code == "date-order")
    assert [option.key for option in question.options] == ["dmy", "ymd"], "2024-03-14 or 2014-03-24"
    firsts = {key: read(data, answers={"date-order": key}).report.first for key in ("dmy", "mdy", "ymd")}
    assert firsts == {"dmy": "2024-03-04T00:00:00", "mdy": "2024-04-03T00:00:00", "ymd": "2004-03-24T00:00:00"}


def test_a_record_counter_or_many_midnights_decide_the_order() -> None:
    short = rows(60, day=4, form="{day:02d}/03/2024 {h:02d}:{m:02d}")
    assert codes(read(table(short))) == {"date-order": True}, "one midnight at 30 min: 1 in 48 by chance"
    counted = table([(at, *row) for at, row in enumerate(short)], "No.;Time;Temp °C;RH %")
    assert codes(read(counted)) == {}
    assert "record counter" in read(counted).report.time_column
    assert codes(read(table(rows(200, day=4, form="{day:02d}/03/2024 {h:02d}:{m:02d}")))) == {}


@hazard("12-h clock")
def test_twelve_hour_clocks_with_and_without_marks() -> None:
    def clock(minutes: int, mark: bool) -> str:
        h = minutes // 60
        half = (" AM" if h < 12 else " PM") if mark else ""
        return f"{(h - 1) % 12 + 1}:{minutes % 60:02d}{half}"

    for mark in (True, False):
        lines = [(f"2024-03-14 {clock(at * 30, mark)}", t, rh) for at, (_, t, rh) in enumerate(rows())]
        reading = _reads_like_plain(table(lines))
        assert any("hour" in note for note in reading.report.notes)
    for half in ("a.m.", "a. m.", "AM", "am"):
        assert read(table([(f"2024-03-14 12:05 {half}", 37, 55)])).report.first == "2024-03-14T00:05:00"


@hazard("date and time in two columns")
def test_the_date_may_stand_apart_and_only_once_a_day() -> None:
    apart = [(*stamp.split(), t, rh) for stamp, t, rh in rows()]
    _reads_like_plain(table(apart, "Date;Time;Temp °C;RH %"))
    once = [(date if at == 0 else "", time, t, rh) for at, (date, time, t, rh) in enumerate(apart)]
    _reads_like_plain(table(once, "Date;Time;Temp °C;RH %"))
    joined = [(stamp if at == 0 else stamp.split()[1], t, rh) for at, (stamp, t, rh) in enumerate(rows())]
    _reads_like_plain(table(joined))


@hazard("Unix seconds or milliseconds")
def test_counted_times_are_recognised_by_their_range() -> None:
    begin = 1_710_374_400  # 2024-03-14T00:00:00Z
    for factor in (1, 1000):
        lines = [((begin + at * 1800) * factor, t, rh) for at, (_, t, rh) in enumerate(rows())]
        assert _reads_like_plain(table(lines)).report.zone == "UTC"
    serial = [(f"{(begin + at * 1800) / 86400 + 25569:.8f}", t, rh) for at, (_, t, rh) in enumerate(rows())]
    assert codes(_reads_like_plain(table(serial))) == {"serial-epoch": False}
    later = read(table(serial), answers={"serial-epoch": "1904"})
    assert later.report.first == "2028-03-15T00:00:00"
    elapsed = [(at * 1800, t, rh) for at, (_, t, rh) in enumerate(rows())]
    _reads_like_plain(b"Logging started: 2024-03-14 00:00:00\n" + table(elapsed, "Elapsed (s);Temp °C;RH %"))
    alone = table(elapsed, "Elapsed (s);Temp °C;RH %")
    assert codes(read(alone)) == {"start": True}
    _reads_like_plain(alone, answers={"start": "2024-03-14T00:00"})


@hazard("zone absent, offset")
def test_offsets_are_taken_off_and_a_missing_zone_is_asked_once() -> None:
    assert [q.code for q in read(PLAIN).report.questions] == ["zone"]
    ahead = table([(f"{s}:00+02:00", t, rh) for s, t, rh in rows()])
    plain, moved = read(PLAIN).probes[0], read(ahead).probes[0]
    assert np.array_equal(plain.t - 7200, moved.t)
    assert np.array_equal(read(PLAIN, zone="+02:00").probes[0].t, moved.t)
    assert np.array_equal(read(table(rows(), "Time, GMT+02:00;T °C;RH %")).probes[0].t, moved.t)
    unclear = read(table([(f"{s}:00 CST", t, rh) for s, t, rh in rows()])).report.questions[0]
    assert "CST" in unclear.words
    with pytest.raises(ReadingError, match="no zone 'Nowhere/Land'"):
        read(PLAIN, zone="Nowhere/Land")


@hazard("DST end: hour repeated")
def test_a_repeated_hour_is_told_by_the_order_of_the_rows() -> None:
    hours = ["00:00", "00:30", "01:00", "01:30", "02:00", "02:30", "02:00", "02:30", "03:00", "03:30"]
    twice = table([(f"2023-10-29 {h}", 37.5, 55) for h in hours])
    (log,) = read(twice, zone="Europe/Paris").probes
    assert np.diff(log.t).tolist() == [1800] * 9
    backwards = table([(f"2023-10-29 {h}", 37.5, 55) for h in reversed(hours)])
    assert np.array_equal(read(backwards, zone="Europe/Paris").probes[0].t, log.t)
    assert any("say the zone" in note for note in read(twice).report.notes)


def test_a_clock_that_may_not_change_is_asked_about() -> None:
    hours = ["00:00", "00:30", "01:00", "01:30", "02:00", "02:30", "03:00", "03:30"]
    for day in ("2023-10-29", "2023-03-26"):
        data = table([(f"{day} {h}", 37.5, 55) for h in hours])
        asked = read(data, zone="Europe/Paris")
        assert codes(asked) == {"clock-change": True}
        assert asked.probes == ()
        (log,) = read(data, zone="Europe/Paris", answers={"clock-change": "standard"}).probes
        assert np.diff(log.t).tolist() == [1800] * 7
    follows = read(data, zone="Europe/Paris", answers={"clock-change": "follows"})
    assert dict(follows.report.rows_rejected) == {"missing-hour": 2}


def test_a_clock_fallen_back_to_its_start_is_asked_about() -> None:
    good = rows(20)
    lost = [(f"2000-01-01 {at:02d}:00", t, rh) for at, (_, t, rh) in enumerate(rows(6))]
    data = table([*good, *lost])
    reading = read(data)
    assert codes(reading) == {"clock-reset": True}
    assert dict(reading.report.rows_rejected) == {"clock-reset": 6}
    assert len(reading.probes[0]) == 20
    joined = read(data, answers={"clock-reset": "continue"}).probes[0]
    assert len(joined) == 26
    assert int(joined.t[20] - joined.t[19]) == 1800


@hazard("duplicate stamps", "overlapping downloads")
def test_equal_rows_collapse_and_different_ones_are_kept_and_flagged() -> None:
    lines = rows()
    overlapping = _reads_like_plain(table([*lines[:30], *lines[20:]]))
    assert dict(overlapping.report.rows_rejected) == {"duplicate": 10}
    other = read(table([*lines[:30], (lines[29][0], 36.0, 50.0), *lines[30:]]))
    assert len(other.probes[0]) == 49
    assert other.report.repeated_times == 1
    assert len(other.series()) == 48
    assert float(other.series().temp_degc[29]) == pytest.approx((lines[29][1] + 36.0) / 2, abs=1e-4)
    turned = _reads_like_plain(table(reversed(lines)))
    assert turned.report.newest_first


@hazard("gaps, interval changes")
def test_gaps_and_cut_seconds_are_named_and_nothing_is_filled_in() -> None:
    lines = rows(200)
    reading = read(table([*lines[:50], *lines[120:]]))
    assert len(reading.probes[0]) == 130
    assert [seconds for _, _, seconds in reading.report.gaps] == [71 * 1800]
    minutes = [(s, t, rh) for at, (s, t, rh) in enumerate(rows(300, step_min=1)) if (at * 2) % 5 < 2]
    assert any("seconds are cut off" in note for note in read(table(minutes)).report.notes)


@hazard("memory wrap")
def test_a_backwards_jump_is_named_and_sorted() -> None:
    lines = rows()
    reading = _reads_like_plain(table([*lines[30:], *lines[:30]]))
    assert reading.report.in_order is False
    assert any("time goes back once" in note for note in reading.report.notes)


# size and safety


@hazard("year-long 10-s logs")
def test_a_long_log_is_read_in_blocks_with_progress() -> None:
    stamps = np.datetime64("2024-01-01T00:00:00", "s") + np.arange(200_000) * np.timedelta64(10, "s")
    text = "\n".join(f"{stamp};37.5{at % 10};55.{at % 7}" for at, stamp in enumerate(stamps.astype(str)))
    told: list[float] = []
    reading = read(f"Time;T °C;RH %\n{text}\n".encode(), progress=told.append)
    assert len(reading.probes[0]) == 200_000
    assert len(told) > 3
    assert told == sorted(told)
    assert told[-1] == 1.0


@hazard("cells beginning with")
def test_formulas_are_words_and_endless_lines_are_stepped_over() -> None:
    report = read(stamped([37.5, 37.6, 37.4, "=1+1", "@SUM(A1)", "-cmd", 37.4])).report
    assert dict(report.columns[1].aside) == {"text": 3}
    long = PLAIN + b"2024-03-16 00:00;" + b"7" * (MAX_LINE + 10) + b";55\n" + b"2024-03-16 00:30;37.5;55\n"
    assert dict(read(long).report.rows_rejected) == {"line-too-long": 1}
    with pytest.raises(ReadingError, match="zip archive or a spreadsheet"):
        read(b"PK\x03\x04" + PLAIN)


def test_every_hazard_of_the_fact_pack_has_its_file(shared: Path) -> None:
    with (shared / "facts" / "machine" / "import_hazards.csv").open(encoding="utf-8", newline="") as file:
        listed = [row["hazard"] for row in csv.DictReader(file)]
    missing = [text for text in listed if not any(text.startswith(begin) for begin in HAZARDS)]
    assert missing == []
    assert all(name in globals() for name in HAZARDS.values())
