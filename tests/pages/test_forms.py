"""Forms: units and clocks at the edge, and what is asked instead of guessed."""

import pytest

from chalaza import quantities as q
from chalaza.pages.forms import Choice, Form, Measure, Moment
from chalaza.words.numbers import Preference, Voice


class _Entry(Form):
    temp = Measure(q.TEMP_DEGC, label="Temperature")
    at = Moment(required=False, label="When")


def _form(units: Preference = Preference.BOTH, **data: str) -> _Entry:
    return _Entry({"temp": "37", **data}, voice=Voice(units=units), zone="Europe/Berlin")


@pytest.mark.parametrize(
    ("typed", "units", "inside"),
    [
        ("37.6", Preference.BOTH, 37.6),
        ("37,6", Preference.METRIC, 37.6),
        ("99.7 F", Preference.BOTH, 37.6111),
        ("99.7", Preference.US, 37.6111),
        ("37.6 °C", Preference.US, 37.6),
        ("\u22125", Preference.METRIC, -5.0),
    ],
)
def test_a_measure_is_read_in_the_keepers_unit_or_the_one_written(typed: str, units: Preference, inside: float) -> None:
    form = _form(units, temp=typed)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["temp"] == pytest.approx(inside, abs=1e-4)


@pytest.mark.parametrize(
    ("typed", "says"), [("warm", "write it like"), ("370", "allowed: -40 to 60 °C"), ("", "needed")]
)
def test_what_is_no_temperature_is_told_with_what_is_allowed(typed: str, says: str) -> None:
    form = _form(temp=typed)
    assert not form.is_valid()
    assert says in str(form.errors["temp"])


def test_an_hour_that_comes_twice_is_asked_about_and_one_that_never_comes_is_refused() -> None:
    twice = _form(at="2026-10-25T02:30")
    never = _form(at="2026-03-29T02:30")
    assert not twice.ready
    assert [one.value for one in twice.questions[0].choices] == ["2026-10-25 02:30+02:00", "2026-10-25 02:30+01:00"]
    answered = _form(at="2026-10-25T02:30", answer_at="2026-10-25 02:30+01:00")
    assert answered.ready
    assert answered.cleaned_data["at"] == 1_792_891_800
    assert "does not exist" in str(never.errors["at"])
    first = _form(at="2026-10-25T02:30+02:00")
    assert first.is_valid()
    assert first.cleaned_data["at"] == 1_792_888_200


def test_a_question_is_open_until_the_keeper_says_the_figure_stands() -> None:
    form = _form(temp="31")
    form.ask("temp", "31 is cool. Which is it?", Choice("37.1", "37.1", likely=True))
    assert not form.ready
    kept = _form(temp="31", keep_temp="31")
    kept.ask("temp", "31 is cool. Which is it?")
    assert kept.ready
