"""What is believed about a batch before its own evidence: published values, then lessons of the other finished batches.

A lesson is worked out from the records of its batch and kept beside their revision: a later correction replaces it, undo
removes it. A batch that came with beliefs is assessed with those.
"""

import hashlib
import json
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from threading import Lock

from django.db import transaction
from django.db.models import TextField
from django.db.models.functions import Cast

from chalaza import facts
from chalaza.assess import prior_beliefs, understand
from chalaza.errors import ChalazaError
from chalaza.exchange.beliefs import beliefs_of
from chalaza.inference import learning
from chalaza.inference.published import published
from chalaza.records import models as m
from chalaza.records.codec import built, plain
from chalaza.records.gather import evidence
from chalaza.values.beliefs import Belief, BeliefRow, Beliefs, Lesson


def of(batch: "m.Batch") -> Beliefs:
    """Beliefs about this batch, its own lesson left out. Raises `EvidenceError` for an unknown kind of bird.

    A running batch is believed about with every lesson there is, an ended one with those up to its end; neither moves
    with the clock alone.
    """
    if batch.carried:
        return beliefs_of([BeliefRow(**row) for row in batch.carried])
    texts = _texts()
    lessons = [one for one in map(_built, texts) if one.of != batch.uid]
    kind = facts.kind(batch.kind).key
    if not lessons:
        return _published(kind)
    as_of = max(batch.set_at, *(one.at for one in lessons)) if batch.finished_at is None else int(batch.finished_at)
    told = hashlib.sha256("\0".join(texts).encode()).hexdigest()
    key = (told, kind, as_of, batch.uid)
    with _lock:
        if (found := _folded.get(key)) is not None:
            _folded.move_to_end(key)
            return found
    found = learning.fold(lessons, published(kind), as_of=as_of, without=batch.uid)
    with _lock:
        _folded[key] = found
        while len(_folded) > _KEPT:
            _folded.popitem(last=False)
    return found


#: Beliefs worked out before, by the lessons they rest on; one thread at a time learns anew.
_KEPT, _NOTHING = 64, "{}"
_folded: "OrderedDict[tuple[str, str, int, str], Beliefs]" = OrderedDict()
_lock, _learning = Lock(), Lock()


@lru_cache(maxsize=64)
def _published(kind: str) -> Beliefs:
    return prior_beliefs(kind)


def lessons_in_force() -> tuple[Lesson, ...]:
    """The lessons of all finished batches that were not forgotten, brought up to date first."""
    return tuple(map(_built, _texts()))


def _texts() -> list[str]:
    """The same as they lie in the database: hundreds of them, of which most were read before."""
    refresh()
    held = m.Lesson.objects.filter(forgotten=False).order_by("at", "id")
    found = held.annotate(text=Cast("content", TextField())).values_list("text", flat=True)
    return [text for text in found if text != _NOTHING]


@lru_cache(maxsize=1024)
def _built(content: str) -> Lesson:
    data = json.loads(content)
    counts = {tuple(key): tuple(value) for key, value in data.pop("counts")}
    return Lesson(counts=counts, **{name: built(_HINTS[name], value) for name, value in data.items()})


_HINTS = {
    "uid": str,
    "of": str,
    "at": int,
    "keys": tuple[tuple[str, str], ...],
    "information": tuple[tuple[float, ...], ...],
    "shift": tuple[float, ...],
    "base": tuple[Belief, ...],
    "forgotten": bool,
}


def _content(one: Lesson) -> dict[str, object]:
    return {
        **{name: plain(getattr(one, name)) for name in ("uid", "of", "at", "keys", "information", "shift", "base")},
        "counts": [[list(key), list(value)] for key, value in one.counts.items()],
        "forgotten": False,
    }


#: Set where pages are served: has lessons learnt by the worker, known by a name; False if they must be learnt here.
elsewhere: Callable[[str], bool] | None = None


def refresh() -> None:
    """Bring the lessons in step with the finished batches: what changed is learnt anew, what is gone is removed.

    Where another process learns, what is held counts until it is through; the first lessons of all are learnt here.
    """
    finished, held, version = _state()
    stale = _stale(finished, held, version)
    if not stale and set(held) <= set(finished):
        return
    if stale and held and elsewhere is not None and elsewhere(_name(stale, finished, version)):
        return
    if not _learning.acquire(blocking=not held):  # somebody is at it: meanwhile, what is held is good enough
        return
    try:
        finished, held, version = _state()
        _refresh(finished, _stale(finished, held, version), version)
    finally:
        _learning.release()


def _state() -> tuple[dict[str, int], dict[str, tuple[int, str]], str]:
    """Revision of each finished batch, revision and engine of each lesson held, and the engine that is at work."""
    from chalaza.records.answers import engine

    finished = dict(m.Batch.objects.exclude(finished_at=None).values_list("uid", "revision"))
    rows = m.Lesson.objects.values_list("batch", "revision", "engine")
    return finished, {batch: (revision, by) for batch, revision, by in rows}, engine()


def _stale(finished: Mapping[str, int], held: Mapping[str, tuple[int, str]], version: str) -> list[str]:
    return [uid for uid, revision in finished.items() if held.get(uid) != (revision, version)]


def _name(stale: Sequence[str], finished: Mapping[str, int], version: str) -> str:
    """A short name for what has to be learnt."""
    listed = [(uid, finished[uid]) for uid in sorted(stale)]
    return hashlib.sha256(json.dumps([listed, version]).encode()).hexdigest()[:24]


def _refresh(finished: Mapping[str, int], stale: Sequence[str], version: str) -> None:
    fresh = {uid: _learn(uid) for uid in stale}
    with transaction.atomic():
        m.Lesson.objects.exclude(batch__in=finished).delete()
        for uid, lesson in fresh.items():
            m.Lesson.objects.update_or_create(
                batch=uid,
                defaults={"uid": f"lesson-{uid}", "at": lesson.at if lesson else 0, "revision": finished[uid],
                          "engine": version, "content": _content(lesson) if lesson else {}},
            )  # fmt: skip


def _learn(uid: str) -> Lesson | None:
    """The lesson of a finished batch; None where its records cannot be assessed."""
    batch = m.Batch.objects.get(uid=uid)
    try:
        one = evidence(uid)
        end = int(batch.finished_at)
        return learning.lesson(understand(prior_beliefs(batch.kind), one, end), uid=uid, of=uid, at=end)
    except ChalazaError:
        return None
