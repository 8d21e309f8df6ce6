"""Readings keep every bit of single precision and pass block by block."""

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.errors import FolderError
from chalaza.exchange import readings
from chalaza.values.evidence import Series
from factory import SET_AT, make_series

_FLOAT32_BITS = st.integers(0, 2**32 - 1)


def _again(series: Series) -> Series:
    return readings.read(io.BytesIO(b"".join(readings.chunks(series, "r.csv"))), "r.csv")


def _series(temp: np.ndarray, rh: np.ndarray | None = None) -> Series:
    column = temp.astype(np.float32)
    return Series(np.arange(len(temp), dtype=np.int64) + SET_AT, column, column if rh is None else rh)


@given(bits=st.lists(_FLOAT32_BITS, min_size=1, max_size=40))
def test_any_single_precision_number_comes_back_to_the_last_bit(bits: list[int]) -> None:
    figures = np.array(bits, np.uint32).view(np.float32)
    series = _series(np.where(np.isfinite(figures), figures, np.float32(np.nan)))
    again = _again(series).temp_degc
    assert np.array_equal(np.isnan(again), np.isnan(series.temp_degc))
    there = ~np.isnan(again)
    assert np.array_equal(again.view(np.uint32)[there], series.temp_degc.view(np.uint32)[there])


def test_ends_of_single_precision_and_the_negative_zero_come_back() -> None:
    info = np.finfo(np.float32)
    figures = np.array([info.max, -info.max, info.tiny, info.smallest_subnormal, 0.0, -0.0, 16_777_217.0], np.float32)
    assert _again(_series(figures)).temp_degc.tobytes() == figures.tobytes()


# Steps of one unit in the last place around each tenth of a degree: what a logger's figures and our sums look like.
def test_every_number_near_the_figures_of_loggers_comes_back() -> None:
    tenths = np.arange(-400, 1300, dtype=np.float32) / np.float32(10)
    near = (tenths.view(np.int32)[:, None] + np.arange(-20, 21)).astype(np.int32).view(np.float32).ravel()
    near = near[np.isfinite(near)]
    assert _again(_series(near)).temp_degc.tobytes() == near.tobytes()


def test_the_shortest_decimal_is_written() -> None:
    text = b"".join(readings.chunks(_series(np.array([37.7, 100.0]), np.array([0.45, np.nan], np.float32)), "r.csv"))
    assert text.decode() == "at,temp_degc,rh\n2026-03-01T08:00:00Z,37.7,0.45\n2026-03-01T08:00:01Z,100.0,\n"


@pytest.mark.parametrize("count", [0, 1, 4_095, 4_096, 4_097, 8_193])
def test_series_of_any_length_pass_in_blocks(count: int) -> None:
    figures = (np.arange(count) % 977).astype(np.float32) / np.float32(7)
    series = _series(figures)
    blocks = list(readings.chunks(series, "r.csv"))
    assert len(blocks) == 1 + -(-count // 4_096)
    assert _again(series) == series


def test_order_is_watched_across_blocks() -> None:
    lines = b"".join(readings.chunks(_series(np.zeros(4_097)), "r.csv")).splitlines(keepends=True)
    lines[-1] = lines[-2]
    with pytest.raises(FolderError, match=r"r\.csv, row 4098, field 'at': not later than the row before"):
        readings.read(io.BytesIO(b"".join(lines)), "r.csv")


def test_a_log_without_humidity_reads_as_missing_humidity() -> None:
    series = readings.read(io.BytesIO(b"temp_degc,at\n37.5,2026-03-01T08:00:00Z\n"), "r.csv")
    assert series.temp_degc.tolist() == [37.5]
    assert np.isnan(series.rh).all()


def test_stamps_in_many_forms_give_the_same_moments() -> None:
    text = "at,temp_degc\n" + "".join(
        f"{at},37.5\n" for at in ("2026-03-01T09:00:00+01:00", "2026-03-01T08:00:01Z", "2026-03-01 08:01Z")
    )
    assert readings.read(io.BytesIO(text.encode()), "r.csv").t.tolist() == [SET_AT, SET_AT + 1, SET_AT + 60]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"temp_degc": np.inf}, "r.csv, row 4, field 'temp_degc': not a finite number; given: 'inf'"),
        ({"rh": -np.inf}, "r.csv, row 4, field 'rh': not a finite number; given: '-inf'"),
        ({"t": 4_102_444_801}, "r.csv, row 4, field 'at': outside what can be true; given: '4102444801'"),
    ],
)
def test_readings_that_could_not_be_read_again_are_not_written(change: dict[str, float], message: str) -> None:
    series = make_series(0.02, step_s=600)
    columns = {name: getattr(series, name).copy() for name in ("t", "temp_degc", "rh")}
    for name, value in change.items():
        columns[name][-1] = value
    with pytest.raises(FolderError) as caught:
        list(readings.chunks(Series(**columns), "r.csv"))
    assert message in str(caught.value)
