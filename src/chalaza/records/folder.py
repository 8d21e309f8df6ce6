"""The open folder and the notebook: a batch out, a batch in, without loss.

What two batches share (a box, a probe, a power cut) carries its uid: a second batch from the same shed brings only its own.
A row that is in the notebook already and says something else is a clash: it is told, and only on the keeper's word do the
newcomers get names of their own.
"""

import hashlib
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, fields, is_dataclass, replace
from typing import Any, BinaryIO

import numpy as np
from django.db import transaction

from chalaza import exchange
from chalaza.errors import FolderError
from chalaza.exchange.beliefs import rows_of
from chalaza.records import beliefs as learnt
from chalaza.records import models as m
from chalaza.records import series
from chalaza.records.acts import act
from chalaza.records.clock import now
from chalaza.records.fields import new_uid
from chalaza.records.gather import evidence
from chalaza.records.rows import MODELS, record_of, row_of
from chalaza.values import evidence as rows
from chalaza.values.beliefs import Beliefs
from chalaza.values.evidence import Evidence
from chalaza.values.fields import columns


class Clash(FolderError):
    """Rows of the folder that the notebook has otherwise; `rows`: (what it is, its uid)."""

    def __init__(self, clashing: tuple[tuple[str, str], ...]) -> None:
        self.rows = clashing
        named = ", ".join(f"{what} {uid!r}" for what, uid in clashing[:6])
        super().__init__(
            f"the notebook already has other records of the same name: {named}",
            allowed="bring it in with new names, or leave it out",
        )


@dataclass(frozen=True, slots=True)
class Brought:
    """What an import did: the act, the batch, rows that were there already, readings and those another source gave too."""

    act: "m.Act"
    batch: str
    known: int
    readings: int
    doubled: int


def out(uid: str, target: BinaryIO) -> None:
    """Write the batch of that uid as a zipped open folder, with the beliefs it is assessed with.

    Raises `EvidenceError` for no such batch, `FolderError` for what a folder cannot carry.
    """
    batch = m.Batch.objects.get(uid=uid)
    exchange.write_zip(target, evidence(uid), learnt.of(batch))


@dataclass(frozen=True, slots=True)
class Prepared:
    """A batch ready to be written: its records and packed readings, worked out apart from any transaction."""

    records: tuple[Any, ...]
    batch: "m.Batch"
    source: "m.Source"
    chunks: tuple["m.Chunk", ...]
    known: int
    doubled: int

    def write(self, keeper: "m.Keeper", uid: str | None = None) -> Brought:
        """Put it into the notebook as one act, once by `uid`. Raises `ActError` for what the notebook refuses."""
        with transaction.atomic():
            save = [*self.records, self.source] if self.chunks else list(self.records)
            done = act(keeper, "bring", save=save, uid=uid, subject=self.batch.name)
            if not m.Chunk.objects.filter(source__uid=self.source.uid).exists() and done.changes.exists():
                m.Chunk.objects.bulk_create(self.chunks, batch_size=200)
        return Brought(done, self.batch.uid, self.known, sum(chunk.n for chunk in self.chunks), self.doubled)


def prepare(one: Evidence, believed: Beliefs | None, *, name: str, rename: bool = False) -> Prepared:
    """Make a batch ready to be brought in. Raises `Clash`, and `FolderError` for a batch that is there already.

    `believed`: the beliefs it came with; the batch is assessed with them from now on. `rename`: rows that clash get names
    of their own.
    """
    one = _renamed(one) if rename else one
    if clashing := _clashes(one):
        raise Clash(clashing)
    records = _records(one)
    fresh = [each for each in records if not type(each).objects.filter(uid=each.uid).exists()]
    batch = next((each for each in fresh if isinstance(each, m.Batch)), None)
    if batch is None:
        raise FolderError(f"the batch {one.batch.name!r} is in the notebook already", allowed="another batch")
    if believed is not None:
        batch.carried = [asdict(row) for row in rows_of(believed)]
    source = m.Source(sort="folder", name=name[:255], at=now())
    packed = [chunk for probe, given in one.setting.series.items() for chunk in series.chunks(probe, source.uid, given)]
    doubled = sum(_shared(probe, given) for probe, given in one.setting.series.items())
    return Prepared(tuple(fresh), batch, source, tuple(packed), len(records) - len(fresh), doubled)


