"""What the tests of the command line share: a runner, and a folder of the small invented batch."""

import os
import subprocess
import sys
from pathlib import Path

from click.testing import CliRunner, Result
from tests.factory import NOW, make_evidence

from chalaza.cli.main import main
from chalaza.exchange import write_folder
from chalaza.values.evidence import Evidence

SRC = Path(__file__).resolve().parents[2] / "src"
#: Ten days in, as a keeper would write it.
AT = "2026-03-11T08:00Z"
assert NOW == 1_773_216_000  # 2026-03-11 08:00 UTC


def run(*args: str, width: int = 80, **env: str) -> Result:
    """The command line in this process, at a width."""
    result = CliRunner().invoke(main, list(args), prog_name="chalaza", env={"COLUMNS": str(width), **env})
    assert "Traceback" not in result.output
    return result


def process(*args: str, code: str = "", **env: str) -> "subprocess.CompletedProcess[str]":
    """The command line (or `code`) in a fresh interpreter, without colour, terminal or network."""
    script = code or "from chalaza.cli.main import main; main(prog_name='chalaza')"
    surroundings = {**os.environ, "PYTHONPATH": str(SRC), "PYTHONIOENCODING": "utf-8", "COLUMNS": "80", **env}
    return subprocess.run(
        [sys.executable, "-c", script, *args],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=surroundings,
        check=False,
    )


def folder(path: Path, evidence: Evidence | None = None) -> Path:
    """The batch written as an open folder below `path`."""
    target = path / "spring"
    write_folder(target, evidence or make_evidence())
    return target
