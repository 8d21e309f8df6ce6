"""How fast a logger file is read: a million rows against polars told everything, and the memory it takes.

    python bench bench_intake

Both parse the same file in the same run, the best of several. polars is told delimiter, types and the pattern of the
stamps and finds out nothing; the reader finds all that out, checks the values and reports. Bounds: six times the time
of polars; 400 MB of memory at the peak of a fresh interpreter that reads the file.
"""

import os
import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

import numpy as np
import polars as pl

from chalaza.intake import read
from row import Row, best

ROWS = 1_000_000
TIMES_POLARS = 6.0
PEAK_MB = 400.0
#: The peak since the interpreter began. What `resource` says would count the memory of whoever started it as well.
_MEMORY = """
import sys
from pathlib import Path
from chalaza.intake import read
read(Path(sys.argv[1]))
print(*(line.split()[1] for line in open("/proc/self/status") if line.startswith("VmHWM")))
"""


_CASES = (
    ("ISO stamps, decimal point", ".", "iso", "%Y-%m-%d %H:%M:%S"),
    ("dd.mm.yyyy, decimal comma", ",", "dmy", "%d.%m.%Y %H:%M:%S"),
)


def _write(path: Path, decimal: str, stamp: str) -> None:
    """An invented log: a reading every ten seconds for four months."""
    rng = np.random.default_rng(1)
    moments = np.datetime64("2024-01-01T00:00:00", "s") + np.arange(ROWS) * np.timedelta64(10, "s")
    texts = np.datetime_as_string(moments)
    warm, wet = 37.5 + rng.normal(0, 0.2, ROWS), 55 + rng.normal(0, 2, ROWS)
    with path.open("w", encoding="utf-8") as file:
        file.write("Date;Temp (°C);RH (%)\n")
        for text, t, rh in zip(texts, warm, wet, strict=True):
            date, clock = text.split("T")
            shown = date if stamp == "iso" else ".".join(reversed(date.split("-")))
            values = f"{t:.2f};{rh:.1f}".replace(".", decimal)
            file.write(f"{shown} {clock};{values}\n")


def _polars(path: Path, decimal: str, pattern: str) -> None:
    pl.read_csv(
        path, separator=";", has_header=False, skip_rows=1, decimal_comma=decimal == ",",
        schema={"t": pl.String, "temp": pl.Float64, "rh": pl.Float64},
    ).with_columns(pl.col("t").str.strptime(pl.Datetime, pattern))  # fmt: skip


def _peak_mb(path: Path) -> float:
    """Peak memory of a fresh interpreter that reads `path`, the interpreter and numpy included (Linux only). [MB]"""
    said = subprocess.run([sys.executable, "-c", _MEMORY, str(path)], env=os.environ, capture_output=True, check=True)
    return int(said.stdout) / 1024.0


def rows() -> list[Row]:
    """Time against polars, and peak memory, of each case."""
    result = []
    with tempfile.TemporaryDirectory() as folder:
        for name, decimal, stamp, pattern in _CASES:
            path = Path(folder) / f"{stamp}.csv"
            _write(path, decimal, stamp)
            ours, theirs = best(partial(read, path), 7), best(partial(_polars, path, decimal, pattern), 7)
            result.append(Row(f"1 M rows, {name}: {ours:.2f} s", ours / theirs, TIMES_POLARS, "x polars"))
            if sys.platform == "linux":
                result.append(Row(f"peak memory, {name}", _peak_mb(path), PEAK_MB, "MB"))
    return result
