"""Copies of an open database: one moment of it, verified, kept for a while."""

import sqlite3
from contextlib import closing
from pathlib import Path
from threading import Event, Thread

import pytest

from chalaza.errors import NotebookError
from chalaza.records import copies

DAY_S = 86_400
AT = 1_776_444_000  # 2026-04-17 16:40 UTC


def _made(path: Path, count: int) -> Path:
    with closing(sqlite3.connect(path, isolation_level=None)) as made:
        made.execute("PRAGMA journal_mode=WAL")
        made.execute("CREATE TABLE one (n INTEGER)")
        made.execute("CREATE TABLE two (n INTEGER)")
        made.execute("BEGIN")
        made.executemany("INSERT INTO one VALUES (?)", [(n,) for n in range(count)])
        made.executemany("INSERT INTO two VALUES (?)", [(n,) for n in range(count)])
        made.execute("COMMIT")
    return path


def test_a_copy_has_the_rows_of_what_it_was_taken_of(tmp_path: Path) -> None:
    source = _made(tmp_path / "notebook.db", 20)
    counts = copies.take(source, tmp_path / "copy.db")
    assert counts == {"one": 20, "two": 20}
    with closing(sqlite3.connect(tmp_path / "copy.db")) as copy:
        assert copies.rows(copy) == counts
    assert sorted(path.name for path in tmp_path.glob("copy.db*")) == ["copy.db"]
    assert (tmp_path / "copy.db").stat().st_mode & 0o077 == 0


def test_a_copy_taken_while_somebody_writes_is_one_moment(tmp_path: Path) -> None:
    # A writer adds one row to each of two tables in one transaction, all the time: a copy with unequal numbers is torn.
    source, stop = _made(tmp_path / "notebook.db", 200), Event()

    def write() -> None:
        with closing(sqlite3.connect(source, isolation_level=None, timeout=30)) as writer:
            while not stop.is_set():
                writer.execute("BEGIN IMMEDIATE")
                writer.execute("INSERT INTO one VALUES (1)")
                writer.execute("INSERT INTO two VALUES (1)")
                writer.execute("COMMIT")

    thread = Thread(target=write)
    thread.start()
    try:
        taken = [copies.take(source, tmp_path / f"copy-{n}.db") for n in range(12)]
    finally:
        stop.set()
        thread.join()
    assert all(one["one"] == one["two"] for one in taken)
    assert taken[-1]["one"] > 200


def test_a_copy_that_lost_a_row_is_not_believed(tmp_path: Path) -> None:
    copy = _made(tmp_path / "copy.db", 5)
    copies.verify(copy, {"one": 5, "two": 5})
    with pytest.raises(NotebookError, match="rows are missing"):
        copies.verify(copy, {"one": 6, "two": 5})


def test_a_copy_that_is_damaged_is_not_believed(tmp_path: Path) -> None:
    copy = _made(tmp_path / "copy.db", 5000)
    with closing(sqlite3.connect(copy, isolation_level=None)) as database:
        database.execute("PRAGMA journal_mode=DELETE")
    data = bytearray(copy.read_bytes())
    data[4096 * 5 : 4096 * 5 + 200] = bytes(200)
    copy.write_bytes(data)
    with pytest.raises((NotebookError, sqlite3.DatabaseError)):
        copies.verify(copy, {"one": 5000, "two": 5000})


def test_no_half_copy_stays_where_none_could_be_taken(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        copies.take(tmp_path / "notebook.db", tmp_path / "copy.db")
    (tmp_path / "notebook.db").write_bytes(b"no database at all, and longer than its head would be" * 20)
    with pytest.raises(sqlite3.DatabaseError):
        copies.take(tmp_path / "notebook.db", tmp_path / "copy.db")
    assert [path.name for path in tmp_path.iterdir()] == ["notebook.db"]


def test_kept_copies_tell_when_and_before_what_newest_first(tmp_path: Path) -> None:
    source = _made(tmp_path / "notebook.db", 1)
    first = copies.keep(tmp_path, source, "migration", AT)
    second = copies.keep(tmp_path, source, "restore", AT + 60)
    again = copies.keep(tmp_path, source, "restore", AT + 60)
    assert len({first.path, second.path, again.path}) == 3
    found = copies.kept(tmp_path)
    assert {(one.at, one.before) for one in found} == {(AT, "migration"), (AT + 60, "restore")}
    assert found == [again, second, first]
    assert first.path.name == "20260417-164000Z-migration.db"


def test_what_the_keeper_put_beside_the_copies_is_none_of_ours(tmp_path: Path) -> None:
    copies.keep(tmp_path, _made(tmp_path / "notebook.db", 1), "restore", AT)
    (tmp_path / copies.FOLDER / "mine.db").write_bytes(b"")
    assert len(copies.kept(tmp_path)) == 1
    copies.drop_old(tmp_path, AT + 400 * DAY_S)
    assert [path.name for path in (tmp_path / copies.FOLDER).iterdir()] == ["mine.db"]


def test_a_copy_is_taken_away_after_thirty_days_and_not_before(tmp_path: Path) -> None:
    made = copies.keep(tmp_path, _made(tmp_path / "notebook.db", 1), "restore", AT)
    assert copies.drop_old(tmp_path, AT + 30 * DAY_S) == []
    assert copies.drop_old(tmp_path, AT + 30 * DAY_S + 1) == [made]
    assert copies.kept(tmp_path) == []
