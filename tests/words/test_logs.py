"""Words of log files: every reason, role and sentence of the reader is known here, and said in the reader's language."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.intake.files import stamped, table

from chalaza.intake import Reading, read
from chalaza.intake.preview import TIMES
from chalaza.intake.report import REASON_WORDS
from chalaza.intake.table import REASONS as STATUSES
from chalaza.intake.vocabulary import ROLES as NAMED
from chalaza.words import logs
from chalaza.words.language import BUILT_IN, PSEUDO, Plural, pseudo
from chalaza.words.numbers import Voice

PSEUDO_VOICE = Voice(language=BUILT_IN[PSEUDO])


def test_every_reason_of_the_reader_has_its_words() -> None:
    assert dict(logs.REASONS) == dict(REASON_WORDS)
    assert {one for one in STATUSES if one and one != "continued"} <= set(logs.REASONS)


def test_every_role_of_a_column_has_its_words() -> None:
    assert set(NAMED) <= set(logs.ROLES)


def test_every_way_belongs_to_a_question_and_times_are_questions() -> None:
    assert {stem for stem, _ in logs.WAYS} <= set(logs.QUESTIONS)
    assert set(TIMES) <= set(logs.QUESTIONS)


def test_what_speaks_for_a_way_is_a_sentence() -> None:
    texts = [one.many if isinstance(one, Plural) else one for one in logs.LIKELIER.values()]
    assert all(text.startswith("Likelier: ") and text.endswith(".") for text in texts)


def _sentences(reading: Reading) -> Iterator[str]:
    """Every sentence the reader said of a file."""
    report = reading.report
    for said in (
        report.layout, report.time_column, report.encoding, *report.notes, *(column.why for column in report.columns)
    ):  # fmt: skip
        yield from said.split("; ")


def _unknown(readings: list[Reading]) -> set[str]:
    return {part for reading in readings for part in _sentences(reading) if part and logs.known(part) is None}


def _invented() -> list[Reading]:
    """Files that make the reader say what real ones seldom do."""
    day = [(f"2026-03-29 {n:02d}:00", f"37.{n % 10}", 55) for n in range(24)]
    autumn = [(f"2026-10-25 0{n // 4}:{n % 4 * 15:02d}", f"37.{n % 10}", 55) for n in (*range(12), *range(8, 24))]
    codes = [*(f"37.{n}" for n in range(9)), "85", "-127"]
    jump = [f"{99 + n / 10:.1f}" for n in range(30)] + [f"{37.2 + n / 20:.1f}" for n in range(30)]
    return [
        read(table(day), zone="Europe/Berlin", answers={"clock-change": "standard"}),
        read(table(day), zone="Europe/Berlin", answers={"clock-change": "start"}),
        read(table(day), zone="Europe/Berlin", answers={"clock-change": "follows"}),
        read(table(autumn), zone="Europe/Berlin"),
        read(table(day), zone="+01:00"),
        read(table([(f"2026-03-10T{n:02d}:00:00Z", f"37.{n % 10}", 55) for n in range(20)]), zone="Europe/Berlin"),
        read(table(reversed(day))),
        read(table([*day[12:], *day[:12]])),
        read(stamped(codes, head="Time;Temp")),
        read(stamped(jump, head="Time;Temp"), answers={"unit-switch:2": "switched"}),
        read(stamped(jump, head="Time;Temp °F")),
        read(table([(f"01/02/2026 {n:02d}:00", f"37.{n % 10}", 55) for n in range(20)]), answers={"date-order": "dmy"}),
        read(table([(f"10:0{n}", f"37.{n}", 55) for n in range(9)]), answers={"start": "2026-03-01T10:00"}),
        read(table([(46000 + n / 24, f"37.{n % 10}", 55) for n in range(20)], head="Date;Temp °C;RH")),
        read(table([(1_770_000_000 + 60 * n, f"37.{n % 10}", 55) for n in range(20)], head="unix;Temp °C;RH")),
        read(table([(60 * n, f"37.{n % 10}", 55) for n in range(20)], head="elapsed s;Temp °C;RH"),
             answers={"start": "2026-03-01T10:00"}),
        read(table([(f"2026-03-10 {n:02d}:00", f"37.{n % 10}", f"0.{50 + n}") for n in range(20)], head="Time;T °C;RH")),
        read(table([(f"2026-03-{1 + n // 24:02d} {n % 24:02d}:00", "37.55", 100) for n in range(60)])),
        read(table([(f"2026-03-10 {n:02d}:00", f"37.{n % 10}", 101) for n in range(20)])),
        read("Zeit;Temp °C\n".encode("utf-16") + b"".join(f"2026-03-10 {n:02d}:00;37.{n % 10}\n".encode("utf-16-le")
                                                            for n in range(20))),
        read("Zeit;Temp (°C)\n".encode("cp1252") + b"".join(b"2026-03-10 %02d:00;37.%d\n" % (n, n % 10) for n in range(20))),
        read(table([(f"2026-03-10 {n:02d}:00", f"37.{n % 10}", 55) for n in range(20)]) + b"\0\0\0"),
        read(table([(f"2026-03-{n:02d}", f"37.{n % 10}", f"36.{n % 10}") for n in range(1, 20)],
                   head="Date;Temp max °C;Temp min °C")),
    ]  # fmt: skip


def test_every_sentence_of_the_reader_is_known_here() -> None:
    assert _unknown(_invented()) == set()


@pytest.mark.logs
def test_every_sentence_about_a_real_log_is_known_here(shared: Path) -> None:
    found = [read(path, zone=zone) for path in sorted((shared / "data" / "logs").iterdir())
             for zone in (None, "Europe/Berlin", "UTC")]  # fmt: skip
    assert len(found) >= 42
    assert _unknown(found) == set()


def test_what_the_reader_said_is_said_again_in_another_language_and_figures_stay() -> None:
    said = logs.told(PSEUDO_VOICE, "column 3 holds date and time; day, month, year, as answered")
    order = pseudo("day, month, year")
    assert said == "; ".join(
        (pseudo("column {n} holds date and time").format(n=3), pseudo("{order}, as answered").format(order=order))
    )
    assert logs.told(Voice(), "its name says battery") == "its name says battery"
    assert logs.told(PSEUDO_VOICE, "something nobody foresaw {x}") == "something nobody foresaw {x}"
    assert logs.told(PSEUDO_VOICE, "") == ""
