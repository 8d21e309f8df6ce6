"""Whoever serves the pages holds the worker: starts it, starts it again when it ends, ends it when it grows too large.

The worker is a fresh interpreter, never a fork. It ends when its standard input closes, so that none is left behind
however its holder ends. What a piece of work may take is its own limit (`kinds`); the limit here is the worker's own.
"""

import os
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path

from chalaza.worker.limits import resident_mb

#: The most the worker itself may hold, the work it has done by others apart. [MB]
LIMIT_MB = 500.0
COMMAND = (sys.executable, "-m", "chalaza", "work")
#: How often it is looked after, and how long a worker that keeps ending is left alone. [s]
LOOK_S, FIRST_REST_S, LONGEST_REST_S = 1.0, 0.2, 30.0
#: A worker that ran for so long was well. [s]
_WELL_S = 20.0


class Supervisor:
    """Holds one worker from `start` to `close`; a context manager. `restarts` counts how often it was started again."""

    def __init__(
        self, *, limit_mb: float = LIMIT_MB, command: Sequence[str] = COMMAND, env: Mapping[str, str] | None = None,
        look_s: float = LOOK_S,
    ) -> None:  # fmt: skip
        self.limit_mb, self.command, self.look_s = limit_mb, list(command), look_s
        self.env = None if env is None else dict(env)
        self.restarts = 0
        self._child: subprocess.Popen[bytes] | None = None
        self._closing = threading.Event()
        self._lock = threading.Lock()
        self._thread = threading.Thread(target=self._watch, name="worker", daemon=True)

    def __enter__(self) -> "Supervisor":
        self.start()
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def start(self) -> None:
        """Start the worker and look after it from now on."""
        self._begin()
        self._thread.start()

    @property
    def pid(self) -> int | None:
        """The process of the worker; None when there is none at the moment."""
        child = self._child
        return child.pid if child is not None and child.poll() is None else None

    def close(self, wait_s: float = 5.0) -> None:
        """Let the worker end: its standard input closes; what it does not end by then is ended. May be called twice."""
        self._closing.set()
        with self._lock:
            child, self._child = self._child, None
        if child is not None:
            _let_go(child)
            try:
                child.wait(wait_s)
            except subprocess.TimeoutExpired:
                child.kill()
                child.wait()
        if self._thread.is_alive():
            self._thread.join(wait_s)

    def _begin(self) -> None:
        with self._lock:
            if not self._closing.is_set():
                self._child = subprocess.Popen(self.command, stdin=subprocess.PIPE, env=self.env)

    def _watch(self) -> None:
        rest_s = FIRST_REST_S
        while not self._closing.is_set():
            child, ran_s = self._child, 0.0
            while child is not None and not self._closing.is_set() and not _ends(child, self.look_s):
                ran_s += self.look_s
                if resident_mb(child.pid) > self.limit_mb:
                    child.kill()
            if child is not None:
                _let_go(child)
            rest_s = FIRST_REST_S if ran_s > _WELL_S else min(2.0 * rest_s, LONGEST_REST_S)
            if not self._closing.wait(rest_s):
                self.restarts += 1
                self._begin()


def _ends(child: "subprocess.Popen[bytes]", within_s: float) -> bool:
    try:
        child.wait(within_s)
    except subprocess.TimeoutExpired:
        return False
    return True


def _let_go(child: "subprocess.Popen[bytes]") -> None:
    if child.stdin is not None:
        with suppress(OSError):  # it ended first
            child.stdin.close()


def tree_mb(pid: int) -> float:
    """Memory a process and all below it hold together, what they share counted in each. Linux only, else 0. [MB]"""
    found = resident_mb(pid)
    for thread in Path(f"/proc/{pid}/task").glob("*") if os.path.isdir(f"/proc/{pid}") else ():
        try:
            below = (thread / "children").read_text(encoding="ascii").split()
        except OSError:
            continue
        found += sum(tree_mb(int(child)) for child in below)
    return found
