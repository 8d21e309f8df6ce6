"""The page of a batch: the term, the four answers in the order of urgency, what to measure next, and the way on."""

import re
from collections.abc import Mapping

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.pages.batch import forecasts
from chalaza.records import acts, answers
from chalaza.records import models as m
from chalaza.values.advice import Level
from chalaza.values.answers import Assessment
from chalaza.words import advice, glance, measures
from chalaza.words.answers import answered
from chalaza.words.cautions import cautions
from chalaza.words.numbers import Preference, Voice

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
UIDS = ("hens-batch", "quail-batch", "ducks-batch")


def _page(pages: Client, uid: str) -> str:
    answer = pages.get(f"/batches/{uid}/")
    assert answer.status_code == 200
    return answer.content.decode()


def _known(uid: str) -> tuple[Voice, Assessment]:
    a = answers.of(uid, NOW).assessment
    return Voice().of(a.zone, a.set_at), a


@pytest.mark.parametrize("uid", UIDS)
def test_each_question_is_answered_with_its_sentence_and_its_figures(pages: Client, shown: Batches, uid: str) -> None:
    text = text_of(_page(pages, uid))
    voice, a = _known(uid)
    for one in answered(voice, a):
        assert text_of(one.sentence).strip() in text
        for line in one.lines[1:]:
            assert text_of(line.figure) in text, line
    for one in glance.glances(voice, a, answered(voice, a)):
        assert text_of(f"{one.parts.value} {one.parts.unit}").strip() in text
        assert text_of(one.parts.range) in text


@pytest.mark.parametrize("uid", UIDS)
def test_the_most_urgent_answer_comes_first(pages: Client, shown: Batches, uid: str) -> None:
    html = _page(pages, uid)
    listed = re.findall(r'<section class="answer" aria-labelledby="(\w+)"', html)[:4]
    _, a = _known(uid)
    assert sorted(listed) == ["clock", "count", "warmth", "water"]
    levels = [glance.urgency(a.advice, one) for one in listed]
    assert levels == sorted(levels, reverse=True)


@pytest.mark.parametrize("uid", UIDS)
def test_all_advice_is_said_with_its_word_its_reason_and_its_cautions(pages: Client, shown: Batches, uid: str) -> None:
    text = text_of(_page(pages, uid))
    voice, a = _known(uid)
    assert a.advice
    for one in a.advice:
        said = advice.say(voice, one)
        assert f"{glance.LEVELS[one.level]} {text_of(said.do)}" in text
        assert text_of(said.because) in text
        for caution in cautions(voice, said.cautions):
            assert text_of(caution).strip() in text


def test_day_date_and_hour_stand_together_and_the_count_is_explained(pages: Client, shown: Batches) -> None:
    text = text_of(_page(pages, "hens-batch"))
    assert "Now Fri 17 April, 18:40: day 15 (of 21). The first 24 hours are day 0." in text
    assert "28 of 28 eggs, in Larder box." in text


def test_what_to_measure_next_is_offered_with_its_form_and_what_else_was_weighed_up(
    pages: Client, shown: Batches
) -> None:
    html = _page(pages, "hens-batch")
    text = text_of(html)
    voice, a = _known("hens-batch")
    assert len(a.measure_next) >= 2
    for one in a.measure_next:
        said = measures.say(voice, one)
        assert text_of(said.do) in text
        assert all(text_of(each) in text for each in said.narrows)
    first = measures.say(voice, a.measure_next[0])
    assert all(text_of(one).strip() in text for one in cautions(voice, first.cautions))
    offer = html.split('aria-labelledby="next"')[1]
    assert re.search(r'class="press" href="/(probes|batches)/[^"]+"', offer)


@pytest.mark.parametrize("uid", UIDS)
def test_every_figure_leads_to_where_it_comes_from(pages: Client, shown: Batches, uid: str) -> None:
    html = _page(pages, uid)
    assert html.count("Where does this number come from?") == 4
    found = set(re.findall(rf'href="(/batches/{uid}/why/[^"]+/)"', html))
    assert len(found) >= 10
    for address in found:
        assert pages.get(address).status_code == 200, address


def test_drawings_come_as_fragments_with_a_way_for_browsers_without_script(pages: Client, shown: Batches) -> None:
    html = _page(pages, "hens-batch")
    for name in ("warmth", "water", "clock", "eggs", "count"):
        address = f"/batches/hens-batch/chart/{name}/"
        assert f'hx-get="{address}" hx-trigger="load"' in html
        assert f'href="{address}"' in html


def test_the_strip_shows_earlier_forecasts_as_they_were_told(pages: Client, unknown: Batches) -> None:
    for days in (9, 5):
        answers.remember("hens-batch", NOW - days * 86_400)
    told = forecasts("hens-batch", NOW)
    assert [round((NOW - one.at) / 86_400) for one in told] == [9, 5]
    text = text_of(_page(pages, "hens-batch"))
    assert "Dashed hill: what was known on day 7" in text


def test_a_batch_that_came_with_beliefs_says_so(pages: Client, shown: Batches) -> None:
    assert "beliefs it came with" not in _page(pages, "ducks-batch")
    from chalaza.assess import prior_beliefs
    from chalaza.exchange.beliefs import rows_of
    from chalaza.records.codec import plain

    batch = m.Batch.objects.get(uid="ducks-batch")
    batch.carried = [plain(one) for one in rows_of(prior_beliefs("duck"))]
    acts.act(m.Keeper.objects.the_one(), "edit", save=[batch])
    assert "It is assessed with the beliefs it came with" in _page(pages, "ducks-batch")


