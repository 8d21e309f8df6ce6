"""All lines of a file cut into columns: numbers, labels and stamps, one entry a line.

Blocks of about a megabyte are cut by position (`_regular`); a line that does not fit the pattern of the file (quotes
inside, too few or too many cells) goes through `layout.split` by itself (`_single`). Both give the same cells, which
`careful=True` shows by sending every line the slow way.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from chalaza.errors import ReadingError
from chalaza.intake import numbers
from chalaza.intake.layout import Layout, split
from chalaza.intake.shapes import BLANKS, Bytes, Index, Spans
from chalaza.intake.stamps import StampColumn
from chalaza.intake.text import MAX_LINE, TORN

BLOCK = 1 << 20
#: Why a line is no row of readings; its place in this tuple is its status. 0: a row.
REASONS = (
    "",
    "blank",
    "comment",
    "repeated-header",
    "field-count",
    "half-line",
    "line-too-long",
    "torn",
    "continued",
    "bad-time",
    "footer",
    "event-only",
    "no-measurement",
    "duplicate",
    "clock-reset",
    "missing-hour",
)
STATUS = {reason: at for at, reason in enumerate(REASONS)}
PLAIN, BLANK = 0, 1
_MAX_LABELS = 100_000
_MAX_JOINED = 20
_MAX_MEMORY_CELLS = 60_000_000
_QUOTE = 34
_BLANK = np.isin(np.arange(256), [ord(blank) for blank in BLANKS])


@dataclass(slots=True)
class NumberColumn:
    """One column: `values` where the cell is a plain number (label 0), else `cells[label]` tells what it is."""

    values: npt.NDArray[np.float64]
    labels: npt.NDArray[np.int32]
    decimal: str
    cells: list[numbers.Cell] = field(default_factory=list)
    _memo: dict[bytes, int] = field(default_factory=dict)

    @classmethod
    def empty(cls, lines: int, decimal: str) -> "NumberColumn":
        """A column of blanks."""
        nothing = numbers.Cell("", numbers.NAN, "blank", "")
        return cls(np.full(lines, np.nan), np.full(lines, BLANK, np.int32), decimal, [nothing, nothing])

    def put(self, lines: Index | slice, window: Bytes, start: Index, end: Index, careful: bool = False) -> None:
        """Read the cells `window[start:end]` into the entries `lines`."""
        if careful:
            found, plain = np.full(len(start), np.nan), np.zeros(len(start), np.bool_)
        else:
            found, plain = numbers.column(window, start, end, self.decimal)
        if plain.all():
            self.values[lines], self.labels[lines] = found, PLAIN
            return
        labels = np.where(plain, PLAIN, BLANK).astype(np.int32)
        for at in np.flatnonzero(~plain & (end > start)).tolist():
            label = self._label(bytes(window[start[at] : end[at]]))
            cell = self.cells[label]
            labels[at], found[at] = label, cell.value
        self.values[lines], self.labels[lines] = found, labels

    def _label(self, raw: bytes) -> int:
        known = self._memo.get(raw)
        if known is not None:
            return known
        cell = numbers.cell(raw[: 4 * numbers.MAX_CELL].decode("utf-8", "replace"), self.decimal)
        if len(self.cells) >= _MAX_LABELS:  # noise: every cell another text; keep numbers, forget words
            cell = numbers.Cell("", cell.value, cell.reason, cell.unit)
            if cell in self.cells[:16]:
                return self.cells.index(cell)
            return BLANK if cell.value != cell.value else self._last(cell)
        self.cells.append(cell)
        self._memo[raw] = len(self.cells) - 1
        return len(self.cells) - 1

    def _last(self, cell: numbers.Cell) -> int:
        self.cells.append(cell)
        return len(self.cells) - 1


@dataclass(slots=True)
class Table:
    """The lines of a file from the first row on: `starts` are their places in `data`, `status` says what each is."""

    data: bytes
    first_line: int
    starts: Index
    status: npt.NDArray[np.uint8]
    numbers: dict[int, NumberColumn]
    stamps: dict[int, StampColumn]

    def line(self, at: int, limit: int = 200) -> str:
        """The text of the line at entry `at`, at most `limit` characters of it."""
        start = int(self.starts[at])
        end = self.data.find(b"\n", start, start + 4 * limit)
        raw = self.data[start : end if end >= 0 else start + 4 * limit]
        return raw.decode("utf-8", "replace")[:limit]

    def number(self, at: int) -> int:
        """The line number, counted from 1 at the top of the file, of entry `at`."""
        return self.first_line + at + 1


class Filler:
    """Fills a `Table` block by block; holds what one block needs of the others."""

    def __init__(self, data: bytes, layout: Layout, stamps: set[int], skip: set[int], careful: bool) -> None:
        self.data, self.layout, self.careful = data, layout, careful
        self.offset = _offset(data, layout.first_data)
        lines = data.count(b"\n", self.offset) + (not data.endswith(b"\n"))
        if lines * layout.columns > _MAX_MEMORY_CELLS:
            raise ReadingError(f"the file has {lines} lines of {layout.columns} columns: too many at once, split it")
        wanted = [at for at in range(layout.columns) if at not in stamps and at not in skip]
        self.table = Table(
            data,
            layout.first_data,
            np.zeros(lines, np.int64),
            np.zeros(lines, np.uint8),
            {at: NumberColumn.empty(lines, layout.decimal) for at in wanted},
            {at: StampColumn.empty(lines) for at in stamps},
        )
        self.delimiter = ord(layout.delimiter)
        self.needed = _needed(layout)
        self.at = 0

    def fill(self, progress: Callable[[float], None] | None) -> Table:
        """Read all blocks; `progress` is told the share done after each."""
        place, size = self.offset, len(self.data)
        while place < size:
            end = min(place + BLOCK, size)
            if end < size:
                newline = self.data.rfind(b"\n", place, end)
                if newline < 0:
                    newline = self.data.find(b"\n", end)
                end = size if newline < 0 else newline + 1
            self._block(place, end)
            place = end
            if progress is not None:
                progress(place / size)
        return self.table

    def _block(self, place: int, end: int) -> None:
        window = np.frombuffer(self.data, np.uint8, end - place, place)
        newline = window == 10
        marks = np.flatnonzero(newline | (window == self.delimiter))
        stops = np.flatnonzero(newline)
        if not len(stops) or stops[-1] != len(window) - 1:
            stops, marks = np.append(stops, len(window)), np.append(marks, len(window))
        starts = np.empty_like(stops)
        starts[0], starts[1:] = 0, stops[:-1] + 1
        lines = slice(self.at, self.at + len(stops))
        self.table.starts[lines] = starts + place
        status = self.table.status[lines]
        regular = None
        if not self.careful and len(window) <= MAX_LINE and self.data.find(b'"', place, end) < 0:
            regular = self._all_alike(marks, stops)
        if regular is not None:
            self._put_all(slice(lines.start, lines.stop), window, starts, regular)
        else:
            self._mixed(window, starts, stops, status, place)
        if self.data.find(bytes((TORN,)), place, end) >= 0:
            torn = np.searchsorted(stops, np.flatnonzero(window == TORN))
            status[np.unique(torn)] = STATUS["torn"]
        self.at = lines.stop

    def _all_alike(self, marks: Index, stops: Index) -> Index | None:
        """The places of the marks as (lines, columns) when every line has as many as the file; else None."""
        if len(marks) != len(stops) * self.layout.columns:
            return None
        cells = marks.reshape(len(stops), self.layout.columns)
        return cells if bool((cells[:, -1] == stops).all()) else None

    def _put_all(self, lines: slice, window: Bytes, starts: Index, marks: Index) -> None:
        for at in (*self.table.stamps, *self.table.numbers):
            start = starts if at == 0 else marks[:, at - 1] + 1
            self._put(at, lines, window, *_stripped(window, start, marks[:, at]))

    def _put(self, column: int, lines: Index | slice, window: Bytes, start: Index, end: Index) -> None:
        if column in self.table.stamps:
            self.table.stamps[column].put(lines, window, start, end)
        else:
            self.table.numbers[column].put(lines, window, start, end, self.careful)

    def _mixed(self, window: Bytes, starts: Index, stops: Index, status: npt.NDArray[np.uint8], place: int) -> None:
        """A block with quotes or with lines of another width: what is regular goes as before, the rest line by line."""
        length = stops - starts
        status[(length == 0) & (status == 0)] = STATUS["blank"]
        status[length > MAX_LINE] = STATUS["line-too-long"]
        regular, cells = self._regular(window, starts, stops, status)
        single = np.flatnonzero((status == 0) & ~regular)
        self._singles(single, starts, stops, status, place)
        rows = np.flatnonzero(regular)
        keep = status[rows] == 0
        rows, cells = rows[keep], [(start[keep], end[keep]) for start, end in cells]
        for at in (*self.table.stamps, *self.table.numbers):
            if len(rows):
                self._put(at, rows + self.at, window, *cells[at])

    def _regular(
        self, window: Bytes, starts: Index, stops: Index, status: npt.NDArray[np.uint8]
    ) -> tuple[Spans, list[tuple[Index, Index]]]:
        """Which lines have the width of the file and quotes only around whole cells; the cells of those lines."""
        none = np.zeros(len(starts), np.bool_)
        if self.careful:
            return none, [(starts[:0], starts[:0])] * self.layout.columns
        columns, quotes = self.layout.columns, np.flatnonzero(window == _QUOTE)
        quoted = np.diff(np.searchsorted(quotes, np.append(stops, len(window))), prepend=0)[: len(stops)]
        odd = quoted % 2 == 1
        marks = np.flatnonzero(window == self.delimiter)
        if len(quotes):
            line_of = np.searchsorted(stops, marks)
            before = np.searchsorted(quotes, starts)
            inside = (np.searchsorted(quotes, marks) - before[line_of]) % 2 == 1
            marks = marks[~inside | odd[line_of]]
        count = np.diff(np.searchsorted(marks, stops), prepend=0)
        regular = (count == columns - 1) & ~odd & (status == 0) & (stops > starts)
        cells = self._cells(window, marks, count, regular, starts, stops)
        if len(quotes):
            around = np.zeros(int(regular.sum()), np.int64)
            unquoted = []
            for start, end in cells:
                start, end, whole = _unquoted(window, start, end)
                around += 2 * whole
                unquoted.append((start, end))
            good = around == quoted[regular]
            regular[np.flatnonzero(regular)[~good]] = False
            cells = [(start[good], end[good]) for start, end in unquoted]
        return regular, cells

    def _cells(
        self, window: Bytes, marks: Index, count: Index, regular: Spans, starts: Index, stops: Index
    ) -> list[tuple[Index, Index]]:
        columns = self.layout.columns
        inner = marks[np.repeat(regular, count)].reshape(-1, columns - 1)
        result = []
        for at in range(columns):
            start = starts[regular] if at == 0 else inner[:, at - 1] + 1
            end = stops[regular] if at == columns - 1 else inner[:, at]
            result.append(_stripped(window, start, end))
        return result

    def _singles(self, rows: Index, starts: Index, stops: Index, status: npt.NDArray[np.uint8], place: int) -> None:
        """Lines that go by themselves; a quote left open joins the next lines, as RFC 4180 allows."""
        kept: list[int] = []
        cells: list[list[str]] = []
        total = len(stops)
        for row in rows.tolist():
            if status[row]:
                continue
            raw = self.data[place + int(starts[row]) : place + int(stops[row])]
            used = 1
            if raw.count(b'"') % 2 and (joined := self._joined(row, starts, stops, place, total)) is not None:
                raw, used = joined
            found = self._single(raw.decode("utf-8", "replace"), self.at + row)
            if isinstance(found, str):
                status[row] = STATUS[found]
                continue
            status[row + 1 : row + used] = STATUS["continued"]
            kept.append(row)
            cells.append(found)
        if kept:
            self._put_texts(np.array(kept, np.int64) + self.at, cells)

    def _joined(self, row: int, starts: Index, stops: Index, place: int, total: int) -> tuple[bytes, int] | None:
        for last in range(row + 1, min(row + _MAX_JOINED, total)):
            raw = self.data[place + int(starts[row]) : place + int(stops[last])]
            if len(raw) > 4 * numbers.MAX_CELL * self.layout.columns:
                return None
            if raw.count(b'"') % 2 == 0:
                whole = len(split(raw.decode("utf-8", "replace"), self.layout.delimiter)) == self.layout.columns
                return (raw.replace(b"\n", b" "), last - row + 1) if whole else None
        return None

    def _single(self, line: str, at: int) -> list[str] | str:
        """The cells of one line, or the reason why it is no row."""
        delimiter, columns = self.layout.delimiter, self.layout.columns
        if not line.strip(delimiter + ' \t"'):
            return "blank"
        row = split(line, delimiter)
        if len(row) > columns and not any(row[columns:]):
            row = row[:columns]
        if len(row) == columns:
            return row
        if line.lstrip().startswith(("#", "//")) or (delimiter != ";" and line.lstrip().startswith(";")):
            return "comment"
        if self.needed <= len(row) < columns and not self._cut_off(at):
            return row + [""] * (columns - len(row))
        return "half-line" if self._cut_off(at) else "field-count"

    def _cut_off(self, at: int) -> bool:
        return at == len(self.table.starts) - 1 and not self.data.endswith(b"\n")

    def _put_texts(self, lines: Index, cells: list[list[str]]) -> None:
        for column in (*self.table.stamps, *self.table.numbers):
            texts = [row[column].encode("utf-8", "replace")[: 8 * numbers.MAX_CELL] for row in cells]
            ends = np.cumsum(np.array([len(text) for text in texts], np.int64))
            starts = np.concatenate((np.zeros(1, np.int64), ends[:-1]))
            window = np.frombuffer(b"".join(texts) or b" ", np.uint8)
            self._put(column, lines, window, starts, ends)


def _offset(data: bytes, line: int) -> int:
    place = 0
    for _ in range(line):
        place = data.index(b"\n", place) + 1
    return place


def _needed(layout: Layout) -> int:
    """A row must reach as far as the last column that is filled in half of the rows at the top."""
    filled = [sum(bool(row[at]) for row in layout.sample) for at in range(layout.columns)]
    most = [at for at, count in enumerate(filled) if 2 * count >= len(layout.sample)]
    return max(most, default=0) + 1


def _stripped(window: Bytes, start: Index, end: Index) -> tuple[Index, Index]:
    """Spans without blanks at either end (at most 64 of them; a cell with more goes on as it is)."""
    last = len(window) - 1
    for _ in range(64):
        blank = _BLANK[window[np.minimum(start, last)]]
        if not blank.any() or not (blank := blank & (end > start)).any():
            break
        start = start + blank
    for _ in range(64):
        blank = _BLANK[window[np.maximum(end - 1, 0)]]
        if not blank.any() or not (blank := blank & (end > start)).any():
            break
        end = end - blank
    return start, end


def _unquoted(window: Bytes, start: Index, end: Index) -> tuple[Index, Index, Spans]:
    """Spans without the quotes around them, and which had quotes."""
    last = len(window) - 1
    whole = (
        (end - start >= 2) & (window[np.minimum(start, last)] == _QUOTE) & (window[np.maximum(end - 1, 0)] == _QUOTE)
    )
    start, end = _stripped(window, start + whole, end - whole)
    return start, end, whole
