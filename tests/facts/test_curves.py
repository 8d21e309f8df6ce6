"""The measured curve of oxygen, as physics takes it."""

import csv
from pathlib import Path

import numpy as np
import pytest

from chalaza import facts


def test_oxygen_rises_from_nothing_to_the_plateau() -> None:
    age_d, oxygen_ml_per_d = facts.oxygen_curve()
    assert age_d.shape == oxygen_ml_per_d.shape
    assert np.all(np.diff(age_d) > 0)
    assert np.all(oxygen_ml_per_d >= 0)
    # Romijn & Lokhorst 1951 measured at most 566 mL/d before the internal pip; smoothing takes off a few percent.
    assert oxygen_ml_per_d[age_d < 19.5].max() == pytest.approx(566, rel=0.05)


def test_the_curve_cannot_be_changed() -> None:
    age_d, _ = facts.oxygen_curve()
    with pytest.raises(ValueError, match="read-only"):
        age_d[0] = 1.0


def test_oxygen_runs_through_the_measured_points(shared: Path) -> None:
    with (shared / "data" / "growth" / "chicken_embryo_o2.csv").open(encoding="utf-8") as file:
        points = [tuple(map(float, row)) for row in list(csv.reader(file))[1:]]
    age_d, oxygen_ml_per_d = facts.oxygen_curve()
    measured_d, measured_ml = map(np.array, zip(*points, strict=True))
    # The table may be smoothed between points; their own scatter about a smooth curve is about 5 % of the maximum.
    assert np.interp(measured_d, age_d, oxygen_ml_per_d) == pytest.approx(measured_ml, abs=0.05 * measured_ml.max())
