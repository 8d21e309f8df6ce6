"""The readings of one probe as a file and back: whole columns at a time, exact to the last bit of single precision.

A figure is written as the shortest decimal that gives the same single precision number again; an empty cell is a
missing figure. Both directions go block by block, so that a log of any length passes through little memory.
"""

from collections.abc import Callable, Iterator, Sequence
from itertools import islice
from typing import BinaryIO

import numpy as np
import numpy.typing as npt

from chalaza.errors import FolderError
from chalaza.exchange.cells import Refused, allowed, stamp, value_of
from chalaza.exchange.lines import line, records
from chalaza.exchange.problems import Problems
from chalaza.exchange.schema import MAX_READINGS, SERIES, Spec, specs
from chalaza.quantities import MOMENT
from chalaza.values.evidence import Floats, Series

Ints = npt.NDArray[np.int64]
#: Takes down a fault of one cell: column, place in the block, what was given, what is wrong.
Fault = Callable[[Spec, int, str, str], None]

#: Rows taken at a time; more of them no longer fit the processor's cache and take twice as long.
_BLOCK = 4_096
_AT, _TEMP, _RH = specs(SERIES)
_NAMES = tuple(spec.name for spec in specs(SERIES))
#: What is as large as this is rounded to infinity in single precision (IEEE 754, ties to even).
_TOO_LARGE = 2.0**128 - 2.0**103
_PLAIN = frozenset("0123456789.+-eE")
#: The stamp that is read by whole columns, with a 0 for each digit.
_STAMP = "0000-00-00T00:00:00Z"
_CODES = np.array([_STAMP]).view(np.uint32)
_DIGITS = np.equal(_CODES, ord("0"))


def chunks(series: Series, file: str) -> Iterator[bytes]:
    """The file of a series, a block of lines at a time. Raises `FolderError` for what could not be read again."""
    _check(series, file)
    yield line(_NAMES).encode()
    for start in range(0, len(series), _BLOCK):
        part = slice(start, start + _BLOCK)
        stamps = np.datetime_as_string(series.t[part].astype("datetime64[s]"), timezone="UTC").tolist()
        rows = zip(stamps, _decimals(series.temp_degc[part]), _decimals(series.rh[part]), strict=True)
        yield ("\n".join(map(",".join, rows)) + "\n").encode()


def _check(series: Series, file: str) -> None:
    wrong = (
        (_AT, series.t, ~_held(series.t), "outside what can be true"),
        (_TEMP, series.temp_degc, np.isinf(series.temp_degc), "not a finite number"),
        (_RH, series.rh, np.isinf(series.rh), "not a finite number"),
    )
    for spec, column, mask, problem in wrong:
        for i in np.flatnonzero(mask)[:1].tolist():
            given, may = str(column[i]), allowed(spec)
            raise FolderError(problem, file=file, row=i + 2, field=spec.name, given=given, allowed=may)


def _held(seconds: Ints) -> npt.NDArray[np.bool_]:
    return (seconds >= MOMENT.low) & (seconds <= MOMENT.high)


def _decimals(column: Floats) -> list[str]:
    """Each figure as its shortest exact decimal. Figures of a log repeat, so each is turned into text once."""
    bits, where = np.unique(np.ascontiguousarray(column).view(np.uint32), return_inverse=True)
    figures = bits.view(np.float32)
    texts = figures.astype(str)
    # The shortest decimal is made for single precision but read through double, and two roundings are not always one.
    for i in np.flatnonzero(texts.astype(np.float64).astype(np.float32) != figures):
        texts[i] = "" if np.isnan(figures[i]) else repr(float(figures[i]))
    return list(texts.astype(object)[where])


def read(stream: BinaryIO, file: str, most: int = MAX_READINGS) -> Series:
    """The series of a file of at most `most` readings. Raises `FolderError` (`FolderErrors` for several faults of one block)."""
    rows = records(stream, file)
    order = _header(next(rows, (1, []))[1], file)
    blocks: list[tuple[Ints, Floats, Floats]] = []
    last, count = -1, 0
    while numbered := list(islice(rows, _BLOCK)):
        block = _block(numbered, order, file)
        last = _rising(block[0], last, numbered, file)
        blocks.append(block)
        count += len(numbered)
        if count > most:
            raise FolderError("too many readings", file=file, allowed=f"{MAX_READINGS:,} in all")
    if not blocks:
        return Series(np.empty(0, np.int64), np.empty(0, np.float32), np.empty(0, np.float32))
    at, temp, rh = zip(*blocks, strict=True)
    return Series(np.concatenate(at), np.concatenate(temp), np.concatenate(rh))


