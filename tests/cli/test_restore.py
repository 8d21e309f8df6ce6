"""`chalaza restore`: a backup in place of the notebook, never unasked, never while it is served."""

import json
from pathlib import Path

import pytest
from tests.cli.served import chalaza, serving
from tests.records import notebooks
from tests.records.notebooks import change, copied, rows

from chalaza.records import copies
from chalaza.records import serving as lock


@pytest.fixture(scope="module")
def given(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A backup of the demonstration."""
    path = tmp_path_factory.mktemp("given") / "b.zip"
    assert chalaza(notebooks.filled(), "backup", str(path)).returncode == 0
    return path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = copied(notebooks.filled(), tmp_path / "notebook")
    change(made / "notebook.db", "UPDATE records_place SET name = 'As it was'")
    return made


def _place(folder: Path) -> str:
    return str(rows(folder / "notebook.db", "records_place")[0][2])


def test_an_empty_folder_gets_the_notebook_and_can_be_served(given: Path, tmp_path: Path) -> None:
    folder = tmp_path / "new"
    done = chalaza(folder, "restore", str(given))
    assert done.returncode == 0, done.stderr
    assert "3 batches" in done.stdout
    assert "1 stored files" in done.stdout
    assert (folder / "notebook.db").stat().st_mode & 0o077 == 0
    with serving(folder) as one:
        assert b"3 batches" in one.ask("/notebook/")[1]


def test_a_notebook_makes_way_only_when_somebody_says_so(given: Path, folder: Path) -> None:
    refused = chalaza(folder, "restore", str(given))
    assert refused.returncode == 1
    assert "nothing was changed. To let it make way, say --yes" in refused.stderr
    assert _place(folder) == "As it was"
    done = chalaza(folder, "restore", str(given), "--yes")
    assert done.returncode == 0, done.stderr
    (copy,) = copies.kept(folder)
    assert f"kept for 30 days: {copy.path}" in done.stdout
    assert _place(folder) != "As it was"
    assert chalaza(folder, "restore", str(copy.path), "--yes").returncode == 0
    assert _place(folder) == "As it was"


def test_while_it_is_served_it_is_refused_with_the_address(given: Path, folder: Path) -> None:
    with serving(folder) as one:
        done = chalaza(folder, "restore", str(given), "--yes")
        assert done.returncode == 1
        assert f"served already, at {one.told['address']}" in done.stderr
    assert _place(folder) == "As it was"


def test_what_is_no_backup_is_refused_and_the_lock_let_go(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "no.zip").write_bytes(b"no backup")
    done = chalaza(folder, "restore", str(tmp_path / "no.zip"), "--yes")
    assert done.returncode == 1
    assert done.stderr.startswith("This is no backup of Chalaza")
    assert not lock.is_held(folder)
    assert _place(folder) == "As it was"


def test_a_file_that_is_not_there_is_a_usage_mistake(folder: Path) -> None:
    assert chalaza(folder, "restore", "nowhere.zip").returncode == 2


def test_as_json_it_tells_the_copy(given: Path, folder: Path) -> None:
    told = json.loads(chalaza(folder, "restore", str(given), "--yes", "--json").stdout)
    assert told["batches"] == 3
    assert told["copy"] == str(copies.kept(folder)[0].path)


def test_a_server_database_is_left_to_its_own_program(given: Path, tmp_path: Path) -> None:
    done = chalaza(tmp_path, "restore", str(given), DATABASE_URL="postgresql://db.example/eggs")
    assert done.returncode == 1
    assert "pg_restore --clean --dbname=NAME notebook.dump" in done.stderr
