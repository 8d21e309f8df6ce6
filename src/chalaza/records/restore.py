"""Putting a backup in the place of the notebook.

What is in it is copied, row by row, into a database freshly made by our own migrations, whose checks and triggers are
ours; that one is brought up to date, looked over as if it had been typed, and put in the place of the notebook in one
transaction, while pages may be reading. The notebook that was there is kept as a copy first.
"""

import os
import secrets
import shutil
import sqlite3
import tempfile
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import connections, models
from django.db.migrations.executor import MigrationExecutor

from chalaza.errors import ChalazaError, NotebookError
from chalaza.exchange.beliefs import beliefs_of
from chalaza.records import acts, answers, backup, copies, foreign, series, upkeep
from chalaza.records import models as m
from chalaza.records.copies import quoted
from chalaza.records.database import of_file
from chalaza.records.foreign import REFUSED
from chalaza.values.beliefs import BeliefRow
from chalaza.words.language import mark

_APP = "records"
#: Not taken from a backup: who is let in, what waits to be done, and what can be computed again.
NOT_TAKEN = frozenset({"records_device", "records_code", "records_work", "records_answer"})
#: Of those, what the notebook that is replaced hands on: phones stay let in.
_HANDED_ON = "records_device"
#: What is held by the database alone, or is no entry of a keeper.
_NOT_LOOKED_OVER = (m.Chunk, m.Reading, m.Change, m.Forecast, m.Answer, m.Work, m.Code, m.Device)
#: Three columns of four bytes, as `series.packed` lays them out.
_READING_BYTES = 12
_SIGN_IN = {"password", "last_login"}


@dataclass(frozen=True, slots=True)
class Restored:
    """What was put in place: batches, acts, stored files; `copy` is the notebook that was there before."""

    batches: int
    acts: int
    files: int
    copy: copies.Kept | None


def restore(file: BinaryIO, database: Path, folder: Path, now: int) -> Restored:
    """Put a backup, or a kept copy of a database, in the place of the notebook `database`, which may be missing.

    Raises `NotebookError` with what is wrong with it; the notebook is then as it was.
    """
    _refuse_while_working(database)
    upkeep.refuse_without_room(folder, 4 * file.seek(0, 2))
    with tempfile.TemporaryDirectory(prefix="restore-", dir=folder) as name:
        scratch = Path(name)
        given, fresh = _given(file, scratch), scratch / "fresh.db"
        with foreign.looked_at(given) as source:
            counts = _make(source, fresh, database)
        _refuse_while_working(database)
        copy = copies.keep(folder, database, "restore", now) if database.exists() else None
        files = _bring_files(scratch / backup.FILES, folder / backup.FILES)
        _put(fresh, database)
    answers.forget()
    return Restored(counts["records_batch"], counts["records_act"], files, copy)


def _given(file: BinaryIO, scratch: Path) -> Path:
    """The database to look at, unpacked into a folder of its own with the stored files beside it."""
    target = scratch / "given.db"
    (scratch / backup.FILES).mkdir()
    if backup.is_database(file):
        file.seek(0)
        with target.open("wb") as out:
            shutil.copyfileobj(file, out)
        return target
    with backup.opened(file) as found:
        if backup.DATABASE not in found.manifest.members:
            raise NotebookError(
                mark(
                    "This backup is of a database server: unpack {name} from it, then pg_restore --clean --dbname=NAME {name}."
                ),
                name=backup.SERVER_DATABASE,
            )
        for name in found.manifest.members:
            found.unpack(name, target if name == backup.DATABASE else scratch / name)
    return target


def _refuse_while_working(database: Path) -> None:
    """Raises `NotebookError` while slow work waits or runs: it would write into another notebook than it began in."""
    if not database.exists():
        return
    with closing(sqlite3.connect(database, timeout=30)) as found, suppress(sqlite3.OperationalError):
        asked = "SELECT COUNT(*) FROM records_work WHERE state IN ('waiting', 'running')"
        if found.execute(asked).fetchone()[0]:
            raise NotebookError(mark("A file is being read in: wait until that is done, or cancel it, then restore."))


# Making it anew


def _make(source: sqlite3.Connection, fresh: Path, present: Path) -> dict[str, int]:
    """Make `fresh` hold what `source` holds, at the newest step, looked over; rows by table."""
    with _alias(fresh) as alias:
        step = _step(source, alias)
        old = MigrationExecutor(connections[alias]).loader.project_state((_APP, step)).apps
        MigrationExecutor(connections[alias]).migrate([(_APP, step)])
        connections[alias].close()
        kinds = [model for model in old.get_app_config(_APP).get_models() if model._meta.managed]
        with closing(sqlite3.connect(fresh, isolation_level=None)) as target:
            foreign.check_schema(source, target)
            _fill(source, target, kinds, present)
        executor = MigrationExecutor(connections[alias])
        executor.migrate(executor.loader.graph.leaf_nodes())
        upkeep.remember_version(alias)
        _look_over(alias)
        with closing(sqlite3.connect(fresh)) as made:
            return copies.rows(made)


@contextmanager
def _alias(database: Path) -> Iterator[str]:
    """A name under which Django reaches a database beside the notebook, for this while."""
    name = f"beside-{secrets.token_hex(8)}"
    connections.databases[name] = connections.databases["default"] | of_file(database)
    try:
        yield name
    finally:
        connections[name].close()
        del connections[name]
        del connections.databases[name]


