"""The report as JSON and as lines."""

import json

from chalaza.intake import read
from chalaza.intake.report import REASON_WORDS
from chalaza.intake.table import REASONS

from .files import rows, stamped, table

#: The keys other programs may rely on.
KEYS = {"rows_read", "rows_rejected", "first", "last", "step_s", "columns", "questions"}
COLUMN_KEYS = {"name", "quantity", "unit", "n", "min", "max", "mean", "stats_in", "inside", "set_aside", "why"}


def test_the_json_has_its_keys_and_says_which_units_it_means() -> None:
    data = table([(s, round(t * 1.8 + 32, 3), rh) for s, t, rh in rows()], "Time;Temp °F;RH %")
    found = json.loads(json.dumps(read(data).report.to_json(), allow_nan=False))
    assert set(found) >= KEYS
    time, warm, wet = found["columns"]
    assert set(warm) >= COLUMN_KEYS
    assert (time["quantity"], warm["stats_in"], wet["stats_in"]) == ("time", "°F", "%")
    assert (warm["min"], warm["inside"]["unit"], round(warm["inside"]["min"], 3)) == (99.5, "°C", 37.5)
    assert (wet["min"], wet["inside"]["unit"], round(wet["inside"]["min"], 4)) == (55.0, "1", 0.55)
    assert (found["first"], found["last"], found["step_s"]) == ("2024-03-14T00:00:00", "2024-03-14T23:30:00", 1800)


def test_the_lines_say_what_was_taken_set_aside_and_asked() -> None:
    data = stamped([50.0, 51.5, "Err", 54.0], "Time;Temp") + b"End of data\n"
    text = "\n".join(read(data).report.lines())
    for part in (
        "4 rows read, 1 set aside", "1  footer: text below the readings", "from 2024-03-14T00:00:00 to 2024-03-14T03:00:00",
        "Temp: temperature; its name says temperature", "set aside: 1 sensor-error", "line 4: sensor-error: Err",
        "unit:2=degf  degrees Fahrenheit", "50  reads as  10.0 °C", "zone: as printed, not known",
    ):  # fmt: skip
        assert part in text, part


def test_every_reason_has_words() -> None:
    assert {reason for reason in REASONS if reason and reason != "continued"} <= set(REASON_WORDS)
