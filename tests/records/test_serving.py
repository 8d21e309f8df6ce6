"""The lock of the data folder: one at a time, known by its address, let go however its holder ends."""

import subprocess
import sys
from pathlib import Path

import pytest

from chalaza.errors import NotebookError
from chalaza.records import serving

from .notebooks import surroundings

_HOLD = """
import sys, time
from pathlib import Path
from chalaza.records import serving
with serving.held(Path(sys.argv[1])) as held:
    held.announce("http://127.0.0.1:9999/")
    print("held", flush=True)
    time.sleep(600)
"""


def test_the_second_is_told_the_address_of_the_first(tmp_path: Path) -> None:
    with serving.held(tmp_path) as held:
        held.announce("http://127.0.0.1:8765/")
        assert serving.is_held(tmp_path)
        with (
            pytest.raises(NotebookError, match=r"served already, at http://127\.0\.0\.1:8765/"),
            serving.held(tmp_path),
        ):
            pass
    assert not serving.is_held(tmp_path)
    with serving.held(tmp_path):
        assert serving.told(tmp_path)["address"] == ""


def test_before_there_is_an_address_the_process_is_named(tmp_path: Path) -> None:
    with serving.held(tmp_path), pytest.raises(NotebookError, match=r"process \(number \d+\)"), serving.held(tmp_path):
        pass


def test_nobody_holds_a_folder_that_was_never_served(tmp_path: Path) -> None:
    assert not serving.is_held(tmp_path)
    assert serving.told(tmp_path) == {}


@pytest.mark.parametrize("left", ["", "[1]", "{", '{"address": "http://127.0.0.1:1/", "process": 1}'])
def test_what_a_killed_holder_left_in_the_file_holds_nobody_off(tmp_path: Path, left: str) -> None:
    (tmp_path / serving.NAME).write_text(left, encoding="utf-8")
    assert not serving.is_held(tmp_path)
    with serving.held(tmp_path):
        assert serving.is_held(tmp_path)


def test_a_holder_that_is_killed_lets_go(tmp_path: Path) -> None:
    words = [sys.executable, "-c", _HOLD, str(tmp_path)]
    with subprocess.Popen(words, env=surroundings(tmp_path), stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        assert child.stdout.readline().strip() == "held"
        assert serving.is_held(tmp_path)
        child.kill()
    assert not serving.is_held(tmp_path)
