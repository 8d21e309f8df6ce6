"""Advice in words: every code has its three sentences, every hole its figure, and nothing is said that cannot be known."""

import re
from string import Formatter

import pytest
from tests.words.codes import SET_AT, all_codes, code_figures, sample

from chalaza import facts
from chalaza.assess import assess, prior_beliefs
from chalaza.errors import ChalazaError
from chalaza.scenario import demo
from chalaza.values.advice import Advice, Level
from chalaza.values.estimate import figures
from chalaza.words import answers, measures
from chalaza.words.advice import BAND, LEVELS, TEMPLATES, say
from chalaza.words.language import Plural, Text
from chalaza.words.numbers import Preference, Voice

VOICE = Voice(zone="Europe/Berlin", set_at=SET_AT)
CODES = sorted(all_codes())

#: What the evidence cannot tell (which probe, shell, parent or egg is to blame; life from weight; a number of dead),
#: what blames, and what frightens. From the identifiability table of the worked posteriors, last column.
FORBIDDEN = [
    r"hygrometer (reads|is|shows) .*(high|low|wrong|off)",
    r"(thermometer|probe) (reads|is) .*(high|low|wrong|off)\b",
    r"shells are (thin|thick)|thin shells",
    r"is cracked",
    r"alive because",
    r"fertility (is|of|was) ",
    r"hot and cold spots?|hot spots?|cold spots?",
    r"changes? (of )?air .* an hour",
    r"\d+ (eggs |embryos )?(are |have )?(died|dead)|\b(died|killed) \d+",
    r"(hens|parents|males) (are|were) (at fault|to blame)",
    r"\b(fault|mistake|failed|failure|blame|should have|careless|error|wrong)\b",
    r"!",
    r"(throw|discard|bin) (it|them|the eggs?) (away|out)",
    r"(?<!day )(?<!\d )\bday \d+(?!,)(?! of)",
]


def texts(text: Text) -> list[str]:
    """The forms of a template."""
    return [text.one, text.many] if isinstance(text, Plural) else [text]


def holes(text: Text) -> set[str]:
    """The holes of a template, `band` taken apart."""
    named = {name for form in texts(text) for _, name, _, _ in Formatter().parse(form) if name}
    return (named - {"band"}) | (set(BAND) if "band" in named else set())


def test_every_code_of_decide_has_its_sentences_and_no_other() -> None:
    assert set(TEMPLATES) == all_codes() == set(code_figures())


@pytest.mark.parametrize("code", CODES)
def test_every_hole_has_a_figure_and_every_figure_a_hole(code: str) -> None:
    template = TEMPLATES[code]
    found = holes(template.what) | holes(template.do) | holes(template.because)
    assert found - {"low", "high"} == code_figures()[code] - {"low", "high"}
    assert found >= code_figures()[code]
    for text in (template.what, template.do, template.because):
        assert not isinstance(text, Plural) or text.by in code_figures()[code]


@pytest.mark.parametrize("units", list(Preference))
@pytest.mark.parametrize("n", [1, 12])
@pytest.mark.parametrize("code", CODES)
def test_every_code_is_said_in_whole_sentences_with_a_figure(code: str, n: int, units: Preference) -> None:
    said = say(Voice(zone="Europe/Berlin", set_at=SET_AT, units=units), sample(code, n))
    for sentence in (said.what, said.do, said.because):
        assert re.match(r"[A-Z\d]", sentence), sentence
        assert sentence.endswith("."), sentence
        assert "{" not in sentence
    assert re.search(r"\d", said.what + said.because)
    assert said.level in {"good", "watch", "act", "now"}


@pytest.mark.parametrize("code", CODES)
def test_nothing_is_said_that_cannot_be_known(code: str) -> None:
    said = say(VOICE, sample(code))
    for pattern in FORBIDDEN:
        for sentence in (said.what, said.do, said.because):
            assert not re.search(pattern, sentence, re.IGNORECASE), (pattern, sentence)


@pytest.mark.parametrize("code", CODES)
def test_main_clauses_are_short(code: str) -> None:
    template = TEMPLATES[code]
    for text in (template.what, template.do, template.because):
        for form in texts(text):
            for clause in re.split(r"(?<=[.:;])\s", form):
                assert len(re.sub(r"\{\w+\}", "X", clause).split()) <= 18, clause


def test_two_counts_are_said_in_two_forms() -> None:
    one, many = (say(VOICE, sample("warmth.gaps", n)).what for n in (1, 3))
    assert one.startswith("The log has a gap of")
    assert many.startswith("The log has 3 gaps,")


def test_the_sentence_of_a_dry_batch_reads_as_it_should() -> None:
    said = say(VOICE, sample("water.raise"))
    plain = said.do.replace("\u00a0", " "), said.because.replace("\u00a0", " ")
    assert plain[0] == "Add water surface until this display shows 53 % (49–57). It shows 53 % (49–57) now."
    assert plain[1] == "If nothing changes 12.1 % (11.7–12.5) will be lost by lockdown. 11.0–13.5 % is wanted."
    assert said.cautions == ("mains_water",)


def test_a_code_without_sentences_is_refused() -> None:
    with pytest.raises(ChalazaError, match=r"no sentences for the code 'water\.new'"):
        say(VOICE, Advice("water.new", Level.GOOD, figures(), "practice"))


def test_every_level_has_its_word() -> None:
    assert set(LEVELS) == set(Level)


def test_every_caution_of_an_act_is_in_the_table() -> None:
    known = {row["caution"] for row in facts.table("cautions")}
    named = {key for template in TEMPLATES.values() for key in template.cautions}
    named |= {key for check in measures.CHECKS.values() for key in check.cautions}
    assert named <= known


@pytest.mark.parametrize(
    ("act", "caution"),
    [
        ("water.raise", "mains_water"), ("water.lower", "mains_water"), ("water.not_all", "mains_water"),
        ("count.candle", "wash_hands"), ("clock.wait", "lid_shut"), ("warmth.too_cold", "no_flame"),
        ("warmth.too_hot", "heat_look"), ("clock.over", "dispatch"), ("count.leave_unsure", "one_look"),
    ],
)  # fmt: skip
def test_cautions_stand_where_the_act_is(act: str, caution: str) -> None:
    assert caution in TEMPLATES[act].cautions


def test_a_set_point_is_moved_only_by_a_step_and_only_where_the_probe_is_checked() -> None:
    moved = {code for code, each in TEMPLATES.items() for text in texts(each.do) if "set point" in text}
    assert moved == {"warmth.step_up", "warmth.step_down"}
    for code in moved:
        assert "{step}" in str(TEMPLATES[code].do)
        assert "checked probe" in str(TEMPLATES[code].because)


@pytest.mark.parametrize("days_on", [0, 3, 9])
def test_the_figures_that_decide_gives_are_those_of_its_source(days_on: int) -> None:
    now = 1_776_450_000
    for evidence in demo.batches(now, 20 + days_on).values():
        a = assess(prior_beliefs(evidence.batch.kind), evidence, now + days_on * 86_400)
        voice = VOICE.of(a.zone, a.set_at)
        for one in a.advice:
            assert set(one.figures) == code_figures()[one.code]
            said = say(voice, one)
            for sentence in (said.what, said.do, said.because):
                assert not any(re.search(pattern, sentence, re.IGNORECASE) for pattern in FORBIDDEN), sentence
        for answer in answers.answered(voice, a):
            assert not any(re.search(pattern, answer.sentence, re.IGNORECASE) for pattern in FORBIDDEN), answer.sentence
