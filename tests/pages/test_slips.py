"""°F for °C and the other way round: named where only the other unit makes sense."""

import pytest

from chalaza import quantities as q
from chalaza.pages.forms import Measure
from chalaza.pages.setup.slips import RUN_DEGC, other_unit
from chalaza.words.numbers import Voice


@pytest.mark.parametrize(
    ("typed", "shown", "meant"),
    [
        ("99.5", "°C", "99.5 °F"),
        ("99,5", "°C", "99,5 °F"),
        ("37.5", "°F", "37.5 °C"),
        ("37.5", "°C", None),
        ("99.5", "°F", None),
        ("99.5 °C", "°C", None),
        ("12", "°C", None),
        ("warm", "°C", None),
        ("", "°C", None),
    ],
)
def test_the_other_unit_is_meant_only_where_it_fits_and_the_typed_one_does_not(
    typed: str, shown: str, meant: str | None
) -> None:
    choice = other_unit(Voice(), typed, Measure(q.TEMP_DEGC, show=shown), *RUN_DEGC)
    assert (None if choice is None else choice.value) == meant
    assert choice is None or choice.likely
