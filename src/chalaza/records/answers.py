"""The only cache: the newest answer to each question, kept under (revision, beliefs, engine, ten-minute tick).

Dropping the whole table costs time and nothing else. What lies between log and answer is not stored; the last sixteen
stay in memory under the same key, so that the drawings of one page share them.
"""

import hashlib
import json
from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from threading import Lock

from django.db import transaction

from chalaza import __version__, facts
from chalaza.assess import read, understand
from chalaza.errors import BalanceError
from chalaza.inference.understanding import Understanding
from chalaza.records import beliefs as learnt
from chalaza.records import models as m
from chalaza.records.clock import now as clock
from chalaza.records.codec import built, plain
from chalaza.records.forecasts import keep
from chalaza.records.gather import evidence
from chalaza.values.answers import Assessment
from chalaza.values.beliefs import Beliefs
from chalaza.values.evidence import Evidence

TICK_S = 600
ASSESS = "assess"
_KEPT, _READ = 16, 32


@dataclass(frozen=True, slots=True)
class Answered:
    """An assessment and the key it holds under; `as_of` is the tick it speaks of."""

    assessment: Assessment
    as_of: int
    key: str


@dataclass(frozen=True, slots=True)
class Understood:
    """All that drawings need: what was understood, the answers, and the evidence they were read from."""

    understanding: Understanding
    assessment: Assessment
    evidence: Evidence
    key: str


_memory: "OrderedDict[str, Understood]" = OrderedDict()
_read: "OrderedDict[str, Answered]" = OrderedDict()
_lock = Lock()
_computing: dict[str, Lock] = {}


def engine() -> str:
    """The version that computes: of the program and of its tables."""
    return f"{__version__}+{facts.digest()[:12]}"


def tick(now: int) -> int:
    """`now` floored to ten minutes, so that every viewer sees the same figures."""
    return now - now % TICK_S


def digest(beliefs: Beliefs) -> str:
    """A short name for what is believed."""
    rows = sorted((repr(key), repr(row)) for key, row in beliefs.rows.items())
    pairs = sorted((repr(key), repr(value)) for key, value in beliefs.correlations.items())
    return hashlib.sha256(json.dumps([rows, pairs]).encode()).hexdigest()[:16]


def _as_of(batch: "m.Batch", now: int) -> int:
    """The tick asked for, or the newest entry within it, so that what was just entered is seen, by every viewer alike.

    A finished batch is answered as of its end, a fresh one not before its setting.
    """
    return _moment(batch, now, _entered([batch]).get(batch.revision))


def _entered(batches: "Iterable[m.Batch]") -> dict[int, int]:
    """When the newest act that reached some batches was done: revision -> moment. One query."""
    return dict(m.Act.objects.filter(pk__in=[one.revision for one in batches]).values_list("pk", "at"))


def _moment(batch: "m.Batch", now: int, entered: int | None) -> int:
    wanted = tick(now)
    if entered is not None and wanted < entered <= now:
        wanted = entered
    if batch.finished_at is not None:
        wanted = min(wanted, tick(batch.finished_at) + TICK_S)
    return max(wanted, int(batch.set_at))


def understood(uid: str, now: int | None = None) -> Understood:
    """What is understood of a batch. Raises `EvidenceError` for evidence that cannot be assessed."""
    batch = m.Batch.objects.get(uid=uid)
    believed = learnt.of(batch)
    as_of = _as_of(batch, clock() if now is None else now)
    key = f"{batch.revision}/{digest(believed)}/{engine()}/{as_of}"
    memory_key = f"{uid}/{key}"
    with _lock:
        if (found := _memory.get(memory_key)) is not None:
            _memory.move_to_end(memory_key)
            return found
        gate = _computing.setdefault(memory_key, Lock())
    with gate:
        with _lock:
            if (found := _memory.get(memory_key)) is not None:
                return found
        one = evidence(uid)
        seen = understand(believed, one, as_of)
        found = Understood(seen, read(seen, one), one, key)
        with _lock:
            _memory[memory_key] = found
            while len(_memory) > _KEPT:
                _memory.popitem(last=False)
            _computing.pop(memory_key, None)
    return found


