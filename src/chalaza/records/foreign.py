"""A database from elsewhere, treated as hostile: it is looked at and its rows are copied, value by value; it never acts.

It is opened read-only, with a schema that is not trusted. It must be sound and hold the tables and columns that our own
migrations make at some step, no view, and no trigger but our own to the letter. Rows are read without its indexes.
"""

import json
import re
import sqlite3
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager
from math import isfinite
from pathlib import Path
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models

from chalaza.errors import NotebookError
from chalaza.records.copies import quoted
from chalaza.records.fields import check_text
from chalaza.words.language import mark

REFUSED = mark("This backup is refused ({why}): nothing was changed.")
#: Tables of the engine and of Django: they are read here and there, and never copied.
_OWN = re.compile(r"sqlite_(?:sequence|stat[14])|django_migrations")
_MOST_TEXT, _MOST_VALUE_BYTES, _BLOCK = 1_000_000, 20_000_000, 500
#: Steps of the engine before a look is given up, and more for each byte; a sound file was seen to need a fiftieth.
_STEPS, _STEPS_PER_BYTE, _AT_A_TIME = 200_000_000, 200, 100_000


@contextmanager
def looked_at(database: Path) -> Iterator[sqlite3.Connection]:
    """The database, read-only and found sound. Whatever the engine trips over is refused by `NotebookError`."""
    try:
        with closing(_connected(database)) as found:
            told = found.execute("PRAGMA integrity_check(1)").fetchone()[0]
            if told != "ok":
                raise NotebookError(REFUSED, why=f"its database is not sound: {plain(told)}")
            yield found
    except sqlite3.Error as fault:
        raise NotebookError(REFUSED, why=f"its database cannot be read: {plain(fault)}") from fault


def plain(text: object) -> str:
    """What a file says, short and without anything a terminal would take for more than letters."""
    return "".join(one if one.isprintable() else "?" for one in str(text))[:200]


def _connected(database: Path) -> sqlite3.Connection:
    found = sqlite3.connect(f"{database.absolute().as_uri()}?mode=ro&immutable=1", uri=True, isolation_level=None)
    found.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _MOST_VALUE_BYTES)
    found.setlimit(sqlite3.SQLITE_LIMIT_ATTACHED, 0)
    found.set_progress_handler(_patience(_STEPS + _STEPS_PER_BYTE * database.stat().st_size), _AT_A_TIME)
    for pragma in ("trusted_schema=OFF", "cell_size_check=ON", "mmap_size=0", "query_only=ON"):
        found.execute(f"PRAGMA {pragma}")
    return found


