"""The page of the day: the jobs of all running batches and what is known of each, at the hour it was known."""

import re
from collections.abc import Mapping
from dataclasses import replace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW, put

from chalaza.decide.today import merge
from chalaza.pages.home import jobs_of, seen_of
from chalaza.pages.keeper import Asked, voice_of
from chalaza.records import acts, answers
from chalaza.records import models as m
from chalaza.scenario import demo
from chalaza.values.advice import Level
from chalaza.words import today as words
from chalaza.words.cautions import cautions

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]


def _asked(now: int = NOW) -> Asked:
    request = Asked()
    request.keeper = m.Keeper.objects.the_one()
    request.voice, request.now = voice_of(request.keeper), now
    return request


def _home(pages: Client, path: str = "/", **headers: str) -> str:
    answer = pages.get(path, headers=headers)
    assert answer.status_code == 200
    return answer.content.decode()


def _fresh(pages: Client) -> str:
    return _home(pages, "/?fresh=1")


# What it shows -----------------------------------------------------------------------------------------------------


def test_every_open_job_is_said_with_its_reason_and_its_cautions(pages: Client, shown: Batches) -> None:
    text = text_of(_fresh(pages))
    seen = [seen_of(_asked(), one) for one in shown.values()]
    said = 0
    for one in seen:
        for job in jobs_of(one, {}, NOW, "Europe/Berlin"):
            if job.done or job.when.value == "later":
                continue
            sentences = words.say(one.voice, job)
            for part in (sentences.do, sentences.because, *cautions(one.voice, sentences.cautions)):
                assert text_of(part).strip() in text
            said += 1
    assert said >= 5


def test_what_needs_attention_comes_first(pages: Client, shown: Batches) -> None:
    html = _fresh(pages)
    seen = {one.uid: seen_of(_asked(), one) for one in shown.values()}
    jobs = merge(jobs_of(one, {}, NOW, "Europe/Berlin") for one in seen.values())
    listed = [job for job in jobs if not job.done and job.when.value in ("now", "today")]
    places = [text_of(html).index(text_of(words.say(seen[job.batch].voice, job).do).strip()) for job in listed[:3]]
    assert places == sorted(places)
    levels = [job.level for job in listed]
    assert levels == sorted(levels, reverse=True)
    assert listed[0].level >= Level.ACT


def test_figures_on_the_page_are_those_of_the_answers(pages: Client, shown: Batches) -> None:
    text = text_of(_fresh(pages))
    for one in shown.values():
        a = answers.of(one.uid, NOW).assessment
        loss, low, high = (100.0 * part for part in (a.water.loss_at_lockdown.value, a.water.loss_at_lockdown.low,
                                                     a.water.loss_at_lockdown.high))  # fmt: skip
        assert (
            f"{loss:.1f} % ({low:.1f}–{high:.1f} )" in text
            or f"{loss:.1f} % ( {low:.1f}–{high:.1f} )" in text
            or (f"{loss:.1f} % ({low:.1f}–{high:.1f})" in text)
        )
        assert one.name in text


def test_every_estimate_leads_to_where_it_comes_from(pages: Client, shown: Batches) -> None:
    html = _fresh(pages)
    for one in shown.values():
        for figure in ("warmth.shell_now", "water.loss_at_lockdown", "clock.half_hatched", "count.expected_young"):
            address = f"/batches/{one.uid}/why/{figure}/"
            assert f'href="{address}"' in html
            assert pages.get(address).status_code == 200
    for address in set(re.findall(r'href="(/batches/[^"]+/why/[^"]+/)"', html)):
        assert pages.get(address).status_code == 200, address


def test_a_finished_batch_is_not_on_it(pages: Client, shown: Batches) -> None:
    quail = m.Batch.objects.get(uid=shown["orchard-quail"].uid)
    quail.finished_at = NOW - 60
    acts.act(m.Keeper.objects.the_one(), "finish", save=[quail])
    text = text_of(_fresh(pages))
    assert "Orchard quail" not in text
    assert "2 batches on one calendar" in text


# How fresh it is ---------------------------------------------------------------------------------------------------