def of(uid: str, now: int | None = None) -> Answered:
    """The answer about a batch: the one kept, if it still holds, else computed now and kept.

    Raises `EvidenceError` for evidence that cannot be assessed; its text says what to add.
    """
    moment = clock() if now is None else now
    batch = m.Batch.objects.get(uid=uid)
    as_of, key = _as_of(batch, moment), key_of(batch, moment)
    kept = m.Answer.objects.filter(question=ASSESS, subject=uid, key=key).first()
    if kept is not None and (held := _held(kept)) is not None:
        return held
    found = understood(uid, moment)
    if found.key == key:  # else it changed under us: show it, keep nothing
        _keep(uid, as_of, key, found.assessment, moment)
    return Answered(found.assessment, found.assessment.as_of, found.key)


def _keep(uid: str, as_of: int, key: str, a: Assessment, now: int) -> None:
    with transaction.atomic():
        m.Answer.objects.update_or_create(
            question=ASSESS, subject=uid, defaults={"key": key, "as_of": as_of, "made": now, "value": plain(a)}
        )
        keep(a, engine())


def remember(uid: str, now: int) -> None:
    """Keep the forecast of an earlier day: for records that were brought in whole. It sees nothing later than `now`."""
    keep(understood(uid, now).assessment, engine())


def newest(uid: str) -> Answered | None:
    """The newest answer kept, whether or not it still holds; nothing is computed."""
    kept = m.Answer.objects.filter(question=ASSESS, subject=uid).first()
    return None if kept is None else _held(kept)


def _held(row: "m.Answer") -> Answered | None:
    """An answer as it is kept; None for one of a version that answered otherwise: it is computed anew."""
    try:
        return Answered(built(Assessment, row.value), row.as_of, row.key)
    except BalanceError:
        return None


def newest_of(uids: Iterable[str]) -> dict[str, Answered]:
    """The newest answers kept about some batches, in at most two queries; nothing is computed.

    An answer once read stays in memory under its key, as what lies between log and answer does.
    """
    listed = m.Answer.objects.filter(question=ASSESS, subject__in=list(uids))
    keys = {subject: f"{subject}/{key}" for subject, key in listed.values_list("subject", "key")}
    with _lock:
        found = {subject: _read[name] for subject, name in keys.items() if name in _read}
    missing = [subject for subject in keys if subject not in found]
    for row in listed.filter(subject__in=missing) if missing else ():
        if (one := _held(row)) is not None:
            found[row.subject] = one
    with _lock:
        for subject, one in found.items():
            _read[f"{subject}/{one.key}"] = one
            _read.move_to_end(f"{subject}/{one.key}")
        while len(_read) > _READ:
            _read.popitem(last=False)
    return found


def key_of(batch: "m.Batch", now: int) -> str:
    """The key an answer about a batch has to have at `now`. Raises `EvidenceError` for an unknown kind of bird."""
    return f"{batch.revision}/{digest(learnt.of(batch))}/{engine()}/{_as_of(batch, now)}"


def holding(found: Mapping[str, Answered], batches: "Sequence[m.Batch]", now: int) -> frozenset[str]:
    """The uids of the batches whose answer is still of this moment, engine and revision; what is believed is not looked at.

    Cheap, one query, for pages that show what is kept: a lesson learnt meanwhile is seen with the next tick.
    """
    entered, version = _entered(batches), engine()

    def holds(batch: "m.Batch") -> bool:
        if (one := found.get(batch.uid)) is None:
            return False
        revision, _, rest = one.key.partition("/")
        as_of = _moment(batch, now, entered.get(batch.revision))
        return revision == str(batch.revision) and rest.endswith(f"/{version}/{as_of}")

    return frozenset(batch.uid for batch in batches if holds(batch))


def forget() -> None:
    """Drop what is kept in memory: for tests, and after a notebook was put in place of another."""
    with _lock:
        _memory.clear()
        _read.clear()
        _computing.clear()
