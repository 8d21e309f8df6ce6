"""Measured curves that physics reads from tables, as arrays."""

from functools import cache
from typing import TYPE_CHECKING

from chalaza.errors import TableError
from chalaza.facts.loader import table

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt


@cache
def oxygen_curve() -> "tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]":
    """Oxygen taken up by a chicken egg: ages since setting [d], uptake [mL/d at STP]; both read-only, ages rising.

    Raises `TableError` if the ages do not rise.
    """
    import numpy as np  # here, so that reading a kind stays quick

    rows = table("embryo_oxygen_chicken")
    age_d = np.array([float(row["age_d"]) for row in rows])
    oxygen_ml_per_d = np.array([float(row["oxygen_ml_per_d"]) for row in rows])
    if np.any(np.diff(age_d) <= 0):
        raise TableError("embryo_oxygen_chicken.csv", None, "the ages do not rise")
    age_d.flags.writeable = oxygen_ml_per_d.flags.writeable = False
    return age_d, oxygen_ml_per_d