def _header(header: Sequence[str], file: str) -> tuple[int, ...]:
    """Where `at`, `temp_degc` and `rh` stand in a row; -1 for a figure the probe does not give."""
    may = ", ".join(_NAMES)
    for name in header:
        if name not in _NAMES:
            raise FolderError("no such column", file=file, row=1, given=name, allowed=may)
        if header.count(name) > 1:
            raise FolderError("a column twice", file=file, row=1, given=name, allowed=may)
    if _AT.name not in header:
        raise FolderError("a column is missing", file=file, row=1, field=_AT.name, allowed=may)
    return tuple(header.index(name) if name in header else -1 for name in _NAMES)


def _block(numbered: Sequence[tuple[int, list[str]]], order: tuple[int, ...], file: str) -> tuple[Ints, Floats, Floats]:
    problems = Problems()
    rows = [cells for _, cells in numbered]
    width = sum(place >= 0 for place in order)
    if set(map(len, rows)) != {width}:
        for number, cells in numbered:
            if len(cells) != width:
                given = f"{len(cells)} cells"
                problems.add("more or fewer cells than columns", file=file, row=number, given=given, allowed=str(width))
    problems.settle()

    def fault(spec: Spec, i: int, cell: str, problem: str) -> None:
        problems.add(problem, file=file, row=numbered[i][0], field=spec.name, given=cell, allowed=allowed(spec))

    columns = list(zip(*rows, strict=True))
    at, temp, rh = (columns[place] if place >= 0 else ("",) * len(rows) for place in order)
    block = _moments(at, fault), _figures(_TEMP, temp, fault), _figures(_RH, rh, fault)
    problems.settle()
    return block


def _moments(cells: Sequence[str], fault: Fault) -> Ints:
    """Seconds since 1970: by the whole column if every cell is a plain stamp, else one by one."""
    texts = np.array(cells)
    if texts.dtype == _CODES.dtype or texts.dtype.itemsize == 4 * len(_STAMP):
        codes = texts.view(np.uint32).reshape(-1, len(_STAMP))
        if bool(np.all(np.where(_DIGITS, (codes >= ord("0")) & (codes <= ord("9")), codes == _CODES))):
            try:
                seconds = texts.astype("U19").astype("datetime64[s]").astype(np.int64)
            except ValueError:  # no such day or hour: found again below, with its row
                seconds = np.array([-1])
            if bool(np.all(_held(seconds))):
                return seconds
    return np.array([_moment(i, cell, fault) for i, cell in enumerate(cells)], np.int64)


def _moment(i: int, cell: str, fault: Fault) -> int:
    try:
        return int(value_of(_AT, cell))
    except Refused as refused:
        fault(_AT, i, cell, str(refused))
        return 0


def _figures(spec: Spec, cells: Sequence[str], fault: Fault) -> Floats:
    """Single precision figures, NaN for an empty cell. Figures of a log repeat, so each text is read once."""
    known = dict.fromkeys(cells, np.nan)
    if not _all_plain(known):
        _read_one_by_one(spec, cells, known, fault)
    return np.fromiter(map(known.__getitem__, cells), np.float32, len(cells))


def _all_plain(known: dict[str, float]) -> bool:
    """Give each text its figure, if all are sound numbers. Of these characters `float` takes what `cells.number` does."""
    texts = [text for text in known if text]
    if not _PLAIN.issuperset("".join(texts)):
        return False
    try:
        known.update(zip(texts, map(float, texts), strict=True))
    except ValueError:
        return False
    return not any(abs(known[text]) >= _TOO_LARGE for text in texts)


def _read_one_by_one(spec: Spec, cells: Sequence[str], known: dict[str, float], fault: Fault) -> None:
    for text in known:
        try:
            known[text] = _figure(spec, text)
        except Refused as refused:
            known[text] = np.nan
            for i in (i for i, cell in enumerate(cells) if cell == text):
                fault(spec, i, text, str(refused))


def _figure(spec: Spec, text: str) -> float:
    value = value_of(spec, text)
    if value is None:
        return np.nan
    if abs(value) >= _TOO_LARGE:
        raise Refused("too large a number")
    return float(value)


def _rising(at: Ints, last: int, numbered: Sequence[tuple[int, list[str]]], file: str) -> int:
    """The last moment of a block whose moments rise from `last` on. Raises `FolderError`."""
    for i in np.flatnonzero(np.diff(at, prepend=last) <= 0)[:1].tolist():
        before = stamp(int(at[i - 1]) if i else last)
        raise FolderError(
            "not later than the row before",
            file=file,
            row=numbered[i][0],
            field=_AT.name,
            given=stamp(int(at[i])),
            allowed=f"later than {before}",
        )
    return int(at[-1])
