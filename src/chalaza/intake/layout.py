"""How a file is laid out: delimiter, decimal mark, preamble, header rows, first row of readings.

Looked for by scoring the first lines, never by a fixed count of lines to skip. A line is *data-like* when it holds a
stamp and a number, or at least two numbers.
"""

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from chalaza.errors import ReadingError
from chalaza.intake import names, numbers, stamps, vocabulary
from chalaza.intake.shapes import BLANKS

HEAD_BYTES = 64 * 1024
_MAX_LINES = 240
_MAX_WIDTH = 8192
_MAX_COLUMNS = 400
#: Candidates in the order in which a tie is settled. Two blanks or more, and any blanks, stand in for tabs.
_DELIMITERS = (";", "\t", "|", ",", "  ", " ")
_DELIMITER_WORDS = {";": "semicolon", "\t": "tab", "|": "bar", ",": "comma", "  ": "two blanks or more", " ": "blanks"}
_STAMPED = ("stamp", "date", "time")
_SEP_LINE = re.compile(r'^"?sep=(?P<sep>[;,\t|])"?\s*$', re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Layout:
    """The layout of a file. Lines are counted from 0; `names`, `units`, `aggregates` have one entry a column."""

    delimiter: str
    decimal: str
    names: tuple[str, ...]
    units: tuple[str, ...]
    aggregates: tuple[str, ...]
    header: tuple[int, ...]
    first_data: int
    preamble: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]
    clash: bool = False
    blanks: str = ""
    notes: tuple[str, ...] = ()

    @property
    def columns(self) -> int:
        """How many columns a row has."""
        return len(self.names)

    def why(self) -> str:
        """In words what was found."""
        delimiter = _DELIMITER_WORDS[self.blanks or self.delimiter]
        mark = "comma" if self.decimal == "," else "point"
        return (
            f"{self.columns} columns divided by {delimiter}; decimal {mark}; readings from line {self.first_data + 1}"
        )


def split(line: str, delimiter: str) -> list[str]:
    """The cells of one line by the rules of RFC 4180, stripped of blanks; a broken quote keeps its text."""
    if '"' not in line:
        return [cell.strip(BLANKS) for cell in line.split(delimiter)]
    try:
        rows = list(csv.reader([line], delimiter=delimiter, skipinitialspace=True))
    except csv.Error:
        return [cell.strip(BLANKS) for cell in line.split(delimiter)]
    return [cell.strip(BLANKS) for cell in rows[0]] if rows else [""]


@lru_cache(maxsize=65536)
def kind(cell: str) -> str:
    """What one cell looks like: blank, number, missing, stamp, date, time or text."""
    if not cell:
        return "blank"
    if len(cell) > numbers.MAX_CELL:
        return "text"
    if told := stamps.is_stamp(cell):
        return "number" if told == "date" and cell.isdigit() else told
    read = numbers.cell(cell, ".")
    if read.value == read.value:
        return "number"
    return {"blank": "blank", "missing": "missing", "sensor-error": "missing"}.get(read.reason, "text")


def _data_like(kinds: Sequence[str]) -> bool:
    filled = [what for what in kinds if what != "blank"]
    good = sum(what != "text" for what in filled)
    figures = sum(what in ("number", "missing") for what in filled)
    stamped = any(what in _STAMPED for what in filled)
    return figures >= 1 and (stamped or figures >= 2) and len(filled) >= 2 and 2 * good >= len(filled)


def sniff(data: bytes) -> Layout:
    """The layout of `data` (clean UTF-8). Raises `ReadingError` when no line of readings is found at the top."""
    lines = _head(data)
    told = next((found["sep"] for line in lines[:3] if (found := _SEP_LINE.match(line)) is not None), None)
    best: tuple[float, str, list[list[str]], tuple[int, int]] | None = None
    for delimiter in (told,) if told else _DELIMITERS:
        rows = _cut(lines, delimiter)
        score, where = _score(rows)
        if where is not None and (best is None or score > best[0] * 1.02):
            best = (score, delimiter, rows, where)
    if best is None:
        raise ReadingError(
            f"no row of readings was found in the first {len(lines)} lines: looked for lines with a date or time and a "
            "number, divided by semicolon, tab, comma, bar or blanks; export the log again as CSV text, and check that "
            "it is the file of readings and not a report"
        )
    _, delimiter, rows, (first, width) = best
    return _laid_out(lines, rows, delimiter, first, width)


