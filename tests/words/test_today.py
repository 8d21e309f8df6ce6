"""The home page in words: day and part of the day, how much is asked, what comes first, the margin."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.words.codes import SET_AT
from tests.words.job_codes import job_figures, sample

from chalaza.decide.job import Job, When
from chalaza.values.advice import Level
from chalaza.words import today
from chalaza.words.language import BUILT_IN, PSEUDO
from chalaza.words.numbers import NB, Voice

ZONE = "Europe/Berlin"
VOICE = Voice(zone=ZONE)
#: Friday 17 April 2026, 18:40 in Berlin.
EVENING = 1_776_444_000
MORNING = EVENING - 10 * 3600
DAY_S = 86_400
BATCHES = {"b": ("Speckled hens", VOICE.of(ZONE, SET_AT)), "c": ("Pond ducks", VOICE.of(ZONE, SET_AT))}


def job(code: str = "job.candle", what: str = "", **changes) -> Job:
    one = replace(sample(code), due=EVENING + 3600)
    if what:
        one = replace(one, key=f"{one.batch}/{what}/1")
    level = changes.get("level", one.level)
    return replace(one, advice=replace(one.advice, level=level), **changes)


ALONE = job("job.candle", "leave", level=Level.GOOD)


@pytest.mark.parametrize(
    ("hour", "said"),
    [
        (0.5, "Friday, before dawn"), (4.99, "Friday, before dawn"), (5.0, "Friday morning"), (11.9, "Friday morning"),
        (12.0, "Friday afternoon"), (16.9, "Friday afternoon"), (17.0, "Friday evening"), (21.9, "Friday evening"),
        (22.0, "Friday, late"), (23.9, "Friday, late"), (24.1, "Saturday, before dawn"),
    ],
)  # fmt: skip
def test_the_day_is_named_with_its_part(hour: float, said: str) -> None:
    midnight = EVENING - round(18.0 * 3600 + 40 * 60)
    assert today.greeting(VOICE, midnight + round(hour * 3600)) == said


def test_the_day_is_that_of_the_keepers_clock() -> None:
    assert today.greeting(Voice(zone="Pacific/Auckland"), EVENING) == "Saturday, before dawn"


@given(now=st.integers(0, 4_000_000_000), jobs=st.lists(st.sampled_from(sorted(job_figures())), max_size=5))
def test_the_head_is_whole_sentences_whatever_is_asked(now: int, jobs: list[str]) -> None:
    head = today.headline(VOICE, [job(code) for code in jobs], now, BATCHES)
    for sentence in head.sentences:
        assert sentence[0].isupper() or sentence[0].isdigit()
        assert sentence.endswith(".")
        assert "{" not in sentence


def sentences(*jobs: Job, now: int = EVENING, batches=BATCHES) -> tuple[str, ...]:
    return today.headline(VOICE, jobs, now, batches).sentences


def test_jobs_are_counted_and_what_is_left_alone_is_not_one() -> None:
    three = [job(), job("job.weigh"), job("job.open")]
    assert sentences(*three, ALONE) == ("3 jobs tonight.", "One thing is best left alone.")
    assert sentences(job(), ALONE, ALONE, now=MORNING) == ("One job today.", "2 things are best left alone.")


def test_what_is_done_and_what_comes_tomorrow_is_not_counted_for_today() -> None:
    done, later = job(done_at=EVENING - 60), job("job.open", when=When.TOMORROW)
    assert sentences(job(), done, later) == ("One job tonight.",)
    assert sentences(done, later) == ("Nothing more to do tonight.", "One job tomorrow.")
    assert sentences(done) == ("Nothing more to do tonight.",)
    far = job("job.open", when=When.LATER, due=EVENING + 5 * DAY_S)
    assert [one.replace(NB, " ") for one in sentences(far, now=MORNING)] == [
        "Nothing more to do today.", "The next job is on Wed 22 April.",
    ]  # fmt: skip


def test_of_several_batches_the_one_that_comes_first_is_named_with_its_finding() -> None:
    first = job("job.lockdown", batch="c", level=Level.ACT)
    said = sentences(first, job())
    assert said[:2] == ("2 jobs tonight.", "First: Pond ducks.")
    assert said[2].startswith("The eggs are old enough to lie still")
    assert sentences(first) == ("One job tonight.",), "with one batch there is nothing to choose"
    assert len(sentences(job(), job(batch="c"))) == 1, "nothing of it must be done today"


def test_what_cannot_wait_is_said_so() -> None:
    now = job("job.lockdown", level=Level.NOW, when=When.NOW)
    assert sentences(now, job()) == ("2 jobs tonight.", "One of them cannot wait.")
    assert sentences(now) == ("One job tonight.", "It cannot wait.")
    assert sentences(now, now) == ("2 jobs tonight.", "None of them can wait.")


def test_without_a_batch_the_page_says_so() -> None:
    assert sentences(batches={}) == ("No batch is running.",)


@pytest.mark.parametrize(
    ("when", "now", "said"),
    [
        (When.TODAY, EVENING, "Tonight"), (When.NOW, MORNING, "Today"), (When.TOMORROW, EVENING, "Tomorrow, Saturday"),
        (When.LATER, EVENING, "Later"),
    ],
)  # fmt: skip
def test_each_part_has_its_heading(when: When, now: int, said: str) -> None:
    assert today.heading(VOICE, when, now) == said


@pytest.mark.parametrize(
    ("one", "said"),
    [
        (job(level=Level.NOW, when=When.NOW), "now"),
        (job(due=EVENING + 3600), "by 19:40"),
        (job(due=EVENING - 3600), "since 17:40"),
        (job(due=EVENING - 2 * DAY_S), "since Wed 15 April"),
        (job(due=EVENING + 9 * 3600, when=When.TOMORROW), "by 03:40"),
        (job(due=EVENING + 9 * DAY_S, when=When.LATER), "Sun 26 April"),
        (job(what="turn"), "tonight"),
        (job(what="turn", when=When.TOMORROW), "in the day"),
        (ALONE, "all night"),
    ],
)
def test_the_margin_tells_the_hour_where_there_is_one(one: Job, said: str) -> None:
    assert today.hour(VOICE, one, EVENING).replace(NB, " ") == said


def test_by_day_the_margin_speaks_of_the_day() -> None:
    assert today.hour(VOICE, job(what="turn", due=MORNING + 3600), MORNING) == "today"
    assert today.hour(VOICE, ALONE, MORNING) == "all day"


def test_work_is_told_in_minutes_where_it_is_known() -> None:
    assert today.work(VOICE, job(minutes=17.6)).replace(NB, " ") == "18 min"
    assert today.work(VOICE, job(minutes=0.2)).replace(NB, " ") == "1 min"
    assert today.work(VOICE, job()) == ""


def test_the_head_and_the_margin_are_marked_for_translation() -> None:
    voice = Voice(zone=ZONE, language=BUILT_IN[PSEUDO])
    batches = {uid: ("7", voice.of(ZONE, SET_AT)) for uid in ("b", "c")}
    jobs = [
        job("job.lockdown", batch="c", level=Level.NOW, when=When.NOW), job(), ALONE, job(when=When.TOMORROW),
        job(when=When.LATER), job(due=EVENING - 3600), job(due=EVENING - 2 * DAY_S), job(what="turn"),
        job(what="turn", when=When.TOMORROW),
    ]  # fmt: skip
    for now in (MORNING, EVENING, EVENING + 8 * 3600):
        head = today.headline(voice, jobs, now, batches)
        empty = today.headline(voice, (), now, batches)
        words = [head.title, *head.sentences, *empty.sentences, *(today.heading(voice, when, now) for when in When)]
        words += [today.hour(voice, one, now) for one in jobs]
        words += today.headline(voice, (), now, {}).sentences
        for text in words:
            letters = [one for one in text.replace(f"{NB}h", "") if one.isascii() and one.isalpha()]
            assert letters == [], text
