"""Where a folder is read from: a directory or a zip, member by member, in place and within limits.

What comes from outside may be hostile: nothing is extracted, no link is followed, no name but a known flat one is
opened, and unpacked bytes are counted as they are read, for what a zip says of itself may be false.
"""

import io
import os
import stat
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, Protocol

from chalaza.errors import FolderError
from chalaza.exchange.package import is_known
from chalaza.exchange.schema import DESCRIPTOR

MAX_MEMBERS = 100
MAX_BYTES = 2_000_000_000
MAX_RATIO = 200
#: So much may be unpacked from however small a zip: the headers of empty tables alone pack well.
FREE_BYTES = 1_000_000
_MAX_INDEX_BYTES = 100_000
_END = b"PK\x05\x06"
_END_BYTES, _LOCATOR_BYTES = 22, 20

#: What may be read: a directory, a zip file, or an open zip file that can be moved about in.
Place = str | os.PathLike[str] | BinaryIO


class Source(Protocol):
    """A directory or zip under one face."""

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the files in it."""

    def open(self, name: str) -> BinaryIO:
        """The bytes of one of them, counted. Raises `FolderError`."""


class Budget:
    """Bytes that may still be read."""

    def __init__(self, limit: int, why: str) -> None:
        self._left, self._limit, self._why = limit, limit, why

    def take(self, count: int, file: str) -> None:
        """Count bytes. Raises `FolderError` when they are too many."""
        self._left -= count
        if self._left < 0:
            raise FolderError(f"unpacks to too much ({self._why})", file=file, allowed=f"{self._limit:,} bytes in all")


class _Counted(io.RawIOBase):
    def __init__(self, inner: BinaryIO, file: str, budget: Budget) -> None:
        self._inner, self._file, self._budget = inner, file, budget

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: "memoryview") -> int:  # type: ignore[override]
        try:
            data = self._inner.read(len(buffer))
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as fault:
            raise FolderError(f"damaged in the zip ({fault})", file=self._file, allowed="a sound zip file") from None
        self._budget.take(len(data), self._file)
        buffer[: len(data)] = data
        return len(data)

    def close(self) -> None:
        self._inner.close()
        super().close()


def _counted(inner: BinaryIO, file: str, budget: Budget) -> BinaryIO:
    return io.BufferedReader(_Counted(inner, file, budget), 1 << 16)


class Folder:
    """A directory; only plain files in it are read. Raises `FolderError` if there is no such directory."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._budget = Budget(MAX_BYTES, "a folder")
        try:
            self.names = tuple(sorted(os.listdir(path)))
        except OSError as fault:
            raise FolderError(
                f"cannot be opened ({fault.strerror})", given=str(path), allowed=f"a folder with {DESCRIPTOR}"
            ) from None

    def open(self, name: str) -> BinaryIO:
        """The bytes of a plain file. Raises `FolderError` for links and what is no file."""
        path = self._path / name
        try:
            descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
        except OSError as fault:
            problem = "a link" if path.is_symlink() else f"cannot be opened ({fault.strerror})"
            raise FolderError(problem, file=name, allowed="a plain file in the folder") from None
        plain = stat.S_ISREG(os.fstat(descriptor).st_mode) and not path.is_symlink()
        if not plain:
            os.close(descriptor)
            raise FolderError("not a plain file", file=name, allowed="a plain file in the folder")
        return _counted(os.fdopen(descriptor, "rb"), name, self._budget)


class Zip:
    """A zip file whose every member was looked at before the first is opened."""

    def __init__(self, archive: zipfile.ZipFile, size: int) -> None:
        self._archive = archive
        by_ratio = max(FREE_BYTES, MAX_RATIO * size)
        why = f"more than {MAX_RATIO} times its size" if by_ratio < MAX_BYTES else "a zip"
        self._budget = Budget(min(MAX_BYTES, by_ratio), why)
        members = archive.infolist()
        if len(members) > MAX_MEMBERS:
            raise FolderError("too many files in the zip", given=str(len(members)), allowed=f"{MAX_MEMBERS} at most")
        for member in members:
            _check_member(member)
        self.names = tuple(member.filename for member in members)
        if len(set(self.names)) != len(self.names):
            twice = next(name for name in self.names if self.names.count(name) > 1)
            raise FolderError("twice in the zip", given=twice, allowed="each name once")

    def open(self, name: str) -> BinaryIO:
        """The bytes of a member, unpacked as they are read. Raises `FolderError`."""
        try:
            inner = self._archive.open(name)
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as fault:
            raise FolderError(f"damaged in the zip ({fault})", file=name, allowed="a sound zip file") from None
        return _counted(inner, name, self._budget)  # type: ignore[arg-type]


def _check_member(member: zipfile.ZipInfo) -> None:
    name = member.orig_filename
    if name.startswith(("/", "\\")) or ".." in name.replace("\\", "/").split("/") or ":" in name:
        raise FolderError("a path that leads out of the zip", given=name, allowed="file names without a folder")
    if "/" in name or "\\" in name:
        raise FolderError(
            "a folder in the zip", given=name, allowed="the files themselves at the top of the zip, without a folder"
        )
    if stat.S_ISLNK(member.external_attr >> 16):
        raise FolderError("a link in the zip", given=name, allowed="plain files")
    if member.flag_bits & 0x41:
        raise FolderError("an encrypted file in the zip", given=name, allowed="files without a password")
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise FolderError("packed in a way that is not read", given=name, allowed="stored or deflated files")
    if not is_known(name):
        archive = name.lower().endswith((".zip", ".gz", ".tar", ".tgz", ".xz", ".bz2", ".7z", ".rar"))
        problem = "an archive within the zip" if archive else "no file of this format in the zip"
        raise FolderError(problem, given=name, allowed=f"{DESCRIPTOR} and the tables of the manual")


def _check_end(file: BinaryIO) -> int:
    """Size of a zip whose list of members is short enough to be loaded. Raises `FolderError`."""
    size = file.seek(0, io.SEEK_END)
    file.seek(max(0, size - _END_BYTES - _LOCATOR_BYTES))
    tail = file.read(_END_BYTES + _LOCATOR_BYTES)
    end = tail[-_END_BYTES:]
    if not end.startswith(_END) or end[-2:] != b"\0\0":
        raise FolderError("neither a folder nor a zip file", allowed=f"a folder with {DESCRIPTOR}, or a zip of it")
    if tail[:-_END_BYTES].startswith(b"PK\x06\x07") or int.from_bytes(end[12:16], "little") > _MAX_INDEX_BYTES:
        raise FolderError("too many files in the zip", allowed=f"{MAX_MEMBERS} at most")
    return size


@contextmanager
def opened_zip(place: Place) -> Iterator[Zip]:
    """A zip to read from. Raises `FolderError`."""
    if isinstance(place, (str, os.PathLike)):
        try:
            file: BinaryIO = open(place, "rb")  # noqa: SIM115 (closed below)
        except OSError as fault:
            raise FolderError(
                f"cannot be opened ({fault.strerror})", given=os.fspath(place), allowed="a zip file"
            ) from None
        with file:
            yield from _in_zip(file)
    else:
        yield from _in_zip(place)


def _in_zip(file: BinaryIO) -> Iterator[Zip]:
    size = _check_end(file)
    try:
        archive = zipfile.ZipFile(file)
    except (zipfile.BadZipFile, NotImplementedError, ValueError) as fault:
        raise FolderError(f"a damaged zip ({fault})", allowed="a sound zip file") from None
    with archive:
        yield Zip(archive, size)
