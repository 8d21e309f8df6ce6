"""Lessons learnt by the worker: a page uses what is held meanwhile, and learns by itself only where nobody else does."""

from collections.abc import Iterator

import pytest

from chalaza.records import acts, beliefs, clock, lessons, work
from chalaza.records import models as m
from chalaza.worker.kinds import KINDS, resolved

from .demo import NOW, put_all

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def served(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """As where pages are served, with one batch that has ended and taught."""
    monkeypatch.setenv(clock.VARIABLE, str(NOW))
    batch = put_all()["orchard-quail"]
    batch.finished_at = NOW - 3600
    acts.act(m.Keeper.objects.the_one(), "finish", save=[batch])
    assert len(beliefs.lessons_in_force()) == 1
    lessons.learn_elsewhere()
    yield
    beliefs.elsewhere = None


def _corrected() -> None:
    """A later correction of the ended batch: some young were noted that never were."""
    batch = m.Batch.objects.exclude(finished_at=None).get()
    wrong = list(m.Hatch.objects.filter(batch=batch, stage="out").order_by("id")[:5])
    assert len(wrong) == 5
    acts.act(m.Keeper.objects.the_one(), "delete", delete=wrong)


def _learn() -> None:
    row = work.take()
    assert row is not None
    assert row.kind == "learn"
    assert work.finish(row, resolved(KINDS["learn"].function)({}, lambda share, text: None))


def test_a_page_uses_what_is_held_until_the_worker_has_learnt() -> None:
    before = beliefs.lessons_in_force()
    _corrected()
    assert beliefs.lessons_in_force() == before
    assert beliefs.lessons_in_force() == before
    assert m.Work.objects.filter(kind="learn").count() == 1
    _learn()
    assert beliefs.lessons_in_force() != before
    assert m.Work.objects.get(kind="learn").result == {"lessons": 1}
    assert m.Work.objects.filter(kind="learn").count() == 1


def test_a_page_learns_by_itself_where_no_worker_begins(monkeypatch: pytest.MonkeyPatch) -> None:
    before = beliefs.lessons_in_force()
    _corrected()
    assert beliefs.lessons_in_force() == before
    monkeypatch.setenv(clock.VARIABLE, str(NOW + lessons.PATIENCE_S))
    assert beliefs.lessons_in_force() != before


def test_a_page_learns_by_itself_where_the_worker_could_not() -> None:
    before = beliefs.lessons_in_force()
    _corrected()
    beliefs.lessons_in_force()
    row = work.take()
    assert row is not None
    work.fail(row, "no")
    assert beliefs.lessons_in_force() != before


def test_the_first_lessons_of_all_are_learnt_at_once() -> None:
    m.Lesson.objects.all().delete()
    assert len(beliefs.lessons_in_force()) == 1
    assert not m.Work.objects.exists()


def test_a_lesson_whose_batch_runs_again_is_gone_at_once() -> None:
    batch = m.Batch.objects.exclude(finished_at=None).get()
    batch.finished_at = None
    acts.act(m.Keeper.objects.the_one(), "reopen", save=[batch])
    assert beliefs.lessons_in_force() == ()
