"""Answers are the only cache: what is kept equals what is computed anew, and dropping it costs time alone."""

import random

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from chalaza.errors import EvidenceError
from chalaza.records import acts, answers, beliefs, series
from chalaza.records import models as m
from chalaza.records.codec import built, plain
from chalaza.values.answers import Assessment

from .demo import NOW, put_all
from .test_acts import _random_act

pytestmark = pytest.mark.django_db


def _fresh(uid: str, now: int) -> Assessment:
    answers.forget()
    return answers.understood(uid, now).assessment


def test_every_kept_answer_equals_a_fresh_one_after_any_series_of_acts() -> None:
    put_all()
    rng, done = random.Random(4), []
    for i in range(30):
        step = rng.randrange(4)
        if step == 0 and done:
            try:
                acts.undo(m.Keeper.objects.the_one(), done.pop())
            except acts.Entangled:
                continue
        elif step < 3:
            done.append(_random_act(rng))
        for batch in m.Batch.objects.all():
            now = NOW + i * 200
            kept = answers.of(batch.uid, now).assessment
            assert answers.of(batch.uid, now).assessment == kept
            assert _fresh(batch.uid, now) == kept


def test_dropping_the_table_changes_nothing_but_time() -> None:
    batches = put_all()
    before = {uid.uid: answers.of(uid.uid, NOW).assessment for uid in batches.values()}
    m.Answer.objects.all().delete()
    answers.forget()
    assert {uid: answers.of(uid, NOW).assessment for uid in before} == before


def test_an_answer_survives_its_form_in_the_database() -> None:
    for batch in put_all().values():
        a = answers.of(batch.uid, NOW).assessment
        assert built(Assessment, plain(a)) == a


def test_within_ten_minutes_every_viewer_sees_the_same_figures() -> None:
    uid = put_all()["speckled-hens"].uid
    first = answers.of(uid, NOW - NOW % 600)
    assert answers.of(uid, NOW - NOW % 600 + 599) == first
    assert answers.of(uid, NOW - NOW % 600 + 600).as_of == first.as_of + 600
    assert m.Answer.objects.count() == 1


def test_what_was_just_entered_is_seen_before_the_next_tick(monkeypatch: pytest.MonkeyPatch) -> None:
    uid = put_all()["speckled-hens"].uid
    tick = NOW - NOW % 600
    first = answers.of(uid, tick)
    assert first.as_of == tick
    monkeypatch.setenv("CHALAZA_CLOCK", str(tick + 200))
    egg = m.Egg.objects.filter(batch__uid=uid).first()
    assert egg is not None
    acts.act(m.Keeper.objects.the_one(), "weigh",
             save=[m.Weighing(batch_id=uid, at=tick + 190, eggs=egg.uid, gross_g=40.0)])  # fmt: skip
    seen = answers.of(uid, tick + 200)
    assert seen.as_of == tick + 200
    assert seen.assessment.water.weighings == first.assessment.water.weighings + 1
    assert answers.of(uid, tick + 599) == seen
    assert answers.of(uid, tick + 600).as_of == tick + 600
    assert answers.of(uid, tick).as_of == tick


def test_an_act_that_is_undone_leaves_no_stale_answer() -> None:
    uid = put_all()["speckled-hens"].uid
    before = answers.of(uid, NOW).assessment
    egg = m.Egg.objects.filter(batch__uid=uid).first()
    assert egg is not None
    done = acts.act(m.Keeper.objects.the_one(), "weigh",
                    save=[m.Weighing(batch_id=uid, at=NOW - 600, eggs=egg.uid, gross_g=40.0)])  # fmt: skip
    assert answers.of(uid, NOW).assessment != before
    acts.undo(m.Keeper.objects.the_one(), done)
    assert answers.of(uid, NOW).assessment == before


def test_the_first_answer_of_a_day_is_kept_for_good() -> None:
    uid = put_all()["speckled-hens"].uid
    first = answers.of(uid, NOW).assessment
    answers.of(uid, NOW + 1200)
    kept = m.Forecast.objects.get(batch=uid)
    assert kept.figures["half_hatched"]["value"] == first.clock.half_hatched.value
    answers.of(uid, NOW + 86_400)
    assert m.Forecast.objects.filter(batch=uid).count() == 2


def test_a_withdrawn_log_no_longer_speaks() -> None:
    uid = put_all()["speckled-hens"].uid
    before = answers.of(uid, NOW).assessment
    source = m.Source.objects.filter(chunks__probe__uid="p1").distinct().get()
    source.withdrawn = True
    done = acts.act(m.Keeper.objects.the_one(), "withdraw", save=[source])
    assert not len(series.read("p1").series)
    assert answers.of(uid, NOW).assessment != before
    acts.undo(m.Keeper.objects.the_one(), done)
    assert answers.of(uid, NOW).assessment == before


