"""`chalaza read`: a report, questions with their answers, recipes, and a sentence for what cannot be read."""

import json
from pathlib import Path

import pytest
from tests.cli.helpers import run

ROWS = "\n".join(f"{3 + i // 12:02}/04/2026 {2 * (i % 12):02}:00;{37 + i % 3 / 10:.1f};{45 + i % 4}" for i in range(60))
LOG = f"time;temperature;humidity\n{ROWS}\n"


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """A log of five days whose dates can be read in two ways and whose temperatures have no unit."""
    path = tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    return path


def test_the_report_says_what_was_read_and_how_to_answer(log: Path) -> None:
    result = run("read", str(log))
    assert result.exit_code == 0
    assert "60 rows read" in result.output
    assert "questions:" in result.output
    assert "--answer CODE=CHOICE" in result.output


def test_answers_and_zone_are_used(log: Path) -> None:
    open_ = json.loads(run("read", str(log), "--json").output)
    codes = [one["code"] for one in open_["questions"]]
    assert "zone" in codes
    closed = json.loads(run("read", str(log), "--json", "--zone", "Europe/Berlin").output)
    assert closed["zone"] == "Europe/Berlin"
    assert "zone" not in [one["code"] for one in closed["questions"]]


def test_an_answer_that_was_not_asked_for_is_said(log: Path) -> None:
    result = run("read", str(log), "--answer", "colour=blue")
    assert result.exit_code == 0
    assert "'colour' was not asked for" in result.output


def test_an_answer_that_is_not_allowed_is_refused(log: Path) -> None:
    result = run("read", str(log), "--answer", "unit:2=kelvins")
    assert result.exit_code == 1
    assert "allowed: " in result.output


def test_an_answer_without_a_choice_is_a_usage_mistake(log: Path) -> None:
    for text in ("zone", "=x", "zone="):
        result = run("read", str(log), "--answer", text)
        assert result.exit_code == 2
        assert "is not CODE=CHOICE" in result.output


def test_a_recipe_is_kept_and_used_for_the_next_file(log: Path, tmp_path: Path) -> None:
    home = str(tmp_path / "home")
    kept = run("read", str(log), "--zone", "Europe/Berlin", "--keep-recipe", "shed", CHALAZA_DATA=home)
    assert kept.exit_code == 0, kept.output
    assert "Kept as recipe 'shed'" in kept.output
    again = json.loads(run("read", str(log), "--recipe", "shed", "--json", CHALAZA_DATA=home).output)
    assert again["zone"] == "Europe/Berlin"
    other = run("read", str(log), "--recipe", "barn", CHALAZA_DATA=home)
    assert other.exit_code == 1
    assert "there are: shed" in other.output


def test_a_recipe_name_that_climbs_is_refused(log: Path, tmp_path: Path) -> None:
    result = run("read", str(log), "--keep-recipe", "../evil", CHALAZA_DATA=str(tmp_path / "home"))
    assert result.exit_code == 1
    assert not list(tmp_path.rglob("*evil*"))


def test_what_is_not_there_or_not_a_file_is_refused(tmp_path: Path) -> None:
    missing = run("read", str(tmp_path / "x.csv"))
    assert (missing.exit_code, "is not there" in missing.output) == (1, True)
    inside = run("read", str(tmp_path))
    assert (inside.exit_code, "is a folder, not a file" in inside.output) == (1, True)


@pytest.mark.parametrize("content", [b"", b"hello\nworld\n", b"\x00" * 400, b"\x89PNG\r\n\x1a\n" + bytes(range(256))])
def test_what_cannot_be_read_ends_with_a_sentence(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "odd.csv"
    path.write_bytes(content)
    result = run("read", str(path))
    assert result.exit_code == 1
    assert len(result.output.strip()) > 20


def test_lines_are_folded_to_the_width(log: Path) -> None:
    assert max(map(len, run("read", str(log), width=60).output.splitlines()[:-1])) <= 60
