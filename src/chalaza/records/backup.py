"""A backup: one zip with a verified copy of the database, the stored files, and a manifest of all of it.

It is taken while the notebook is open. It is read back by the reader that restoring uses, and counts only then. What is
read may come from anywhere: names, sizes and kinds of members are looked at before the first is opened, bytes are counted
as they are unpacked, and each member must be what the manifest says.
"""

import hashlib
import io
import json
import os
import re
import stat
import tempfile
import zipfile
import zlib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from chalaza import __version__
from chalaza.errors import NotebookError
from chalaza.records import copies
from chalaza.words.language import mark

FORMAT, EDITION = "chalaza-backup", 1
MANIFEST, DATABASE, SERVER_DATABASE, FILES = "manifest.json", "notebook.db", "notebook.dump", "files"
MAX_MEMBERS = 20_000
MAX_BYTES = 4_000_000_000
MAX_RATIO = 200
#: So much may be unpacked from however small a zip: an empty database packs well.
FREE_BYTES = 20_000_000
_MAX_MANIFEST_BYTES = _MAX_INDEX_BYTES = 4_000_000
_MEMBER = re.compile(rf"{MANIFEST}|{DATABASE}|{SERVER_DATABASE}|{FILES}/[0-9a-f]{{64}}")
_STORED = re.compile(r"[0-9a-f]{64}")
_END, _END_BYTES, _LOCATOR_BYTES = b"PK\x05\x06", 22, 20
_BLOCK = 1 << 20
_FAULTS = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, OSError)
_DATE = (1980, 1, 1, 0, 0, 0)  # the moment stands in the manifest; equal notebooks give equal members
_NO_BACKUP = mark("This is no backup of Chalaza ({why}). A backup is the zip file that `chalaza backup` wrote.")
_DAMAGED = mark("This backup is damaged ({why}): nothing was changed. Take another one.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Manifest:
    """What a backup says of itself: `members` name -> (size in bytes, sha256), `rows` table -> number."""

    format: str = FORMAT
    edition: int = EDITION
    version: str = __version__
    at: int
    rows: Mapping[str, int] = field(default_factory=dict)
    members: Mapping[str, tuple[int, str]] = field(default_factory=dict)
    left_out: tuple[str, ...] = ()

    @property
    def files(self) -> int:
        """How many stored files it carries."""
        return sum(name.startswith(FILES) for name in self.members)


def write(target: BinaryIO, database: Path, folder: Path, now: int) -> Manifest:
    """Write a backup of the notebook `database` and the stored files in `folder` to `target`, and read it back.

    Raises `NotebookError` where it does not read back as it was, or is too large; `OSError`, `sqlite3.Error` where the
    notebook cannot be read. A stored file that is not what its name says is left out and named.
    """
    with tempfile.TemporaryDirectory(prefix="backup-", dir=folder) as scratch:
        copy = Path(scratch) / DATABASE
        counts = copies.take(database, copy)
        return write_members(target, copy, counts, folder, now)


def write_members(target: BinaryIO, copy: Path, counts: Mapping[str, int], folder: Path, now: int) -> Manifest:
    """Write a backup around a copy that was taken already, and read it back."""
    members: dict[str, tuple[int, str]] = {}
    left_out = []
    try:
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, allowZip64=False, compresslevel=1) as archive:
            members[copy.name] = _add(archive, copy.name, copy)
            for path in _stored(folder):
                if _digest(path) != path.name:
                    left_out.append(path.name)
                    continue
                members[f"{FILES}/{path.name}"] = _add(archive, f"{FILES}/{path.name}", path)
            manifest = Manifest(at=now, rows=counts, members=members, left_out=tuple(left_out))
            archive.writestr(_info(MANIFEST), json.dumps(asdict(manifest), indent=1))
    except zipfile.LargeZipFile as large:
        raise NotebookError(
            mark("The notebook is too large for one zip (4 GB): end the program and copy its folder {folder}."),
            folder=folder,
        ) from large
    with opened(target) as again, tempfile.TemporaryDirectory(prefix="backup-", dir=folder) as scratch:
        for name in again.manifest.members:
            again.unpack(name, Path(scratch) / "member")
            if name == DATABASE:
                copies.verify(Path(scratch) / "member", counts)
    return manifest


def _stored(folder: Path) -> list[Path]:
    place = folder / FILES
    return sorted(path for path in place.iterdir() if _STORED.fullmatch(path.name)) if place.is_dir() else []


def _info(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _DATE)
    info.compress_type, info.external_attr = zipfile.ZIP_DEFLATED, (stat.S_IFREG | 0o600) << 16
    return info


def _add(archive: zipfile.ZipFile, name: str, path: Path) -> tuple[int, str]:
    digest, size, info = hashlib.sha256(), 0, _info(name)
    info.file_size = path.stat().st_size
    with path.open("rb") as source, archive.open(info, "w") as member:
        while block := source.read(_BLOCK):
            member.write(block)
            digest.update(block)
            size += len(block)
    return size, digest.hexdigest()


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


# Reading


