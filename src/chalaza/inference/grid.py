"""A quantity known at five offsets of a probe, hour by hour, and its smooth course between them.

The log is passed over once, at five trial offsets; whatever the fit asks later is read off these five columns. Between
the columns the course is a cubic with central slopes (continuous, slope continuous); beyond the outer two it goes on
straight, so that an offset far in the tail is still answered without a bend that nobody measured.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

#: Trial offsets, in steps around the centre.
NODES = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])


@dataclass(frozen=True, slots=True)
class Grid:
    """`values` (hours x 5) at offsets `center + step * NODES`, both per hour. [K] `slopes`: per step, at the nodes."""

    center: Floats
    step: Floats
    values: Floats
    slopes: Floats

    @classmethod
    def of(cls, center: Floats, step: Floats, values: Floats) -> "Grid":
        """Slopes at the nodes: central inside, parabolic at the ends."""
        slopes = np.empty_like(values)
        slopes[:, 1:-1] = 0.5 * (values[:, 2:] - values[:, :-2])
        slopes[:, 0] = -1.5 * values[:, 0] + 2.0 * values[:, 1] - 0.5 * values[:, 2]
        slopes[:, -1] = 1.5 * values[:, -1] - 2.0 * values[:, -2] + 0.5 * values[:, -3]
        return cls(center, step, values, slopes)

    def at(self, offset: Floats) -> tuple[Floats, Floats]:
        """Value and slope per kelvin at one offset per hour (shape: hours)."""
        u = (offset - self.center) / self.step
        inner = np.minimum(np.maximum(u, -2.0), 2.0)
        left = np.minimum((inner + 2.0).astype(np.int64), 3)
        at = np.arange(0, 5 * len(u), 5) + left
        values, slopes = self.values.ravel(), self.slopes.ravel()
        y0, rise, s0, s1 = values[at], values[at + 1] - values[at], slopes[at], slopes[at + 1]
        t = inner + 2.0 - left
        # Hermite's cubic through both ends with both slopes, in Horner form.
        a, b = s0 + s1 - 2.0 * rise, 3.0 * rise - 2.0 * s0 - s1
        value = ((a * t + b) * t + s0) * t + y0
        slope = (3.0 * a * t + 2.0 * b) * t + s0
        return value + slope * (u - inner), slope / self.step
