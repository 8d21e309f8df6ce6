"""How fast readings go to the open folder and back: 300,000 rows against polars writing and reading the same text.

    PYTHONPATH=src python bench/bench_exchange.py

polars does both in compiled code, on one thread here; ours is numpy and the csv module, so the bound on the ratio says
how much that may cost. Two kinds of log: figures in tenths, as loggers give them, and figures that never repeat.
The bounds in seconds hold for a whole batch: the longest one brings about so many readings.
"""

import io
import os
import time
from collections.abc import Callable
from typing import Any

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import numpy as np
import polars as pl

from chalaza.exchange import readings
from chalaza.values.evidence import Series

ROWS = 300_000
WRITE_S, READ_S = 2.0, 1.0
TIMES_WRITE, TIMES_READ = 20.0, 10.0
Row = tuple[str, float, float, bool]


def _best(call: Callable[[], Any], repeats: int = 5) -> float:
    """Shortest of several runs, after one to warm up. [s]"""
    call()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def _logs() -> dict[str, Series]:
    rng = np.random.default_rng(0)
    t = np.arange(ROWS, dtype=np.int64) * 60 + 1_772_352_000
    temp, rh = rng.normal(37.6, 0.2, ROWS), rng.normal(0.45, 0.02, ROWS)
    return {
        "tenths": Series(t, np.round(temp, 1).astype(np.float32), np.round(rh, 2).astype(np.float32)),
        "never the same": Series(t, temp.astype(np.float32), rh.astype(np.float32)),
    }


def _ours_written(series: Series) -> bytes:
    return b"".join(readings.chunks(series, "r.csv"))


def _polars_written(series: Series) -> bytes:
    file = io.BytesIO()
    columns = {
        "at": pl.from_epoch(pl.Series(series.t), time_unit="s"),
        "temp_degc": series.temp_degc,
        "rh": series.rh,
    }
    pl.DataFrame(columns).write_csv(file, datetime_format="%Y-%m-%dT%H:%M:%SZ")
    return file.getvalue()


def _polars_read(text: bytes) -> pl.DataFrame:
    schema = {"at": pl.Datetime("us", "UTC"), "temp_degc": pl.Float32, "rh": pl.Float32}
    return pl.read_csv(io.BytesIO(text), schema=schema)


def rows() -> list[Row]:
    """Name, ratio, bound, whether it holds: against polars, then against the seconds a keeper waits."""
    made: list[Row] = []
    for name, series in _logs().items():
        text = _ours_written(series)
        frame = _polars_read(text)
        if readings.read(io.BytesIO(text), "r.csv") != series or frame["temp_degc"].to_numpy().tobytes() != (
            series.temp_degc.tobytes()
        ):
            raise SystemExit(f"{name}: not read as written")
        write = _best(lambda series=series: _ours_written(series))  # type: ignore[misc]
        read = _best(lambda text=text: readings.read(io.BytesIO(text), "r.csv"))  # type: ignore[misc]
        polars_write = _best(lambda series=series: _polars_written(series))  # type: ignore[misc]
        polars_read = _best(lambda text=text: _polars_read(text))  # type: ignore[misc]
        for act, ours, theirs, times, seconds in (
            ("write", write, polars_write, TIMES_WRITE, WRITE_S),
            ("read", read, polars_read, TIMES_READ, READ_S),
        ):
            made.append((f"{act}, {name}: times polars", ours / theirs, times, ours / theirs <= times))
            made.append((f"{act}, {name}: seconds of {seconds:g}", ours / seconds, 1.0, ours <= seconds))
    return made


def main() -> None:
    """Print the table; end with 1 if a bound does not hold."""
    table = rows()
    for name, ratio, bound, ok in table:
        print(f"{name:<36} {ratio:8.2f} {bound:8.2f}  {'ok' if ok else 'TOO SLOW'}")
    raise SystemExit(0 if all(ok for *_, ok in table) else 1)


if __name__ == "__main__":
    main()
