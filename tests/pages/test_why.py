"""Where a number comes from: every figure there is, and every sentence that holds one."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza import facts
from chalaza.pages.home import jobs_of, seen_of
from chalaza.pages.keeper import Asked, voice_of
from chalaza.records import acts, answers
from chalaza.records import models as m
from chalaza.values.estimate import Estimate
from chalaza.words import basis, figure_names
from chalaza.words.numbers import Voice

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]


def _why(pages: Client, uid: str, figure: str) -> str:
    answer = pages.get(f"/batches/{uid}/why/{figure}/")
    assert answer.status_code == 200, figure
    return answer.content.decode()


@pytest.mark.parametrize("uid", ["hens-batch", "quail-batch", "ducks-batch"])
def test_it_works_on_every_figure_of_the_answers(pages: Client, shown: Batches, uid: str) -> None:
    a = answers.of(uid, NOW).assessment
    voice = Voice().of(a.zone, a.set_at)
    every = figure_names.every(a)
    assert len(every) > 30
    named = {figure_names.name_of(path): path for path in every}  # one of each sort: all eggs are alike
    for path in named.values():
        text = text_of(_why(pages, uid, path))
        assert text_of(figure_names.said(voice, path, every[path])) in text
        told = basis.explain(voice, every[path].basis)
        assert text_of(told.method) in text
        for source in told.sources:
            assert text_of(source.cite) in text


def test_sources_lead_to_their_list_with_how_far_they_were_checked(pages: Client, shown: Batches) -> None:
    html = _why(pages, "hens-batch", "water.loss_at_lockdown")
    figure = answers.of("hens-batch", NOW).assessment.water.loss_at_lockdown
    assert figure.basis.sources
    for key in figure.basis.sources:
        status = basis.STATUSES[facts.sources()[key].status]
        assert f'<a href="/sources/#{key}">' in html
        assert f"<em>{status}</em>" in html
    assert "wanted by" in html


def test_the_records_a_figure_rests_on_are_listed(pages: Client, shown: Batches) -> None:
    html = _why(pages, "hens-batch", "water.loss_at_lockdown")
    text = text_of(html)
    weighings = m.Weighing.objects.filter(batch__uid="hens-batch")
    assert f"{weighings.count()} records" in text
    first = weighings.order_by("at").first()
    assert first is not None
    assert f"{first.gross_g:.1f} g" in text
    probe = m.Probe.objects.filter(mounts__machine__uid="larder-box").first()
    log = m.Source.objects.filter(chunks__probe=probe).first()
    assert probe is not None
    assert log is not None
    assert f'<a href="/probes/{probe.uid}/">{probe.name}</a>' in html
    assert f'<a href="/logs/{log.uid}/">{log.name}</a>' in html
    chunks = m.Chunk.objects.filter(probe__mounts__machine__uid="larder-box").distinct()
    assert f"{sum(one.n for one in chunks):,}".replace(",", " ") in text


def test_a_figure_that_rests_on_no_weighing_lists_none(pages: Client, shown: Batches) -> None:
    assert 'id="weighings"' not in _why(pages, "hens-batch", "warmth.reading")
    assert 'id="readings"' in _why(pages, "hens-batch", "warmth.reading")


def test_checks_of_the_probe_are_listed_once_there_are_any(pages: Client, shown: Batches) -> None:
    probe = m.Probe.objects.filter(mounts__machine__uid="larder-box").first()
    assert probe is not None
    check = m.ProbeCheck(probe=probe, at=NOW - 3600, sort="ice", reading_degc=0.3, reference_degc=0.0)
    acts.act(m.Keeper.objects.the_one(), "check", save=[check])
    text = text_of(_why(pages, "hens-batch", "warmth.shell_now"))
    assert "in ice water 0.3 °C" in text


@pytest.mark.parametrize("uid", ["hens-batch", "quail-batch", "ducks-batch"])
def test_it_works_on_every_sentence_of_advice_and_every_job(pages: Client, shown: Batches, uid: str) -> None:
    request = Asked()
    request.keeper = m.Keeper.objects.the_one()
    request.voice, request.now = voice_of(request.keeper), NOW
    seen = seen_of(request, m.Batch.objects.get(uid=uid))
    assert seen.a is not None
    jobs = jobs_of(seen, {}, NOW, request.voice.zone)
    assert jobs
    for one in (*seen.a.advice, *(job.advice for job in jobs)):
        html = _why(pages, uid, f"said.{one.code}")
        if one.source:
            assert f"/sources/#{one.source}" in html, one.code
        figures = [each for each in one.figures.values() if isinstance(each, Estimate)]
        paths = {figure_names.path_of(seen.a, each) for each in figures} - {""}
        assert html.count('<dl class="basis">') == len(paths), one.code


@pytest.mark.parametrize(
    "figure", ["nothing", "water", "water.eggs.99.loss_now", "said.job.nothing", "water.raise", "water.loss_now.value"]
)
def test_no_such_figure_is_a_page_that_says_so(pages: Client, shown: Batches, figure: str) -> None:
    assert pages.get(f"/batches/hens-batch/why/{figure}/").status_code == 404


def test_no_such_batch_is_a_page_that_says_so(pages: Client, stopped: int) -> None:
    assert pages.get("/batches/nothing/why/water.loss_now/").status_code == 404


def test_of_a_batch_that_cannot_be_assessed_it_says_why_there_is_none(pages: Client, shown: Batches) -> None:
    rows = [*m.Weighing.objects.filter(batch__uid="ducks-batch"), *m.Egg.objects.filter(batch__uid="ducks-batch")]
    acts.act(m.Keeper.objects.the_one(), "delete", delete=rows)
    assert "no eggs" in _why(pages, "ducks-batch", "water.loss_now")


def test_it_is_only_for_reading(pages: Client, shown: Batches) -> None:
    assert pages.post("/batches/hens-batch/why/water.loss_now/").status_code == 405


@pytest.mark.parametrize("figure", ["water.loss_at_lockdown", "clock.half_hatched", "warmth.drift", "count.alive"])
def test_every_text_went_through_a_lookup(pages: Client, shown: Batches, figure: str) -> None:
    speak_pseudo()
    for uid in ("hens-batch", "quail-batch"):
        assert unmarked(_why(pages, uid, figure), *keepers_words()) == []
    a = answers.of("hens-batch", NOW).assessment
    for one in a.advice:
        assert unmarked(_why(pages, "hens-batch", f"said.{one.code}"), *keepers_words()) == []
