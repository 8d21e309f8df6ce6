"""The worker: what loops, eats memory, dies or fails ends with a sentence, and the worker goes on."""

import subprocess
from collections.abc import Iterator

import pytest

from .place import Place, alive, below, text_of, until


@pytest.fixture
def worker(place: Place) -> "Iterator[subprocess.Popen[bytes]]":
    """A worker that knows odd work too."""
    child = place.worker("-m", "worker.odd")
    yield child
    assert child.stdin is not None
    child.stdin.close()
    child.wait(20)


def test_every_sort_of_end_is_told_in_a_sentence(place: Place, worker: "subprocess.Popen[bytes]") -> None:
    kinds = ("forever", "hungry", "crash", "refuses", "broken", "unheard-of", "good")
    uids = dict(zip(kinds, place.ask([(kind, {"say": "hello"}) for kind in kinds]), strict=True))
    ended = {kind: place.ended(uid) for kind, uid in uids.items()}
    said = {kind: message.format_map(result.get("holes", {})) for kind, (_, message, result, _) in ended.items()}
    assert {kind: state for kind, (state, *_) in ended.items()} == dict.fromkeys(kinds, "failed") | {"good": "done"}
    assert said["forever"].startswith("It took longer than it may")
    assert said["hungry"].startswith("It needs more memory than it may take (250 MB)")
    assert said["crash"].startswith("It was begun 3 times and never came to its end")
    assert said["refuses"] == "the file {holds} nothing"
    assert "KeyError: 'gone'" in said["broken"]
    assert "unheard-of" in said["unheard-of"]
    assert ended["good"][2] == {"said": "hello", "uid": uids["good"], "keeper": "keeper"}
    assert worker.poll() is None


def test_work_that_is_wanted_no_more_is_stopped_whether_it_looks_up_or_not(
    place: Place, worker: "subprocess.Popen[bytes]"
) -> None:
    (uid,) = place.ask([("patient", {})])
    until(lambda: place.work(uid)[1] == "still at it")
    place.rows("UPDATE records_work SET cancel = 1 WHERE uid = ?", uid)
    state, message, _, _ = place.ended(uid)
    assert (state, message) == ("cancelled", "Stopped as you asked. Nothing of it was stored.")


def test_a_worker_whose_input_closes_ends_at_once_and_leaves_no_child_and_no_try_lost(place: Place) -> None:
    (uid,) = place.ask([("patient", {})])
    child = place.worker("-m", "worker.odd")
    until(lambda: place.work(uid)[1] == "still at it")
    (job,) = below(child.pid)
    assert child.stdin is not None
    child.stdin.close()
    assert child.wait(10) == 0
    until(lambda: not alive(job))
    assert (place.work(uid)[0], place.work(uid)[3]) == ("waiting", 0)


def test_a_child_ends_when_its_worker_is_killed(place: Place) -> None:
    (uid,) = place.ask([("patient", {})])
    child = place.worker("-m", "worker.odd")
    until(lambda: place.work(uid)[1] == "still at it")
    (job,) = below(child.pid)
    child.kill()
    child.wait()
    until(lambda: not alive(job))
    assert place.work(uid)[0] == "running"
    assert child.stdin is not None
    child.stdin.close()


def test_the_worker_of_the_command_line_reads_a_log_and_keeps_house(place: Place) -> None:
    (uid,) = place.ask([("import_log", {"name": "log.csv", "text": text_of(5000)})])
    child = place.worker()
    assert place.ended(uid)[0] == "done"
    assert place.rows("SELECT sum(n) FROM records_chunk") == [(5000,)]
    until(lambda: place.rows("SELECT count(*) FROM records_work WHERE state = 'done'") == [(3,)])
    assert sorted(kind for (kind,) in place.rows("SELECT kind FROM records_work")) == ["import_log", "pack", "purge"]
    assert child.stdin is not None
    child.stdin.close()
    assert child.wait(10) == 0
