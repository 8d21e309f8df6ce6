"""Small invented logger files: an imaginary incubator at 37.5 °C, written in the ways loggers write."""

from collections.abc import Iterable

import numpy as np

from chalaza.intake import Reading, read


def rows(
    count: int = 48, *, step_min: int = 30, day: int = 14, form: str = "2024-03-{day:02d} {h:02d}:{m:02d}"
) -> list[tuple[str, float, float]]:
    """Stamp, temperature in °C and humidity in % of an invented record; days after the 12th decide the date order."""
    result = []
    for at in range(count):
        minutes = at * step_min
        stamp = form.format(day=day + minutes // 1440, h=minutes // 60 % 24, m=minutes % 60)
        result.append((stamp, round(37.5 + 0.01 * (at * 7 % 23), 2), round(55 + 0.1 * (at * 5 % 17), 1)))
    return result


def table(lines: Iterable[Iterable[object]], head: str = "Time;Temp (°C);RH (%)", mark: str = ";") -> bytes:
    """A file of `lines` under `head`."""
    text = [head] if head else []
    text += [mark.join(str(cell) for cell in line) for line in lines]
    return ("\n".join(text) + "\n").encode()


def stamped(temperatures: Iterable[object], head: str = "Time;T °C") -> bytes:
    """One column of cells, a row an hour from midnight."""
    cells = list(temperatures)
    return table(((f"2024-03-{14 + at // 24:02d} {at % 24:02d}:00", cell) for at, cell in enumerate(cells)), head)


def codes(reading: Reading) -> dict[str, bool]:
    """The questions of a reading and whether they block, the ever-open zone apart."""
    return {q.code: q.blocking for q in reading.report.questions if q.code != "zone"}


def temperatures(data: bytes, **options: object) -> list[float]:
    """The temperatures of the first probe, rounded to 0.01 °C."""
    reading = read(data, **options)  # type: ignore[arg-type]
    return [round(float(value), 2) for value in reading.probes[0].temp_degc]


def same(one: Reading, other: Reading) -> bool:
    """Whether two readings are the same to the last bit, reports included."""
    if one.report != other.report or len(one.probes) != len(other.probes):
        return False
    return all(
        a.name == b.name
        and np.array_equal(a.t, b.t)
        and np.array_equal(a.temp_degc, b.temp_degc, equal_nan=True)
        and np.array_equal(a.rh, b.rh, equal_nan=True)
        for a, b in zip(one.probes, other.probes, strict=True)
    )


def accounted(reading: Reading) -> bool:
    """Whether every line of the file is read, set aside with a reason, above the rows, or part of the line before."""
    report = reading.report
    told = report.rows_read + sum(report.rows_rejected.values()) + report.lines_above + report.continued
    return told == report.line_count
