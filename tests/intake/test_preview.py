"""The first look at a file: each open question with every way to read it, and what the rest of a large file settles."""

import pytest

from chalaza.errors import ReadingError
from chalaza.intake.preview import clocks, figures, preview, settled_by_the_rest

from .files import stamped, table

NOW = 1_776_444_000  # a Friday in April 2026
SOME_DAYS = table([(f"0{n}/04/2026 18:00", f"37.{n}", 50 + n) for n in range(1, 10)])


def test_each_way_to_answer_is_the_file_as_it_reads_then() -> None:
    found = preview(SOME_DAYS, {}, "UTC", NOW)
    (ask,) = found.asks
    assert (ask.code, ask.stem, ask.column, ask.blocking, ask.chosen) == ("date-order", "date-order", None, True, "")
    assert {way.key: way.reading.report.first for way in ask.ways if way.reading} == {
        "dmy": "2026-04-01T18:00:00", "mdy": "2026-01-04T18:00:00",
    }  # fmt: skip
    assert found.left == (ask,)
    assert ask.likely.key == "dmy"
    assert found.reading.report.first == "2026-04-01T18:00:00", "shown as the likelier way has it"


def test_an_answer_given_is_kept_and_one_that_is_none_is_refused() -> None:
    found = preview(SOME_DAYS, {"date-order": "mdy"}, "UTC", NOW)
    assert found.left == ()
    assert found.asks[0].chosen == "mdy"
    assert found.reading.report.first == "2026-01-04T18:00:00"
    with pytest.raises(ReadingError, match="allowed: dmy, mdy"):
        preview(SOME_DAYS, {"date-order": "backwards"}, "UTC", NOW)


def test_several_questions_are_put_one_upon_the_other() -> None:
    rows = [(f"0{n}/04/2026 18:00", 520 + n) for n in range(1, 10)]
    found = preview(table(rows, head="Time;Temp"), {}, "UTC", NOW)
    assert [ask.code for ask in found.asks] == ["date-order", "scale:2", "unit:2"]
    assert found.asks[1].column == 2


def test_what_is_taken_without_asking_is_there_to_be_changed() -> None:
    found = preview(stamped([f"21.{n}" for n in range(9)], head="Time;Temp"), {}, "UTC", NOW)
    (ask,) = found.asks
    assert (ask.code, ask.blocking, ask.chosen) == ("unit:2", False, "degc")
    assert found.left == ()
    turned = preview(stamped([f"21.{n}" for n in range(9)], head="Time;Temp"), {"unit:2": "degf"}, "UTC", NOW)
    found_f = figures(turned.reading, 2)
    assert found_f is not None
    assert found_f.mean == pytest.approx((21.4 - 32) / 1.8)


def test_a_day_that_is_nowhere_named_is_asked_in_words() -> None:
    found = preview(table([(f"10:0{n}", f"37.{n}", 55) for n in range(9)]), {}, "UTC", NOW)
    (ask,) = found.asks
    assert (ask.code, bool(ask.free)) == ("start", True)
    assert [way.key for way in ask.ways if way.key] == []


_SPRING = table(
    [(f"2026-03-{28 + n // 24:02d} {n % 24:02d}:00", f"37.{n % 10}", 55) for n in range(72)]
)  # 29 March 2026, 02:00 does not exist in Berlin


def test_clocks_that_give_the_same_moments_are_one() -> None:
    winter = table([(f"2026-01-10 {n:02d}:00", f"37.{n % 10}", 55) for n in range(20)])
    ask = clocks(winter, {}, ["Europe/Berlin", "+01:00", "UTC"], "", NOW)
    assert ask is not None
    assert [way.key for way in ask.ways] == ["Europe/Berlin", "UTC"]
    assert (ask.likely.key, ask.likely.code) == ("Europe/Berlin", "usual")


def test_hours_that_no_clock_of_the_place_showed_speak_for_one_that_is_never_set() -> None:
    found = preview(_SPRING, {}, "Europe/Berlin", NOW)
    ask = clocks(_SPRING, found.settled, ["Europe/Berlin", "+01:00", "UTC"], "", NOW)
    assert ask is not None
    assert (ask.likely.key, ask.likely.code) == ("+01:00", "fits")


def test_a_clock_that_puts_readings_after_this_moment_is_the_less_likely_one() -> None:
    rows = [(f"2026-04-17 {n // 6:02d}:{n % 6}0", f"37.{n % 10}", 55) for n in range(6 * 18 + 4)]  # up to 18:30
    ask = clocks(table(rows), {}, ["UTC", "Europe/Berlin"], "", NOW)  # it is 16:40 UTC
    assert ask is not None
    assert (ask.likely.key, ask.likely.code) == ("Europe/Berlin", "future")


def test_a_file_that_names_its_clock_is_not_asked_about_it() -> None:
    rows = table([(f"2026-04-10T{n:02d}:00:00Z", f"37.{n % 10}", 55) for n in range(20)])
    assert clocks(rows, {}, ["Europe/Berlin", "UTC"], "", NOW) is None


def test_lines_from_the_rest_of_a_file_settle_what_its_beginning_leaves_open() -> None:
    asks = preview(SOME_DAYS, {}, "UTC", NOW).asks
    more = SOME_DAYS + table([(f"{day}/04/2026 18:00", "37.5", 55) for day in range(13, 29)]).split(b"\n", 1)[1]
    assert settled_by_the_rest(more, asks, "UTC") == {"date-order": "dmy"}
    assert settled_by_the_rest(SOME_DAYS, asks, "UTC") == {}
    assert settled_by_the_rest(b"nothing at all", asks, "UTC") == {}
    assert settled_by_the_rest(more, (), "UTC") == {}
    found = preview(SOME_DAYS, {"date-order": "dmy"}, "UTC", NOW, decided=frozenset({"date-order"}))
    assert found.asks == ()


def test_what_cannot_be_read_at_all_is_an_error_in_words() -> None:
    with pytest.raises(ReadingError):
        preview(b"%PDF-1.4", {}, "UTC", NOW)
