"""Where the rows begin, what divides them, what their header says."""

import pytest

from chalaza.errors import ReadingError
from chalaza.intake.layout import sniff, split

from .files import rows, table


def test_the_header_is_found_above_the_rows_and_not_in_the_preamble() -> None:
    above = "Logger report\nSerial;A1;B2\nLimits °C;36;39\n\nTime;Shelf;Air\n;°C;%\n"
    layout = sniff(above.encode() + table(rows(), ""))
    assert (layout.header, layout.first_data) == ((4, 5), 6)
    assert (layout.names, layout.units) == (("Time", "Shelf", "Air"), ("", "°C", "%"))
    assert layout.preamble == ("Logger report", "Serial;A1;B2", "Limits °C;36;39")


def test_a_header_one_name_short_is_moved_to_where_the_cells_fit() -> None:
    lines = [(at, *row) for at, row in enumerate(rows(), start=140)]
    assert sniff(table(lines, "date;Temperature;Humidity")).names == ("", "date", "Temperature", "Humidity")
    trailing = [(*row, "") for row in rows()]
    assert sniff(table(trailing, "date;Temperature;Humidity")).names == ("date", "Temperature", "Humidity", "")


@pytest.mark.parametrize(
    ("decimal", "cells"),
    [(".", ["37.5", "36"]), (",", ["37,5", "1.013,25"]), (".", ["1,013.25"]), (",", ["37,512"])],
)
def test_the_decimal_mark_is_the_last_mark_of_most_numbers(decimal: str, cells: list[str]) -> None:
    lines = [(f"2024-03-14 {at:02d}:00", cells[at % len(cells)]) for at in range(10)]
    assert sniff(table(lines)).decimal == decimal


def test_cells_follow_the_rules_of_quotes() -> None:
    assert split('"a;b"; "say ""hi""" ;c', ";") == ["a;b", 'say "hi"', "c"]
    assert split('37.5;5" probe', ";") == ["37.5", '5" probe']
    assert split("a;;", ";") == ["a", "", ""]


def test_prose_and_tables_without_times_have_no_layout_or_no_rows() -> None:
    with pytest.raises(ReadingError, match="no row of readings"):
        sniff(b"Dear keeper,\nthe eggs; all of them; are well.\n")
    with pytest.raises(ReadingError, match="at most 400 are read"):
        sniff((";".join("37" for _ in range(500)) + "\n").encode() * 9)