def test_it_computes_nothing(pages: Client, unknown: Batches, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(*_: object, **__: object) -> None:
        raise AssertionError("the page of the day computed an answer")

    monkeypatch.setattr(answers, "understand", refused)
    html = _home(pages)
    assert m.Answer.objects.count() == 0
    assert "Not assessed yet." in html
    first = m.Batch.objects.order_by("id").first()
    assert first is not None
    assert f'hx-get="/batches/{first.uid}/line/"' in html
    assert "3 batches are being brought up to date." in text_of(html)
    assert 'href="/?fresh=1"' in html


def test_what_is_stale_is_shown_with_its_hour_until_it_came_up_to_date(
    pages: Client, shown: Batches, monkeypatch: pytest.MonkeyPatch
) -> None:
    _fresh(pages)
    monkeypatch.setenv("CHALAZA_CLOCK", str(NOW + 1800))
    text = text_of(_home(pages))
    hour = text_of(words.numbers.clock(_asked().voice, NOW - NOW % 600))
    assert text.count(f"as of {hour}") == 3
    assert "3 batches are being brought up to date." in text


def test_one_batch_after_the_other_comes_up_to_date_and_then_the_page(pages: Client, unknown: Batches) -> None:
    asked, seen = "/batches/hens-batch/line/", []
    for _ in range(4):
        seen.append(asked)
        answer = pages.get(asked, headers={"HX-Request": "true"})
        html = answer.content.decode()
        found = re.search(r'hx-get="([^"]+)"', html)
        if 'id="today"' in html:
            break
        assert found is not None
        asked = found[1]
    assert len(seen) == len(set(seen)) == 3
    assert answer["HX-Retarget"] == "#today"
    assert "Not assessed yet." not in html
    assert "being brought up to date" not in html
    assert m.Answer.objects.count() == 3


def test_without_script_the_fragment_leads_to_the_whole_page(pages: Client, shown: Batches) -> None:
    answer = pages.get("/batches/hens-batch/line/")
    assert (answer.status_code, answer["Location"]) == (302, "/?fresh=1")


def test_a_batch_that_cannot_be_assessed_says_why_and_holds_nothing_up(pages: Client, shown: Batches) -> None:
    eggs = list(m.Egg.objects.filter(batch=shown["pond-ducks"]))
    rows = [*m.Weighing.objects.filter(batch=shown["pond-ducks"]), *eggs]
    acts.act(m.Keeper.objects.the_one(), "delete", delete=rows)
    html = pages.get("/batches/ducks-batch/line/", headers={"HX-Request": "true"}).content.decode()
    assert 'id="today"' in html
    assert "no eggs: add them one by one or as a counted group" in html
    assert 'hx-trigger="load"' not in html
    assert "as of" in html  # the two others


def test_ten_batches_cost_no_more_queries_than_three(pages: Client, empty: None) -> None:
    ducks = demo.batches(NOW)["pond-ducks"]
    for i in range(10):
        put(
            replace(
                ducks, batch=replace(ducks.batch, uid=f"batch-{i}"), lots=(), weighings=(), candlings=(), notes=(), events=(),
                stays=tuple(replace(one, uid=f"{one.uid}-{i}", batch=f"batch-{i}") for one in ducks.stays),
                eggs=tuple(replace(one, uid=f"{one.uid}-{i}", lot=None) for one in ducks.eggs),
            )
        )  # fmt: skip
    _fresh(pages)
    answers.forget()
    with CaptureQueriesContext(connection) as cold:
        text = text_of(_home(pages))
    with CaptureQueriesContext(connection) as warm:
        _home(pages)
    assert "10 batches on one calendar" in text
    assert "being brought up to date" not in text
    assert len(cold) <= 15
    assert len(warm) <= 14


# An empty notebook, other ways in -----------------------------------------------------------------------------------


def test_an_empty_notebook_names_the_first_useful_act_and_what_one_has_without_it(pages: Client, empty: None) -> None:
    html = _home(pages)
    assert 'class="press" href="/begin/"' in html
    assert 'href="/facts/"' in html
    assert 'href="/sources/"' in html
    text = text_of(html)
    assert "hens' eggs hatch after 21 days, and of their weight 11.0–13.5 % is to be lost by day 18" in text
    assert "demonstration" in text
    assert "/line/" not in html


def test_where_all_batches_are_over_the_next_one_is_offered(pages: Client, shown: Batches) -> None:
    for one in m.Batch.objects.all():
        one.finished_at = NOW
        acts.act(m.Keeper.objects.the_one(), "finish", save=[one])
    html = _home(pages)
    assert "No batch is running." in html
    assert 'href="/begin/"' in html
    assert 'href="/batches/"' in html


def test_it_is_only_for_reading_and_reading_changes_no_record(pages: Client, shown: Batches) -> None:
    assert pages.post("/").status_code == 405
    assert pages.post("/batches/hens-batch/line/").status_code == 405
    before = (m.Act.objects.count(), m.Change.objects.count(), m.Batch.objects.get(uid="hens-batch").revision)
    _home(pages)
    _fresh(pages)
    pages.get("/batches/hens-batch/line/", headers={"HX-Request": "true"})
    assert (m.Act.objects.count(), m.Change.objects.count(), m.Batch.objects.get(uid="hens-batch").revision) == before


def test_no_such_batch_is_a_page_that_says_so(pages: Client, stopped: int) -> None:
    assert pages.get("/batches/nothing/line/", headers={"HX-Request": "true"}).status_code == 404


def test_every_text_went_through_a_lookup(pages: Client, shown: Batches) -> None:
    speak_pseudo()
    for html in (_home(pages), _fresh(pages)):
        assert unmarked(html, *keepers_words()) == []


def test_every_text_of_an_empty_notebook_went_through_a_lookup(pages: Client, empty: None) -> None:
    speak_pseudo()
    assert unmarked(_home(pages)) == []
