"""A sheet set in a process of its own is the same sheet."""

import subprocess
import sys
from typing import Any

import pytest

from chalaza.errors import ChalazaError
from chalaza.sheets import Paper, apart, pdf
from chalaza.sheets.sheet import Sheet, sheet
from chalaza.words.numbers import Voice

AT = 1_776_444_000


def _sheet(name: str) -> Sheet:
    body: dict[str, Any] = {"lead": [], "drawings": [], "heads": [], "rows": [], "notes": []}
    return sheet(Voice(), layout="frame", title="Card", name=name, paper=Paper.A4, body=body, at=AT)


@pytest.mark.parametrize("name", ["Hens", "Hühner “ü” \u2603 \U0001f423", "#panic[x] $a$"])
def test_it_is_the_same_to_the_byte(name: str) -> None:
    assert apart.pdf(_sheet(name)) == pdf(_sheet(name))


def test_what_cannot_be_set_is_said_and_no_pdf() -> None:
    with pytest.raises(ChalazaError, match=r"the sheet 'nothing' cannot be set"):
        apart.pdf(Sheet(layout="nothing", data={}, at=AT))


def test_one_that_takes_too_long_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(apart, "_WAIT_S", 0.001)
    with pytest.raises(ChalazaError, match="took longer than 0 s"):
        apart.pdf(_sheet("Hens"))


def test_whoever_asks_loads_nothing_of_it() -> None:
    code = "import sys, chalaza.sheets.apart; assert 'typst' not in sys.modules"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
