"""Notebooks on disk for tests of what is done to a whole one: filled once in a process of its own, then copied."""

import atexit
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import Any

from .demo import NOW

ROOT = Path(__file__).resolve().parents[2]
_FILL = """
from chalaza.records.notebook import open_records
open_records()
from chalaza.records import home, upkeep
from tests.records import demo
upkeep.bring_up_to_date(home.folder(), demo.NOW)
demo.put_all()
"""
_OLD = """
from chalaza.records.notebook import open_records
open_records()
from django.core.management import call_command
from django.db import connection
call_command("migrate", "records", sys.argv[1], verbosity=0)
with connection.cursor() as cursor:
    cursor.execute("INSERT INTO records_place (uid, name, altitude_m, zone) VALUES ('old', 'From an older step', 1, 'UTC')")
"""
#: A log file that lies in every filled notebook: its name is the hash of its one line.
STORED = ("1b4f0e9851971998e732078544c96b36c3d01cedf7caa332359d6f1d83567014", b"test1")


def surroundings(folder: Path, **more: str) -> dict[str, str]:
    """The environment of a process that keeps its notebook in `folder`."""
    kept = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "PORT", "CHALAZA_CLOCK")}
    paths = os.pathsep.join([str(ROOT / "src"), str(ROOT)])
    return (
        kept | {"CHALAZA_HOME": str(folder), "PYTHONPATH": paths, "OPENBLAS_NUM_THREADS": "1", "COLUMNS": "100"} | more
    )


def fill(folder: Path, step: str = "") -> Path:
    """The demonstration in a data folder of its own, with one stored file; the folder.

    With `step` the tables are those of that migration, and hold one place.
    """
    words = [sys.executable, "-c", f"import sys{_OLD if step else _FILL}", step]
    env = surroundings(folder, CHALAZA_CLOCK=str(NOW))
    done = subprocess.run(words, env=env, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    (folder / "files").mkdir(exist_ok=True)
    (folder / "files" / STORED[0]).write_bytes(STORED[1])
    return folder


@cache
def filled() -> Path:
    """A filled notebook that all tests of this process look at and none changes."""
    folder = Path(tempfile.mkdtemp(prefix="chalaza-filled-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return fill(folder)


def copied(filled: Path, target: Path) -> Path:
    """A filled notebook again, in a folder of its own."""
    shutil.copytree(filled, target)
    return target


def rows(database: Path, table: str) -> list[tuple[Any, ...]]:
    """The rows of a table, read from outside."""
    with closing(sqlite3.connect(database)) as found:
        return found.execute(f"SELECT * FROM {table} ORDER BY 1").fetchall()


def change(database: Path, *statements: str) -> None:
    """Change a database behind everybody's back."""
    with closing(sqlite3.connect(database)) as found:
        for one in statements:
            found.execute(one)
        found.commit()
