"""The process that shows pages: it never loads what only the worker needs, and no link of its pages leads nowhere."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

_WALKED = Path(__file__).with_name("walked.py")


@pytest.fixture(scope="module")
def walked(tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    """Every page opened once, in a fresh interpreter."""
    folder = tmp_path_factory.mktemp("walked")
    env = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "PYTHONPATH")}
    done = subprocess.run(
        [sys.executable, str(_WALKED), str(folder)], env=env | {"OPENBLAS_NUM_THREADS": "1"}, capture_output=True,
        text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found: dict[str, object] = json.loads(done.stdout.splitlines()[-1])
    return found


def test_no_page_loads_what_only_slow_work_needs(walked: dict[str, object]) -> None:
    answers = walked["answers"]
    assert isinstance(answers, dict)
    assert len(answers) > 50
    assert walked["loaded"] == []


def test_no_link_of_any_page_leads_nowhere(walked: dict[str, object]) -> None:
    answers = walked["answers"]
    assert isinstance(answers, dict)
    assert {path: status for path, status in answers.items() if status not in (200, 302, 303)} == {}
