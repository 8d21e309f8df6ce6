"""Every change to records: rows, the act, before and after, and the revisions of batches, in one transaction.

An act is known by its uid: sent twice, it is done once. Undo is a new act that writes `before` back; an act whose rows a
later one touched is not undone under it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import IntegrityError, models, transaction
from django.db.models.deletion import ProtectedError

from chalaza.errors import ChalazaError
from chalaza.exchange.cells import Refused, text_of
from chalaza.exchange.schema import TABLES, specs
from chalaza.records import models as m
from chalaza.records.clock import now
from chalaza.records.fields import new_uid
from chalaza.records.reach import batches_of
from chalaza.records.rows import row_of
from chalaza.words.language import mark

#: Fields that are no part of a record's history.
_TECHNICAL = frozenset({"revision", "password", "last_login"})
_TABLE_OF = {table.row: table for table in TABLES.values()}
#: What only the keeper's next form stands on: nothing rests on it.
_ASIDE = "remember"
#: Constraint -> what is wrong. One that is not here is named.
_WRONG = {
    "stay_one_open": mark("The eggs can only be in one machine now: say when they left the other."),
    "stay_ends_after_start": mark("They moved out after they moved in: look at both moments."),
    "mount_one_open": mark("A probe hangs in one place: say when it was taken from the other."),
    "mount_ends_after_start": mark("It was taken down after it was hung up: look at both moments."),
    "event_ends_after_start": mark("It ended after it began: look at both moments."),
    "lot_laid_in_order": mark("The last egg was laid before the first: look at both days."),
}
_OVERLAP = mark("The two times overlap: say first when the earlier one ended.")
_THERE = mark("This is already there.")
_RESTS = mark("A later entry rests on this one: undo that one first.")
_READ = mark("Its readings rest on this probe: withdraw their logs first.")
_PHONE = mark("Letting a phone in or putting it out is not undone: do the other on the page of phones.")
_NAMES = {model._meta.object_name: model for model in m.Act._meta.apps.get_app_config("records").get_models()}


class ActError(ChalazaError):
    """A change that cannot be made; the text says why. `problems`: field -> sentences, for the form it came from."""

    def __init__(self, text: str, problems: dict[str, list[str]] | None = None) -> None:
        super().__init__(text)
        self.problems = problems or {}


class Resting(ActError):
    """Rows that cannot be taken away: `rows` rest on them."""

    def __init__(self, rows: Iterable[models.Model]) -> None:
        self.rows = tuple(rows)
        names = sorted({str(one._meta.verbose_name_plural) for one in self.rows})
        super().__init__(f"it cannot be taken away while others rest on it: {', '.join(names)}")


class Entangled(ActError):
    """An act whose rows a later act touched; `later` is the newest of those."""

    def __init__(self, later: "m.Act") -> None:
        self.later = later
        super().__init__(_RESTS)


@dataclass(frozen=True, slots=True)
class _Before:
    record: models.Model
    before: dict[str, Any] | None


def act(
    keeper: "m.Keeper", verb: str, *, save: Iterable[models.Model] = (), delete: Iterable[models.Model] = (),
    uid: str | None = None, subject: str = "", undoes: "m.Act | None" = None,
) -> "m.Act":  # fmt: skip
    """Save and delete records as one act; the act. An act of that `uid` done before is given back, and nothing is done.

    Rows are saved in the order given (what others point to first) and deleted in theirs. Raises `ActError` with what is
    wrong, field by field; nothing is changed then.
    """
    saved, deleted = list(save), list(delete)
    try:
        with transaction.atomic():
            if uid is not None and (found := m.Act.objects.filter(uid=uid).first()) is not None:
                return found
            reached = batches_of([*saved, *deleted])
            done = m.Act(uid=uid or new_uid(), at=now(), keeper=keeper, verb=verb, subject=subject[:200], undoes=undoes)
            done.save(force_insert=True)
            changes = [_saved(done, one) for one in saved] + [_deleted(done, one) for one in deleted]
            m.Change.objects.bulk_create([one for one in changes if one is not None])
            reached |= batches_of(saved)
            if len(reached) == 1:
                done.batch = next(iter(reached))
                done.save(update_fields=["batch"])
            m.Batch.objects.filter(uid__in=reached).update(revision=done.pk)
            return done
    except ProtectedError as held:
        raise Resting(held.protected_objects) from held
    except IntegrityError as broken:
        raise ActError(_broken(broken, saved)) from broken


def _saved(done: "m.Act", record: models.Model) -> "m.Change | None":
    kind = type(record)
    uid = _uid(record)
    old = kind._default_manager.filter(uid=uid).first()
    if old is not None and record.pk is None:
        record.pk = old.pk
    record._state.adding = old is None
    _check(record)
    before, after = (None if old is None else as_json(old)), as_json(record)
    if old is None:
        record.save(force_insert=True)
        after = as_json(record)
    elif before == after:
        return None
    else:
        record.save(force_update=True, update_fields=[name for name in _fields(kind) if name not in ("id", "uid")])
    return m.Change(act=done, model=str(kind._meta.object_name), row=uid, before=before, after=after)


def _deleted(done: "m.Act", record: models.Model) -> "m.Change":
    kind, uid, before = type(record), _uid(record), as_json(record)
    if isinstance(record, m.Probe) and record.chunks.filter(source__withdrawn=False).exists():
        raise ActError(_READ)
    if isinstance(record, m.Egg) and (weighed := _weighed(record)):
        raise Resting(weighed)
    record.delete()
    return m.Change(act=done, model=str(kind._meta.object_name), row=uid, before=before, after=None)


def _weighed(egg: "m.Egg") -> "list[m.Weighing]":
    """The weighings that name it: they do so in words, which no pointer holds."""
    named = m.Weighing.objects.filter(batch_id=egg.batch_id, eggs__contains=egg.uid).select_related("batch")
    return [one for one in named if egg.uid in one.eggs.split()]


def _check(record: models.Model) -> None:
    """Raises `ActError` unless the record may stand: its own rules, those between rows, and those of the open folder."""
    try:
        record.full_clean(exclude=_TECHNICAL)
    except ValidationError as wrong:
        problems = {name: [_told(str(text)) for text in texts] for name, texts in wrong.message_dict.items()}
        name, texts = next(iter(problems.items()))
        raise ActError(texts[0] if name == NON_FIELD_ERRORS else f"{name}: {texts[0]}", problems) from wrong
    check_for_folder(record)


def _told(text: str) -> str:
    """What is wrong in words of ours, where the text only names a constraint."""
    return next((said for name, said in _WRONG.items() if f"“{name}”" in text), text)


def check_for_folder(record: models.Model) -> None:
    """Raises `ActError` unless the open folder could carry the record."""
    if hasattr(record, "ROW"):
        row = row_of(record)
        for spec in specs(_TABLE_OF[type(row)]):
            try:
                text_of(spec, getattr(row, spec.name))
            except Refused as refused:
                raise ActError(f"{spec.name}: {refused}", {spec.name: [str(refused)]}) from refused


def _uid(record: models.Model) -> str:
    return str(record.uid)  # type: ignore[attr-defined]  # every record has one, `Row` or not


def _fields(kind: type[models.Model]) -> list[str]:
    return [field.attname for field in kind._meta.concrete_fields if field.attname not in _TECHNICAL]


def as_json(record: models.Model) -> dict[str, Any]:
    """A record as the history keeps it."""
    return {name: getattr(record, name) for name in _fields(type(record))}


def _broken(broken: IntegrityError, saved: Sequence[models.Model]) -> str:
    text = str(broken)
    if "overlap" in text:
        return _OVERLAP
    if "UNIQUE" in text.upper() and saved:
        return _THERE
    return f"the notebook refused it: {text.splitlines()[0]}"


def undo(keeper: "m.Keeper", what: "m.Act", *, uid: str | None = None) -> "m.Act":
    """Undo an act by a new one. Raises `Entangled` where a later act touched the same rows, `ActError` if it cannot be."""
    if what.changes.filter(model=m.Device.__name__).exists():  # who is let in is never the outcome of an undo
        raise ActError(_PHONE)
    if (already := m.Act.objects.filter(undoes=what).first()) is not None:
        return already
    later = later_than(what)
    if later is not None:
        raise Entangled(later)
    save: list[models.Model] = []
    delete: list[models.Model] = []
    for change in reversed(list(what.changes.all())):
        kind = _NAMES[change.model]
        if change.before is None and kind is m.Source:
            save.extend(_withdrawn(change.row))
        elif change.before is None:
            delete.extend(kind._default_manager.filter(uid=change.row))
        else:
            save.append(_record(kind, _put_back(kind, change)))
    return act(keeper, "undo", save=save, delete=delete, uid=uid, subject=what.subject, undoes=what)


def _put_back(kind: type[models.Model], change: "m.Change") -> dict[str, Any]:
    """A row as it was before, but for fields that the change did not touch: those stay as they are now."""
    before, after = change.before or {}, change.after or {}
    now_there = kind._default_manager.filter(uid=change.row).first()
    kept = as_json(now_there) if now_there is not None else {}
    return {name: kept.get(name, value) if after.get(name) == value else value for name, value in before.items()}


def _withdrawn(uid: str) -> "list[m.Source]":
    """A source is never unpicked: undoing its import puts it out of force, and its readings stay for undoing that."""
    found = list(m.Source.objects.filter(uid=uid))
    for one in found:
        one.withdrawn = True
    return found


def later_than(what: "m.Act") -> "m.Act | None":
    """The newest act in force that touched a row of `what` after it; an act and its undoing cancel out."""
    touched = models.Q(pk=None)
    for change in what.changes.all():
        touched |= models.Q(changes__model=change.model, changes__row=change.row)
    after = (
        m.Act.objects.filter(touched, pk__gt=what.pk, undone_by=None).exclude(verb=_ASIDE).order_by("-pk").distinct()
    )
    return next((one for one in after if _stands(one)), None)


def _stands(one: "m.Act") -> bool:
    """Whether an act that nobody undid adds something: an act does, an undoing does not, undoing that does again."""
    depth = 0
    while one.undoes is not None:
        one, depth = one.undoes, depth + 1
    return depth % 2 == 0


def _record(kind: type[models.Model], values: dict[str, Any]) -> models.Model:
    known = {field.attname for field in kind._meta.concrete_fields}
    return kind(**{name: value for name, value in values.items() if name in known})


def history(model: str, uid: str) -> "models.QuerySet[m.Change]":
    """What happened to one row, newest first."""
    return m.Change.objects.filter(model=model, row=uid).select_related("act").order_by("-id")
