"""The queue: taken one by one and in order, done whole or not at all, given up after three tries."""

import pytest

from chalaza.errors import ChalazaError
from chalaza.records import models as m
from chalaza.records import work
from chalaza.records.work import Cancelled, Outcome, State

pytestmark = pytest.mark.django_db


def _ask(kind: str = "import_log", **more: object) -> m.Work:
    return work.ask(kind, more, m.Keeper.objects.the_one())


def _state(one: m.Work) -> str:
    return str(m.Work.objects.get(pk=one.pk).state)


def _taken() -> m.Work:
    found = work.take()
    assert found is not None
    return found


def test_the_oldest_is_taken_first_and_each_once() -> None:
    first, second = _ask(), _ask()
    assert work.waiting()
    assert [_taken().pk, _taken().pk] == [first.pk, second.pk]
    assert work.take() is None
    assert not work.waiting()


def test_work_asked_twice_under_one_name_is_the_same_work() -> None:
    keeper = m.Keeper.objects.the_one()
    first = work.ask("import_log", {"a": 1}, keeper, uid="once")
    assert work.ask("import_log", {"a": 2}, keeper, uid="once").pk == first.pk
    assert m.Work.objects.get().arguments == {"a": 1}


def test_what_it_does_and_that_it_is_done_are_written_together() -> None:
    _ask()
    one = _taken()

    def write() -> dict[str, object]:
        m.Done.objects.create(key="turn", at=1)
        return {"more": 2}

    assert work.finish(one, Outcome({"rows": 1}, write))
    found = m.Work.objects.get()
    assert (found.state, found.result, found.progress) == (State.DONE, {"rows": 1, "more": 2}, 1.0)
    assert m.Done.objects.count() == 1


def test_what_fails_while_it_writes_has_written_nothing() -> None:
    _ask()
    one = _taken()

    def write() -> dict[str, object]:
        m.Done.objects.create(key="turn", at=1)
        raise ChalazaError("no")

    with pytest.raises(ChalazaError):
        work.finish(one, Outcome({}, write))
    assert m.Done.objects.count() == 0
    assert _state(one) == State.RUNNING


def test_a_straggler_of_an_earlier_try_can_say_nothing_any_more() -> None:
    _ask()
    straggler = _taken()
    assert work.recover() == 1
    again = _taken()
    assert again.tries == 2
    assert not work.finish(straggler, Outcome({"late": True}))
    assert not work.fail(straggler, "late")
    with pytest.raises(Cancelled):
        work.progress(straggler, 0.5)
    assert work.finish(again, Outcome({}))


def test_what_runs_when_a_worker_starts_waits_again_three_times_and_is_then_given_up_in_words() -> None:
    one = _ask()
    for tries in range(1, work.TRIES + 1):
        assert _taken().tries == tries
        work.recover()
    found = m.Work.objects.get(pk=one.pk)
    assert found.state == State.FAILED
    assert found.message.format_map(found.result["holes"]).startswith("It was begun 3 times")
    assert work.recover() == 0


def test_work_that_was_stopped_in_good_order_has_lost_no_try() -> None:
    _ask()
    for _ in range(5):
        work.back(_taken(), counted=False)
    assert _taken().tries == 1


def test_progress_is_seen_and_kept_between_nothing_and_all() -> None:
    one = _ask()
    mine = _taken()
    work.progress(mine, 1.7, "reading")
    found = m.Work.objects.get(pk=one.pk)
    assert (found.progress, found.message) == (1.0, "reading")


def test_work_that_waits_is_dropped_at_once_and_what_runs_is_told() -> None:
    waiting = _ask()
    work.cancel(waiting.uid)
    assert _state(waiting) == State.CANCELLED
    running = _ask()
    mine = _taken()
    work.cancel(running.uid)
    assert work.cancelled(mine)
    with pytest.raises(Cancelled):
        work.progress(mine, 0.1)
    assert not work.finish(mine, Outcome({}, lambda: pytest.fail("nothing may be written")))
    assert work.stopped(mine)
    assert _state(running) == State.CANCELLED
    assert not work.running(mine)


def test_cancelling_what_has_ended_changes_nothing_and_what_is_not_there_is_named() -> None:
    one = _ask()
    work.finish(_taken(), Outcome({}))
    work.cancel(one.uid)
    assert _state(one) == State.DONE
    with pytest.raises(ChalazaError, match="no work 'x'"):
        work.cancel("x")


def test_a_worker_that_dies_over_work_nobody_wants_leaves_it_cancelled() -> None:
    one = _ask()
    work.cancel(_taken().uid)
    work.recover()
    assert _state(one) == State.CANCELLED


def test_a_failure_keeps_its_sentence_and_what_fills_it() -> None:
    one = _ask()
    assert work.fail(_taken(), "It took longer than {limit}.", limit="5 min")
    found = m.Work.objects.get(pk=one.pk)
    assert (found.state, found.result) == (State.FAILED, {"holes": {"limit": "5 min"}})
