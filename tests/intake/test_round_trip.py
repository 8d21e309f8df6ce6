"""A known record written in a look drawn at random comes back as it was."""

from dataclasses import dataclass

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from chalaza.intake import read

from .files import accounted, codes

_BEGIN = np.datetime64("2024-03-11T20:00:00", "s")
_FORMS = (
    "%Y-%m-%d %H:%M:%S", "%d.%m.%Y %H:%M:%S", "%m/%d/%Y %I:%M:%S %p", "%d-%b-%y %H:%M:%S", "%d/%m/%Y{0}%H:%M:%S",
    "%Y/%m/%d %H:%M", "%H:%M:%S %d.%m.%Y", "%Y-%m-%dT%H:%M:%SZ", "%B %d, %Y %I:%M %p",
)  # fmt: skip


@dataclass(frozen=True)
class Look:
    """How a file is written."""

    delimiter: str
    decimal: str
    form: str
    fahrenheit: bool
    fraction: bool
    quoted: bool
    encoding: str
    line_end: str
    above: int
    counted: bool
    newest_first: bool
    trailing: bool


_LOOKS = st.builds(
    Look, delimiter=st.sampled_from([";", ",", "\t", "|"]), decimal=st.sampled_from([".", ","]),
    form=st.sampled_from(_FORMS), fahrenheit=st.booleans(), fraction=st.booleans(), quoted=st.booleans(),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]), line_end=st.sampled_from(["\n", "\r\n", "\r"]),
    above=st.integers(0, 4), counted=st.booleans(), newest_first=st.booleans(), trailing=st.booleans(),
)  # fmt: skip


def _written(look: Look, moments: np.ndarray, warm: np.ndarray, wet: np.ndarray) -> bytes:
    def cell(text: str) -> str:
        return f'"{text}"' if look.quoted or look.delimiter in text else text

    head = ["No."] * look.counted + (["Date", "Time"] if "{0}" in look.form else ["Timestamp"])
    head += [f"Temp [°{'F' if look.fahrenheit else 'C'}]", "Rel. humidity" if look.fraction else "RH (%)"]
    lines = [f"Remark {at}: nothing to see" for at in range(look.above)]
    lines.append(look.delimiter.join(cell(name) for name in head))
    for at, (moment, t, rh) in enumerate(zip(moments.tolist(), warm, wet, strict=True)):
        stamp = moment.strftime(look.form)
        values = [
            f"{t * 1.8 + 32:.3f}" if look.fahrenheit else f"{t:.2f}",
            f"{rh:.3f}" if look.fraction else f"{rh * 100:.1f}",
        ]
        cells = (
            [str(at + 1)] * look.counted + stamp.split("{0}") + [value.replace(".", look.decimal) for value in values]
        )
        lines.append(look.delimiter.join(cell(text) for text in cells) + look.delimiter * look.trailing)
    if look.newest_first:
        lines[look.above + 1 :] = lines[: look.above : -1]
    return (look.line_end.join(lines) + look.line_end).encode(look.encoding)


# Half an hour's step from the 11th to the 14th: a number over 12 decides the order of day and month.
# Tolerances: the file has 0.01 °C (0.001 °F) and 0.1 %, float32 adds 4e-6 °C and 6e-8.
@given(_LOOKS, st.integers(0, 2**31))
def test_a_record_comes_back_whatever_its_look(look: Look, seed: int) -> None:
    rng = np.random.default_rng(seed)
    moments = _BEGIN + np.arange(120) * np.timedelta64(1800, "s")
    warm, wet = np.round(37.5 + rng.normal(0, 0.3, 120), 2), np.round(0.55 + rng.normal(0, 0.03, 120), 3)
    reading = read(_written(look, moments, warm, wet))
    assert not any(codes(reading).values()), codes(reading)
    (log,) = reading.probes
    assert np.array_equal(log.t, moments.astype(np.int64))
    np.testing.assert_allclose(log.temp_degc, warm, atol=6e-4)
    np.testing.assert_allclose(log.rh, wet, atol=1e-6)
    assert accounted(reading)
    assert reading.report.newest_first is look.newest_first