def test_a_batch_that_was_never_in_a_machine_is_told_what_to_add() -> None:
    batch = m.Batch(name="Hens", kind="chicken", set_at=NOW)
    acts.act(m.Keeper.objects.the_one(), "add", save=[batch])
    with pytest.raises(EvidenceError, match="say which one the eggs are in"):
        answers.of(batch.uid, NOW)


def _finish(name: str, at: int = NOW - 3600) -> m.Act:
    batch = m.Batch.objects.get(name=name)
    batch.finished_at = at
    return acts.act(m.Keeper.objects.the_one(), "finish", save=[batch])


def test_a_finished_batch_teaches_the_others_and_not_itself() -> None:
    batches = put_all()
    quail = m.Batch.objects.get(uid=batches["orchard-quail"].uid)
    alone = beliefs.of(quail)
    _finish("Orchard quail")
    assert [one.of for one in beliefs.lessons_in_force()] == [quail.uid]
    assert beliefs.of(m.Batch.objects.get(uid=quail.uid)) == alone
    ducks = beliefs.of(m.Batch.objects.get(uid=batches["pond-ducks"].uid))
    assert any(row.origin != "published" for row in ducks.rows.values())


def test_entering_undoing_and_entering_again_teaches_the_same_as_entering() -> None:
    put_all()
    ducks = m.Batch.objects.get(name="Pond ducks")
    done = _finish("Orchard quail")
    taught = beliefs.of(ducks)
    undone = acts.undo(m.Keeper.objects.the_one(), done)
    assert beliefs.lessons_in_force() == ()
    acts.undo(m.Keeper.objects.the_one(), undone)
    assert beliefs.of(ducks) == taught


def test_a_late_correction_replaces_the_lesson_and_forgetting_silences_it() -> None:
    put_all()
    ducks = m.Batch.objects.get(name="Pond ducks")
    published = beliefs.of(ducks)
    _finish("Orchard quail")
    first = beliefs.lessons_in_force()
    opened = m.Breakout.objects.filter(batch__name="Orchard quail").exclude(stage="late").first()
    assert opened is not None
    opened.stage = "late"
    acts.act(m.Keeper.objects.the_one(), "correct", save=[opened])
    second = beliefs.lessons_in_force()
    assert len(second) == 1
    assert second != first
    lesson = m.Lesson.objects.get()
    lesson.forgotten = True
    acts.act(m.Keeper.objects.the_one(), "forget", save=[lesson])
    assert beliefs.of(ducks) == published


def test_the_newest_answers_of_many_are_read_at_once_and_nothing_is_computed() -> None:
    batches = put_all()
    kept = {one.uid: answers.of(one.uid, NOW) for one in batches.values()}
    m.Answer.objects.filter(subject=batches["pond-ducks"].uid).delete()
    del kept[batches["pond-ducks"].uid]
    with CaptureQueriesContext(connection) as first:
        assert answers.newest_of([one.uid for one in batches.values()]) == kept
    with CaptureQueriesContext(connection) as again:
        assert answers.newest_of([one.uid for one in batches.values()]) == kept
    assert (len(first), len(again)) == (2, 1)


def test_an_answer_holds_until_the_tick_or_the_records_move() -> None:
    batch = put_all()["speckled-hens"]
    batch.refresh_from_db()
    found = answers.of(batch.uid, NOW)
    assert found.key == answers.key_of(batch, NOW)
    assert answers.holding({batch.uid: found}, [batch], NOW) == {batch.uid}
    assert answers.holding({batch.uid: found}, [batch], NOW + answers.TICK_S) == frozenset()
    assert answers.holding({}, [batch], NOW) == frozenset()
    egg = m.Egg.objects.filter(batch=batch).first()
    assert egg is not None
    acts.act(m.Keeper.objects.the_one(), "candle", save=[m.Candling(egg_id=egg.uid, at=NOW - 60, finding="live")])
    batch.refresh_from_db()
    assert answers.holding({batch.uid: found}, [batch], NOW) == frozenset()


def test_an_answer_of_a_version_that_answered_otherwise_is_computed_anew() -> None:
    uid = put_all()["speckled-hens"].uid
    before = answers.of(uid, NOW)
    for value in ({}, {"batch": 1}, [], {**m.Answer.objects.get(subject=uid).value, "unheard_of": 1}):
        m.Answer.objects.filter(subject=uid).update(value=value)
        answers.forget()
        assert answers.newest(uid) is None
        assert answers.newest_of([uid]) == {}
        assert answers.of(uid, NOW) == before
        assert answers.newest(uid) == before
