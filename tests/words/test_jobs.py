"""Jobs in words: every code has its three sentences, every hole its figure, and cautions stand where the act is."""

import re
from string import Formatter

import pytest
from tests.words.codes import SET_AT, all_codes
from tests.words.codes import sample as advice_sample
from tests.words.job_codes import job_figures, sample
from tests.words.test_advice import FORBIDDEN

from chalaza import facts
from chalaza.assess import assess, prior_beliefs
from chalaza.decide.asks import ASKS
from chalaza.decide.job import Job, When
from chalaza.decide.today import today
from chalaza.errors import ChalazaError
from chalaza.scenario import demo
from chalaza.values.advice import Advice, Level
from chalaza.values.estimate import figures
from chalaza.words import advice as advice_words
from chalaza.words.advice import BAND
from chalaza.words.jobs import BANDS, FIGURES, JOBS, say
from chalaza.words.language import BUILT_IN, PSEUDO, Plural, Text
from chalaza.words.numbers import NB, Preference, Voice

VOICE = Voice(zone="Europe/Berlin", set_at=SET_AT)
CODES = sorted(job_figures())


def texts(text: Text) -> list[str]:
    return [text.one, text.many] if isinstance(text, Plural) else [text]


def holes(text: Text) -> set[str]:
    named = {name for form in texts(text) for _, name, _, _ in Formatter().parse(form) if name}
    return (named - {"band"}) | (set(BAND) if "band" in named else set())


def test_every_code_of_a_job_has_its_sentences_and_no_other() -> None:
    assert set(JOBS) == set(job_figures())
    assert len(CODES) > 30
    assert not set(JOBS) & all_codes()


@pytest.mark.parametrize("code", CODES)
def test_every_hole_has_a_figure_and_every_figure_a_hole(code: str) -> None:
    template = JOBS[code]
    assert holes(template.what) | holes(template.do) | holes(template.because) == job_figures()[code]
    for text in (template.what, template.do, template.because):
        assert not isinstance(text, Plural) or text.by in job_figures()[code]


def test_every_figure_has_a_way_to_be_spoken_and_none_is_idle() -> None:
    used = {name for names in job_figures().values() for name in names}
    assert set(FIGURES) == used - set(BAND)
    assert set(BANDS) == {code for code, names in job_figures().items() if set(BAND) <= names}


@pytest.mark.parametrize("units", list(Preference))
@pytest.mark.parametrize("n", [1, 12])
@pytest.mark.parametrize("code", CODES)
def test_every_code_is_said_in_whole_sentences_with_a_figure(code: str, n: int, units: Preference) -> None:
    said = say(Voice(zone="Europe/Berlin", set_at=SET_AT, units=units), sample(code, n))
    for sentence in (said.what, said.do, said.because):
        assert re.match(r"[A-Z\d±]", sentence), sentence
        assert sentence.endswith("."), sentence
        assert "{" not in sentence
        assert not any(re.search(pattern, sentence, re.IGNORECASE) for pattern in FORBIDDEN), sentence
    assert re.search(r"\d", said.what + said.because)
    if code != "job.cool":  # its reason is a note of the tables
        assert re.search(r"\d", said.because)


@pytest.mark.parametrize("code", CODES)
def test_main_clauses_are_short(code: str) -> None:
    for text in (JOBS[code].what, JOBS[code].do, JOBS[code].because):
        for form in texts(text):
            for clause in re.split(r"(?<=[.:;,])\s", form):
                assert len(re.sub(r"\{\w+\}", "X", clause).split()) <= 18, clause


@pytest.mark.parametrize("code", CODES)
def test_the_pseudo_language_leaves_no_word_unmarked(code: str) -> None:
    voice = Voice(zone="Europe/Berlin", set_at=SET_AT, language=BUILT_IN[PSEUDO])
    said = say(voice, sample(code))
    for sentence in (said.what, said.do, said.because):
        assert sentence.startswith("⟦")
        assert sentence.endswith("⟧")
        bare = re.sub(r"A3, A4|(?<=\d\u00a0)h\b", "", sentence)
        assert re.findall(r"[A-Za-z]+", bare) == [], sentence