def bring(
    keeper: "m.Keeper", one: Evidence, believed: Beliefs | None, *, name: str, rename: bool = False, uid: str | None = None
) -> Brought:  # fmt: skip
    """Prepare and write in one go; an act of that `uid` done before is given back. Raises what the two raise."""
    if uid is not None and (done := m.Act.objects.filter(uid=uid).first()) is not None:
        return Brought(done, done.batch, 0, 0, 0)
    return prepare(one, believed, name=name, rename=rename).write(keeper, uid)


def _shared(probe: str, given: rows.Series) -> int:
    """How many of these readings the notebook has already, to the second."""
    if not len(given):
        return 0
    held = series.read(probe, int(given.t[0]), int(given.t[-1]) + 1).series
    return int(np.count_nonzero(np.isin(given.t, held.t, assume_unique=True)))


def _records(one: Evidence) -> list[Any]:
    """Every record the evidence stands for, what others point to first; not saved."""
    setting, place, batch = one.setting, one.setting.place.uid, one.batch.uid
    out: list[Any] = [record_of(setting.place)]
    out += [record_of(each, place_id=place) for each in setting.machines]
    out += [record_of(each) for each in setting.probes]
    out += [record_of(each, **({} if each.machine else {"place_id": place})) for each in setting.mounts]
    out += [record_of(one.batch), *(record_of(each) for each in one.stays)]
    for name in dict.fromkeys(lot.parents for lot in one.lots):
        out.append(m.Parents.objects.filter(name=name).first() or m.Parents(name=name, uid=_of_name(name)))
    named = {each.name: each.uid for each in out if isinstance(each, m.Parents)}
    out += [record_of(lot, parents_id=named[lot.parents], batch_id=batch) for lot in one.lots]
    out += [record_of(each, batch_id=batch) for each in one.eggs]
    for part in (one.weighings, one.hatches, one.breakouts, one.notes, one.events):
        out += [record_of(each, batch_id=batch) for each in part]
    for others in (one.air_cells, one.candlings, setting.events, setting.checks):
        out += [record_of(each) for each in others]
    return out


def _of_name(name: str) -> str:
    """A uid for parents known by name alone: the same name, the same flock."""
    return f"parents-{hashlib.sha256(name.encode()).hexdigest()[:16]}"


def _all(one: Evidence) -> Iterable[Any]:
    """Every row of the evidence."""
    for part in fields(one):
        value = getattr(one, part.name)
        if isinstance(value, tuple):
            yield from value
        elif part.name == "setting":
            yield from (value.place, *value.machines, *value.probes, *value.mounts, *value.checks, *value.events)
        elif is_dataclass(value):
            yield value


def _clashes(one: Evidence) -> tuple[tuple[str, str], ...]:
    """Rows whose uid the notebook has with other contents."""
    found = []
    for row in _all(one):
        held = MODELS[type(row)]._default_manager.filter(uid=row.uid).first()
        if held is not None and row_of(held) != row:
            found.append((type(row).__name__.lower(), row.uid))
    return tuple(found)


def _renamed(one: Evidence) -> Evidence:
    """The evidence with a new name for every row that clashes, and for rows that name one of those and were known."""
    while clashing := _clashes(one):
        names = {uid: new_uid() for _, uid in clashing}
        tables = {(what, uid): names[uid] for what, uid in clashing}
        one = _with_names(one, tables)
    return one


_REFS = {"batch": "batch", "machines": "machine", "probes": "probe", "lots": "lot", "eggs": "egg"}


def _with_names(one: Evidence, names: Mapping[tuple[str, str], str]) -> Evidence:
    def new(row: Any) -> Any:
        changed: dict[str, Any] = {}
        kind: type = type(row)
        for column in columns(kind):
            value = getattr(row, column.name)
            what = type(row).__name__.lower() if column.field.key else _REFS.get(column.field.ref, "")
            if not what or value is None:
                continue
            uids = value.split() if column.field.ref == "eggs" and column.name == "eggs" else [value]
            changed[column.name] = " ".join(names.get((what, each), each) for each in uids)
        return replace(row, **changed)

    setting = replace(
        one.setting, place=new(one.setting.place),
        **{part: tuple(map(new, getattr(one.setting, part))) for part in ("machines", "probes", "mounts", "checks", "events")},
        series={names.get(("probe", probe), probe): each for probe, each in one.setting.series.items()},
    )  # fmt: skip
    parts = [part.name for part in fields(one) if part.name not in ("setting", "batch")]
    return replace(
        one, setting=setting, batch=new(one.batch), **{part: tuple(map(new, getattr(one, part))) for part in parts}
    )
