"""Five years of ten machines at a reading a minute: written, read, drawn from day columns; a million rows imported.

    python bench bench_series

26 million readings of temperature and humidity go into an embedded notebook as day chunks. The peer, measured in the same
run, is what one would write first: one row a reading in an ordinary table, unique by probe and second, for one machine
and a year. Bounds in seconds leave room for a busy machine; those against the peer hold on any.
"""

import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import numpy as np

import notebook
from row import Row, best

if TYPE_CHECKING:
    from chalaza.records import models as m

DAY_S = 86_400
YEAR_ROWS = 365 * 1440
IMPORTED = 1_000_000


def rows() -> list[Row]:
    """Time, size and memory of the series store."""
    built = notebook.ready()
    notebook.here(Path(built.home))
    plain = _plain()
    share = YEAR_ROWS / built.readings
    out = [
        Row(f"write {built.readings / 1e6:.1f} M readings as chunks", built.write_s, 60.0, "s"),
        Row("write, against one row a reading", built.write_s * share / plain.write_s, 0.5, "its time"),
        Row("size on disk", built.size_mb, 130.0, "MB"),
        Row("size, against one row a reading", built.size_mb * share / plain.size_mb, 0.2, "its size"),
    ]
    return [*out, *_read(built, plain), *_import(built)]


class _Plain:
    """One machine and year as one row a reading."""

    write_s: float
    size_mb: float
    read_s: float


def _plain() -> _Plain:
    one, made = notebook.course(0, YEAR_ROWS * 60, np.random.default_rng(3)), _Plain()
    with TemporaryDirectory() as folder:
        path = Path(folder) / "plain.db"
        with closing(sqlite3.connect(path)) as base:
            base.execute("PRAGMA journal_mode=WAL")
            base.execute("CREATE TABLE reading (id INTEGER PRIMARY KEY, probe TEXT, at INTEGER, temp REAL, rh REAL, "
                         "UNIQUE (probe, at))")  # fmt: skip
            listed = [("p0", *row) for row in zip(one.t.tolist(), one.temp_degc.tolist(), one.rh.tolist(), strict=True)]
            began = time.perf_counter()
            with base:
                base.executemany("INSERT INTO reading (probe, at, temp, rh) VALUES (?, ?, ?, ?)", listed)
            base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            made.write_s, made.size_mb = time.perf_counter() - began, path.stat().st_size / 1e6
            last = int(one.t[-1])
            span = ("p0", last - 30 * DAY_S, last)
            sql = "SELECT at, temp, rh FROM reading WHERE probe = ? AND at >= ? AND at < ? ORDER BY at"
            made.read_s = best(lambda: np.array(base.execute(sql, span).fetchall()))
    return made


def _read(built: notebook.Built, plain: _Plain) -> list[Row]:
    from chalaza.records import series

    def probes(count: int, days: int) -> Callable[[], object]:
        return lambda: [series.read(f"p{n}", built.now - days * DAY_S, built.now) for n in range(count)]

    one, four, batch = (best(probes(*wanted)) for wanted in ((1, 30), (4, 30), (4, 52)))
    years = best(lambda: series.days("p0", built.now - notebook.YEARS * 365 * DAY_S, built.now))
    return [
        Row("read 30 days of one probe", one, 0.020, "s"),
        Row("read 30 days, against one row a reading", one / plain.read_s, 0.2, "its time"),
        Row("read 30 days of four probes", four, 0.060, "s"),
        Row("read 52 days of four probes", batch, 0.100, "s"),
        Row("five years of one probe as days", years, 0.150, "s"),
    ]


def _import(built: notebook.Built) -> list[Row]:
    """A million rows through the real worker: seconds from asking to counting, and memory of worker and work together."""
    from chalaza.records import models as m
    from chalaza.records import work
    from chalaza.worker.supervise import Supervisor, tree_mb

    (upload,) = send_logs(built.now - 700 * DAY_S)
    asked, peak = ask_import(upload), 0.0
    with Supervisor(env=notebook.environment(Path(built.home))) as held:
        began = time.perf_counter()
        while (row := m.Work.objects.get(uid=asked)).state in work.OPEN:
            peak = max(peak, tree_mb(held.pid) if held.pid is not None else 0.0)
            time.sleep(0.02)
        spent = time.perf_counter() - began
    if row.state != work.State.DONE or (row.result or {}).get("rows") != IMPORTED:
        raise SystemExit(f"the import did not end well: {row.state} {row.message} {row.result}")
    undo_import(asked)
    out = [Row(f"import {IMPORTED:,} rows by the worker", spent, 10.0, "s")]
    return [*out, Row("memory of the worker meanwhile", peak, 500.0, "MB")] if sys.platform == "linux" else out


def send_logs(start: int, count: int = 1) -> "list[m.Upload]":
    """Send an invented log of a million rows, as often as wanted: each is another file, for a machine of its own."""
    from chalaza.records import files, logs
    from chalaza.records import models as m

    keeper, text = m.Keeper.objects.the_one(), "".join(notebook.log_lines(IMPORTED, start)).encode()
    mark = time.time_ns()
    return [logs.send(keeper, files.keep([text, f"# {mark + n}\n".encode()]), f"bench-{n}.csv") for n in range(count)]


def ask_import(upload: "m.Upload", machine: int = 0) -> str:
    """Have a log that was sent read as answered; the work."""
    from chalaza.records import logs
    from chalaza.records import models as m

    said = logs.Answers(zone="UTC", probes={"probe": f"p{machine}"})
    return logs.begin(m.Keeper.objects.the_one(), upload, said, uid=f"bench-{upload.uid}").uid


def undo_import(uid: str) -> None:
    """Take the imported log out of force, so that the next bench finds the notebook as it was."""
    from chalaza.records import logs
    from chalaza.records import models as m

    logs.withdraw(m.Keeper.objects.the_one(), m.Source.objects.get(uid=uid))


if __name__ == "__main__":
    raise SystemExit(subprocess.call([sys.executable, str(Path(__file__).parent), "bench_series"]))
