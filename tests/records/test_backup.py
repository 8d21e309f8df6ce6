"""A backup: taken while the notebook is in use, read back, and read as if it came from an enemy."""

import hashlib
import io
import json
import sqlite3
import struct
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from threading import Event, Thread
from typing import Any

import pytest

from chalaza import __version__
from chalaza.errors import NotebookError
from chalaza.records import backup, copies

from . import notebooks
from .demo import NOW
from .notebooks import STORED, copied

SHA = STORED[0]


@pytest.fixture(scope="module")
def filled() -> Path:
    return notebooks.filled()


@pytest.fixture(scope="module")
def good(filled: Path) -> bytes:
    made = io.BytesIO()
    backup.write(made, filled / "notebook.db", filled, NOW)
    return made.getvalue()


def _counts(database: Path) -> dict[str, int]:
    with closing(sqlite3.connect(database)) as found:
        return copies.rows(found)


# Writing


def test_a_backup_holds_the_notebook_the_files_and_what_they_are(filled: Path, tmp_path: Path) -> None:
    made = backup.to_file(tmp_path / "b.zip", filled / "notebook.db", filled, NOW)
    assert made.version == __version__
    assert made.at == NOW
    assert made.rows == _counts(filled / "notebook.db")
    assert made.rows["records_batch"] == 3
    with (tmp_path / "b.zip").open("rb") as file, backup.opened(file) as found:
        assert found.manifest == made
        found.unpack("notebook.db", tmp_path / "again.db")
        found.unpack(f"files/{SHA}", tmp_path / "again.log")
    assert _counts(tmp_path / "again.db") == made.rows
    assert (tmp_path / "again.log").read_bytes() == STORED[1]
    assert (tmp_path / "b.zip").stat().st_mode & 0o077 == 0


def test_any_program_that_reads_zips_reads_it(good: bytes) -> None:
    with zipfile.ZipFile(io.BytesIO(good)) as archive:
        assert archive.testzip() is None
        assert sorted(archive.namelist()) == [f"files/{SHA}", "manifest.json", "notebook.db"]


def test_a_backup_taken_while_entries_are_written_is_one_moment(filled: Path, tmp_path: Path) -> None:
    folder, stop = copied(filled, tmp_path / "busy"), Event()

    def write() -> None:
        with closing(sqlite3.connect(folder / "notebook.db", isolation_level=None, timeout=30)) as writer:
            n = 0
            while not stop.is_set():
                writer.execute("BEGIN IMMEDIATE")
                writer.execute(
                    "INSERT INTO records_place (uid, name, altitude_m, zone) VALUES (?, 'n', 0, 'UTC')", [f"n{n}"]
                )
                writer.execute(
                    "INSERT INTO records_parents (uid, name, kind, note) VALUES (?, ?, '', '')", [f"n{n}"] * 2
                )
                writer.execute("COMMIT")
                n += 1

    before = _counts(folder / "notebook.db")
    thread = Thread(target=write)
    thread.start()
    try:
        made = [backup.write(io.BytesIO(), folder / "notebook.db", folder, NOW).rows for _ in range(4)]
    finally:
        stop.set()
        thread.join()
    for rows in made:
        assert rows["records_place"] - before["records_place"] == rows["records_parents"] - before["records_parents"]
    assert made[-1]["records_place"] > before["records_place"]


def test_a_stored_file_that_rotted_is_left_out_and_named(filled: Path, tmp_path: Path) -> None:
    folder = copied(filled, tmp_path / "rotten")
    (folder / "files" / SHA).write_bytes(b"something else")
    (folder / "files" / "notes.txt").write_bytes(b"the keeper's own")
    made = backup.write(io.BytesIO(), folder / "notebook.db", folder, NOW)
    assert made.left_out == (SHA,)
    assert list(made.members) == ["notebook.db"]


