"""The queue of slow work: rows of one table, taken one by one, whole or not at all.

Pages ask; one worker takes the oldest that waits, works it out apart from any transaction, and writes what it came to
and that it is done in one: work that dies half-way has done nothing. Who took a row is known by its number of tries, so
that a straggler of an earlier try can say nothing any more.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import transaction

from chalaza.errors import ChalazaError
from chalaza.records import models as m
from chalaza.records.clock import now
from chalaza.records.fields import new_uid
from chalaza.words.language import mark

State = m.WorkState
#: So often work is begun before it is given up.
TRIES = 3
OPEN = (State.WAITING, State.RUNNING)

GIVEN_UP = mark(
    "It was begun {tries} times and never came to its end: the program or the computer stopped meanwhile. "
    "Nothing of it was stored. Try it once more when nothing else is going on; if that fails too, please report it."
)
STOPPED = mark("Stopped as you asked. Nothing of it was stored.")


class Cancelled(Exception):
    """The keeper wants this work no more, or another one has taken it over."""


def _nothing() -> Mapping[str, Any]:
    return {}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What work came to: `result`, plain values, and `write`, called in the transaction that says it is done.

    What `write` gives is added to the result. If it raises, nothing is changed.
    """

    result: Mapping[str, Any] = field(default_factory=dict)
    write: Callable[[], Mapping[str, Any]] = _nothing


def ask(kind: str, arguments: Mapping[str, Any], keeper: "m.Keeper", uid: str | None = None) -> "m.Work":
    """Put work in the queue; the row. Asked twice under one uid, it is the same work."""
    made, _ = m.Work.objects.get_or_create(
        uid=uid or new_uid(),
        defaults={"kind": kind, "arguments": dict(arguments), "asked": now(), "asked_by": keeper.uid},
    )
    return made


def waiting() -> bool:
    """Whether anything waits: the cheap question of a worker with nothing to do."""
    return m.Work.objects.filter(state=State.WAITING).exists()


def take() -> "m.Work | None":
    """The oldest work that waits, now running; None if there is none. No two takers get the same."""
    with transaction.atomic():
        row = (
            m.Work.objects.select_for_update(skip_locked=True).filter(state=State.WAITING).order_by("id").first()
        )  # fmt: skip
        if row is None:
            return None
        row.state, row.tries, row.started = State.RUNNING, row.tries + 1, now()
        row.progress, row.message, row.cancel = 0.0, "", False
        row.save()
        return row


def progress(work: "m.Work", share: float, message: str = "") -> None:
    """Say how far work is (0-1). Raises `Cancelled` if it is wanted no more."""
    mine = m.Work.objects.filter(pk=work.pk, state=State.RUNNING, tries=work.tries)
    mine.update(progress=min(max(share, 0.0), 1.0), message=message)
    if mine.filter(cancel=False).first() is None:
        raise Cancelled


def finish(work: "m.Work", outcome: Outcome) -> bool:
    """Write what work came to and that it is done, in one transaction; False where it is not wanted any more."""
    with transaction.atomic():
        row = _mine(work)
        if row is None or row.cancel:
            return False
        result = {**outcome.result, **outcome.write()}
        _end(row, State.DONE, "", result)
        return True


def fail(work: "m.Work", message: str, **holes: str) -> bool:
    """Say that work failed and why; False where another has taken it over. `holes` fill the sentence."""
    with transaction.atomic():
        row = _mine(work)
        if row is None:
            return False
        _end(row, State.FAILED, message, {"holes": holes})
        return True


def stopped(work: "m.Work") -> bool:
    """Say that work ended because the keeper wanted it no more."""
    with transaction.atomic():
        row = _mine(work)
        if row is None:
            return False
        _end(row, State.CANCELLED, STOPPED, {})
        return True


def back(work: "m.Work", *, counted: bool) -> None:
    """Put running work back to wait, or give it up after the last try. Not `counted`: it was not its own fault."""
    with transaction.atomic():
        row = _mine(work)
        if row is not None:
            _back(row, counted=counted)


def recover() -> int:
    """Called by a worker when it starts: whatever is said to run is waiting again; how many. There is one worker."""
    with transaction.atomic():
        left = list(m.Work.objects.select_for_update().filter(state=State.RUNNING).order_by("id"))
        for row in left:
            _back(row, counted=True)
    return len(left)


def cancel(uid: str) -> None:
    """The keeper wants this work no more: what waits is dropped at once, what runs is told. Raises `ChalazaError`."""
    with transaction.atomic():
        row = m.Work.objects.select_for_update().filter(uid=uid).first()
        if row is None:
            raise ChalazaError(f"there is no work {uid!r}")
        if row.state == State.WAITING:
            _end(row, State.CANCELLED, STOPPED, {})
        elif row.state == State.RUNNING:
            row.cancel = True
            row.save(update_fields=["cancel"])


def cancelled(work: "m.Work") -> bool:
    """Whether the keeper wants running work no more."""
    return m.Work.objects.filter(pk=work.pk, cancel=True).exists()


def running(work: "m.Work") -> bool:
    """Whether this try of the work is still the one that runs."""
    return m.Work.objects.filter(pk=work.pk, state=State.RUNNING, tries=work.tries).exists()


def _mine(work: "m.Work") -> "m.Work | None":
    return m.Work.objects.select_for_update().filter(pk=work.pk, state=State.RUNNING, tries=work.tries).first()


def _back(row: "m.Work", *, counted: bool) -> None:
    if row.cancel:
        _end(row, State.CANCELLED, STOPPED, {})
    elif counted and row.tries >= TRIES:
        _end(row, State.FAILED, GIVEN_UP, {"holes": {"tries": str(row.tries)}})
    else:
        row.state, row.progress, row.message = State.WAITING, 0.0, ""
        row.tries -= 0 if counted else 1
        row.save()


def _end(row: "m.Work", state: str, message: str, result: Mapping[str, Any]) -> None:
    row.state, row.message, row.result, row.ended = state, message, dict(result), now()
    row.progress = 1.0 if state == State.DONE else row.progress
    row.save()