def test_a_batch_that_cannot_be_assessed_says_what_to_add(pages: Client, shown: Batches) -> None:
    rows = [*m.Weighing.objects.filter(batch__uid="ducks-batch"), *m.Egg.objects.filter(batch__uid="ducks-batch")]
    acts.act(m.Keeper.objects.the_one(), "delete", delete=rows)
    html = _page(pages, "ducks-batch")
    assert "This batch cannot be assessed yet." in html
    assert "no eggs: add them one by one or as a counted group" in html
    assert 'href="/batches/ducks-batch/edit/"' in html
    assert '<section class="answer" aria-labelledby="water"' not in html
    speak_pseudo()
    assert unmarked(_page(pages, "ducks-batch"), *keepers_words()) == []


def test_a_kind_nobody_knows_is_no_fault(pages: Client, shown: Batches) -> None:
    batch = m.Batch.objects.get(uid="ducks-batch")
    batch.kind = "griffin {x} <b>"
    acts.act(m.Keeper.objects.the_one(), "edit", save=[batch])
    html = _page(pages, "ducks-batch")
    assert "This batch cannot be assessed yet." in html
    assert "<b>" not in html.split("cannot be assessed")[1].split("</div>")[0]


def test_a_batch_that_is_over_says_since_when_and_offers_to_open_it_again(pages: Client, shown: Batches) -> None:
    batch = m.Batch.objects.get(uid="quail-batch")
    batch.finished_at = NOW - 600
    acts.act(m.Keeper.objects.the_one(), "finish", save=[batch])
    html = _page(pages, "quail-batch")
    assert "over since Fri 17 April, 18:30" in text_of(html)
    assert 'name="reopen"' in html
    assert 'aria-labelledby="next"' not in html


def test_of_a_batch_that_is_over_nothing_is_asked_any_more(pages: Client, shown: Batches) -> None:
    assert "Bring this display to" in text_of(_page(pages, "hens-batch"))
    batch = m.Batch.objects.get(uid="hens-batch")
    batch.finished_at = NOW
    acts.act(m.Keeper.objects.the_one(), "finish", save=[batch])
    text = text_of(_page(pages, "hens-batch"))
    assert "Bring this display to" not in text
    assert "14.5 % (14.2–14.7)" in text.replace("\xa0", " ")


@pytest.mark.parametrize(
    "name", ["weigh", "candle", "mark", "hatch", "open", "event", "note", "edit", "air-cells", "finish"]
)
def test_it_leads_to_every_entry_and_part(pages: Client, shown: Batches, name: str) -> None:
    assert f'href="/batches/hens-batch/{name}/"' in _page(pages, "hens-batch")


def test_names_are_shown_as_they_were_written(pages: Client, shown: Batches) -> None:
    batch = m.Batch.objects.get(uid="hens-batch")
    batch.name = "<script>alert(1)</script> {n} & %s"
    acts.act(m.Keeper.objects.the_one(), "edit", save=[batch])
    html = _page(pages, "hens-batch")
    assert "<script>alert" not in html
    assert "&lt;script&gt;alert(1)&lt;/script&gt; {n} &amp; %s" in html
    assert pages.get("/?fresh=1").status_code == 200


def test_a_reader_of_one_system_gets_that_one_alone(pages: Client, shown: Batches) -> None:
    m.Keeper.objects.update(units=Preference.US)
    html = _page(pages, "hens-batch")
    assert "°F" in html
    assert "°C " not in text_of(html.split('aria-labelledby="next"')[0])


def test_levels_are_told_in_words_too(pages: Client, shown: Batches) -> None:
    html = _page(pages, "hens-batch")
    _, a = _known("hens-batch")
    for level in {one.level for one in a.advice}:
        assert f"{glance.LEVELS[Level(level)]}</span>" in html


@pytest.mark.parametrize("uid", ["nothing", "a b", "~s~t", "%00", "x" * 300])
def test_no_such_batch_is_a_page_that_says_so(pages: Client, stopped: int, uid: str) -> None:
    answer = pages.get(f"/batches/{uid}/")
    assert answer.status_code == 404
    assert "There is no such page" in answer.content.decode()


def test_it_is_only_for_reading_and_reading_changes_no_record(pages: Client, shown: Batches) -> None:
    assert pages.post("/batches/hens-batch/").status_code == 405
    before = (m.Act.objects.count(), m.Change.objects.count())
    _page(pages, "hens-batch")
    assert (m.Act.objects.count(), m.Change.objects.count()) == before


def test_its_queries_are_bounded(pages: Client, shown: Batches) -> None:
    _page(pages, "hens-batch")
    with CaptureQueriesContext(connection) as asked:
        _page(pages, "hens-batch")
    assert len(asked) <= 21


@pytest.mark.parametrize("uid", UIDS)
def test_every_text_went_through_a_lookup(pages: Client, shown: Batches, uid: str) -> None:
    speak_pseudo()
    assert unmarked(_page(pages, uid), *keepers_words()) == []
