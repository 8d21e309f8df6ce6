"""The program itself, started as a keeper starts it, on a free port with a stopped clock and a data folder of its own."""

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

#: A Friday evening in April: the three invented batches are young, old and just out.
NOW = 1_776_444_000


def chromium() -> str | None:
    """Where Debian's browser is; None where there is none."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


@contextmanager
def served(folder: Path, *command: str, now: int | None = NOW) -> Iterator[str]:
    """The address where `chalaza <command>` answers (`demo` by default) with its data in `folder`, until it is left.

    `now`: the moment the clock stands at [seconds UTC]; None lets it run. What the program says goes to its own file.
    """
    env = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "PYTHONPATH", "PORT")}
    env |= {"CHALAZA_HOME": str(folder), "OPENBLAS_NUM_THREADS": "1"} | (
        {} if now is None else {"CHALAZA_CLOCK": str(now)}
    )
    program = [sys.executable, "-m", "chalaza", *(command or ("demo",)), "--port", "0", "--json"]
    with (folder / "said.txt").open("w") as said:
        child = subprocess.Popen(program, env=env, stdout=subprocess.PIPE, stderr=said, text=True)
        try:
            line = child.stdout.readline() if child.stdout else ""
            if not line:
                raise RuntimeError(f"it did not start: {(folder / 'said.txt').read_text()}")
            yield str(json.loads(line)["address"]).rstrip("/")
        finally:
            child.terminate()
            child.wait(timeout=30)
            if child.stdout:
                child.stdout.close()
