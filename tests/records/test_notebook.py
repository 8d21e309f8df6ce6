"""Opening the notebook: the clock of the computer stays what it was."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

_SAID = """
import os, time
from chalaza.intake.typed import zone_of
from chalaza.records.notebook import open_records
open_records()
print(os.environ.get("TZ"), zone_of(None)[0] if os.environ.get("TZ") else "", time.tzname[0])
"""


@pytest.mark.parametrize(("zone", "said"), [("Asia/Tokyo", "Asia/Tokyo Asia/Tokyo JST"), (None, "None")])
def test_the_zone_of_the_computer_is_still_told_after_it(tmp_path: Path, zone: str | None, said: str) -> None:
    env = {name: value for name, value in os.environ.items() if name != "TZ"} | {"CHALAZA_HOME": str(tmp_path)}
    env |= {} if zone is None else {"TZ": zone}
    done = subprocess.run([sys.executable, "-c", _SAID], env=env, capture_output=True, text=True, check=True)
    assert done.stdout.startswith(said)
