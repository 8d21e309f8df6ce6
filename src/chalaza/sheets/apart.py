"""A sheet set in a process of its own: what setting loads (letters, layouts, 45 MB) is gone when it ends.

A process that only shows pages stays small by it. It costs a fifth of a second.
"""

import json
import subprocess
import sys
from dataclasses import asdict

from chalaza.errors import ChalazaError
from chalaza.sheets.sheet import Sheet
from chalaza.sheets.sheet import pdf as here

#: Longer than any sheet takes on a slow machine. [s]
_WAIT_S = 60.0


def pdf(made: Sheet) -> bytes:
    """The sheet as `sheets.pdf` gives it, byte for byte. Raises `ChalazaError` where it cannot be set."""
    words = [sys.executable, "-m", "chalaza.sheets.apart"]
    told = json.dumps(asdict(made), ensure_ascii=False).encode()
    try:
        done = subprocess.run(words, input=told, capture_output=True, timeout=_WAIT_S, check=False)
    except subprocess.TimeoutExpired:
        raise ChalazaError(f"the sheet {made.layout!r} took longer than {_WAIT_S:.0f} s to set: try it again") from None
    if done.returncode:
        said = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise ChalazaError(f"the sheet {made.layout!r} cannot be set: {said[-1] if said else done.returncode}")
    return done.stdout


def main() -> None:
    """Read a sheet as JSON, write its PDF."""
    sys.stdout.buffer.write(here(Sheet(**json.load(sys.stdin.buffer))))


if __name__ == "__main__":
    main()
