"""`chalaza bring` and `chalaza give`: a batch into the notebook of a folder, and out of it again."""

import json
import os
import subprocess
import sys
from pathlib import Path

from chalaza import exchange
from chalaza.assess import prior_beliefs
from chalaza.scenario import demo

NOW = 1_776_444_000


def _run(home: Path, *words: str) -> subprocess.CompletedProcess[str]:
    env = {name: value for name, value in os.environ.items() if name not in ("DATABASE_URL", "DJANGO_SETTINGS_MODULE")}
    return subprocess.run(
        [sys.executable, "-m", "chalaza", *words], env=env | {"CHALAZA_HOME": str(home)}, capture_output=True, text=True,
        timeout=60, check=False,
    )  # fmt: skip


def test_a_batch_goes_into_one_notebook_and_out_of_it_and_into_another(tmp_path: Path) -> None:
    evidence = demo.batches(NOW)["pond-ducks"]
    exchange.write_folder(tmp_path / "ducks", evidence, prior_beliefs("duck"))
    brought = _run(tmp_path / "one", "bring", str(tmp_path / "ducks"), "--json")
    assert brought.returncode == 0, brought.stderr
    assert json.loads(brought.stdout)["batch"] == evidence.batch.uid
    given = _run(tmp_path / "one", "give", "Pond ducks", str(tmp_path / "out.zip"))
    assert given.returncode == 0, given.stderr
    back, believed = exchange.read(tmp_path / "out.zip")
    assert back == evidence
    assert believed == prior_beliefs("duck")
    again = _run(tmp_path / "two", "bring", str(tmp_path / "out.zip"))
    assert again.returncode == 0, again.stderr
    assert "beliefs it came with" in again.stdout


def test_what_cannot_be_brought_or_given_ends_in_a_sentence(tmp_path: Path) -> None:
    exchange.write_folder(tmp_path / "ducks", demo.batches(NOW)["pond-ducks"])
    assert _run(tmp_path / "home", "bring", str(tmp_path / "ducks")).returncode == 0
    twice = _run(tmp_path / "home", "bring", str(tmp_path / "ducks"))
    assert twice.returncode == 1
    assert "in the notebook already" in twice.stderr
    unknown = _run(tmp_path / "home", "give", "Pond duck", str(tmp_path / "x.zip"))
    assert unknown.returncode == 1
    assert "nearest: Pond ducks" in unknown.stderr
    (tmp_path / "there.zip").write_bytes(b"mine")
    there = _run(tmp_path / "home", "give", "Pond ducks", str(tmp_path / "there.zip"))
    assert there.returncode == 1
    assert (tmp_path / "there.zip").read_bytes() == b"mine"
