"""The reading as a whole: what comes back, what is refused and in which words."""

from pathlib import Path

import numpy as np
import pytest

from chalaza.errors import ReadingError
from chalaza.intake import read
from chalaza.intake.text import MAX_BYTES

from .files import accounted, codes, rows, stamped, table

PLAIN = table(rows())


def test_a_file_is_read_from_bytes_and_from_a_path(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(PLAIN)
    assert read(path).report == read(PLAIN).report


def test_readings_are_float32_in_the_units_inside() -> None:
    (log,) = read(PLAIN).probes
    assert (log.t.dtype, log.temp_degc.dtype, log.rh.dtype) == (np.int64, np.float32, np.float32)
    assert float(log.rh[0]) == pytest.approx(rows()[0][2] / 100)
    assert len(read(PLAIN).series()) == len(log) == 48


def test_several_probes_are_paired_by_name_and_place() -> None:
    lines = [(s, t, rh, t + 1, rh + 1, t + 2) for s, t, rh in rows()]
    named = read(table(lines, "Time;Top °C;Top %RH;Low °C;Low %RH;Water °C"))
    assert [log.name for log in named.probes] == ["top", "low", "water"]
    assert bool(np.isnan(named.probes[2].rh).all())
    crossed = read(table([(s, t, t + 1, rh, rh + 1) for s, t, rh in rows()], "Time;T1 °C;T2 °C;RH2 %;RH1 %"))
    assert [round(float(log.rh[0] - log.temp_degc[0] / 100), 3) for log in crossed.probes] == [
        round((rows()[0][2] + 1) / 100 - 0.375, 3), round(rows()[0][2] / 100 - 0.385, 3),
    ]  # fmt: skip
    assert named.series("low").temp_degc[0] == pytest.approx(38.5)
    with pytest.raises(ReadingError, match="no probe 'top shelf' in this file; there are: top, low, water"):
        named.series("top shelf")


def test_rows_without_a_probe_reading_are_in_no_probe() -> None:
    lines = [(s, "" if at % 3 else t, "" if at % 2 else rh) for at, (s, t, rh) in enumerate(rows())]
    reading = read(table(lines))
    assert reading.report.rows_rejected["no-measurement"] == 16
    assert len(reading.probes[0]) == reading.report.rows_read == 32
    assert accounted(reading)


def test_a_keeper_may_say_what_a_column_is() -> None:
    odd = table(rows(), "Time;Lid;RH %")
    assert codes(read(odd)) == {}
    (log,) = read(odd, answers={"quantity:2": "temp-degc"}).probes
    assert float(log.temp_degc[0]) == 37.5
    (log,) = read(PLAIN, answers={"quantity:3": "ignore"}).probes
    assert bool(np.isnan(log.rh).all())


def test_an_answer_that_is_none_is_refused_with_those_allowed() -> None:
    with pytest.raises(ReadingError, match="'both' is no answer to 'unit:2'; allowed: degc, degf"):
        read(stamped([50.0, 51.0, 54.0], "Time;Temp"), answers={"unit:2": "both"})
    with pytest.raises(ReadingError, match="no answer to 'start'; give a date"):
        read(table([("10:00", 37.5), ("10:10", 37.5)], "Clock;T °C"), answers={"start": "yesterday"})


@pytest.mark.parametrize(("data", "words"), [
    (b"", "the file is empty"),
    (b" \n\n \n", "holds only blanks"),
    (b"\x1f\x8b\x08", "a gzip archive: unpack it first"),
    (b"%PDF-1.7", "a PDF document"),
    (b"Dear keeper,\nall is well.\n", "no row of readings was found in the first 3 lines: looked for"),
    (b"a;b\n1;2\n3;5\n4;4\n", "no column of times was found: looked for"),
    (b"Time;CO2 ppm\n2024-03-14 10:00;400\n2024-03-14 10:10;410\n", "no column of temperature or humidity was found"),
    (b"Time;T C\n2024-13-99 10:00;37\n2024-14-98 10:10;37\n", "no row"),
])  # fmt: skip
def test_what_cannot_be_read_is_refused_with_what_to_do(data: bytes, words: str) -> None:
    with pytest.raises(ReadingError, match=words):
        read(data)


def test_a_file_too_large_or_absent_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.truncate(MAX_BYTES + 1)
    with pytest.raises(ReadingError, match="split it by month"):
        read(path)
    with pytest.raises(ReadingError, match="cannot be opened"):
        read(tmp_path / "absent.csv")


def test_a_reading_can_be_given_up_from_the_progress() -> None:
    def stop(share: float) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        read(PLAIN, progress=stop)


def test_rows_may_end_in_more_delimiters_than_the_header() -> None:
    data = table([(s, t, f"{rh}{';' * (at % 3)}") for at, (s, t, rh) in enumerate(rows())])
    assert len(read(data).probes[0]) == 48
    assert codes(read(data)) == {}


def test_no_row_is_lost_above_the_first_one_of_full_width() -> None:
    lines = [(s, "", "", "switched on") if at == 0 else (s, t, rh, "") for at, (s, t, rh) in enumerate(rows())]
    report = read(table(lines, "Time;Temp °C;RH %;Event")).report
    assert (report.rows_read, dict(report.rows_rejected), report.lines_above) == (47, {"event-only": 1}, 1)
