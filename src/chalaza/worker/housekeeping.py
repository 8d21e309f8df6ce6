"""What has to be done from time to time: closed days of live readings packed, what was withdrawn long ago purged."""

from collections.abc import Mapping
from typing import Any

from chalaza.records import clock, logs, series
from chalaza.records.work import Outcome
from chalaza.words.language import mark
from chalaza.worker.kinds import Progress

#: A day of live readings is packed when it has been over for so long: stragglers come within hours. [s]
CLOSED_S = 48 * 3600

_PACKING = mark("packing closed days")


def pack(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Pack the live readings of every day that has been over for two days, day by day: each whole or not at all."""
    found = series.closed(clock.now() - CLOSED_S)
    rows = 0
    for at, (probe, day) in enumerate(found):
        progress(at / len(found), _PACKING)
        rows += series.pack(probe, day)
    return Outcome({"days": len(found), "rows": rows})


def purge(arguments: Mapping[str, Any], progress: Progress) -> Outcome:
    """Take away for good what was withdrawn 30 days ago, files nobody speaks of any more, and rows of old work."""
    return Outcome(logs.purge(clock.now()))
