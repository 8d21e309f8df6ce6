"""Copies of the embedded database, each verified before it counts: taken while the notebook is open, kept for 30 days.

A copy is one moment of the notebook: the counts of its rows are read from the very snapshot that is copied, and the
copy must be sound and hold as many.
"""

import os
import re
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from chalaza.errors import NotebookError
from chalaza.words.language import mark

FOLDER = "copies"
KEPT_D = 30
_DAY_S = 86_400
_STAMP = "%Y%m%d-%H%M%SZ"
_NAME = re.compile(r"(\d{8}-\d{6}Z)-(migration|restore)(?:-(\d+))?\.db")
#: A copy waits this long for whoever is writing. [s]
_WAIT_S = 30.0


@dataclass(frozen=True, slots=True)
class Kept:
    """A copy in the data folder: when it was taken (seconds UTC), before what, its size in bytes."""

    path: Path
    at: int
    before: str
    size_b: int


def take(database: Path, target: Path) -> Mapping[str, int]:
    """Copy an open database to `target`, which must not be there, and verify it; rows by table.

    Raises `NotebookError` where the copy is not what it was taken of; `OSError`, `sqlite3.Error` where nothing can be
    copied. No half copy stays.
    """
    half = target.with_name(target.name + ".half")
    half.unlink(missing_ok=True)
    os.close(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    try:
        counts = _copied(database, half)
        verify(half, counts)
        half.replace(target)
    finally:
        half.unlink(missing_ok=True)
    return counts


def _copied(database: Path, target: Path) -> dict[str, int]:
    if not database.is_file():
        raise FileNotFoundError(2, "no such notebook", str(database))
    with (
        closing(sqlite3.connect(database, timeout=_WAIT_S, isolation_level=None)) as source,
        closing(sqlite3.connect(target, isolation_level=None)) as copy,
    ):
        source.execute("BEGIN")
        counts = rows(source)  # the first read fixes the snapshot; the copy is taken of the same
        source.backup(copy)
        source.execute("COMMIT")
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, with nothing beside it
    return counts


def verify(copy: Path, counts: Mapping[str, int]) -> None:
    """Raises `NotebookError` unless the copy is sound and has these rows."""
    with closing(sqlite3.connect(f"{copy.absolute().as_uri()}?mode=ro", uri=True)) as found:
        told = [text for (text,) in found.execute("PRAGMA integrity_check(3)")]
        if told != ["ok"] or rows(found) != dict(counts):
            said = "; ".join(told) if told != ["ok"] else mark("rows are missing")
            raise NotebookError(
                mark(
                    "The copy of the notebook is not sound ({said}): nothing was changed. Try it again; look at the disk."
                ),
                said=said,
            )


def rows(database: sqlite3.Connection) -> dict[str, int]:
    """How many rows each table has."""
    tables = database.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
    names = sorted(name for (name,) in tables)
    return {name: database.execute(f"SELECT COUNT(*) FROM {quoted(name)}").fetchone()[0] for name in names}


def quoted(name: str) -> str:
    """A name as SQL takes it."""
    return '"' + name.replace('"', '""') + '"'


def keep(folder: Path, database: Path, before: str, now: int) -> Kept:
    """Take a copy into the data folder before something that changes much: "migration" or "restore"."""
    place = folder / FOLDER
    place.mkdir(mode=0o700, exist_ok=True)
    stem = f"{datetime.fromtimestamp(now, UTC):{_STAMP}}-{before}"
    names = [f"{stem}.db", *(f"{stem}-{n}.db" for n in range(2, 1000))]
    path = next(place / name for name in names if not (place / name).exists())
    take(database, path)
    return Kept(path, now, before, path.stat().st_size)


def kept(folder: Path) -> list[Kept]:
    """The copies in the data folder, newest first."""
    found = [(path, match) for path in (folder / FOLDER).glob("*.db") if (match := _NAME.fullmatch(path.name))]
    found.sort(key=lambda one: (one[1][1], int(one[1][3] or 1)), reverse=True)
    return [_kept(path, match) for path, match in found]


def _kept(path: Path, match: re.Match[str]) -> Kept:
    at = datetime.strptime(match[1], _STAMP).replace(tzinfo=UTC)
    return Kept(path, int(at.timestamp()), match[2], path.stat().st_size)


def drop_old(folder: Path, now: int) -> list[Kept]:
    """Take away the copies older than 30 days; which they were."""
    old = [one for one in kept(folder) if one.at < now - KEPT_D * _DAY_S]
    for one in old:
        one.path.unlink(missing_ok=True)
    return old
