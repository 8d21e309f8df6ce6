"""Restoring: what was backed up is there again; a hostile file changes nothing; whoever reads meanwhile sees one or the other."""

import io
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from threading import Event, Thread
from typing import Any

import pytest
from django.db import connections
from pytest_django import DjangoDbBlocker

from chalaza.errors import NotebookError
from chalaza.records import backup, copies, foreign, restore

from . import notebooks
from .demo import NOW
from .notebooks import STORED, change, copied, fill, rows

#: What a backup brings: all but who is let in, what waits, and what can be computed again.
TABLES = (
    "act", "aircellmark", "batch", "breakout", "candling", "change", "chunk", "done", "egg", "event", "forecast", "hatch",
    "keeper", "lot", "machine", "mount", "note", "parents", "place", "probe", "probecheck", "reading", "source", "stay",
    "weighing",
)  # fmt: skip


@pytest.fixture
def filled() -> Path:
    return notebooks.filled()


@pytest.fixture
def present(filled: Path, tmp_path: Path) -> Path:
    """The data folder that is restored into: the demonstration with another name for a place."""
    folder = copied(filled, tmp_path / "present")
    change(folder / "notebook.db", "UPDATE records_place SET name = 'As it was'")
    return folder


@pytest.fixture(autouse=True)
def beside(tmp_path: Path, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """Databases beside the notebook of the tests may be reached; neither one nor a scratch folder stays behind."""
    with django_db_blocker.unblock():
        yield
    assert [name for name in connections.databases if name.startswith("beside-")] == []
    assert list(tmp_path.rglob("restore-*")) == []


def _backup(folder: Path) -> io.BytesIO:
    made = io.BytesIO()
    backup.write(made, folder / "notebook.db", folder, NOW)
    return made


def _tampered(filled: Path, tmp_path: Path, *statements: str) -> io.BytesIO:
    """A backup with true hashes, made by somebody who has the database in hand."""
    folder = copied(filled, tmp_path / "tampered")
    change(folder / "notebook.db", "PRAGMA ignore_check_constraints=ON", *statements)
    made = io.BytesIO()
    with closing(sqlite3.connect(folder / "notebook.db")) as found:
        counts = copies.rows(found)
    with suppress(NotebookError):  # our own reading back refuses it already; the zip is written nevertheless
        backup.write_members(made, folder / "notebook.db", counts, folder, NOW)
    return made


def _all(database: Path) -> dict[str, list[tuple[Any, ...]]]:
    return {name: rows(database, f"records_{name}") for name in TABLES}


# What comes back


def test_what_was_backed_up_is_there_again_in_an_empty_folder(filled: Path, tmp_path: Path) -> None:
    folder = tmp_path / "new"
    folder.mkdir()
    made = restore.restore(_backup(filled), folder / "notebook.db", folder, NOW)
    assert (made.batches, made.files, made.copy) == (3, 1, None)
    assert _all(folder / "notebook.db") == _all(filled / "notebook.db")
    assert (folder / "files" / STORED[0]).read_bytes() == STORED[1]
    with closing(sqlite3.connect(folder / "notebook.db")) as found:
        assert found.execute("PRAGMA journal_mode").fetchone() == ("wal",)
        assert found.execute("SELECT COUNT(*) FROM sqlite_master WHERE type = 'trigger'").fetchone()[0] >= 4


def test_the_notebook_that_was_there_is_kept_and_can_be_put_back(filled: Path, present: Path) -> None:
    database = present / "notebook.db"
    made = restore.restore(_backup(filled), database, present, NOW)
    assert rows(database, "records_place")[0][2] != "As it was"
    assert made.copy is not None
    assert copies.kept(present) == [made.copy]
    with made.copy.path.open("rb") as file:
        restore.restore(file, database, present, NOW + 60)
    assert rows(database, "records_place")[0][2] == "As it was"
    assert len(copies.kept(present)) == 2


def test_a_backup_of_an_older_step_is_brought_up_to_date(filled: Path, present: Path, tmp_path: Path) -> None:
    old = fill(tmp_path / "old", step="0002_no_overlap")
    made = restore.restore(_backup(old), present / "notebook.db", present, NOW)
    assert made.batches == 0
    assert [row[2] for row in rows(present / "notebook.db", "records_place")] == ["From an older step"]
    names = {row[2] for row in rows(present / "notebook.db", "django_migrations") if row[1] == "records"}
    assert names == {row[2] for row in rows(filled / "notebook.db", "django_migrations") if row[1] == "records"}


def test_phones_stay_let_in_and_none_comes_in_by_a_backup(filled: Path, present: Path, tmp_path: Path) -> None:
    device = "INSERT INTO records_device (uid, name, proof, let_in) VALUES ('{0}', '{0}', '{0}', 1)"
    code = "INSERT INTO records_code (proof, until) VALUES ('c', 4000000000)"
    work = "INSERT INTO records_work (uid, kind, arguments, state, progress, message, cancel, tries, asked, asked_by) " \
           "VALUES ('w', 'import', '{}', 'waiting', 0, '', 0, 0, 1, '')"  # fmt: skip
    change(present / "notebook.db", device.format("mine"))
    file = _tampered(filled, tmp_path, device.format("theirs"), code, work)
    restore.restore(file, present / "notebook.db", present, NOW)
    assert [row[1] for row in rows(present / "notebook.db", "records_device")] == ["mine"]
    assert rows(present / "notebook.db", "records_code") == []
    assert rows(present / "notebook.db", "records_work") == []


def test_lessons_are_worked_out_anew_and_what_was_forgotten_stays_so(
    filled: Path, present: Path, tmp_path: Path
) -> None:
    lesson = "INSERT INTO records_lesson (uid, batch, at, revision, engine, content, forgotten) " \
             "VALUES ('l', 'b', 1, 1, 'now', '{\"keys\": 5}', 1)"  # fmt: skip
    restore.restore(_tampered(filled, tmp_path, lesson), present / "notebook.db", present, NOW)
    with closing(sqlite3.connect(present / "notebook.db")) as found:
        assert found.execute("SELECT engine, forgotten FROM records_lesson").fetchall() == [("restored", 1)]


def test_whoever_reads_meanwhile_sees_one_notebook_or_the_other(filled: Path, present: Path) -> None:
    database, stop, seen = present / "notebook.db", Event(), set()
    torn: list[str] = []

    def read() -> None:
        with closing(sqlite3.connect(database, isolation_level=None, timeout=30)) as reader:
            while not stop.is_set():
                reader.execute("BEGIN")
                names = [name for (name,) in reader.execute("SELECT name FROM records_place")]
                count = reader.execute("SELECT COUNT(*) FROM records_weighing").fetchone()[0]
                again = [name for (name,) in reader.execute("SELECT name FROM records_place")]
                reader.execute("COMMIT")
                seen.add((*names, count))
                if names != again:
                    torn.append(f"{names} {again}")

    thread = Thread(target=read)
    thread.start()
    try:
        restore.restore(_backup(filled), database, present, NOW)
    finally:
        stop.set()
        thread.join()
    assert torn == []
    assert len(seen) in (1, 2)
    with closing(sqlite3.connect(database)) as found:
        assert found.execute("PRAGMA integrity_check").fetchone() == ("ok",)


# What is refused


@pytest.mark.parametrize(
    ("statements", "match"),
    [(["CREATE VIEW v AS SELECT 1"], "a view in it"),
     (["CREATE TRIGGER t AFTER INSERT ON records_act BEGIN DELETE FROM records_batch; END"], "a trigger in it"),
     (["CREATE TABLE extra (a)"], "a table in it"),
     (["INSERT INTO django_migrations (app, name, applied) VALUES ('records', '0999_later', '2031-01-01')",
       "INSERT INTO django_migrations (app, name, applied) VALUES ('chalaza', '9.9', '2031-01-01')"],
      r"last kept by Chalaza 9\.9"),
     (["DELETE FROM django_migrations WHERE name = '0001_the_notebook'"], "has a hole"),
     (["DELETE FROM django_migrations"], "has a hole"),
     (["PRAGMA foreign_keys=OFF", "UPDATE records_egg SET lot_id = 'nowhere' WHERE id = 1"], "points to nothing"),
     (["UPDATE records_place SET zone = 'No/Such'"], "place|Place"),
     (["UPDATE records_batch SET uid = 'with blank' WHERE uid NOT IN (SELECT batch_id FROM records_egg)",
       "UPDATE records_note SET uid = 'with blank' WHERE id = 1"], "no blanks"),
     (["UPDATE records_batch SET carried = '5'"], "carried is no list"),
     (["UPDATE records_batch SET carried = '[{\"subject\": 1}]'"], "refused"),
     (["UPDATE records_keeper SET remembered = '[]'"], "remembered is no dict"),
     (["UPDATE records_keeper SET units = 'stone'"], "not sound|cannot be read|CHECK"),
     (["UPDATE records_change SET model = 'Session' WHERE id = 1"], "a change of something"),
     (["UPDATE records_chunk SET data = x'01789c030000000001' WHERE id = 1"], "cannot be unpacked"),
     (["UPDATE records_chunk SET data = x'02' || substr(data, 2) WHERE id = 1"], "Could not decode to UTF-8 column 'data'"),
     (["UPDATE records_chunk SET n = n + 1 WHERE id = 1"], "cannot be unpacked"),
     (["UPDATE records_stay SET batch_id = (SELECT batch_id FROM records_stay ORDER BY id LIMIT 1), start = 1, \"end\" = 99",
       ], "overlap")],
)  # fmt: skip
def test_a_hostile_backup_is_refused_and_changes_nothing(
    filled: Path, present: Path, tmp_path: Path, statements: list[str], match: str
) -> None:
    if match == "overlap":
        statements = ["DROP TRIGGER records_stay_no_overlap_update", *statements]
    before = _all(present / "notebook.db")
    file = _tampered(filled, tmp_path, *statements)
    with pytest.raises(NotebookError, match=match):
        restore.restore(file, present / "notebook.db", present, NOW)
    assert _all(present / "notebook.db") == before
    assert copies.kept(present) == []


def test_readings_that_unpack_to_much_are_not_unpacked(filled: Path, present: Path, tmp_path: Path) -> None:
    import zlib

    bomb = b"\x01" + zlib.compress(bytes(50_000_000), 9)
    assert len(bomb) < 60_000
    file = _tampered(filled, tmp_path, f"UPDATE records_chunk SET data = x'{bomb.hex()}' WHERE id = 1")
    with pytest.raises(NotebookError, match="cannot be unpacked"):
        restore.restore(file, present / "notebook.db", present, NOW)


def test_a_kept_copy_that_was_tampered_with_is_refused_like_any_other(
    filled: Path, present: Path, tmp_path: Path
) -> None:
    copy = Path(shutil.copy(filled / "notebook.db", tmp_path / "copy.db"))
    change(copy, "CREATE VIEW v AS SELECT 1")
    with copy.open("rb") as file, pytest.raises(NotebookError, match="a view in it"):
        restore.restore(file, present / "notebook.db", present, NOW)


def test_a_backup_of_a_database_server_says_what_to_run(present: Path, tmp_path: Path) -> None:
    dump = tmp_path / backup.SERVER_DATABASE
    dump.write_bytes(b"PGDMP")
    made = io.BytesIO()
    backup.write_members(made, dump, {}, tmp_path, NOW)
    with pytest.raises(NotebookError, match="pg_restore --clean"):
        restore.restore(made, present / "notebook.db", present, NOW)


def test_nothing_is_restored_while_a_file_is_being_read_in(filled: Path, present: Path) -> None:
    work = "INSERT INTO records_work (uid, kind, arguments, state, progress, message, cancel, tries, asked, asked_by) " \
           "VALUES ('w', 'import', '{}', 'running', 0, '', 0, 0, 1, '')"  # fmt: skip
    change(present / "notebook.db", work)
    with pytest.raises(NotebookError, match="being read in: wait"):
        restore.restore(_backup(filled), present / "notebook.db", present, NOW)


def test_nothing_is_restored_without_room(filled: Path, present: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chalaza.records.upkeep.room_b", lambda _: 100_000_000)
    with pytest.raises(NotebookError, match="Make room"):
        restore.restore(_backup(filled), present / "notebook.db", present, NOW)


def test_a_sound_notebook_needs_a_hundredth_of_the_patience(filled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    size = (filled / "notebook.db").stat().st_size
    allowed = foreign._STEPS + foreign._STEPS_PER_BYTE * size
    monkeypatch.setattr(foreign, "_STEPS", 0)
    monkeypatch.setattr(foreign, "_AT_A_TIME", 1000)
    monkeypatch.setattr(foreign, "_STEPS_PER_BYTE", allowed / size / 100)
    monkeypatch.setattr(foreign, "_patience", lambda steps, found=foreign._patience: found(int(steps)))
    with foreign.looked_at(filled / "notebook.db") as source:
        for table in TABLES:
            assert source.execute(f"SELECT COUNT(*) FROM records_{table}").fetchone()[0] >= 0
