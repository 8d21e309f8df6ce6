"""The command line as a whole: help that teaches, exit codes, and what a mistake and a fault look like."""

import re
from pathlib import Path

import pytest
from tests.cli.helpers import AT, folder, process, run

from chalaza import __version__
from chalaza.cli import main as entry
from chalaza.cli.main import COMMANDS, capital, sentence
from chalaza.errors import BalanceError, FolderError


@pytest.mark.parametrize("command", list(COMMANDS))
def test_every_help_teaches_by_example(command: str) -> None:
    result = run(command, "--help")
    assert result.exit_code == 0
    assert "Examples:" in result.output
    assert len(re.findall(rf"^ +chalaza {command}\b", result.output, re.MULTILINE)) >= 3
    assert "--json" in result.output


def test_the_help_lists_every_command() -> None:
    result = run("--help")
    assert result.exit_code == 0
    for command, line in COMMANDS.items():
        assert re.search(rf"^ +{command} +{re.escape(line)}$", result.output, re.MULTILINE)


def test_the_short_line_of_a_command_is_the_same_in_both_places() -> None:
    for name, line in COMMANDS.items():
        found = entry.main.get_command(None, name)  # type: ignore[arg-type]
        assert found is not None
        assert found.short_help == line


def test_help_waits_for_nothing_heavy() -> None:
    code = (
        "import sys\nfrom chalaza.cli.main import main\n"
        "try:\n    main(['--help'], prog_name='chalaza')\nexcept SystemExit as end:\n    assert end.code == 0\n"
        "heavy = {'numpy', 'scipy', 'vl_convert', 'django', 'chalaza.facts'} & set(sys.modules)\nassert not heavy, heavy"
    )
    done = process(code=code)
    assert done.returncode == 0, done.stderr


def test_the_version_is_that_of_the_package() -> None:
    assert run("--version").output.strip().endswith(__version__)


def test_a_command_that_is_not_there_names_the_nearest() -> None:
    result = run("asses")
    assert result.exit_code == 2
    assert "there is no command 'asses'; nearest: assess" in result.output.lower()


def test_a_usage_mistake_shows_the_usage_and_the_way_to_the_help() -> None:
    result = run("assess")
    assert result.exit_code == 2
    assert "Missing argument 'FOLDER'" in result.output
    assert "chalaza assess --help" in result.output
    assert "Error" not in result.output


def test_a_fault_of_the_program_says_so_and_how_to_report_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def broken(*_: object, **__: object) -> None:
        raise BalanceError("water was not conserved")

    monkeypatch.setattr("chalaza.exchange.read", broken)
    result = run("assess", str(folder(tmp_path)), "--now", AT)
    assert result.exit_code == 3
    assert "This is a fault of the program, not of yours." in result.output
    assert "BalanceError at " in result.output
    assert "water was not conserved" in result.output
    assert "Please report it" in result.output


def test_an_unforeseen_fault_is_one_of_the_program_too(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def broken(*_: object, **__: object) -> None:
        raise KeyError("nobody foresaw this")

    monkeypatch.setattr("chalaza.exchange.read", broken)
    result = run("assess", str(folder(tmp_path)))
    assert result.exit_code == 3
    assert "KeyError" in result.output


def test_the_fresh_interpreter_gives_the_same_codes(tmp_path: Path) -> None:
    spring = folder(tmp_path)
    good = process("assess", str(spring), "--now", AT)
    assert (good.returncode, good.stderr) == (0, "")
    assert "Leave" in good.stdout
    bad = process("assess", str(tmp_path / "sprin"))
    assert bad.returncode == 1
    assert bad.stdout == ""
    assert "nearest: spring" in bad.stderr
    assert "Traceback" not in bad.stderr


def test_assess_brings_neither_django_nor_the_drawing_of_charts(tmp_path: Path) -> None:
    code = (
        "import sys\nfrom chalaza.cli.main import main\n"
        "try:\n    main(prog_name='chalaza')\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        "heavy = {'vl_convert', 'django', 'chalaza.charts', 'scipy.stats'} & set(sys.modules)\nassert not heavy, heavy"
    )
    done = process("assess", str(folder(tmp_path)), "--now", AT, code=code)
    assert done.returncode == 0, done.stderr


def test_threads_of_the_linear_algebra_are_held_at_one() -> None:
    done = process(
        code="import os, chalaza.cli.main; print(os.environ['OPENBLAS_NUM_THREADS'])", OPENBLAS_NUM_THREADS="1"
    )
    assert done.stdout.strip() == "1"


def test_a_reader_that_stops_reading_is_no_fault(tmp_path: Path) -> None:
    code = (
        "import os, sys\nread, write = os.pipe()\nos.close(read)\nos.dup2(write, 1)\n"
        "from chalaza.cli.main import main\nmain(['facts', 'hen'], prog_name='chalaza')"
    )
    done = process(code=code)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""


def test_file_names_keep_their_letters() -> None:
    assert sentence(FolderError("is missing", file="eggs.csv")) == "eggs.csv: is missing"
    assert sentence(FolderError("something is there already")) == "Something is there already"
    assert sentence(FileNotFoundError(2, "No such file or directory", "x.csv")) == "x.csv: no such file or directory."
    assert capital("") == ""