def test_no_half_backup_bears_the_name(filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(backup, "_add", broken)
    with pytest.raises(OSError, match="No space left"):
        backup.to_file(tmp_path / "b.zip", filled / "notebook.db", filled, NOW)
    assert list(tmp_path.iterdir()) == []
    assert [path.name for path in filled.iterdir() if path.name.startswith("backup-")] == []


def test_a_backup_that_does_not_read_back_is_none(
    filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def torn(archive: zipfile.ZipFile, name: str, path: Path) -> tuple[int, str]:
        archive.writestr(name, path.read_bytes()[:-1] + b"x")
        return path.stat().st_size, hashlib.sha256(path.read_bytes()).hexdigest()

    monkeypatch.setattr(backup, "_add", torn)
    with pytest.raises(NotebookError, match="not what the manifest says"):
        backup.to_file(tmp_path / "b.zip", filled / "notebook.db", filled, NOW)
    assert list(tmp_path.iterdir()) == []


# Reading what comes from elsewhere


def _members(good: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(good)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def _zip(members: dict[str, bytes] | list[tuple[str | zipfile.ZipInfo, bytes]]) -> io.BytesIO:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items() if isinstance(members, dict) else members:
            archive.writestr(name, data)
    return made


def _with_manifest(good: bytes, change: Callable[[dict[str, Any]], object]) -> io.BytesIO:
    members = _members(good)
    manifest = json.loads(members["manifest.json"])
    change(manifest)
    return _zip(members | {"manifest.json": json.dumps(manifest).encode()})


def _refused(file: io.BytesIO, match: str, tmp_path: Path) -> None:
    with pytest.raises(NotebookError, match=match):
        _read(file, tmp_path)


def _read(file: io.BytesIO, tmp_path: Path) -> None:
    with backup.opened(file) as found:
        for name in found.manifest.members:
            found.unpack(name, tmp_path / "member")


@pytest.mark.parametrize(
    "name", ["../notebook.db", "/etc/passwd", "files/../secret", "files/x", "secret", "C:\\notebook.db", "files\\" + SHA,
             "notebook.db\x00.txt", "inner.zip", "files/" + SHA.upper(), "files/" + SHA + "/x"],
)  # fmt: skip
def test_a_name_that_does_not_belong_in_a_backup_is_refused(good: bytes, tmp_path: Path, name: str) -> None:
    if "\x00" in name:  # the standard library cuts such a name when it writes: put it in by hand
        file = io.BytesIO(good.replace(b"notebook.db", b"noteboo\x00.db"))
    else:
        file = _zip([*_members(good).items(), (name, b"x")])
    _refused(file, "no backup of Chalaza", tmp_path)


def test_a_link_is_refused(good: bytes, tmp_path: Path) -> None:
    link = zipfile.ZipInfo(f"files/{SHA}")
    link.external_attr = 0o120777 << 16
    members = _members(good)
    _refused(
        _zip([(link, b"/etc/passwd"), *((n, d) for n, d in members.items() if n != f"files/{SHA}")]), "a link", tmp_path
    )


def test_an_encrypted_member_is_refused(good: bytes, tmp_path: Path) -> None:
    data = bytearray(good)
    at = data.index(b"PK\x01\x02")
    data[at + 8] |= 1
    _refused(io.BytesIO(bytes(data)), "encrypted", tmp_path)


def test_a_name_that_stands_twice_is_refused(good: bytes, tmp_path: Path) -> None:
    with pytest.warns(UserWarning, match="Duplicate name"):
        file = _zip([*_members(good).items(), ("notebook.db", b"another")])
    _refused(file, "stands twice", tmp_path)


def test_a_way_of_packing_that_is_not_read_is_refused(good: bytes, tmp_path: Path) -> None:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_LZMA) as archive:
        for name, data in _members(good).items():
            archive.writestr(name, data)
    _refused(made, "packed in a way", tmp_path)


def test_too_many_members_are_refused_before_they_are_listed(tmp_path: Path) -> None:
    members = [(f"files/{hashlib.sha256(b'%d' % n).hexdigest()}", b"") for n in range(backup.MAX_MEMBERS + 1)]
    _refused(_zip(members), "files in it", tmp_path)
    many = io.BytesIO(b"x" * 10 + struct.pack("<4s4H2LH", b"PK\x05\x06", 0, 0, 9, 9, 2**31, 0, 0))
    _refused(many, "too many files", tmp_path)


def test_a_small_zip_that_unpacks_to_much_is_refused_while_it_is_read(
    good: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backup, "FREE_BYTES", 100_000)
    data = bytes(80_000_000)

    def grown(manifest: dict[str, Any]) -> None:
        manifest["members"]["notebook.db"] = [len(data), hashlib.sha256(data).hexdigest()]

    found = _members(_with_manifest(good, grown).getvalue())
    file = _zip(found | {"notebook.db": data})
    assert len(file.getvalue()) < 400_000
    _refused(file, "unpacks to too much", tmp_path)
    assert (tmp_path / "member").stat().st_size <= backup.MAX_RATIO * len(file.getvalue())


def test_a_member_larger_than_the_manifest_says_is_not_read_to_its_end(good: bytes, tmp_path: Path) -> None:
    found = _members(good)
    file = _zip(found | {f"files/{SHA}": bytes(10_000_000)})
    _refused(file, "not what the manifest says", tmp_path)
    assert (tmp_path / "member").stat().st_size < 2**20 + 1


@pytest.mark.parametrize(
    ("change", "match"),
    [(lambda m: m.update(format="something-else"), "manifest cannot be read"),
     (lambda m: m.pop("members"), "manifest cannot be read"),
     (lambda m: m.update(members=[1]), "manifest cannot be read"),
     (lambda m: m.update(at="soon"), "manifest cannot be read"),
     (lambda m: m.update(rows={"a": None}), "manifest cannot be read"),
     (lambda m: m.update(edition=2, version="8.0"), r"Chalaza 8\.0 in a newer form: use 8\.0"),
     (lambda m: m["members"].pop("notebook.db"), "no notebook in it"),
     (lambda m: m["members"].pop(f"files/{SHA}"), "not what its manifest lists"),
     (lambda m: m["members"].update({"files/" + "0" * 64: [1, "0" * 64]}), "not what its manifest lists"),
     (lambda m: m["members"].update({f"files/{SHA}": [5, "1" * 64]}), "not what its name says"),
     (lambda m: m["members"].update({"notebook.db": [5, "1" * 64]}), "not what the manifest says")],
)  # fmt: skip
def test_a_manifest_that_does_not_fit_is_refused(good: bytes, tmp_path: Path, change: Any, match: str) -> None:
    _refused(_with_manifest(good, change), match, tmp_path)


@pytest.mark.parametrize(
    "data", [b"", b"x", b"PK\x05\x06" + bytes(18), b"SQLite format 3\0" + bytes(100), b"[" * 100_000]
)
def test_what_is_no_backup_is_refused(tmp_path: Path, data: bytes) -> None:
    _refused(io.BytesIO(data), "no backup of Chalaza", tmp_path)


def test_a_manifest_nested_too_deep_is_refused(good: bytes, tmp_path: Path) -> None:
    _refused(_zip(_members(good) | {"manifest.json": b"[" * 200_000}), "manifest cannot be read", tmp_path)


def test_a_backup_with_any_byte_changed_is_read_whole_or_refused(good: bytes, tmp_path: Path) -> None:
    # Every hash is in the manifest, so nothing but what the zip says beside its members may differ unseen.
    step = len(good) // 150
    for at in range(7, len(good), step):
        data = bytearray(good)
        data[at] ^= 0x55
        try:
            with backup.opened(io.BytesIO(bytes(data))) as found:
                for name, (size, sha) in found.manifest.members.items():
                    found.unpack(name, tmp_path / "member")
                    assert hashlib.sha256((tmp_path / "member").read_bytes()).hexdigest() == sha
                    assert (tmp_path / "member").stat().st_size == size
        except NotebookError:
            continue


def test_half_a_backup_is_refused(good: bytes, tmp_path: Path) -> None:
    for share in (0.1, 0.5, 0.9, 0.999):
        _refused(io.BytesIO(good[: int(len(good) * share)]), "Chalaza", tmp_path)
