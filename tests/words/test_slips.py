"""Questions about slips in words: odd, expected, meant, and the ways out."""

import pytest

from chalaza.decide import slips as find
from chalaza.decide.slips import OnScale, Span, Typed
from chalaza.intake import misread
from chalaza.words import slips
from chalaza.words.language import OPEN, PSEUDO, language
from chalaza.words.numbers import Voice

EGG = OnScale(expected=Span(52.3, 54.0), first=60.4, loss=0.12, last=56.8)
PLAIN = Voice(zone="Europe/Berlin")


def test_a_question_names_what_is_odd_what_was_expected_and_what_was_meant() -> None:
    slip = find.mass(Typed(35.1, 1), EGG)
    assert slip is not None
    asked = slips.figure(PLAIN, slip, unit="g", decimals=1)
    assert asked.odd == "35.1\u00a0g would be 42\u00a0% lost."
    assert asked.expected == "52.3–54.0\u00a0g was expected."
    assert asked.meant == ("Two figures swapped? Then it is 53.1\u00a0g.",)
    assert asked.ways == (slips.Way("53.1", "53.1\u00a0g"),)
    assert (asked.again, asked.keep) == ("Weigh again", "Keep 35.1\u00a0g")


def test_a_moment_to_come_offers_yesterday_and_cannot_be_kept() -> None:
    now, at = 1_776_444_000, 1_776_450_000  # 20:20 on Friday 17 April; typed 18:40 is past, 20:20 is not
    slip = find.moment(at, now=now, begin=now - 16 * 86400, others=misread.moments(at, "Europe/Berlin"))
    assert slip is not None
    asked = slips.moment(PLAIN, slip)
    assert asked.odd == "Fri\u00a017\u00a0April\u00a02026,\u00a020:20 is still to come."
    assert asked.ways[0].value == "2026-04-16T20:20"
    assert asked.keep == ""


def test_a_tare_that_is_wrong_offers_a_tare() -> None:
    slip = find.load(
        Typed(1910.0, 0), 0.0, OnScale(expected=Span(1270.0, 1290.0), first=1450.0, loss=0.12), remembered=620.0
    )
    assert slip is not None
    asked = slips.figure(PLAIN, slip, unit="g", decimals=0)
    assert asked.field == "tare"
    assert asked.ways[0] == slips.Way("620", "620\u00a0g")


@pytest.mark.parametrize(
    "slip",
    [
        find.mass(Typed(35.1, 1), EGG),
        find.mass(Typed(3.1, 1), EGG),
        find.mass(Typed(75.1, 1), EGG),
        find.mass(Typed(6.1, 1), OnScale(expected=Span(48.0, 68.0))),
        find.mass(Typed(1400.0, 1), OnScale(expected=Span(52.3, 54.0), first=60.4, tray=Span(1200.0, 1700.0))),
        find.load(Typed(1280.0, 0), 310.0, OnScale(expected=Span(1270.0, 1290.0), first=1450.0, loss=0.12)),
        find.load(Typed(90.0, 0), 0.0, OnScale(expected=Span(1270.0, 1290.0), first=1450.0, loss=0.12)),
        find.load(Typed(9000.0, 0), 0.0, OnScale(expected=Span(1270.0, 1290.0), first=1450.0, loss=0.12)),
        find.depth(Typed(3.0, 1), Span(7.5, 9.5), last=8.0),
        find.depth(Typed(0.8, 1), Span(7.5, 9.5)),
        find.temperature(Typed(99.5, 1), find.box("°C"), {"°F": 37.5}),
        find.humidity(0.45),
    ],
)  # fmt: skip
def test_every_slip_has_words_without_a_hole_left_and_in_another_language(slip: find.Slip | None) -> None:
    assert slip is not None
    asked = slips.figure(PLAIN, slip, unit="g", decimals=1)
    for text in (*asked.text, asked.again, asked.keep, slips.WHICH):
        assert text
        assert "{" not in text
    other = slips.figure(Voice(language=language(PSEUDO)), slip, unit="g", decimals=1)
    assert all(text.startswith(OPEN) for text in (*other.text, other.again, other.keep))