def _head(data: bytes) -> list[str]:
    head = data[:HEAD_BYTES]
    if len(data) > len(head):
        head = head[: head.rfind(b"\n") + 1]
    if not head:
        raise ReadingError(
            f"the first {HEAD_BYTES // 1024} KiB hold no line end: this is not a table of readings; "
            "export the log again as CSV text"
        )
    lines = head.decode("utf-8", errors="replace").split("\n")
    return [line if len(line) <= _MAX_WIDTH else "" for line in lines[:_MAX_LINES]]


def _cut(lines: list[str], delimiter: str) -> list[list[str]]:
    if delimiter == " ":
        return [split(re.sub(r"[ \t]+", "\t", line.strip()), "\t") for line in lines]
    if delimiter == "  ":
        return [split(re.sub(r"[ \t]{2,}", "\t", line.strip()), "\t") for line in lines]
    return [split(line, delimiter) for line in lines]


def _score(rows: list[list[str]]) -> tuple[float, tuple[int, int] | None]:
    """How well a delimiter does: data-like lines of the commonest width; and where they begin, and that width."""
    kinds = [[kind(cell) for cell in row[:_MAX_COLUMNS]] for row in rows]
    like = [at for at, row in enumerate(kinds) if len(row) >= 2 and _data_like(row)]
    if not like:
        return 0.0, None
    widths = Counter(len(rows[at]) for at in like)
    width = max(widths, key=lambda count: (widths[count], count))
    alike = [at for at in like if len(rows[at]) == width]
    stamped = [at for at in alike if any(what in _STAMPED for what in kinds[at])]
    if len(stamped) * 2 > len(alike):
        alike = stamped
    score = 0.0
    for at in alike:
        filled = [what for what in kinds[at] if what != "blank"]
        score += sum(what != "text" for what in filled) / len(filled)
    return score + 0.5 * bool(stamped), (_first(alike, kinds), width)


def _first(alike: list[int], kinds: list[list[str]]) -> int:
    """The first line that is followed by others like it, or a row of another width or without a number above it."""
    lines = set(alike)
    near = (at for at in alike if sum(later in lines for later in range(at + 1, at + 6)) >= min(2, len(alike) - 1))
    first = next(near, alike[0])
    place = next((place for place, what in enumerate(kinds[first]) if what in _STAMPED), None)
    while (
        place is not None
        and first > 0
        and len(kinds[first - 1]) > max(place, 1)
        and kinds[first - 1][place] in _STAMPED
    ):
        first -= 1
    return first


def _laid_out(lines: list[str], rows: list[list[str]], delimiter: str, first: int, width: int) -> Layout:
    if width > _MAX_COLUMNS:
        raise ReadingError(f"the rows have {width} columns; at most {_MAX_COLUMNS} are read: this is no logger export")
    sample = [tuple(row) for row in rows[first:] if len(row) == width]
    header = _header(rows, first, width, sample)
    sample = [row for row in sample if row not in {tuple(rows[at]) for at in header}]
    blanks, cut = (delimiter, "\t") if delimiter in (" ", "  ") else ("", delimiter)
    decimal = _decimal(sample)
    made = Layout(
        cut,
        decimal,
        ("",) * width,
        ("",) * width,
        ("",) * width,
        tuple(header),
        first,
        tuple(line.strip() for at, line in enumerate(lines[:first]) if line.strip() and at not in header),
        tuple(sample),
        blanks=blanks,
    )
    made = _named(made, [rows[at] for at in header])
    return replace(made, clash=_clash(made, rows))


def _header(rows: list[list[str]], first: int, width: int, sample: list[tuple[str, ...]]) -> list[int]:
    """The lines directly above the first row that name its columns: at most four, one blank line may lie between."""
    found: list[int] = []
    used = max((1 + at for row in sample for at, cell in enumerate(row) if cell), default=width)
    at = first - 1
    if at >= 0 and not any(rows[at]):
        at -= 1
    while at >= 0 and len(found) < 4:
        row = rows[at]
        filled = [cell for cell in row if cell]
        plain = not filled or (len(filled) * 2 < min(len(row), width) and not _unit_row(row))
        wrong = not used - 1 <= len(row) <= width + 1 and len(row) != (width + 1) // 2
        if plain or wrong or len(row) < 2 or row[0].endswith(":") or (row[0].startswith(("#", "//")) and len(row) < 2):
            break
        if any(kind(cell) in ("stamp", "date") for cell in filled) or _SEP_LINE.match(";".join(row)):
            break
        texts = sum(kind(cell) == "text" for cell in filled)
        if texts * 2 < len(filled) and not _unit_row(row):
            break
        found.insert(0, at)
        if not _helper_row(row) and (width < 4 or at == 0 or len(rows[at - 1]) != len(row)):
            break
        at -= 1
    while found and _helper_row(rows[found[0]]) and len(found) > 1 and found[0] != first - 1:
        found.pop(0)
    return found


