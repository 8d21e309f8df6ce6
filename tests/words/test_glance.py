"""A batch at a glance: the figure of each answer in parts, its band, a few words; and how days are counted."""

from dataclasses import replace

import pytest
from tests.factory import NOW, make_evidence
from tests.words.codes import all_codes, estimate, sample

from chalaza.assess import assess, prior_beliefs
from chalaza.values.advice import Level
from chalaza.values.answers import Assessment
from chalaza.words import numbers
from chalaza.words.answers import ASKED, HEADLINES, answered
from chalaza.words.glance import LEVELS, NOTES, day_of, glances, note, over, parts, urgency
from chalaza.words.language import PSEUDO, language
from chalaza.words.numbers import NB, Preference, Voice

DAY_S = 86_400


@pytest.fixture(scope="module")
def assessment() -> Assessment:
    """The small invented batch, ten days in."""
    return assess(prior_beliefs("chicken"), make_evidence(), NOW)


@pytest.fixture
def voice(assessment: Assessment) -> Voice:
    """Its keeper."""
    return Voice().of(assessment.zone, assessment.set_at)


@pytest.mark.parametrize("units", Preference)
@pytest.mark.parametrize("style", ["temperature", "loss", "humidity", "count", "mass", "length", "days"])
def test_the_parts_of_a_figure_together_say_what_the_figure_says(units: Preference, style: str) -> None:
    voice = Voice(units=units)
    figure = estimate(0.1211, 0.014, "1") if style in ("loss", "humidity") else estimate(37.71, 1.06, "")
    found = parts(voice, figure, style)
    whole = numbers.quantity(voice, figure, style)
    unit = f"{NB}{found.unit}" if found.unit else ""
    inside = ";".join(f"{NB}{each}" if i else each for i, each in enumerate(filter(None, (found.range, found.other))))
    assert whole == f"{found.value}{unit}{NB}({inside})" if inside else whole == f"{found.value}{unit}"
    assert numbers.joined(found.low, found.high) == found.range


def test_a_reader_of_both_systems_gets_the_second_beside() -> None:
    figure = estimate(37.71, 1.06, "°C")
    assert parts(Voice(), figure, "temperature").other == f"99.9{NB}°F"
    assert parts(Voice(units=Preference.METRIC), figure, "temperature").other == ""
    assert parts(Voice(units=Preference.US), figure, "temperature").unit == "°F"


def test_a_figure_without_width_has_no_range() -> None:
    found = parts(Voice(), estimate(37.7, 0.0, "°C"), "temperature")
    assert (found.value, found.range, found.low, found.high) == ("37.7", "", "", "")


def test_a_moment_is_told_with_its_doubt() -> None:
    at = 1_776_906_000.0  # 23 April 2026, 01:00 UTC
    even = parts(Voice(), estimate(at, 46_800.0, "epoch_s"), "moment")
    assert (even.value, even.range) == (f"Thu{NB}23{NB}April,{NB}01:00", f"±{NB}13{NB}h")
    assert (even.low, even.high) == (f"Wed{NB}22,{NB}12:00", f"Thu{NB}23,{NB}14:00")
    uneven = parts(Voice(), replace(estimate(at, 46_800.0, "epoch_s"), high=at + 3 * DAY_S), "moment")
    assert uneven.range == f"Wed{NB}22,{NB}12:00–Sun{NB}26,{NB}01:00"
    sure = parts(Voice(), estimate(at, 0.0, "epoch_s"), "moment")
    assert (sure.value, sure.range) == (f"Thu{NB}23{NB}April,{NB}01:00", "")


def test_each_answer_has_a_glance_with_its_own_figure_and_band(voice: Voice, assessment: Assessment) -> None:
    found = glances(voice, assessment, answered(voice, assessment))
    assert [one.question for one in found] == list(ASKED)
    a = assessment
    assert [one.figure for one in found] == [
        a.warmth.shell_now, a.water.loss_at_lockdown, a.clock.half_hatched, a.count.expected_young
    ]  # fmt: skip
    assert [one.band for one in found[:3]] == [a.warmth.wanted_now, a.water.wanted, a.clock.usual]
    warmth = found[0]
    assert (warmth.band_low, warmth.band_high) == (f"{a.warmth.wanted_now.low:.1f}", f"{a.warmth.wanted_now.high:.1f}")
    assert [one.least for one in found] == [False, False, False, True]