def test_a_job_that_is_an_advice_is_said_as_the_advice_is() -> None:
    for code in (*ASKS, "clock.wait", "clock.overdue", "count.leave_unsure", "warmth.right", "warmth.check_first"):
        advice = advice_sample(code)
        job = Job(key="b/x/1", batch="b", code=code, level=advice.level, due=0, advice=advice, when=When.TODAY)
        assert say(VOICE, job) == advice_words.say(VOICE, advice)


def test_a_job_without_sentences_is_refused() -> None:
    advice = Advice("job.new", Level.WATCH, figures(), "practice")
    with pytest.raises(ChalazaError, match=r"no sentences for the job 'job\.new'"):
        say(
            VOICE,
            Job(key="b/new/1", batch="b", code="job.new", level=Level.WATCH, due=0, advice=advice, when=When.TODAY),
        )


def test_the_sentences_of_a_lift_read_as_they_should() -> None:
    said = say(VOICE, sample("job.young", 24, within=24.0, most=48.0, first=SET_AT))
    assert said.do == "Move the 24 young under heat once they are dry, with water and feed."
    assert said.because.replace(NB, " ") == (
        "The first was seen out Sun 12 April, 15:20. First water and feed are due within 24 h, 48 h at most."
    )
    assert say(VOICE, sample("job.young", 1, within=24.0, most=48.0, first=SET_AT)).do.startswith(
        "Move the young under"
    )


@pytest.mark.parametrize(
    ("act", "caution"),
    [
        ("job.young", "wash_hands"), ("job.young", "heat_lamp"), ("job.young", "children"), ("job.heat", "heat_lamp"),
        ("job.heat", "cut_out"), ("job.hand_feeder", "hand_fed"), ("job.wetter", "mains_water"), ("job.candle", "one_look"),
        ("job.candle_spell", "one_look"), ("job.open", "rotten_burst"), ("job.open", "dispatch"), ("job.open", "late_eggs"),
        ("job.open", "never_eat"), ("job.clean", "chlorine"), ("job.clean", "fluff"), ("job.clean", "mains_water"),
        ("job.pips", "lid_shut"), ("job.weigh", "misting_weigh"), ("job.cool", "misting_weigh"),
        ("job.ice.hatch", "ice_only"), ("job.salt.loss", "salts"),
    ],
)  # fmt: skip
def test_cautions_stand_where_the_act_is(act: str, caution: str) -> None:
    assert caution in JOBS[act].cautions


def test_every_caution_of_a_job_is_in_the_table() -> None:
    assert {key for one in JOBS.values() for key in one.cautions} <= {row["caution"] for row in facts.table("cautions")}


def test_no_job_moves_a_set_point() -> None:
    for template in JOBS.values():
        for form in texts(template.do):
            assert not re.search(r"set point|dial|turn (the heat|it) (up|down)", form)


@pytest.mark.parametrize("days_on", [0, 2, 5, 9])
def test_the_jobs_of_the_demonstration_are_said_with_all_their_figures(days_on: int) -> None:
    now = 1_776_450_000
    said = []
    for evidence in demo.batches(now, 20).values():
        at = now + days_on * 86_400
        a = assess(prior_beliefs(evidence.batch.kind), evidence, at)
        voice = VOICE.of(a.zone, a.set_at)
        for job in today(
            a, bird=facts.kind(a.kind), batch=evidence.batch, eggs=evidence.eggs, weighings=evidence.weighings,
            candlings=evidence.candlings, hatches=evidence.hatches, breakouts=evidence.breakouts, stays=evidence.stays,
            events=(*evidence.setting.events, *evidence.events), now=at, zone=a.zone, later=True,
        ):  # fmt: skip
            one = say(voice, job)
            # The reason for cooling is a text of the tables, which names days as its source does.
            said += [one.what, one.do, *([] if job.code == "job.cool" else [one.because])]
    assert len(said) > 10
    assert not [each for each in said if any(re.search(pattern, each, re.IGNORECASE) for pattern in FORBIDDEN)]
