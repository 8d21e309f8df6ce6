"""Whoever serves holds the worker: it is started anew when it ends or grows too large, and none is left behind."""

import subprocess
import sys

from chalaza.worker.supervise import Supervisor, tree_mb

from .place import Place, alive, below, until

_WAIT = "import sys; sys.stdin.read()"
_GROW = "held = [bytearray(2**20) for _ in range(200)]; import sys; sys.stdin.read()"
_HOLD = """
import sys, time
from chalaza.worker.supervise import Supervisor
with Supervisor() as held:
    print(held.pid, flush=True)
    time.sleep(60)
"""


def _pids(held: Supervisor) -> "set[int]":
    seen: set[int] = set()

    def another() -> bool:
        if held.pid is not None:
            seen.add(held.pid)
        return len(seen) > 1

    until(another)
    return seen


def test_a_worker_that_ends_is_started_anew() -> None:
    with Supervisor(command=[sys.executable, "-c", "pass"], look_s=0.02) as held:
        until(lambda: held.restarts > 1)


def test_a_worker_that_grows_too_large_is_ended_and_started_anew() -> None:
    with Supervisor(command=[sys.executable, "-c", _GROW], limit_mb=100.0, look_s=0.05) as held:
        first = held.pid
        assert len(_pids(held)) == 2
        assert first is not None
        until(lambda: not alive(first))


def test_a_worker_within_its_limit_is_let_be_and_ends_when_it_is_closed() -> None:
    held = Supervisor(command=[sys.executable, "-c", _WAIT], limit_mb=100.0, look_s=0.02)
    held.start()
    pid = held.pid
    assert pid is not None
    until(lambda: tree_mb(pid) > 5.0)
    held.close()
    held.close()
    assert (held.pid, held.restarts) == (None, 0)
    assert not alive(pid)


def test_a_worker_that_does_not_end_by_itself_is_ended() -> None:
    held = Supervisor(command=[sys.executable, "-c", "while True: pass"])
    held.start()
    pid = held.pid
    held.close(wait_s=0.1)
    assert pid is not None
    assert not alive(pid)


def test_no_worker_outlives_whoever_held_it(place: Place) -> None:
    with subprocess.Popen([sys.executable, "-c", _HOLD], env=place.env, stdout=subprocess.PIPE, text=True) as holder:
        assert holder.stdout is not None
        worker = int(holder.stdout.readline())
        until(lambda: below(worker))  # it has begun its work: the house work of a fresh notebook
        jobs = below(worker)
        holder.kill()
        for pid in (worker, *jobs):
            until(lambda one=pid: not alive(one))  # type: ignore[misc]  # bound on purpose