class Backup:
    """A backup opened for reading: its members and its manifest are known to fit each other."""

    def __init__(self, archive: zipfile.ZipFile, size_b: int) -> None:
        self._archive, self._left = archive, min(MAX_BYTES, max(FREE_BYTES, MAX_RATIO * size_b))
        members = archive.infolist()
        if len(members) > MAX_MEMBERS:
            raise NotebookError(_NO_BACKUP, why=f"{len(members)} files in it, {MAX_MEMBERS} at most are allowed")
        for member in members:
            _check_member(member)
        names = [member.filename for member in members]
        if len(set(names)) != len(names):
            raise NotebookError(_NO_BACKUP, why="a name stands twice in it")
        self.manifest = _manifest(self._read(MANIFEST, _MAX_MANIFEST_BYTES) if MANIFEST in names else b"")
        if {MANIFEST, *self.manifest.members} != set(names):
            raise NotebookError(_NO_BACKUP, why="what lies in it is not what its manifest lists")

    def unpack(self, name: str, target: Path) -> None:
        """Write a member to `target`. Raises `NotebookError` unless it is what the manifest says."""
        size, wanted = self.manifest.members[name]
        digest, taken = hashlib.sha256(), 0
        with open(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as out:
            for block in self._blocks(name):
                taken += len(block)
                if taken > size:
                    break
                digest.update(block)
                out.write(block)
        if taken != size or digest.hexdigest() != wanted:
            raise NotebookError(_DAMAGED, why=f"{name} is not what the manifest says")

    def _read(self, name: str, most: int) -> bytes:
        found = io.BytesIO()
        for block in self._blocks(name):
            found.write(block)
            if found.tell() > most:
                raise NotebookError(_NO_BACKUP, why=f"{name} is too large")
        return found.getvalue()

    def _blocks(self, name: str) -> Iterator[bytes]:
        """A member block by block, counted: what a zip says of its sizes may be false."""
        try:
            with self._archive.open(name) as member:
                while block := member.read(_BLOCK):
                    self._left -= len(block)
                    if self._left < 0:
                        raise NotebookError(_NO_BACKUP, why="it unpacks to too much")
                    yield block
        except _FAULTS as fault:
            raise NotebookError(_DAMAGED, why=f"{name}: {fault}") from fault


def _check_member(member: zipfile.ZipInfo) -> None:
    name = member.orig_filename
    if not _MEMBER.fullmatch(name):
        raise NotebookError(_NO_BACKUP, why=f"{name[:80]!r} does not belong in it")
    if stat.S_IFMT(member.external_attr >> 16) not in (0, stat.S_IFREG):
        raise NotebookError(_NO_BACKUP, why=f"{name} is a link or no file")
    if member.flag_bits & 0x41:
        raise NotebookError(_NO_BACKUP, why=f"{name} is encrypted")
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise NotebookError(_NO_BACKUP, why=f"{name} is packed in a way that is not read")


def _manifest(text: bytes) -> Manifest:
    try:
        found: Any = json.loads(text)
        if found["format"] != FORMAT or not isinstance(found["edition"], int):
            raise ValueError("another format")
        made = Manifest(
            edition=found["edition"], version=str(found["version"])[:40], at=int(found["at"]),
            rows={str(name): int(count) for name, count in found["rows"].items()},
            members={str(name): (int(size), str(sha)) for name, (size, sha) in found["members"].items()},
            left_out=tuple(str(name) for name in found["left_out"]),
        )  # fmt: skip
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
        raise NotebookError(_NO_BACKUP, why="its manifest cannot be read") from fault
    if made.edition > EDITION:
        raise NotebookError(
            mark("This backup was written by Chalaza {version} in a newer form: use {version} or newer."),
            version=made.version,
        )
    if not {DATABASE, SERVER_DATABASE} & set(made.members):
        raise NotebookError(_NO_BACKUP, why="there is no notebook in it")
    if any(name != f"{FILES}/{sha}" for name, (_, sha) in made.members.items() if name.startswith(FILES)):
        raise NotebookError(_NO_BACKUP, why="a stored file is not what its name says")
    return made


@contextmanager
def opened(file: BinaryIO) -> Iterator[Backup]:
    """A backup to read from. Raises `NotebookError` for what is none, or breaks a limit."""
    size_b = _check_end(file)
    try:
        archive = zipfile.ZipFile(file)
    except _FAULTS as fault:
        raise NotebookError(_NO_BACKUP, why=str(fault)) from fault
    with archive:
        yield Backup(archive, size_b)


def _check_end(file: BinaryIO) -> int:
    """Size of a zip whose list of members is short enough to be loaded. Raises `NotebookError`."""
    size = file.seek(0, io.SEEK_END)
    file.seek(max(0, size - _END_BYTES - _LOCATOR_BYTES))
    tail = file.read(_END_BYTES + _LOCATOR_BYTES)
    end = tail[-_END_BYTES:]
    if not end.startswith(_END) or end[-2:] != b"\0\0":
        raise NotebookError(_NO_BACKUP, why="no zip file, or its end is missing")
    if tail[:-_END_BYTES].startswith(b"PK\x06\x07") or int.from_bytes(end[12:16], "little") > _MAX_INDEX_BYTES:
        raise NotebookError(_NO_BACKUP, why="too many files in it")
    return size


def to_file(target: Path, database: Path, folder: Path, now: int) -> Manifest:
    """Write a backup to a file that is not there yet; a half one never bears its name. Raises as `write` does."""
    with _whole(target) as file:
        return write(file, database, folder, now)


def around(target: Path, dump: Path, folder: Path, now: int) -> Manifest:
    """The same around what a database server gave of itself."""
    with _whole(target) as file:
        return write_members(file, dump, {}, folder, now)


@contextmanager
def _whole(target: Path) -> Iterator[BinaryIO]:
    """A file that gets its name when all is in it and on the disk."""
    half = target.with_name(target.name + ".half")
    try:
        with open(os.open(half, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600), "r+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        half.replace(target)
    finally:
        half.unlink(missing_ok=True)


def is_database(file: BinaryIO) -> bool:
    """Whether a file is an embedded database, such as a kept copy."""
    file.seek(0)
    return file.read(16) == b"SQLite format 3\0"
