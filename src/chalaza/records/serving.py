"""The lock of the data folder: one process at a time serves, migrates or restores a notebook.

The system itself holds the lock and lets go when the process ends, however it ends; the file `serving` tells whoever
comes second at which address the first one answers.
"""

import json
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from chalaza.errors import NotebookError
from chalaza.words.language import mark

NAME = "serving"
#: Far behind what is written, so that on every system the text can be read while the lock is held.
_FAR = 1 << 30


class Held:
    """The lock, held by us."""

    def __init__(self, file: IO[str]) -> None:
        self._file = file

    def announce(self, address: str) -> None:
        """Write down where we answer; an empty address says that we do not answer yet."""
        self._file.seek(0)
        self._file.truncate()
        json.dump({"address": address, "process": os.getpid()}, self._file)
        self._file.flush()


@contextmanager
def held(folder: Path) -> Iterator[Held]:
    """Hold the folder for us alone. Raises `NotebookError` naming the address of who holds it already."""
    with open(os.open(folder / NAME, os.O_RDWR | os.O_CREAT, 0o600), "r+", encoding="utf-8") as file:
        if not _locked(file):
            raise _taken(folder, told(folder))
        mine = Held(file)
        mine.announce("")
        try:
            yield mine
        finally:
            file.truncate(0)
            _unlock(file)


def told(folder: Path) -> dict[str, Any]:
    """What the holder of the lock wrote down: `address`, `process`. Empty where nobody does or did."""
    try:
        found = json.loads((folder / NAME).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def is_held(folder: Path) -> bool:
    """Whether some process serves, migrates or restores this notebook at this moment."""
    try:
        with open(folder / NAME, "r+", encoding="utf-8") as file:
            if not _locked(file):
                return True
            _unlock(file)
    except FileNotFoundError:
        pass
    return False


def _taken(folder: Path, said: dict[str, Any]) -> NotebookError:
    if address := said.get("address"):
        text = mark(
            "The notebook in {folder} is served already, at {address}: open that address, or end that one first."
        )
        return NotebookError(text, folder=folder, address=address)
    text = mark(
        "Another process (number {process}) is opening or restoring the notebook in {folder}: wait until it is done, or "
        "end it first."
    )
    return NotebookError(text, folder=folder, process=said.get("process", "?"))


if sys.platform == "win32":
    import msvcrt

    def _locked(file: IO[str]) -> bool:
        file.seek(_FAR)
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

    def _unlock(file: IO[str]) -> None:
        file.seek(_FAR)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)
else:
    import fcntl

    def _locked(file: IO[str]) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        return True

    def _unlock(file: IO[str]) -> None:
        fcntl.flock(file, fcntl.LOCK_UN)
