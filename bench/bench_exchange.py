"""How fast readings go to the open folder and back: 300,000 rows against polars writing and reading the same text.

    python bench bench_exchange

polars does both in compiled code, on one thread here; ours is numpy and the csv module, so the bound on the ratio says
how much that may cost. Two kinds of log: figures in tenths, as loggers give them, and figures that never repeat.
The bounds in seconds hold for a whole batch: the longest one brings about so many readings.
"""

import io
import os

os.environ.setdefault("POLARS_MAX_THREADS", "1")

import numpy as np
import polars as pl

from chalaza.exchange import readings
from chalaza.values.evidence import Series
from row import Row, best

ROWS = 300_000
WRITE_S, READ_S = 2.0, 1.0
TIMES_WRITE, TIMES_READ = 20.0, 10.0


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
    schema: dict[str, pl.DataType | type[pl.DataType]] = {
        "at": pl.Datetime("us", "UTC"),
        "temp_degc": pl.Float32,
        "rh": pl.Float32,
    }
    return pl.read_csv(io.BytesIO(text), schema=schema)


def rows() -> list[Row]:
    """Against polars, and against the seconds a keeper waits."""
    made: list[Row] = []
    for name, series in _logs().items():
        text = _ours_written(series)
        frame = _polars_read(text)
        if readings.read(io.BytesIO(text), "r.csv") != series or frame["temp_degc"].to_numpy().tobytes() != (
            series.temp_degc.tobytes()
        ):
            raise SystemExit(f"{name}: not read as written")
        write = best(lambda series=series: _ours_written(series))  # type: ignore[misc]
        read = best(lambda text=text: readings.read(io.BytesIO(text), "r.csv"))  # type: ignore[misc]
        polars_write = best(lambda series=series: _polars_written(series))  # type: ignore[misc]
        polars_read = best(lambda text=text: _polars_read(text))  # type: ignore[misc]
        for act, ours, theirs, times, seconds in (
            ("write", write, polars_write, TIMES_WRITE, WRITE_S),
            ("read", read, polars_read, TIMES_READ, READ_S),
        ):
            made.append(Row(f"{act}, {name}", ours / theirs, times, "x polars"))
            made.append(Row(f"{act}, {name}", ours, seconds, "s"))
    return made
