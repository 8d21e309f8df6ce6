"""Which way to read a file is likelier: what speaks for it is said, and where nothing does, that."""

import numpy as np
import pytest

from chalaza.intake.likely import Verdict, of_figures, of_times, runs
from chalaza.intake.report import Statistics

DAY = 86_400
NOW = 20_000 * DAY


def _record(start: int, days: float = 3.0, step: int = 600) -> np.ndarray:
    return np.arange(start, start + int(days * DAY), step)


def test_a_record_is_whole_until_it_breaks_for_hours() -> None:
    t = np.concatenate((_record(NOW, 1.0), _record(NOW + 5 * DAY, 1.0)))
    assert runs(t) == [(NOW, NOW + DAY - 600), (NOW + 5 * DAY, NOW + 6 * DAY - 600)]
    assert runs(np.array([NOW])) == [(NOW, NOW)]
    assert runs(np.array([], np.int64)) == []


def test_a_way_that_reaches_beyond_this_moment_is_the_less_likely_one() -> None:
    ways = {"dmy": _record(NOW - 5 * DAY), "mdy": _record(NOW + 5 * DAY)}
    assert of_times(ways, NOW, ()) == Verdict("dmy", "future", {"n": 432})


def test_a_clock_a_little_ahead_is_not_the_future() -> None:
    ways = {"dmy": _record(NOW - 3 * DAY + 1800), "mdy": _record(NOW - 100 * DAY)}
    assert of_times(ways, NOW, ()).code != "future"


def test_the_way_with_the_fewest_breaks_is_the_likelier() -> None:
    whole = _record(NOW - 400 * DAY, 12.0)
    torn = np.concatenate([_record(NOW - (400 - 30 * n) * DAY, 1.0) for n in range(12)])
    assert of_times({"mdy": torn, "dmy": whole}, NOW, ()) == Verdict("dmy", "unbroken")


def test_a_batch_that_ran_then_speaks_for_a_way() -> None:
    ways = {"dmy": _record(NOW - 300 * DAY), "mdy": _record(NOW - 200 * DAY)}
    assert of_times(ways, NOW, [(NOW - 205 * DAY, NOW - 180 * DAY)]) == Verdict("mdy", "batch")


def test_a_record_that_ended_lately_is_the_likelier() -> None:
    ways = {"dmy": _record(NOW - 4 * DAY), "mdy": _record(NOW - 200 * DAY)}
    assert of_times(ways, NOW, ()) == Verdict("dmy", "recent")


@pytest.mark.parametrize(
    "ways",
    [
        {},
        {"dmy": _record(NOW - 300 * DAY), "mdy": _record(NOW - 200 * DAY)},
        {"dmy": np.array([], np.int64)},
        {"dmy": _record(NOW + DAY), "mdy": _record(NOW + DAY)},
    ],
)
def test_where_nothing_speaks_for_a_way_none_is_named(ways: dict[str, np.ndarray]) -> None:
    assert of_times(ways, NOW, ()) == Verdict()


def _mean(value: float) -> Statistics:
    return Statistics(10, value - 1.0, value + 1.0, value)


def test_figures_are_held_against_incubators_then_rooms() -> None:
    assert of_figures({"degc": _mean(99.5), "degf": _mean(37.5)}, humidity=False) == Verdict("degf", "incubator")
    assert of_figures({"degc": _mean(50.0), "degf": _mean(10.0)}, humidity=False) == Verdict("degf", "room")
    assert of_figures({"fraction": _mean(0.5), "percent": _mean(0.005)}, humidity=True) == Verdict(
        "fraction", "humidity"
    )


def test_figures_that_fit_both_ways_or_neither_name_none() -> None:
    assert of_figures({"10": _mean(20.0), "100": _mean(2.0)}, humidity=False) == Verdict()
    assert of_figures({"10": _mean(55.0), "100": None}, humidity=False) == Verdict()
