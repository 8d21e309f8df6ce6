"""A notebook in a folder of its own that processes can share: made once, copied for each test, looked at from outside."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

TESTS = Path(__file__).resolve().parents[1]
_MAKE = """
from chalaza.records.notebook import open_records
open_records()
from django.core.management import call_command
call_command("migrate", verbosity=0)
from chalaza.records import acts, models as m
acts.act(m.Keeper.objects.the_one(), "add", save=[m.Probe(uid="p1", name="P1", sort="digital")])
"""
_ASK = """
import json, sys
from chalaza.records.notebook import open_records
open_records()
from chalaza.records import files, logs, models as m, work
keeper = m.Keeper.objects.the_one()
for kind, arguments in json.load(sys.stdin):
    if kind == "import_log":
        upload = logs.send(keeper, files.keep([arguments["text"].encode()]), arguments["name"])
        said = logs.Answers(answers=arguments.get("answers", {}), zone="UTC", probes={"probe": "p1"})
        print(logs.begin(keeper, upload, said, uid=arguments["name"]).uid)
    else:
        print(work.ask(kind, arguments, keeper).uid)
"""


def environment(home: Path) -> dict[str, str]:
    """What a process needs to see this notebook, and the tests' own modules."""
    kept = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "DJANGO_SETTINGS_MODULE")}
    return {**kept, "CHALAZA_HOME": str(home), "PYTHONPATH": str(TESTS), "OPENBLAS_NUM_THREADS": "1"}


def make(home: Path) -> None:
    """An empty notebook with one probe."""
    subprocess.run([sys.executable, "-c", _MAKE], env=environment(home), check=True)


class Place:
    """A copy of such a notebook."""

    def __init__(self, home: Path, template: Path) -> None:
        shutil.copytree(template, home)
        self.home, self.env = home, environment(home)

    def ask(self, wanted: Iterable[tuple[str, Mapping[str, Any]]]) -> list[str]:
        """Put work in the queue; the uids."""
        said = subprocess.run(
            [sys.executable, "-c", _ASK], env=self.env, check=True, input=json.dumps(list(wanted)), text=True,
            stdout=subprocess.PIPE,
        )  # fmt: skip
        return said.stdout.split()

    def worker(self, *command: str) -> "subprocess.Popen[bytes]":
        """Start a worker on this notebook."""
        return subprocess.Popen(
            [sys.executable, *(command or ("-m", "chalaza", "work"))], env=self.env, stdin=subprocess.PIPE
        )

    def rows(self, sql: str, *values: Any) -> list[tuple[Any, ...]]:
        """What a question of SQL gives, from outside."""
        with sqlite3.connect(self.home / "notebook.db", timeout=20) as connection:
            found = connection.execute(sql, values).fetchall()
        connection.close()
        return found

    def work(self, uid: str) -> tuple[str, str, dict[str, Any], int]:
        """State, message, result and tries of a piece of work."""
        ((state, message, result, tries),) = self.rows(
            "SELECT state, message, result, tries FROM records_work WHERE uid = ?", uid
        )
        return state, message, json.loads(result) if result else {}, tries

    def ended(self, uid: str) -> tuple[str, str, dict[str, Any], int]:
        """The same, once it has come to an end."""
        until(lambda: self.work(uid)[0] in ("done", "failed", "cancelled"))
        return self.work(uid)


def until(true: Callable[[], object], within_s: float = 60.0, every_s: float = 0.02) -> None:
    """Wait for something to become true; fails if it does not."""
    end = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < end, "it did not come to pass"
        time.sleep(every_s)


def below(pid: int) -> list[int]:
    """The processes a process has started (Linux)."""
    found: list[int] = []
    for thread in Path(f"/proc/{pid}/task").glob("*"):
        try:
            found += [int(one) for one in (thread / "children").read_text(encoding="ascii").split()]
        except OSError:
            continue
    return found


def alive(pid: int) -> bool:
    """Whether a process is there and no mere entry of one that ended (Linux)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="ascii").rsplit(") ", 1)[1][0] != "Z"
    except OSError:
        return False


def text_of(rows: int, seed: int = 0) -> str:
    """An invented log: a reading a minute."""
    lines = ["Time;Temp (°C);RH (%)"]
    for n in range(rows):
        day, minute = divmod(n, 1440)
        stamp = f"2026-{3 + day // 28:02d}-{1 + day % 28:02d} {minute // 60:02d}:{minute % 60:02d}:00"
        lines.append(f"{stamp};{37.0 + (n * 7 + seed) % 100 / 100:.2f};{45 + (n + seed) % 10}")
    return "\n".join(lines) + "\n"
