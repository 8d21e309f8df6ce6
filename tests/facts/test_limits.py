"""Limits by name: the closest row speaks, and where nothing is printed nothing is said."""

import pytest

from chalaza.facts.limits import limit


def test_the_row_that_names_the_group_goes_before_any() -> None:
    # limits.csv: 38.9 °C for any kind, 38.1 °C for turkeys.
    found = {kind: limit("shell_sustained", kind) for kind in ("chicken", "turkey")}
    assert {kind: one.value for kind, one in found.items() if one} == {"chicken": 38.9, "turkey": 38.1}
    assert found["turkey"] is not None
    assert (found["turkey"].unit, found["turkey"].source, found["turkey"].status) == ("°C", "lopez-2018", "checked")


@pytest.mark.parametrize(("name", "kind"), [("cool_from", "chicken"), ("feed_first", "pigeon"), ("no_such", "duck")])
def test_where_nothing_is_printed_there_is_none(name: str, kind: str) -> None:
    assert limit(name, kind) is None


def test_young_are_to_feed_within_a_day_and_two_at_most() -> None:
    # University of Illinois Extension: within 24 h, 48 at most.
    assert [one.value for name in ("feed_first", "feed_latest") if (one := limit(name, "duck"))] == [24.0, 48.0]
