"""Killed at any moment of an import, a notebook has all of it or nothing, and the next worker brings it to its end."""

import os
import random
import signal
import time
from contextlib import suppress

import pytest

from .place import Place, alive, below, text_of, until

_ROWS = 15_000
#: What is waited for, and how long after it at most the kill comes: from the first breath to the midst of storing. [s]
_MOMENTS = (("", 0.3), ("running", 0.5), ("reading the file", 0.2), ("packing the readings", 0.05), ("storing", 0.05))


def _sound(place: Place, uids: list[str]) -> dict[str, str]:
    """The state of each piece of work; fails unless each is whole or not there at all, and the database is sound."""
    assert place.rows("PRAGMA integrity_check") == [("ok",)]
    assert place.rows("PRAGMA foreign_key_check") == []
    states = {}
    for uid in uids:
        state = place.work(uid)[0]
        stored = place.rows("SELECT sum(n) FROM records_chunk WHERE source_id = ?", uid)[0][0]
        acts = place.rows("SELECT count(*) FROM records_act WHERE uid = ?", f"log-{uid}")[0][0]
        waits = place.rows("SELECT count(*) FROM records_upload WHERE work = ?", uid)[0][0]
        whole = (state == "done", stored, acts, waits)
        assert whole in ((True, _ROWS, 1, 0), (False, None, 0, 1)), (uid, state, whole)
        states[uid] = state
    return states


def _killed(place: Place, rng: random.Random) -> None:
    """Start a worker and kill it, or what it has started, or both, at a random moment."""
    seen, after_s = rng.choice(_MOMENTS)
    open_ = "SELECT count(*) FROM records_work WHERE state IN ('waiting', 'running')"
    come = "SELECT count(*) FROM records_work WHERE state = 'running' AND (message = ? OR ? = 'running')"
    child = place.worker()
    if seen:
        until(lambda: place.rows(come, seen, seen)[0][0] or not place.rows(open_)[0][0], every_s=0.002)
    time.sleep(rng.uniform(0.0, after_s))
    jobs = below(child.pid)
    for pid in rng.choice(([child.pid], jobs, [*jobs, child.pid])):
        with suppress(ProcessLookupError):
            os.kill(pid, signal.SIGKILL)
    child.kill()
    child.wait()
    assert child.stdin is not None
    child.stdin.close()
    for pid in jobs:
        until(lambda one=pid: not alive(one))  # type: ignore[misc]  # bound on purpose


def _kill(place: Place, times: int, seed: int) -> None:
    rng = random.Random(seed)
    uids: list[str] = []
    for n in range(times):
        if not uids or all(place.work(uid)[0] in ("done", "failed") for uid in uids[-2:]):
            wanted = [
                ("import_log", {"name": f"log-{n}-{i}", "text": text_of(_ROWS, seed=n * 10 + i)}) for i in range(3)
            ]
            uids += place.ask(wanted)
        _killed(place, rng)
        _sound(place, uids)
    child = place.worker()
    ended = {uid: place.ended(uid) for uid in uids}
    assert child.stdin is not None
    child.stdin.close()
    child.wait(20)
    assert set(_sound(place, uids).values()) <= {"done", "failed"}
    assert [uid for uid, (state, message, _, tries) in ended.items()
            if state != "done" and not (tries == 3 and message.startswith("It was begun"))] == []  # fmt: skip
    assert sum(state == "done" for state, *_ in ended.values()) > 0
    assert any(tries > 1 for *_, tries in ended.values()), "no kill came while a file was read: the moments are not apt"


def test_a_worker_killed_at_random_moments_leaves_all_or_nothing(place: Place) -> None:
    _kill(place, 15, seed=3)


@pytest.mark.soak
def test_a_worker_killed_five_hundred_times_leaves_all_or_nothing(place: Place) -> None:
    _kill(place, 500, seed=4)