def _helper_row(row: Sequence[str]) -> bool:
    return _unit_row(row) or _aggregate_row(row)


def _unit_row(row: Sequence[str]) -> bool:
    filled = [cell for cell in row if cell]
    return bool(filled) and sum(names.is_unit(cell) for cell in filled) * 2 >= len(filled)


def _aggregate_row(row: Sequence[str]) -> bool:
    filled = [cell for cell in row if cell]
    return bool(filled) and sum(names.is_aggregate(cell) for cell in filled) * 2 >= len(filled)


def _named(made: Layout, header: list[list[str]]) -> Layout:
    """Names, units and aggregates of the columns; a header one name short is moved where it fits the cells."""
    width, notes = made.columns, []
    fitted: list[list[str]] = []
    for row in header:
        if len(row) == width + 1 and not row[-1]:
            row = row[:-1]
        missing = width - len(row)
        if missing == 1:
            left, right = ["", *row], [*row, ""]
            moved = _fit(left, made.sample) > _fit(right, made.sample)
            row = left if moved else right
            if moved:
                notes.append("the header has one name too few: an unnamed first column was found and the names moved")
        fitted.append((row + [""] * width)[:width])
    texts: list[list[str]] = [[] for _ in range(width)]
    units, aggregates = [""] * width, [""] * width
    for row in fitted:
        unit_row, aggregate_row = _unit_row(row), _aggregate_row(row)
        for at, cell in enumerate(row):
            if unit_row and not (aggregate_row and names.is_aggregate(cell)):
                units[at] = cell
            elif aggregate_row:
                aggregates[at] = cell
            elif cell and cell not in texts[at]:
                texts[at].append(cell)
    joined = _unique([" ".join(words)[:200] for words in texts])
    return replace(made, names=tuple(joined), units=tuple(units), aggregates=tuple(aggregates), notes=tuple(notes))


def _unique(found: list[str]) -> list[str]:
    seen: Counter[str] = Counter()
    result = []
    for name in found:
        seen[name] += 1
        result.append(f"{name} ({seen[name]})" if name and seen[name] > 1 else name)
    return result


def _fit(row: list[str], sample: tuple[tuple[str, ...], ...]) -> int:
    """How many columns hold what their name says: stamps under time words, numbers under the others."""
    score = 0
    for at, name in enumerate(row):
        kinds = Counter(kind(line[at]) for line in sample[:40] if line[at])
        if not kinds or not name:
            continue
        stamped = kinds.most_common(1)[0][0] in _STAMPED
        score += 1 if stamped == vocabulary.is_time(name) else -3
    return score


def _decimal(sample: Sequence[tuple[str, ...]]) -> str:
    """The decimal mark: the last mark in most numbers that have one; a mark that comes twice divides thousands."""
    votes: Counter[str] = Counter()
    for row in sample:
        for cell in row:
            if ("," in cell or "." in cell) and kind(cell) == "number":
                mark = cell[max(cell.rfind(","), cell.rfind("."))]
                other = "." if mark == "," else ","
                votes[other if cell.count(mark) > 1 else mark] += 1
    return "," if votes[","] > votes["."] else "."


def _clash(made: Layout, rows: list[list[str]]) -> bool:
    """Comma as delimiter and decimal mark: twice as many fields as names, or whole numbers in pairs without a header."""
    if made.delimiter != "," or made.decimal == ",":
        return False
    kinds = [Counter(kind(row[at]) for row in made.sample).most_common(1)[0][0] for at in range(made.columns)]
    stamped = sum(what in _STAMPED for what in kinds)
    rest = made.columns - stamped
    while rest and kinds[-1] == "blank" and rest > 2:
        rest -= 1
        kinds.pop()
    figures = [row[stamped:] for row in made.sample]
    if rest < 2 or rest % 2 or not stamped or "text" in kinds:
        return False
    if any("." in cell for row in figures for cell in row):
        return False
    head = next((rows[at] for at in reversed(made.header)), None)
    if head is not None:
        return len([cell for cell in head if cell]) == stamped + rest // 2
    if any(made.names):
        return False
    second = [row[at] for row in figures for at in range(1, rest, 2)]
    return all(cell.isdigit() and len(cell) <= 3 for cell in second if cell)
