"""Work that misbehaves, and a worker that knows it: `python -m worker.odd` works until its standard input closes."""

import os
import threading
from collections.abc import Mapping
from typing import Any

from chalaza.records.notebook import open_records

open_records()

from chalaza.errors import ReadingError  # noqa: E402
from chalaza.records.work import Outcome  # noqa: E402
from chalaza.worker import limits, loop  # noqa: E402
from chalaza.worker.kinds import KINDS, Kind, Progress  # noqa: E402


def forever(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Never ends and never looks up."""
    while True:
        pass


def patient(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Never ends, and tells how far it is."""
    while True:
        progress(0.5, "still at it")


def hungry(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Takes memory as fast as it gets any."""
    held = []
    while True:
        held.append(bytearray(2**20))


def crash(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Ends its interpreter without a word, as a fault in compiled code would."""
    os._exit(11)


def refuses(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Cannot, and says why."""
    raise ReadingError("the file {holds} nothing")


def broken(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """A fault of ours."""
    raise KeyError("gone")


def good(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Does what it should."""
    progress(0.5, "half")
    return Outcome({"said": arguments["say"], "uid": arguments["uid"], "keeper": arguments["keeper"]})


ODD = {
    **{name: Kind(function=f"worker.odd:{name}", wall_s=60.0, memory_mb=250.0)
       for name in ("patient", "hungry", "crash", "refuses", "broken", "good")},
    "forever": Kind(function="worker.odd:forever", wall_s=0.3, memory_mb=250.0),
    **KINDS,
}  # fmt: skip

if __name__ == "__main__":
    stop = threading.Event()
    limits.on_close(stop.set)
    loop.run(stop, ODD, housework=False)
