"""Cells that look alike, read together: the part of reading that has to be fast.

A *look* is the text of one cell with its digits standing for any digit: `09.10.2020 08:15` stands for every stamp
written that way. All cells of one look are gathered as a matrix of bytes; XOR with the look leaves 0-9 where a digit
belongs and 0 elsewhere, so one comparison checks them all, and their numbers follow place by place.
"""

import numpy as np
import numpy.typing as npt

Bytes = npt.NDArray[np.uint8]
Index = npt.NDArray[np.int64]
Spans = npt.NDArray[np.bool_]

#: What may stand around a cell. No other white space: a damaged byte must not vanish and leave another number.
BLANKS = " \t"
_TO_ZERO = bytes(48 if 48 <= code <= 57 else code for code in range(256))


def shape(text: bytes) -> bytes:
    """`text` with every digit turned to `0`."""
    return text.translate(_TO_ZERO)


def gather(window: Bytes, start: Index, width: int) -> Bytes:
    """The `width` bytes from each `start`, as a matrix (len(start), width); every span must lie inside `window`."""
    if width == 0 or len(start) == 0:
        return np.zeros((len(start), width), np.uint8)
    items = np.ndarray((len(window) - width + 1,), dtype=f"V{width}", buffer=window, strides=(1,))
    return np.frombuffer(items[start].tobytes(), np.uint8).reshape(len(start), width)


def take(window: Bytes, start: Index, look: bytes) -> tuple[Bytes, Spans | None]:
    """Digits of the cells at `start` against `look` (0 at its fixed places), and which cells fit (None: all)."""
    base = np.frombuffer(shape(look), np.uint8)
    digits = gather(window, start, len(look)) ^ base
    limit = np.where(base == 48, np.uint8(9), np.uint8(0))
    fits = digits <= limit
    if bool(fits.all()):
        return digits, None
    return digits, np.asarray(fits.all(axis=1), np.bool_)


def figure(places: Bytes, low: int, high: int) -> npt.NDArray[np.int32]:
    """The whole numbers written at the places [low, high) of a matrix of digits (places, cells); at most 9 digits."""
    total: npt.NDArray[np.int32] = places[low].astype(np.int32)
    for place in range(low + 1, high):
        total *= 10
        total += places[place]
    return total