def _patience(steps: int) -> Callable[[], int]:
    """Called now and then by the engine; says to give up once it took too many steps (a file may lead in circles)."""
    calls = iter(range(steps // _AT_A_TIME))
    return lambda: int(next(calls, None) is None)


def steps_of(source: sqlite3.Connection, app: str) -> tuple[set[str], str]:
    """The migrations it says it has, and the version of the program that last kept it (empty where none is told)."""
    _check_names(source, {"django_migrations": {"id", "app", "name", "applied"}}, whole=False)
    rows = source.execute("SELECT app, name FROM django_migrations NOT INDEXED ORDER BY rowid").fetchall()
    if len(rows) > 10_000 or any(not isinstance(one, str) for row in rows for one in row):
        raise NotebookError(REFUSED, why="its list of migrations is none")
    versions = [name for owner, name in rows if owner == "chalaza"]
    return {name for owner, name in rows if owner == app}, (versions or [""])[-1][:40]


def check_schema(source: sqlite3.Connection, own: sqlite3.Connection) -> None:
    """Raises `NotebookError` unless `source` has the tables and columns of `own`, and nothing that could act."""
    known = {(kind, name): sql for kind, name, sql in own.execute("SELECT type, name, sql FROM sqlite_master")}
    for kind, name, sql in source.execute("SELECT type, name, sql FROM sqlite_master").fetchall():
        if kind == "table" and _OWN.fullmatch(str(name)):
            continue
        if kind == "index" and sql is None:
            continue
        if (kind, name) not in known:
            raise NotebookError(REFUSED, why=f"a {kind} in it that no notebook has: {plain(name)}")
        if kind == "trigger" and sql != known[kind, name]:
            raise NotebookError(REFUSED, why=f"a trigger in it is not ours: {name}")
    tables = [name for kind, name in known if kind == "table" and not _OWN.fullmatch(name)]
    _check_names(source, {name: set(columns(own, name)) for name in tables}, whole=True)


def _check_names(source: sqlite3.Connection, wanted: Mapping[str, set[str]], *, whole: bool) -> None:
    made = dict(source.execute("SELECT name, sql FROM sqlite_master WHERE type = 'table'").fetchall())
    for table, names in wanted.items():
        if not re.match(r"CREATE TABLE ", str(made.get(table, ""))):
            raise NotebookError(REFUSED, why=f"it has no table {table}: no whole notebook")
        found = set(columns(source, table))
        if found != names if whole else not names <= found:
            odd = plain(", ".join(sorted(map(str, found ^ names))))
            raise NotebookError(REFUSED, why=f"the columns of {table} are not those of a notebook: {odd}")


def columns(database: sqlite3.Connection, table: str) -> list[str]:
    """The ordinary columns of a table; a computed one gets a name that no table of ours has."""
    found = database.execute(f"PRAGMA table_xinfo({quoted(table)})").fetchall()
    return [name if hidden == 0 else f"{name} (computed)" for _, name, *_, hidden in found]


def copy_rows(source: sqlite3.Connection, target: sqlite3.Connection, model: type[models.Model]) -> int:
    """Copy the rows of a model's table, each value looked at; how many. Raises `NotebookError` for what no column takes."""
    table = model._meta.db_table
    fields = {field.column: field for field in model._meta.concrete_fields}
    names = ", ".join(quoted(str(name)) for name in fields)
    holes = ", ".join("?" * len(fields))
    read = source.execute(f"SELECT {names} FROM {quoted(table)} NOT INDEXED")
    count = 0
    while rows := read.fetchmany(_BLOCK):
        for row in rows:
            for field, value in zip(fields.values(), row, strict=True):
                if not _holds(field, value):
                    raise NotebookError(REFUSED, why=f"{table}, {field.column}: a value that cannot stand there")
        try:
            target.executemany(f"INSERT INTO {quoted(table)} ({names}) VALUES ({holes})", rows)
        except sqlite3.IntegrityError as broken:
            raise NotebookError(REFUSED, why=f"{table}: {plain(broken)}") from broken
        count += len(rows)
    return count


def _holds(field: "models.Field[Any, Any]", value: Any) -> bool:
    """Whether a value as it lies in the database is one of this field's."""
    if value is None:
        return field.null
    while isinstance(field, models.ForeignKey):
        field = field.target_field
    kind = field.get_internal_type()
    if kind in ("BigIntegerField", "BigAutoField", "IntegerField"):
        return isinstance(value, int)
    if kind == "BooleanField":
        return value in (0, 1)
    if kind == "FloatField":
        return isinstance(value, (int, float)) and isfinite(value)
    if kind == "BinaryField":
        return isinstance(value, bytes)
    if kind == "JSONField":
        return isinstance(value, str) and _is_json(value)
    if kind in ("CharField", "TextField"):
        return isinstance(value, str) and _is_text(value, field.max_length if kind == "CharField" else None)
    return kind == "DateTimeField" and isinstance(value, str) and bool(re.fullmatch(r"[\d :.-]{10,40}", value))


def _is_text(value: str, most: int | None) -> bool:
    try:
        check_text(value)
    except ValidationError:
        return False
    return len(value) <= (most or _MOST_TEXT)


def _is_json(value: str) -> bool:
    try:
        json.loads(value, parse_constant=_no_number)
    except (ValueError, RecursionError):
        return False
    return True


def _no_number(text: str) -> None:
    raise ValueError(f"{text} is no number")
