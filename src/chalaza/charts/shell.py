"""The outline of an egg as a path, blunt end up: of drawings at true size and of small marks alike."""

import numpy as np

from chalaza.inference.grid import Floats
from chalaza.physics import egg

#: The form does not know a size: it is reckoned on an egg of this length.
_MODEL_MM = 60.0


def path(
    length: float, breadth: float, *, x: float = 0.0, y: float = 0.0, first: float = 0.0, last: float | None = None,
    tilt: float = 0.0, steps: int = 24, digits: int = 1,
) -> str:  # fmt: skip
    """The outline between two depths below the blunt pole, down the right side and up the left, closed.

    `x`, `y`: the axis and the blunt pole. `tilt`: so much lower does it begin on the right, and higher on the left.
    Lengths in one unit, mm or px; `last` is the length if None.
    """
    end = length if last is None else last
    share = 0.5 * (1.0 - np.cos(np.linspace(0.0, np.pi, steps)))
    down = np.clip(first + tilt + (end - first - tilt) * share, 0.0, length)
    up = np.clip(first - tilt + (end - first + tilt) * share, 0.0, length)[::-1]
    right = list(zip((x + half(down, length, breadth)).tolist(), (y + down).tolist(), strict=True))
    left = list(zip((x - half(up, length, breadth)).tolist(), (y + up).tolist(), strict=True))
    if abs(right[-1][0] - left[0][0]) < 1e-9:
        left = left[1:]  # both meet at the pole
    return "M" + "L".join(f"{a:.{digits}f} {b:.{digits}f}" for a, b in (*right, *left)) + "Z"


def half(depth: Floats, length: float, breadth: float) -> Floats:
    """Half the width at depths below the blunt pole, in the unit of the lengths, whatever that is."""
    k = _MODEL_MM / length
    down = np.clip(np.asarray(depth, dtype=np.float64) * k, 0.0, _MODEL_MM)
    return np.asarray(egg.outline(down, _MODEL_MM, breadth * k, egg.HEN_SHIFT_SHARE * _MODEL_MM) / k)


def hatching(length: float, breadth: float, *, x: float = 0.0, y: float = 0.0, apart: float = 6.0) -> str:
    """Strokes rising at 45 degrees, `apart` from each other upright, cut at the outline."""
    depth = np.linspace(0.0, length, 400)
    across = half(depth, length, breadth)
    strokes = []
    for start in np.arange(-apart + 1.0, length + breadth, apart):
        at = start - depth  # the stroke: across + depth = start
        within = np.flatnonzero(np.abs(at) <= across)
        if len(within) > 1:
            i, j = within[0], within[-1]
            strokes.append(f"M{x + at[i]:.1f} {y + depth[i]:.1f}L{x + at[j]:.1f} {y + depth[j]:.1f}")
    return "".join(strokes)
