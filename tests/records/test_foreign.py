"""A database from elsewhere: what is not a notebook to the last column is refused, and nothing in it ever acts."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from django.db import models

from chalaza.errors import NotebookError
from chalaza.records import foreign
from chalaza.records import models as m

from . import notebooks
from .notebooks import change


@pytest.fixture
def filled() -> Path:
    return notebooks.filled() / "notebook.db"


@pytest.fixture
def other(filled: Path, tmp_path: Path) -> Path:
    """A notebook to be tampered with."""
    return Path(shutil.copy(filled, tmp_path / "other.db"))


def _checked(other: Path, own: Path) -> None:
    with foreign.looked_at(other) as source, closing(sqlite3.connect(own)) as ours:
        foreign.check_schema(source, ours)


def _copied(other: Path, own: Path, model: type[models.Model], tmp_path: Path) -> int:
    empty = Path(shutil.copy(own, tmp_path / "empty.db"))
    change(empty, "PRAGMA foreign_keys=OFF", f"DELETE FROM {model._meta.db_table}")
    with foreign.looked_at(other) as source, closing(sqlite3.connect(empty)) as target:
        return foreign.copy_rows(source, target, model)


def test_a_notebook_of_ours_is_what_it_should_be(filled: Path, other: Path, tmp_path: Path) -> None:
    _checked(other, filled)
    assert _copied(other, filled, m.Weighing, tmp_path) > 100
    with foreign.looked_at(other) as source:
        names, version = foreign.steps_of(source, "records")
    assert "0001_the_notebook" in names
    assert version


@pytest.mark.parametrize(
    ("statement", "match"),
    [("CREATE VIEW other AS SELECT 1", "a view in it that no notebook has: other"),
     ("CREATE TRIGGER t AFTER INSERT ON records_place BEGIN DELETE FROM records_batch; END", "a trigger in it"),
     ("CREATE TABLE extra (a)", "a table in it that no notebook has: extra"),
     ("CREATE VIRTUAL TABLE extra USING fts5(a)", "a table in it that no notebook has"),
     ("CREATE INDEX extra ON records_place (name)", "a index in it|an index in it"),
     ("CREATE INDEX extra ON records_place (abs(altitude_m))", "index in it"),
     ("DROP TABLE records_weighing", "no table records_weighing"),
     ("ALTER TABLE records_place ADD COLUMN extra TEXT", "columns of records_place are not those of a notebook: extra"),
     ("ALTER TABLE records_place ADD COLUMN extra TEXT AS (name || uid)", r"extra \(computed\)"),
     ("ALTER TABLE records_place RENAME COLUMN name TO called", "called, name"),
     ("ALTER TABLE records_place DROP COLUMN pressure_pa", "pressure_pa"),
     ("DROP TABLE django_migrations", "no table django_migrations")],
)  # fmt: skip
def test_a_schema_that_is_not_a_notebooks_is_refused(filled: Path, other: Path, statement: str, match: str) -> None:
    change(other, statement)
    with pytest.raises(NotebookError, match=match):
        _steps_and_check(other, filled)


def _steps_and_check(other: Path, own: Path) -> None:
    with foreign.looked_at(other) as source, closing(sqlite3.connect(own)) as ours:
        foreign.steps_of(source, "records")
        foreign.check_schema(source, ours)


def test_a_view_in_the_place_of_a_table_is_refused(filled: Path, other: Path) -> None:
    change(other, "ALTER TABLE records_place RENAME TO hidden", "CREATE VIEW records_place AS SELECT * FROM hidden")
    with pytest.raises(NotebookError, match="that no notebook has"):
        _checked(other, filled)


def test_a_virtual_table_of_a_name_of_ours_is_refused(filled: Path, other: Path) -> None:
    # The schema itself is rewritten, as an attacker would who has the file in hand.
    change(other, "DROP TABLE records_weighing")
    change(other, "CREATE VIRTUAL TABLE records_weighing USING fts5(id, uid)")
    with pytest.raises(NotebookError, match=r"that no notebook has|no table records_weighing"):
        _checked(other, filled)


def test_a_trigger_of_our_name_with_other_words_is_refused(filled: Path, other: Path) -> None:
    change(
        other,
        "DROP TRIGGER records_stay_no_overlap_insert",
        "CREATE TRIGGER records_stay_no_overlap_insert BEFORE INSERT ON records_stay BEGIN DELETE FROM records_act; END",
    )
    with pytest.raises(NotebookError, match="a trigger in it is not ours: records_stay_no_overlap_insert"):
        _checked(other, filled)


def test_a_list_of_migrations_that_is_none_is_refused(other: Path) -> None:
    change(other, "UPDATE django_migrations SET name = x'00ff' WHERE id = 1")
    with pytest.raises(NotebookError, match="list of migrations is none"), foreign.looked_at(other) as source:
        foreign.steps_of(source, "records")


@pytest.mark.parametrize(
    ("model", "statement"),
    [(m.Place, "SET name = x'00'"), (m.Place, "SET name = 'a' || char(0) || 'b'"),
     (m.Place, "SET name = printf('%.*c', 81, 'x')"), (m.Place, "SET altitude_m = 'high'"),
     (m.Batch, "SET set_at = 1.5"), (m.Batch, "SET set_at = 'yesterday'"), (m.Batch, "SET revision = x'01'"),
     (m.Batch, "SET carried = '[1, NaN]'"), (m.Batch, "SET carried = '{'"),
     (m.Probe, "SET controls = 2"), (m.Probe, "SET controls = 'yes'"), (m.Chunk, "SET data = 'text'"),
     (m.Chunk, "SET temp_mean = 9e999"), (m.Keeper, "SET last_login = 'whenever'")],
)  # fmt: skip
def test_a_value_that_cannot_stand_in_its_column_is_refused(
    filled: Path, other: Path, tmp_path: Path, model: type[models.Model], statement: str
) -> None:
    _behind_the_checks(
        other, f"UPDATE {model._meta.db_table} {statement} WHERE id = (SELECT MIN(id) FROM {model._meta.db_table})"
    )
    with pytest.raises(NotebookError, match=r"a value that cannot stand there|is not sound"):
        _copied(other, filled, model, tmp_path)


def _behind_the_checks(database: Path, statement: str) -> None:
    """Change a row past the checks of its table, as an attacker would who has the file in hand."""
    change(database, "PRAGMA ignore_check_constraints=ON", statement)


def test_a_value_outside_its_span_is_refused_by_the_table_it_is_copied_into(
    filled: Path, other: Path, tmp_path: Path
) -> None:
    _behind_the_checks(other, "UPDATE records_machine SET volume_l = 1e300")
    # A sound check of the whole finds it already; the table it would be copied into holds the same.
    with pytest.raises(NotebookError, match="CHECK constraint failed"):
        _copied(other, filled, m.Machine, tmp_path)


def test_the_engine_gives_up_on_a_file_that_leads_in_circles(
    filled: Path, other: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(foreign, "_STEPS", 0)
    monkeypatch.setattr(foreign, "_STEPS_PER_BYTE", 0)
    monkeypatch.setattr(foreign, "_AT_A_TIME", 1000)
    with pytest.raises(NotebookError, match="interrupted"):
        _checked(other, filled)


def test_a_look_changes_nothing_and_cannot(other: Path) -> None:
    before = other.read_bytes()
    with foreign.looked_at(other) as source:
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            source.execute("DELETE FROM records_place")
        assert source.execute("PRAGMA trusted_schema").fetchone() == (0,)
    assert other.read_bytes() == before
    assert [path.name for path in other.parent.iterdir()] == ["other.db"]


@pytest.mark.parametrize("at", [0, 20, 100, 4096 * 3 + 5, 4096 * 40 + 11])
def test_a_file_with_overwritten_pages_is_refused_or_sound(filled: Path, other: Path, at: int) -> None:
    data = bytearray(other.read_bytes())
    data[at : at + 60] = bytes(range(60))
    other.write_bytes(bytes(data))
    with pytest.raises(NotebookError, match=r"is not sound|cannot be read"):
        _checked(other, filled)


@pytest.mark.parametrize("data", [b"", b"x" * 5000, b"SQLite format 3\0" + bytes(5000)])
def test_what_is_no_database_is_refused(filled: Path, tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "none.db"
    path.write_bytes(data)
    with pytest.raises(NotebookError, match="refused"):
        _checked(path, filled)
