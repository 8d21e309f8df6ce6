"""Files that were uploaded, kept whole in the data folder, each known by what is in it: `files/<sha256>`."""

import hashlib
import os
import re
import shutil
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from uuid import uuid4

from django.conf import settings

from chalaza.errors import NotebookError
from chalaza.words.language import mark

#: A longer file is refused: some eight million readings.
MOST_BYTES = 256 * 2**20
#: With less room than this on the disk no file is taken in; entries go on.
LEAST_FREE_BYTES = 200 * 2**20
_SHA256 = re.compile(r"[0-9a-f]{64}")
_PART = ".part-"


_TOO_LARGE = mark(
    "The file has {size} MB; at most {most} MB are taken in at once. Split it, by month for example, and send the parts "
    "one after the other: what two parts share counts once."
)
_NO_ROOM = mark(
    "The disk has {free} MB left, and {least} MB must stay free. Make room and send the file again; weighings and other "
    "entries are still kept."
)
_GONE = mark("The file lies in the data folder no more. Send it again.")
_NO_NAME = mark("A file is named by 64 hexadecimal figures.")


class FileRefused(NotebookError):
    """A file that cannot be kept; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Kept:
    """A file that lies in the folder now."""

    sha256: str
    size: int


def folder() -> Path:
    """Where the files lie, for their owner alone."""
    place = Path(settings.HOME) / "files"
    place.mkdir(mode=0o700, parents=True, exist_ok=True)
    return place


def path(sha256: str) -> Path:
    """Where a file of this content lies, or would lie. Raises `FileRefused` for what is no such name."""
    if not _SHA256.fullmatch(sha256):
        raise FileRefused(_NO_NAME)
    return folder() / sha256


def check_size(size: int) -> None:
    """Raises `FileRefused` for a file larger than is taken in."""
    if size > MOST_BYTES:
        raise FileRefused(_TOO_LARGE, size=f"{size / 2**20:.0f}", most=MOST_BYTES // 2**20)


def check_room(size: int = 0) -> None:
    """Raises `FileRefused` where a file of `size` bytes would leave too little room on the disk."""
    free = shutil.disk_usage(folder()).free
    if free - size < LEAST_FREE_BYTES:
        raise FileRefused(_NO_ROOM, free=f"{free / 2**20:.0f}", least=LEAST_FREE_BYTES // 2**20)


def keep(parts: Iterable[bytes]) -> Kept:
    """Keep a file given in parts: whole or not at all. Raises `FileRefused` if it is too large or there is no room."""
    found, size = hashlib.sha256(), 0
    part = folder() / f"{_PART}{uuid4().hex}"
    try:
        with open(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            for piece in parts:
                size += len(piece)
                check_size(size)
                found.update(piece)
                file.write(piece)
            file.flush()
            os.fsync(file.fileno())
        check_room()
        part.replace(folder() / found.hexdigest())
    finally:
        part.unlink(missing_ok=True)
    return Kept(found.hexdigest(), size)


def head(sha256: str, most: int) -> bytes:
    """The first bytes of a kept file, up to the last whole line if there are more. Raises `FileRefused` if it is gone."""
    try:
        with open(path(sha256), "rb") as file:
            data = file.read(most + 1)
    except OSError:
        raise FileRefused(_GONE) from None
    if len(data) <= most:
        return data
    cut = data[:most].rfind(b"\n")
    return data[: cut + 1] if cut > 0 else data[:most]


def spread(sha256: str, first: int, slices: int, each: int) -> bytes:
    """The first bytes of a kept file and whole lines from all over the rest, in order. Raises `FileRefused` if it is gone."""
    found = [head(sha256, first)]
    with open(path(sha256), "rb") as file:
        size = file.seek(0, os.SEEK_END)
        for n in range(1, slices + 1):
            start = first + (size - first) * n // slices - each
            if start <= first:
                continue
            file.seek(start)
            lines = file.read(each)
            found.append(lines[lines.find(b"\n") + 1 : lines.rfind(b"\n") + 1])
    return b"".join(found)


def drop(sha256: str) -> None:
    """Take a file away; nothing happens where there is none."""
    path(sha256).unlink(missing_ok=True)


def stray(known: set[str], before_s: float) -> list[Path]:
    """Files that no record speaks of and that were not touched since `before_s`: what a broken upload left behind."""
    found = []
    for one in folder().iterdir():
        if one.name not in known and one.is_file() and one.stat().st_mtime < before_s:
            found.append(one)
    return found
