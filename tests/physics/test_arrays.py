"""What all physics functions share: spans, positions of strays, scalars and arrays, blocks."""

import numpy as np
import pytest

from chalaza.errors import OutOfRange
from chalaza.physics import air
from chalaza.physics._arrays import BLOCK, Span, in_blocks, within


def test_first_stray_is_named_with_its_position() -> None:
    with pytest.raises(OutOfRange) as caught:
        within("temp_degc", [37.0, 61.0, 99.0], -40.0, 60.0, "°C")
    assert (caught.value.value, caught.value.index) == (61.0, 1)
    assert str(caught.value) == "temp_degc is 61 °C at position 1; this model holds from -40 to 60 °C"


def test_nan_is_refused_wherever_it_stands() -> None:
    for index in range(3):
        values = np.full(3, 37.0)
        values[index] = np.nan
        with pytest.raises(OutOfRange, match=f"nan °C at position {index}"):
            within("temp_degc", values, -40.0, 60.0, "°C")


def test_position_counts_through_a_table_of_values() -> None:
    with pytest.raises(OutOfRange) as caught:
        within("rh", np.array([[0.5, 0.6], [0.7, 1.1]]), 0.0, 1.0, "1")
    assert caught.value.index == 3


def test_a_scalar_has_no_position_and_comes_back_a_float() -> None:
    with pytest.raises(OutOfRange) as caught:
        air.saturation_pressure(float("nan"))
    assert caught.value.index is None
    assert type(air.saturation_pressure(37.5)) is float
    assert type(air.humidity_ratio(37.5, 0.5)) is float


def test_ends_of_a_span_belong_to_it() -> None:
    assert within("rh", [0.0, 1.0], 0.0, 1.0, "1").tolist() == [0.0, 1.0]


def test_nothing_in_gives_nothing_out() -> None:
    assert air.saturation_pressure(np.empty(0)).shape == (0,)
    assert air.wet_bulb(np.empty(0), np.empty(0)).shape == (0,)


def test_float32_columns_are_computed_in_double_precision() -> None:
    column = np.array([37.5, 20.0], dtype=np.float32)
    assert air.saturation_pressure(column).dtype == np.float64
    assert air.saturation_pressure(column)[0] == air.saturation_pressure(37.5)


def test_blocks_change_no_value() -> None:
    temp = np.linspace(-40.0, 60.0, 5 * (BLOCK // 2 + 3)).reshape(-1, 5)
    rh, pressure = np.array(0.4), np.array(95_000.0)

    def kernel(t: np.ndarray, h: np.ndarray, p: np.ndarray) -> np.ndarray:
        return t * h / p

    assert np.array_equal(in_blocks(kernel, temp, rh, pressure), kernel(temp, rh, pressure))


def test_arguments_broadcast_against_each_other() -> None:
    table = air.humidity_ratio(np.array([[20.0], [37.5]]), np.array([0.4, 0.5, 0.6]))
    assert table.shape == (2, 3)
    assert table[1, 2] == air.humidity_ratio(37.5, 0.6)


def test_a_stray_far_into_a_long_log_keeps_its_position() -> None:
    temp, rh = np.full(BLOCK + 100, 37.5), np.full(BLOCK + 100, 0.5)
    temp[BLOCK + 7] = 61.0
    with pytest.raises(OutOfRange) as caught:
        air.vapour_pressure(temp, rh)
    assert (caught.value.name, caught.value.value, caught.value.index) == ("temp_degc", 61.0, BLOCK + 7)
    # What an inverse finds impossible is counted likewise.
    dew = np.full(BLOCK + 100, 20.0)
    dew[BLOCK + 9] = 40.0
    with pytest.raises(OutOfRange, match=f"rh is .* at position {BLOCK + 9};"):
        air.rh_from_dew_point(37.5, dew)


@pytest.mark.parametrize("stray", [-0.001, -1e-300, -np.inf, 1.0 + 1e-15, np.inf, np.nan, -np.nan])
def test_no_stray_slips_through_the_check_of_a_block(stray: float) -> None:
    values = np.linspace(0.0, 1.0, 100)
    values[50] = stray
    with pytest.raises(OutOfRange) as caught:
        in_blocks(lambda x: x * 1.0, values, spans=[Span("rh", 0.0, 1.0, "1")])
    assert caught.value.index == 50


def test_zeros_of_either_sign_and_both_ends_lie_within() -> None:
    values = np.array([0.0, -0.0, 1.0, 0.5])
    assert in_blocks(lambda x: x * 1.0, values, spans=[Span("rh", 0.0, 1.0, "1")]).tolist() == values.tolist()
    cold = np.array([-40.0, -0.0, 60.0])
    assert in_blocks(lambda x: x * 1.0, cold, spans=[Span("temp_degc", -40.0, 60.0, "°C")]).tolist() == cold.tolist()


def test_arguments_are_left_as_they_were() -> None:
    temp, rh, pressure = np.linspace(15.0, 42.0, 50), np.linspace(0.1, 0.9, 50), np.linspace(7e4, 1e5, 50)
    before = temp.copy(), rh.copy(), pressure.copy()
    air.wet_bulb(temp, rh, pressure)
    air.rh_from_wet_bulb(temp, np.asarray(air.wet_bulb(temp, rh, pressure)), pressure)
    air.density(temp, rh, pressure)
    for kept, column in zip(before, (temp, rh, pressure), strict=True):
        assert np.array_equal(kept, column)


@pytest.mark.parametrize("columns", ["strided", "backwards", "one column of a table", "float32"])
def test_however_a_column_lies_in_memory_it_gives_the_same(columns: str) -> None:
    temp = np.linspace(-30.0, 55.0, 60)
    laid = {
        "strided": np.repeat(temp, 3)[::3],
        "backwards": temp[::-1].copy()[::-1],
        "one column of a table": np.stack([temp, temp], axis=1)[:, 0],
        "float32": temp.astype(np.float32),
    }[columns]
    near = 1e-5 if columns == "float32" else 1e-12  # K: what a float32 cannot hold
    assert air.wet_bulb(laid, 0.5) == pytest.approx(air.wet_bulb(temp, 0.5), abs=near)
