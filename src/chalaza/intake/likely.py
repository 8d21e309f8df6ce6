"""Which way of reading a file is the likelier one, and what speaks for it. Said beside the question, never decided by it.

Of times: no reading after this moment, an unbroken record, a batch that ran then, an end not long ago. Of figures: what
incubators and rooms have.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from chalaza.intake.reader import Reading
from chalaza.intake.report import Statistics

Ints = npt.NDArray[np.int64]
Spans = Sequence[tuple[int, int]]

#: A clock may be ahead of ours by so much. [s]
_AHEAD_S = 3600
#: A break: longer than ten steps of the record and than this. [s]
_BREAK_S = 6 * 3600
#: A file that ends so near before this moment was probably just taken from its logger; the other must end so far. [s]
_RECENT_S, _LONG_AGO_S = 14 * 86_400, 60 * 86_400
#: Where the middle of a log lies in an incubator, and anywhere eggs are kept; humidity as well (common practice). [°C, 1]
INCUBATOR_DEGC, ROOM_DEGC, HUMIDITY = (35.0, 40.0), (-5.0, 34.0), (0.15, 0.95)


@dataclass(frozen=True, slots=True)
class Verdict:
    """The key of the likelier way ("": none is), a code for what speaks for it, and the figures it needs."""

    key: str = ""
    code: str = ""
    figures: Mapping[str, int] | None = None


def moments(reading: Reading | None) -> Ints:
    """All moments of a reading in order; those of the rows shown, while a question keeps the rest back. [s UTC]"""
    if reading is None:
        return np.empty(0, np.int64)
    if reading.probes:
        return np.unique(np.concatenate([log.t for log in reading.probes]))
    return np.array(sorted(one.at for one in reading.report.shown), np.int64)


def runs(t: Ints) -> list[tuple[int, int]]:
    """First and last moment of each unbroken stretch."""
    if not len(t):
        return []
    steps = np.diff(t)
    longest = max(_BREAK_S, 10 * int(np.median(steps))) if len(steps) else _BREAK_S
    edges = np.flatnonzero(steps > longest)
    return list(zip(t[[0, *(edges + 1)]].tolist(), t[[*edges, -1]].tolist(), strict=True))


def of_times(ways: Mapping[str, Ints], now: int, batches: Spans) -> Verdict:
    """The likelier of some ways to place a record in time. `batches`: first and last moment of each batch there was."""
    read = {key: t for key, t in ways.items() if len(t)}
    late = {key: int((t > now + _AHEAD_S).sum()) for key, t in read.items()}
    if not read:
        return Verdict()
    left = [key for key, count in late.items() if not count]
    if len(left) == 1 and len(ways) > 1:
        return Verdict(left[0], "future", {"n": max(late.values())})
    left = left or list(read)
    for code, scores in (
        ("unbroken", {key: -float(len(runs(read[key]))) for key in left}),
        ("batch", {key: _within(read[key], batches) for key in left}),
        ("recent", {key: _recent(read[key], now) for key in left}),
    ):
        if (best := _alone(scores)) is not None:
            return Verdict(best, code)
    return Verdict()


def _alone(scores: Mapping[str, float]) -> str | None:
    """The one that has the highest score, if no other has it."""
    top = max(scores.values())
    first = [key for key, score in scores.items() if score == top]
    return first[0] if len(first) == 1 and len(scores) > 1 else None


def _within(t: Ints, spans: Spans) -> float:
    """One if most moments lie within one of the spans, else nothing."""
    return float(any(((t >= start) & (t <= end)).mean() > 0.5 for start, end in spans))


def _recent(t: Ints, now: int) -> float:
    ago = now - int(t[-1])
    return 1.0 if 0 <= ago <= _RECENT_S else 0.0 if ago > _LONG_AGO_S else 0.5


def of_figures(ways: Mapping[str, Statistics | None], humidity: bool) -> Verdict:
    """The likelier of some ways to read figures, from the statistics of each in °C, or of humidity from 0 to 1."""
    means = {key: one.mean for key, one in ways.items() if one is not None and one.mean is not None}
    spans = (("humidity", HUMIDITY),) if humidity else (("incubator", INCUBATOR_DEGC), ("room", ROOM_DEGC))
    for code, (low, high) in spans:
        fit = [key for key, mean in means.items() if low <= mean <= high]
        if len(fit) == 1 and len(ways) > 1:
            return Verdict(fit[0], code)
        if fit:
            return Verdict()
    return Verdict()
