"""CSV as the open folder knows it: UTF-8, comma, double quotes, one header line; read and written a row at a time."""

import csv
import io
from collections.abc import Iterable, Iterator
from itertools import chain
from typing import BinaryIO

from chalaza.errors import FolderError

#: A line holds at most the cells of one row; one that is longer than this is no table of ours.
_MAX_LINE_BYTES = 8_000_000
_BLOCK_BYTES = 1 << 18
_ARCHIVES = (b"PK\x03\x04", b"PK\x05\x06", b"\x1f\x8b", b"BZh", b"\xfd7zXZ", b"7z\xbc\xaf")
_BOM = b"\xef\xbb\xbf"


def line(cells: Iterable[str]) -> str:
    """One row as written; quotes only where they are needed."""
    return ",".join(map(_quoted, cells)) + "\n"


def _quoted(cell: str) -> str:
    if any(mark in cell for mark in ',"\r\n'):
        return '"' + cell.replace('"', '""') + '"'
    return cell


def records(stream: BinaryIO, file: str) -> Iterator[tuple[int, list[str]]]:
    """The rows of a CSV file with their numbers, counted as a spreadsheet does: the header is row 1.

    Empty lines are passed over. Raises `FolderError` for what is not UTF-8, wrong quotes and endless lines.
    """
    reader = csv.reader(_decoded(stream, file), strict=True)
    number = 0
    while True:
        number += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as fault:
            raise FolderError(
                f"not readable as CSV ({fault})",
                file=file,
                row=number,
                allowed="cells separated by commas, cells with commas, quotes or line breaks in double quotes",
            ) from None
        if cells:
            yield number, cells


def _decoded(stream: BinaryIO, file: str) -> Iterator[str]:
    """The lines of a stream, a block of whole lines decoded at a time."""
    return chain.from_iterable(_texts(stream, file))


def _texts(stream: BinaryIO, file: str) -> Iterator[Iterator[str]]:
    line, kept = 1, b""
    first = True
    while block := stream.read(_BLOCK_BYTES):
        block = kept + block
        if first and block.startswith(_ARCHIVES):
            raise FolderError("an archive where a table should be", file=file, allowed="CSV text")
        block, first = block.removeprefix(_BOM) if first else block, False
        end = block.rfind(b"\n") + 1
        block, kept = block[:end], block[end:]
        if len(kept) > _MAX_LINE_BYTES:
            row = line + block.count(b"\n")
            raise FolderError("a line without end", file=file, row=row, allowed=f"{_MAX_LINE_BYTES:,} bytes a line")
        yield _lines(block, line, file)
        line += block.count(b"\n")
    yield _lines(kept, line, file)


def _lines(block: bytes, line: int, file: str) -> Iterator[str]:
    try:
        return io.StringIO(block.decode(), newline="\n")
    except UnicodeDecodeError as fault:
        row, given = line + block.count(b"\n", 0, fault.start), block[fault.start : fault.start + 1].hex()
        raise FolderError("not UTF-8 text", file=file, row=row, given=given, allowed="UTF-8") from None
