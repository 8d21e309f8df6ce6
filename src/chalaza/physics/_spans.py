"""Where the models of moist air hold: the spans that several of its modules share."""

from typing import Any

import numpy as np

from chalaza.physics._arrays import Span, all_inside, within

LOW_DEGC, HIGH_DEGC = -40.0, 60.0
LOW_PA, HIGH_PA = 45_000.0, 110_000.0

TEMP = Span("temp_degc", LOW_DEGC, HIGH_DEGC, "°C")
RH = Span("rh", 0.0, 1.0, "1")
PRESSURE = Span("pressure_pa", LOW_PA, HIGH_PA, "Pa")

#: A humidity found by an inverse may miss 0 or 1 by rounding alone; beyond this it is refused.
_ROUNDING = 1e-5


def settled_rh(rh: Any) -> Any:
    """A relative humidity found by an inverse: refused outside 0 to 1 (`OutOfRange`), freed of rounding at the ends."""
    if all_inside(rh, 0.0, 1.0) if rh.ndim else 0.0 <= rh <= 1.0:
        return rh
    within("rh", rh, -_ROUNDING, 1.0 + _ROUNDING, "1")
    return np.clip(rh, 0.0, 1.0, out=rh if rh.ndim else None)
