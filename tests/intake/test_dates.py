"""Days of the calendar against Python's own calendar."""

import datetime as dt

import numpy as np

from chalaza.intake.dates import NEVER, days


def test_every_day_of_the_span_is_the_day_of_pythons_calendar() -> None:
    first, last = dt.date(1970, 1, 1), dt.date(2100, 12, 31)
    all_days = [first + dt.timedelta(days=at) for at in range((last - first).days + 1)]
    found = days(*(np.array([getattr(day, part) for day in all_days]) for part in ("year", "month", "day")))
    assert np.array_equal(found, np.arange(len(all_days)))


def test_dates_that_do_not_exist_are_never() -> None:
    wrong = [(2023, 2, 29), (2100, 2, 29), (2024, 4, 31), (2024, 13, 1), (2024, 0, 1), (2024, 1, 0)]
    wrong += [(1969, 12, 31), (2101, 1, 1)]
    assert days(*(np.array(part) for part in zip(*wrong, strict=True))).tolist() == [NEVER] * len(wrong)
    assert days(np.array([2024]), np.array([2]), np.array([29])).tolist() == [19782]