def test_a_wanted_number_of_young_is_a_band_without_upper_edge(voice: Voice, assessment: Assessment) -> None:
    asked = replace(assessment, count=replace(assessment.count, wanted_young=9))
    count = glances(voice, asked, answered(voice, asked))[-1]
    assert (count.band_low, count.band_high, count.band_word) == ("9", "12", "asked for")
    assert count.least
    none = replace(assessment, count=replace(assessment.count, wanted_young=None))
    assert glances(voice, none, answered(voice, none))[-1].band is None


def test_every_code_that_answers_warmth_or_water_has_its_note() -> None:
    speaking = {code for code in HEADLINES if code.partition(".")[0] in ("warmth", "water") and "." in code}
    assert speaking <= set(NOTES)
    assert set(NOTES) <= all_codes()


@pytest.mark.parametrize("code", sorted(NOTES))
def test_a_note_goes_by_the_advice(voice: Voice, assessment: Assessment, code: str) -> None:
    said = replace(assessment, advice=(sample(code),))
    assert note(voice, said, code.partition(".")[0]) == NOTES[code]


def test_behind_the_calendar_is_only_said_where_the_range_tells(voice: Voice, assessment: Assessment) -> None:
    def told(value: float, half: float) -> str:
        clock = replace(assessment.clock, behind_h=estimate(value, half, "h"))
        return note(voice, replace(assessment, clock=clock, advice=()), "clock").replace(NB, " ")

    assert told(9.0, 4.0) == "9 h (5–13) behind the calendar"
    assert told(-9.0, 4.0) == "9 h (5–13) ahead of the calendar"
    assert told(4.0, 16.0) == "on the calendar, as far as told"


def test_of_the_young_what_is_out_comes_before_what_was_asked_for(voice: Voice, assessment: Assessment) -> None:
    def told(out: int, wanted: int | None) -> str:
        count = replace(assessment.count, out=out, wanted_young=wanted)
        return note(voice, replace(assessment, count=count, advice=()), "count")

    assert told(3, 9) == "3 out, of 12 set"
    assert told(0, 9) == "you asked for 9"
    assert told(0, None) == "of 12 set"


@pytest.mark.parametrize(("hours", "day"), [(0, 0), (23.9, 0), (24.0, 1), (16 * 24 - 0.1, 15)])
def test_days_are_counted_by_24_hours_the_first_being_0(hours: float, day: int) -> None:
    assert day_of(Voice(), 1_000_000, 1_000_000 + hours * 3600, 21.0) == f"day {day} (of 21)"


@pytest.mark.parametrize(
    ("hours", "told"),
    [(0.1, "to be set within a day"), (24.0, "to be set within a day"), (160.0, "to be set in 7 days")],
)
def test_a_batch_that_is_planned_says_when_it_is_to_be_set(hours: float, told: str) -> None:
    assert day_of(Voice(), 1_000_000, 1_000_000 - hours * 3600, 21.0) == told


def test_the_urgency_of_an_answer_is_that_of_its_most_urgent_advice() -> None:
    listed = (sample("warmth.right"), replace(sample("water.raise"), level=Level.ACT), sample("water.odd_egg"))
    assert urgency(listed, "water") is Level.ACT
    assert urgency(listed, "clock") is Level.GOOD
    assert set(LEVELS) == set(Level)


def test_it_is_over_once_the_last_was_to_be_out(assessment: Assessment) -> None:
    end = int(assessment.clock.last_hatch.high)
    assert not over(replace(assessment, as_of=end))
    assert over(replace(assessment, as_of=end + 1))


def test_in_the_pseudo_language_every_word_stands_in_brackets(assessment: Assessment) -> None:
    voice = Voice(language=language(PSEUDO)).of(assessment.zone, assessment.set_at)
    for one in glances(voice, assessment, answered(voice, assessment)):
        for text in (one.word, one.label, one.band_word, one.wanted, one.note):
            assert not text or (text.startswith("⟦") and text.endswith("⟧"))
    assert day_of(voice, 0, DAY_S, 21.0).startswith("⟦")
