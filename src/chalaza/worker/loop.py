"""The worker: takes the oldest work that waits, has it done in a fresh interpreter, and holds that to its limits.

It looks whether something waits twice and more a second, which costs next to nothing, and ends when its standard input
closes. A piece of work that loops, eats memory or dies is told in a sentence; the worker itself goes on.
"""

import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping

from chalaza.records import clock, work
from chalaza.records import models as m
from chalaza.words.language import mark
from chalaza.worker.job import TOO_LARGE
from chalaza.worker.kinds import KINDS, Kind
from chalaza.worker.limits import on_close, resident_mb

#: Between two looks at the queue, and at work that is being done. [s]
LOOK_S, WATCH_S = 0.3, 0.1
#: Work that is wanted no more may end by itself for so long. [s]
GRACE_S = 2.0
#: House work is asked for so often, and looked after so often. [s]
HOUSEWORK: Mapping[str, int] = {"pack": 3600, "purge": 24 * 3600}
HOUSEWORK_LOOK_S = 60.0

TOO_LONG = mark(
    "It took longer than it may ({limit} minutes) and was stopped; nothing of it was stored. "
    "If it is a file, look whether it is the log you meant, or split it and send the parts one after the other."
)
UNKNOWN = mark("This version of the program does not know such work: {kind}. Nothing was done.")


def main() -> None:
    """Work until standard input closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    stop = threading.Event()
    on_close(stop.set)
    run(stop)


def run(stop: threading.Event, kinds: Mapping[str, Kind] = KINDS, *, housework: bool = True) -> None:
    """Work until `stop` is set; what ran when the last worker ended waits again first."""
    work.recover()
    looked = float("-inf")
    while not stop.is_set():
        if housework and time.monotonic() - looked > HOUSEWORK_LOOK_S:
            ask_housework()
            looked = time.monotonic()
        row = work.take() if work.waiting() else None
        if row is None:
            stop.wait(LOOK_S)
        else:
            done(row, kinds, stop)


def ask_housework() -> None:
    """Ask for what has to be done from time to time, if its time has come and it does not wait already."""
    for kind, every_s in HOUSEWORK.items():
        newest = m.Work.objects.filter(kind=kind).order_by("-id").values_list("asked", flat=True).first()
        if newest is None or clock.now() - newest >= every_s:
            work.ask(kind, {}, m.Keeper.objects.the_one())


def done(row: "m.Work", kinds: Mapping[str, Kind], stop: threading.Event) -> None:
    """Have one piece of work done, and say what became of it where it cannot say so itself."""
    kind = kinds.get(row.kind)
    if kind is None:
        work.fail(row, UNKNOWN, kind=row.kind)
        return
    end = _watched(row, kind, stop)
    if not work.running(row):
        return
    if end is None:
        work.back(row, counted=not stop.is_set())
    elif end is work.stopped:
        work.stopped(row)
    else:
        end(row)


def _watched(row: "m.Work", kind: Kind, stop: threading.Event) -> "Callable[[m.Work], object] | None":
    """Start an interpreter for the work and wait for its end: how it was ended by us, None if it ended otherwise."""
    command = [
        sys.executable,
        "-m",
        "chalaza.worker.job",
        kind.function,
        row.uid,
        str(row.tries),
        f"{kind.memory_mb:g}",
    ]
    began, wanted_no_more = time.monotonic(), 0.0
    with subprocess.Popen(command, stdin=subprocess.PIPE) as child:
        while True:
            try:
                child.wait(WATCH_S)
                return None
            except subprocess.TimeoutExpired:
                pass
            spent = time.monotonic() - began
            if stop.is_set():
                return _ended(child, None)
            if spent > kind.wall_s:
                return _ended(child, lambda one: work.fail(one, TOO_LONG, limit=f"{kind.wall_s / 60.0:.2g}"))
            if resident_mb(child.pid) > kind.memory_mb:
                return _ended(child, lambda one: work.fail(one, TOO_LARGE, limit=f"{kind.memory_mb:.0f}"))
            if work.cancelled(row):
                wanted_no_more += WATCH_S
                if wanted_no_more > GRACE_S:
                    return _ended(child, work.stopped)


def _ended(
    child: "subprocess.Popen[bytes]", then: "Callable[[m.Work], object] | None"
) -> "Callable[[m.Work], object] | None":
    child.kill()
    child.wait()
    return then
