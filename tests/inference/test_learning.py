"""Lessons: information that adds, in any order, without the batch itself."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.assess import assess, understand
from chalaza.inference.learning import fold, lesson
from chalaza.inference.published import published
from chalaza.scenario.simulate import Plan, Truth, simulate
from chalaza.values.beliefs import Beliefs, Lesson
from inference.coverage_runs import DAY, SET_AT, display, humidity

PUBLISHED = published("chicken")
TRUTH = Truth(temp_offset_k=0.6, rh_offset=0.03, conductance=0.32, hatch_hours=509.0, fertility=0.95)


def evidence_of(k: int):
    plan = Plan(
        set_at=SET_AT + k * 30 * DAY, days=22.5, eggs=24, display=display, rh=humidity, weigh_days=(0.0, 5.0, 10.0),
        candle_days=(7.0, 14.0), hatch_look_h=6.0, parents="same hens",
    )  # fmt: skip
    evidence, _ = simulate(TRUTH, plan, np.random.default_rng(100 + k))
    return evidence, int(plan.set_at + plan.days * DAY)


@pytest.fixture(scope="module")
def lessons() -> list[Lesson]:
    out: list[Lesson] = []
    for k in range(4):
        evidence, end = evidence_of(k)
        u = understand(fold(out, PUBLISHED, as_of=end, without=f"b{k}"), evidence, end)
        out.append(lesson(u, uid=f"lesson{k}", of=f"b{k}", at=end))
    return out


LATER = SET_AT + 150 * DAY


@given(order=st.permutations(range(4)))
def test_the_order_of_entry_does_not_matter(lessons, order):
    assert fold([lessons[i] for i in order], PUBLISHED, as_of=LATER) == fold(lessons, PUBLISHED, as_of=LATER)


def test_undo_and_enter_again_is_the_same_as_entered_once(lessons):
    once = fold(lessons, PUBLISHED, as_of=LATER)
    undone = fold(lessons[:3], PUBLISHED, as_of=LATER)
    assert undone != once
    assert fold([*lessons[:3], lessons[3]], PUBLISHED, as_of=LATER) == once
    forgotten = [*lessons[:3], replace(lessons[3], forgotten=True)]
    assert fold(forgotten, PUBLISHED, as_of=LATER) == undone


def test_a_batch_never_sees_its_own_lesson(lessons):
    evidence, end = evidence_of(2)
    others = [one for one in lessons if one.of != "b2"]
    with_itself = fold(lessons, PUBLISHED, as_of=LATER, without="b2")
    assert with_itself == fold(others, PUBLISHED, as_of=LATER)
    assert assess(with_itself, evidence, end) == assess(fold(others, PUBLISHED, as_of=LATER), evidence, end)


def test_a_lesson_later_than_the_moment_is_not_known_yet(lessons):
    early = fold(lessons, PUBLISHED, as_of=lessons[1].at)
    assert early == fold(lessons[:2], PUBLISHED, as_of=lessons[1].at)


def test_without_lessons_the_beliefs_are_the_published_ones():
    assert fold([], PUBLISHED, as_of=LATER) == Beliefs(PUBLISHED)


def test_a_lesson_is_the_same_whatever_was_believed_before_it(lessons):
    """Information without its prior: a lesson taken after three others equals one taken first, up to how far a
    nonlinear fit depends on where it started (10 % of a standard deviation of the evidence)."""
    evidence, end = evidence_of(3)
    alone = lesson(understand(Beliefs(PUBLISHED), evidence, end), uid="x", of="b3", at=end)
    learnt = lessons[3]
    assert alone.keys == learnt.keys
    one, other = (fold([each], PUBLISHED, as_of=LATER) for each in (alone, replace(learnt, uid="x")))
    for key in alone.keys:
        assert other.rows[key].a == pytest.approx(one.rows[key].a, abs=0.35 * one.rows[key].b)
        assert other.rows[key].b == pytest.approx(one.rows[key].b, rel=0.1)


def test_what_is_learnt_narrows_the_next_batch(lessons):
    """The same hens, box and probe: shells first, hatch hour next; place and probe stay confounded."""
    evidence, _ = evidence_of(5)
    start = evidence.batch.set_at + DAY
    new, old = Beliefs(PUBLISHED), fold(lessons, PUBLISHED, as_of=start)
    before, after = assess(new, evidence, start), assess(old, evidence, start)
    assert after.water.loss_at_lockdown.half_width < 0.6 * before.water.loss_at_lockdown.half_width
    assert after.clock.half_hatched.half_width < 0.75 * before.clock.half_hatched.half_width
    probe, box = ("probe:x-probe", "temp_offset"), ("machine:x-box", "placement")
    assert old.correlations[tuple(sorted((probe, box)))] < -0.2
    assert after.warmth.shell.half_width < before.warmth.shell.half_width
    assert old.rows[probe].b > 0.2  # several hatches do not make a checked thermometer


def test_learnt_beliefs_know_where_they_come_from(lessons):
    found = fold(lessons, PUBLISHED, as_of=LATER)
    assert found.rows["parents:same hens", "conductance"].origin == "learnt: b0 b1 b2 b3"
    assert found.rows["kind:chicken", "conductance"].origin == "published"


def test_old_lessons_say_less(lessons):
    near, far = (fold(lessons, PUBLISHED, as_of=LATER + years * 365 * DAY) for years in (0, 6))
    key = ("parents:same hens", "conductance")
    assert near.rows[key].b < far.rows[key].b < PUBLISHED["kind:chicken", "conductance"].b


def test_no_number_of_batches_makes_the_next_one_certain(lessons):
    many = [replace(one, uid=f"{one.uid}-{k}", of=f"{one.of}-{k}") for one in lessons for k in range(20)]
    found = fold(many, PUBLISHED, as_of=LATER)
    assert found.rows["parents:same hens", "conductance"].b >= 0.06
    total = found.rows["parents:same hens", "fertility"]
    assert total.a + total.b <= 14.0 + 1e-9
