"""The page of the notebook: what it says of it, the backup as a download, restoring, the copies, and putting them back."""

import io
import shutil
import sqlite3
import zipfile
from collections import namedtuple
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.backends.base.base import BaseDatabaseWrapper
from tests.browser import Browser
from tests.records import notebooks
from tests.records.demo import NOW

from chalaza.records import backup, copies, upkeep

pytestmark = pytest.mark.django_db
_Usage = namedtuple("_Usage", "total used free")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, settings: Any) -> Path:
    """A data folder of its own: the pages of the tests stand on another database than what is backed up here."""
    made = notebooks.copied(notebooks.filled(), tmp_path / "notebook")
    settings.HOME = made
    monkeypatch.setattr(upkeep, "database_file", lambda: made / "notebook.db")
    monkeypatch.setenv("CHALAZA_CLOCK", str(NOW))
    return made


@pytest.fixture
def beside(monkeypatch: pytest.MonkeyPatch) -> None:
    """Restoring works in databases beside the notebook; a test in a transaction may not reach them by itself."""

    def reach(self: BaseDatabaseWrapper) -> None:
        if self.connection is None:
            self.connect()

    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", reach)


def _backup(folder: Path) -> bytes:
    made = io.BytesIO()
    backup.write(made, folder / "notebook.db", folder, NOW)
    return made.getvalue()


def _place(folder: Path) -> str:
    return str(notebooks.rows(folder / "notebook.db", "records_place")[0][2])


def test_the_page_says_where_it_lies_and_how_large_it_is(pages: Browser, folder: Path) -> None:
    text = pages.get("/notebook/").content.decode()
    assert str(folder) in text
    assert "notebook.db" in text
    size_mb = (folder / "notebook.db").stat().st_size / 1e6
    assert f"{size_mb:.1f}\xa0MB" in text
    assert "Chalaza 0." in text
    assert "None. One is taken" in text


def test_the_backup_is_an_attachment_and_reads_back(pages: Browser, folder: Path) -> None:
    answer = pages.post("/notebook/backup/")
    assert answer.status_code == 200
    assert answer.headers["Content-Disposition"] == 'attachment; filename="chalaza-2026-04-17-1640.zip"'
    assert answer.headers["Content-Type"] == "application/zip"
    data = b"".join(answer.streaming_content)
    with backup.opened(io.BytesIO(data)) as found:
        assert found.manifest.rows["records_batch"] == 3
    assert zipfile.ZipFile(io.BytesIO(data)).testzip() is None
    assert [path.name for path in folder.iterdir() if path.name.startswith("backup-")] == []


def test_a_full_disk_is_said_on_the_page(pages: Browser, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "disk_usage", lambda _: _Usage(10**9, 10**9, 150_000_000))
    assert "The disk has only 150\xa0MB left" in pages.get("/notebook/").content.decode()


def test_a_notebook_that_cannot_be_read_is_said_and_not_downloaded(pages: Browser, folder: Path) -> None:
    (folder / "notebook.db").write_bytes(b"rotten" * 2000)
    answer = pages.post("/notebook/backup/")
    assert answer.status_code == 409
    assert "could not be read or written (file is not a database)" in answer.content.decode()


@pytest.mark.parametrize(
    ("typed", "match"),
    [({}, "Choose the backup first."), ({"file": b""}, "This file is empty."), ({"file": b"x"}, "Tick this first"),
     ({"file": b"no zip", "sure": "on"}, "This is no backup of Chalaza")],
)  # fmt: skip
def test_what_cannot_be_restored_is_refused_with_a_sentence(
    pages: Browser, folder: Path, typed: dict[str, object], match: str
) -> None:
    before = (folder / "notebook.db").read_bytes()
    file = {"file": SimpleUploadedFile("b.zip", typed["file"])} if "file" in typed else {}  # type: ignore[arg-type]
    answer = pages.post("/notebook/restore/", {**{k: v for k, v in typed.items() if k != "file"}, **file})
    assert answer.status_code == 422
    assert match in answer.content.decode()
    assert (folder / "notebook.db").read_bytes() == before


def test_a_backup_is_put_in_place_and_the_copy_can_be_put_back(pages: Browser, folder: Path, beside: None) -> None:
    given = _backup(folder)
    notebooks.change(folder / "notebook.db", "UPDATE records_place SET name = 'As it was'")
    answer = pages.post("/notebook/restore/", {"file": SimpleUploadedFile("b.zip", given), "sure": "on"})
    assert (answer.status_code, answer.headers["Location"]) == (303, "/notebook/?restored")
    assert _place(folder) != "As it was"
    text = pages.get(answer.headers["Location"]).content.decode()
    assert "The backup is in place." in text
    (copy,) = copies.kept(folder)
    assert f"/notebook/copies/{copy.path.name}/put-back/" in text
    assert pages.post(f"/notebook/copies/{copy.path.name}/put-back/").status_code == 303
    assert _place(folder) == "As it was"


@pytest.mark.parametrize(
    "name", ["nothing.db", "..", "20260417-164000Z-restore.db", "%2e%2e%2fnotebook.db", "notebook.db"]
)
def test_only_a_kept_copy_is_put_back(pages: Browser, folder: Path, name: str) -> None:
    assert pages.post(f"/notebook/copies/{name}/put-back/").status_code == 404


def test_on_a_database_server_the_page_says_what_to_use(
    pages: Browser, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(upkeep, "database_file", lambda: None)
    assert "Download a backup" not in pages.get("/notebook/").content.decode()
    for path in ("/notebook/backup/", "/notebook/copies/x.db/put-back/"):
        assert pages.post(path).status_code in (404, 409)
    given = {"file": SimpleUploadedFile("b.zip", b"x"), "sure": "on"}
    answer = pages.post("/notebook/restore/", given)
    assert answer.status_code == 409
    assert "pg_dump and pg_restore" in answer.content.decode()


def test_the_notebook_is_sound_while_it_is_backed_up_again_and_again(pages: Browser, folder: Path) -> None:
    for _ in range(3):
        list(pages.post("/notebook/backup/").streaming_content)
    with sqlite3.connect(folder / "notebook.db") as found:
        assert found.execute("PRAGMA integrity_check").fetchone() == ("ok",)
