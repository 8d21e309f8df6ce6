"""Files nobody meant to write: cut, shuffled, sprayed with noise, in the wrong encoding, or one endless line.

Whatever comes in, the reader answers with a reading or a `ReadingError`, soon, and accounts for every line.
"""

import json
import random
import re
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.errors import ReadingError
from chalaza.intake import read

from .files import accounted, rows, same, stamped, table

#: Seeds of mutations of the real and invented files in the short and in the long run.
SHORT, LONG = 300, 10_000
_HEAD = 6_000


def _invented() -> list[bytes]:
    lines = rows()
    return [
        table(lines),
        table(lines, "Time,Temp,RH", ",").replace(b".", b",") + b"Average,37,5,55,1\n",
        table([(f'"{s}"', f'"{t}"', rh, '"a;b"') for s, t, rh in lines], "Time;T °C;RH %;Note"),
        table([(s, n, "temperature", t) for s, t, _ in lines for n in "AB"], "time;sensor;type;value"),
        table(rows(form="{day:02d}/03/24 {h:02d}:{m:02d}")),
        stamped([37.5, 85.0, "--", "<10", "99.5 F", "22-May", -127, 3750]),
        "".join(f"{at}\t{37 + at % 3}\t{55 + at % 5}\n" for at in range(60)).encode("utf-16"),
    ]


def _sources(shared: Path | None) -> list[bytes]:
    logs = sorted((shared / "data" / "logs").iterdir()) if shared is not None else []
    return [*_invented(), *(path.read_bytes()[:_HEAD] for path in logs)]


def _mutated(rng: random.Random, data: bytes, others: list[bytes]) -> bytes:
    body, way = bytearray(data), rng.randrange(11)
    place = rng.randrange(len(body))
    if way == 0:
        return data[:place]
    if way in (1, 2, 3):
        lines = data.split(b"\n")
        if way == 1:
            rng.shuffle(lines)
        elif way == 2:
            lines = [line for line in lines for _ in range(rng.randrange(3))]
        else:
            lines = [line[::-1] if rng.random() < 0.2 else line for line in lines]
        return b"\n".join(lines)
    if way == 4:
        for _ in range(rng.randrange(1, 60)):
            body[rng.randrange(len(body))] = rng.randrange(256)
        return bytes(body)
    if way == 5:
        for _ in range(rng.randrange(1, 30)):
            at = rng.randrange(len(body))
            body[at : at + rng.randrange(5)] = rng.randbytes(rng.randrange(5))
        return bytes(body)
    if way == 6:
        marks = [b",", b";", b".", b":", b"/", b"\n", b'"', b" ", b"0", b"1", b"2", b"\0", b"\t", b"-", b""]
        return data.replace(rng.choice(marks[:11]), rng.choice(marks))
    if way == 7:
        return data + rng.choice(others)
    if way == 8:
        return data[place:] + data[:place]
    if way == 9:
        return data.decode("latin-1").encode("utf-16")[: rng.randrange(2, 2 * len(data))]
    return data[:place] + bytes(rng.randrange(200)) + data[place:]


def _survives(rng: random.Random, data: bytes) -> bool:
    """Read, answer what is asked, read again; every reading must account for its lines. True: it gave a reading."""
    answers: dict[str, str] = {}
    for _ in range(3):
        try:
            reading = read(data, answers=answers, zone=rng.choice([None, "Europe/Paris", "America/New_York"]))
        except ReadingError:
            return False
        assert accounted(reading)
        assert json.dumps(reading.report.to_json(), allow_nan=False)
        assert reading.report.lines()
        assert all(len(reading.series(at)) for at in range(len(reading.probes)))
        asked = [q for q in reading.report.questions if q.code != "zone"]
        if not asked:
            break
        answers |= {q.code: rng.choice(q.options).key if not q.free else "2024-01-01" for q in asked}
    return True


def _run(seeds: range, sources: list[bytes]) -> int:
    read_well = 0
    for seed in seeds:
        rng = random.Random(seed)
        data = rng.choice(sources)
        for _ in range(rng.randrange(1, 4)):
            data = _mutated(rng, data, sources) or b"\n"
        start = time.perf_counter()
        read_well += _survives(rng, data)
        assert time.perf_counter() - start < 20, f"seed {seed} took too long"
    return read_well


@pytest.mark.logs
def test_mutated_files_never_crash(shared: Path) -> None:
    read_well = _run(range(SHORT), _sources(shared))
    assert SHORT // 3 < read_well < SHORT, "the mutations must reach the depth of the reader and its errors"


@pytest.mark.soak
@pytest.mark.logs
def test_many_mutated_files_never_crash(shared: Path) -> None:
    assert _run(range(SHORT, SHORT + LONG), _sources(shared)) > LONG // 3


@given(st.binary(max_size=3000))
def test_noise_is_refused_or_read(data: bytes) -> None:
    _survives(random.Random(0), data)


_CELLS = st.one_of(
    st.sampled_from(["37.5", "37,5", "-127", "85", "", "NaN", "--", "99.5 F", '"a;b"', '"', "x", "1e5", "<10", "22-May", "𝟛"]),
    st.decimals(-300, 300, places=2).map(str), st.text(max_size=8),
)  # fmt: skip
_STAMPS = st.one_of(
    st.datetimes().map(lambda t: t.strftime("%d/%m/%Y %H:%M:%S")), st.datetimes().map(str),
    st.sampled_from(["2024-03-14 10:00", "14.3.24 9:05 PM", "1710374400", "12:30", "Average", "Time", ""]),
)  # fmt: skip
_FILES = st.tuples(
    st.sampled_from([";", ",", "\t", "|"]), st.sampled_from(["\n", "\r\n", "\r"]),
    st.sampled_from(["Time{0}Temp °C{0}RH %", "Time{0}T{0}RH", ""]),
    st.lists(st.tuples(_STAMPS, _CELLS, _CELLS), min_size=1, max_size=25),
).map(lambda f: f[1].join([*([f[2].format(f[0])] if f[2] else []), *(f[0].join(row) for row in f[3])]).encode())  # fmt: skip


@given(_FILES)
def test_tables_of_odd_cells_are_refused_or_read(data: bytes) -> None:
    _survives(random.Random(0), data)


@given(_FILES)
def test_cell_by_cell_and_all_at_once_agree(data: bytes) -> None:
    try:
        fast = read(data)
    except ReadingError as error:
        with pytest.raises(ReadingError, match=re.escape(str(error))):
            read(data, careful=True)
        return
    assert same(fast, read(data, careful=True))


@pytest.mark.logs
def test_cell_by_cell_and_all_at_once_agree_on_mutated_files(shared: Path) -> None:
    sources = _sources(shared)
    for seed in range(120):
        rng = random.Random(seed)
        data = _mutated(rng, rng.choice(sources), sources) or b"\n"
        try:
            fast = read(data)
        except ReadingError:
            continue
        assert same(fast, read(data, careful=True)), f"seed {seed}"


def test_a_single_endless_line_is_refused_at_once() -> None:
    start = time.perf_counter()
    for data in (b"7" * 50_000_000, b"1;" * 25_000_000, b'"' * 50_000_000):
        with pytest.raises(ReadingError, match="hold no line end"):
            read(data)
    assert time.perf_counter() - start < 10


def test_an_endless_line_after_good_rows_is_stepped_over() -> None:
    reading = read(table(rows()) + b"2024-03-20 00:00;37" + b",5" * 25_000_000)
    assert len(reading.probes[0]) == 48
    assert dict(reading.report.rows_rejected) == {"line-too-long": 1}
