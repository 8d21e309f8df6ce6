"""What every function of this floor does first and last: refuse what lies outside its span, give back what it was given.

Scalars and numpy arrays pass through alike and broadcast against each other. The first argument decides the type a
checker sees (`Number`); at run time the answer is a float when all arguments are scalars, else a float64 array.
"""

from collections.abc import Callable
from typing import cast

import numpy as np
import numpy.typing as npt

from chalaza.errors import OutOfRange
from chalaza.units import Number

Array = npt.NDArray[np.float64]

#: Long logs are taken in blocks of this many values, so that a dozen passes over a block stay in the processor's cache;
#: it halves the time of a million states and changes no value.
BLOCK = 16_384


def within(name: str, value: npt.ArrayLike, low: float, high: float, unit: str) -> Array:
    """`value` as float64, every element between `low` and `high`. NaN is refused like any other stray.

    Raises `OutOfRange` with the first offender and, for an array, its position (in the flattened array).
    """
    values = np.asarray(value, dtype=np.float64)
    # Two reductions are the cheapest test; a NaN makes both comparisons false.
    if values.size and not (values.min() >= low and values.max() <= high):
        flat = values.reshape(-1)
        index = int(np.argmax(~((flat >= low) & (flat <= high))))
        raise OutOfRange(name, float(flat[index]), low, high, unit, index if values.ndim else None)
    return values


def like(model: Number, result: Array) -> Number:
    """`result` as the caller expects it: a float where it has no dimensions, else the array. `model` is for the types."""
    return cast(Number, float(result) if np.ndim(result) == 0 else result)


def in_blocks(kernel: Callable[..., Array], *values: Array) -> Array:
    """`kernel(*values)`, element by element, long arrays block by block; `values` broadcast.

    The kernel sees each value either without dimensions or in the common shape, and must return a new array.
    """
    shape = np.broadcast_shapes(*(value.shape for value in values))
    full = [value if value.ndim == 0 or value.shape == shape else np.broadcast_to(value, shape) for value in values]
    size = int(np.prod(shape))
    if size <= BLOCK:
        return kernel(*full)
    flat = [value.reshape(-1) if value.ndim else value for value in full]
    result = np.empty(size)
    for start in range(0, size, BLOCK):
        part = slice(start, start + BLOCK)
        result[part] = kernel(*(value[part] if value.ndim else value for value in flat))
    return result.reshape(shape)
