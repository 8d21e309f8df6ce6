"""What every function of this floor does first and last: refuse what lies outside its span, give back what it was given.

Scalars and numpy arrays pass through alike and broadcast against each other. The first argument decides the type a
checker sees (`Number`); at run time the answer is a float when all arguments are scalars, else a float64 array.
"""

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple, cast

import numpy as np
import numpy.typing as npt

from chalaza.errors import OutOfRange
from chalaza.units import Number

Array = npt.NDArray[np.float64]
#: A block of scratch, in double or single precision; None where the values are scalars and need none.
Buffer = npt.NDArray[np.floating[Any]] | None

#: Long logs are taken in blocks of this many values: few enough to stay in the processor's cache through the dozens of
#: passes over a block, many enough that the cost of starting a pass does not show. It changes no value.
BLOCK = 65_536


class Span(NamedTuple):
    """What a value is called, and where it may lie, ends included."""

    name: str
    low: float
    high: float
    unit: str


def all_inside(values: Array, low: float, high: float) -> bool:
    """Whether no element is below `low`, above `high` or NaN."""
    if not values.size:
        return True
    # Read as whole numbers, doubles from 0 up keep their order, and NaN and all below 0 stand above them: where nothing
    # is below 0, as in a warm room, one reduction tells it all.
    highest = np.float64(high).view(np.uint64)
    if low <= 0.0 <= high and np.maximum.reduce(values.view(np.uint64), axis=None) <= highest:
        return True
    # A NaN makes both comparisons false.
    return bool(np.minimum.reduce(values, axis=None) >= low and np.maximum.reduce(values, axis=None) <= high)


def within(name: str, value: npt.ArrayLike, low: float, high: float, unit: str) -> Array:
    """`value` as float64, every element between `low` and `high`. NaN is refused like any other stray.

    Raises `OutOfRange` with the first offender and, for an array, its position (in the flattened array).
    """
    values = np.asarray(value, dtype=np.float64)
    if values.ndim == 0:
        if not low <= float(values) <= high:
            raise OutOfRange(name, float(values), low, high, unit, None)
    elif not all_inside(values, low, high):
        flat = values.reshape(-1)
        index = int(np.argmax(~((flat >= low) & (flat <= high))))
        raise OutOfRange(name, float(flat[index]), low, high, unit, index)
    return values


def like(model: Number, result: Array) -> Number:
    """`result` as the caller expects it: a float where it has no dimensions, else the array. `model` is for the types."""
    return cast(Number, float(result) if np.ndim(result) == 0 else result)


def in_blocks(
    kernel: Callable[..., Array], *values: npt.ArrayLike, spans: Sequence[Span] = (), buffers: int = 0
) -> Array:
    """`kernel(*values)`, element by element, long arrays block by block; `values` broadcast.

    `spans`: where the values must lie, in their order; checked while the block is in the cache. The kernel sees a value
    without dimensions as a plain float, any other as a flat block of float64. With `buffers` it is given so many blocks
    of scratch after its values; the first is the answer's own place, which spares a copy if that is what it returns.
    If all values are scalars the buffers are None: what numpy's `out=` takes for "nowhere". `OutOfRange`, raised by the
    kernel too, carries the position in the whole (broadcast and flattened).
    """
    arrays = [np.asarray(value, dtype=np.float64) for value in values]
    shape = np.broadcast_shapes(*(array.shape for array in arrays))
    if shape == ():
        return kernel(*_checked([float(array) for array in arrays], spans), *(None,) * buffers)
    flat = [array if array.ndim == 0 else np.broadcast_to(array, shape).reshape(-1) for array in arrays]
    result = np.empty(int(np.prod(shape)))
    scratch = [np.empty(min(BLOCK, result.size)) for _ in range(buffers - 1)]
    for start in range(0, result.size, BLOCK):
        place = result[start : start + BLOCK]
        parts = [float(array) if array.ndim == 0 else array[start : start + BLOCK] for array in flat]
        rooms = [place, *(room[: place.size] for room in scratch)] if buffers else []
        try:
            found = kernel(*_checked(parts, spans), *rooms)
        except OutOfRange as stray:
            raise _moved(stray, start) from None
        if found is not place:
            place[...] = found
    return result.reshape(shape)


def _checked(parts: list[Any], spans: Sequence[Span]) -> list[Any]:
    for part, span in zip(parts, spans, strict=False):
        within(span.name, part, span.low, span.high, span.unit)
    return parts


def _moved(stray: OutOfRange, start: int) -> OutOfRange:
    """The same stray, its position counted from the beginning of the whole."""
    if stray.index is None or start == 0:
        return stray
    return OutOfRange(stray.name, stray.value, stray.low, stray.high, stray.unit, stray.index + start)


def single(value: Any, room: Buffer) -> Any:
    """An array in single precision, in `room`; a scalar as it is."""
    if room is None or isinstance(value, float):
        return value
    np.copyto(room, value, casting="same_kind")
    return room


def double(value: Any, room: Buffer) -> Any:
    """An array in double precision, in `room`; a scalar as it is."""
    if room is None or isinstance(value, float):
        return value
    np.copyto(room, value)
    return room


def scaled(value: Any, factor: float, room: Buffer) -> Any:
    """`value` times `factor`, an array in `room`."""
    return value * factor if isinstance(value, float) else np.multiply(value, factor, out=room)


def halves(room: Buffer) -> tuple[Buffer, Buffer]:
    """A block of scratch as two in single precision."""
    if room is None:
        return None, None
    both = room.view(np.float32)
    return both[: room.size], both[room.size :]