def _step(source: sqlite3.Connection, alias: str) -> str:
    """The newest of our migrations that `source` has; it must have all before it and none that we do not know."""
    graph = MigrationExecutor(connections[alias]).loader.graph
    (leaf,) = graph.leaf_nodes(_APP)
    known = [str(name) for app, name in graph.forwards_plan(leaf) if app == _APP]
    applied, version = foreign.steps_of(source, _APP)
    if applied - set(known):
        upkeep.refuse_newer(upkeep.Standing(False, (), tuple(sorted(applied - set(known))), version))
    if not applied or applied != set(known[: len(applied)]):
        raise NotebookError(REFUSED, why="its list of migrations has a hole")
    return known[len(applied) - 1]


def _fill(
    source: sqlite3.Connection, target: sqlite3.Connection, kinds: list[type[models.Model]], present: Path
) -> None:
    target.execute("PRAGMA foreign_keys=OFF")
    target.execute("BEGIN")
    for kind in kinds:
        if kind._meta.db_table not in NOT_TAKEN:
            foreign.copy_rows(source, target, kind)
    _hand_on(target, present)
    if (broken := target.execute("PRAGMA foreign_key_check").fetchone()) is not None:
        raise NotebookError(REFUSED, why=f"{broken[0]}: a row that points to nothing")
    target.execute("COMMIT")


def _hand_on(target: sqlite3.Connection, present: Path) -> None:
    """The phones let in by the notebook that is replaced stay let in by the one put in its place."""
    if not present.exists():
        return
    with closing(sqlite3.connect(present, timeout=30)) as old:
        names = foreign.columns(target, _HANDED_ON)
        if names and foreign.columns(old, _HANDED_ON) == names:
            rows = old.execute(f"SELECT * FROM {quoted(_HANDED_ON)}").fetchall()
            target.executemany(f"INSERT INTO {quoted(_HANDED_ON)} VALUES ({', '.join('?' * len(names))})", rows)


def _look_over(alias: str) -> None:
    """Raises `NotebookError` unless every row might have been typed here."""
    known = {model.__name__ for model in apps.get_app_config(_APP).get_models()}
    if m.Change.objects.using(alias).exclude(model__in=known).exists():
        raise NotebookError(REFUSED, why="a change of something that no notebook has")
    for uid, day, n, data in m.Chunk.objects.using(alias).values_list("source", "day", "n", "data").iterator(200):
        if not _unpacks(bytes(data), n, day):
            raise NotebookError(REFUSED, why=f"readings of source {uid}, day {day} cannot be unpacked")
    m.Lesson.objects.using(alias).update(
        engine="restored"
    )  # what finished batches taught is worked out anew, never taken over
    for model in apps.get_app_config(_APP).get_models():
        if model not in _NOT_LOOKED_OVER:
            for record in model._default_manager.using(alias).iterator(500):
                _look_at(record)


def _unpacks(data: bytes, n: int, day: int) -> bool:
    """Whether readings can be unpacked, found out without unpacking more than they may be."""
    try:
        if len(zlib.decompressobj().decompress(data[1:], _READING_BYTES * n + 1)) != _READING_BYTES * n:
            return False
        series.unpacked(data, n, day)
    except (zlib.error, ValueError, ChalazaError):
        return False
    return True


def _look_at(record: models.Model) -> None:
    pointers = {field.name for field in record._meta.concrete_fields if field.is_relation}
    try:
        record.clean_fields(exclude=pointers | _SIGN_IN)
        acts.check_for_folder(record)
        _check_json(record)
    except (ValidationError, ChalazaError, TypeError, ValueError) as wrong:
        said = "; ".join(wrong.messages) if isinstance(wrong, ValidationError) else str(wrong)
        raise NotebookError(REFUSED, why=f"{record._meta.verbose_name} {record.pk}: {foreign.plain(said)}") from wrong


def _check_json(record: models.Model) -> None:
    """Raises an error where what lies in a JSON field is not of the kind that belongs there."""
    for field in record._meta.concrete_fields:
        kind = field.default if isinstance(field, models.JSONField) and field.default in (dict, list) else object
        if not isinstance(getattr(record, field.attname), kind):
            raise ValueError(f"{field.attname} is no {kind.__name__}")
    if isinstance(record, m.Batch):
        beliefs_of([BeliefRow(**row) for row in record.carried])


# Putting it in place


def _bring_files(given: Path, kept: Path) -> int:
    """Put the stored files beside those that are there; each is known by its content, so none is overwritten."""
    found = sorted(given.iterdir())
    if found:
        kept.mkdir(mode=0o700, exist_ok=True)
    for path in found:
        os.replace(path, kept / path.name)
    return len(found)


def _put(fresh: Path, database: Path) -> None:
    """Write `fresh` over the notebook in one transaction; whoever reads meanwhile sees the one or the other."""
    if not database.exists():
        os.close(os.open(database, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    with (
        closing(sqlite3.connect(fresh)) as source,
        closing(sqlite3.connect(database, timeout=30, isolation_level=None)) as target,
    ):
        target.execute("PRAGMA synchronous=FULL")
        source.backup(target)
