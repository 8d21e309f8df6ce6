"""Hostile zips: what climbs, links, hides, repeats or swells is refused before or while it is read."""

import io
import random
import stat
import struct
import zipfile
from pathlib import Path

import pytest

from chalaza.errors import FolderError
from chalaza.exchange import read_zip, source
from exchange.files import packed, texts


def _with(name: str, data: str | bytes = "x", **changes: int) -> io.BytesIO:
    """A sound zip and one member more."""
    file = packed(texts())
    with zipfile.ZipFile(file, "a") as archive:
        member = zipfile.ZipInfo(name)
        for field, value in changes.items():
            setattr(member, field, value)
        archive.writestr(member, data)
    return file


def _refused(file: io.BytesIO) -> str:
    with pytest.raises(FolderError) as caught:
        read_zip(file)
    return str(caught.value)


@pytest.mark.parametrize(
    ("name", "problem"),
    [
        ("../eggs.csv", "a path that leads out of the zip"),
        ("a/../../eggs.csv", "a path that leads out of the zip"),
        ("..\\eggs.csv", "a path that leads out of the zip"),
        ("/etc/passwd", "a path that leads out of the zip"),
        ("\\\\host\\share", "a path that leads out of the zip"),
        ("C:eggs.csv", "a path that leads out of the zip"),
        ("batch/eggs.csv", "a folder in the zip"),
        ("batch/", "a folder in the zip"),
        ("more.zip", "an archive within the zip"),
        ("egg.jpg", "no file of this format in the zip"),
        ("EGGS.CSV", "no file of this format in the zip"),
        ("readings_.csv", "no file of this format in the zip"),
    ],
)
def test_a_zip_holds_only_flat_known_names(name: str, problem: str) -> None:
    message = _refused(_with(name))
    assert message.startswith(problem)
    assert f"given: {name!r}" in message


def test_links_in_a_zip_are_refused() -> None:
    link = _with("readings_x.csv", "/etc/passwd", create_system=3, external_attr=(stat.S_IFLNK | 0o777) << 16)
    assert _refused(link) == "a link in the zip; given: 'readings_x.csv'; allowed: plain files"


def test_encrypted_members_are_refused() -> None:
    data = bytearray(packed(texts()).getvalue())
    entry = data.index(b"PK\x01\x02")
    data[entry + 8] |= 1
    assert _refused(io.BytesIO(bytes(data))).startswith("an encrypted file in the zip; given: 'datapackage.json'")


def test_other_ways_of_packing_are_refused() -> None:
    message = _refused(_with("readings_x.csv", "x", compress_type=zipfile.ZIP_LZMA))
    assert message.startswith("packed in a way that is not read; given: 'readings_x.csv'")


@pytest.mark.filterwarnings("ignore:Duplicate name:UserWarning")
def test_a_name_may_stand_once() -> None:
    assert _refused(_with("eggs.csv")) == "twice in the zip; given: 'eggs.csv'; allowed: each name once"


@pytest.mark.parametrize("count", [101, 5_000])
def test_too_many_members_are_refused_before_they_are_listed(count: int) -> None:
    files = {f"readings_{number}.csv": "" for number in range(count)}
    assert _refused(packed(files)).startswith("too many files in the zip")


def test_an_archive_in_the_place_of_a_table_is_refused() -> None:
    inner = packed(texts()).getvalue()
    assert _refused(packed({**texts(), "lots.csv": inner})) == (
        "lots.csv: an archive where a table should be; allowed: CSV text"
    )


def test_what_unpacks_to_more_than_two_hundred_times_its_size_is_refused_while_reading() -> None:
    bomb = packed({**texts(), "notes.csv": "uid,at,text\n" + "\n" * 20_000_000})
    message = _refused(bomb)
    assert message.startswith("notes.csv: unpacks to too much (more than 200 times its size)")
    assert f"allowed: {200 * len(bomb.getvalue()):,} bytes in all" in message


def test_unpacked_bytes_are_counted_whatever_the_zip_says_of_itself(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source, "MAX_BYTES", 50_000)
    message = _refused(packed(texts()))
    assert "unpacks to too much (a zip); allowed: 50,000 bytes in all" in message


def test_rows_and_readings_are_counted_over_all_tables(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("chalaza.exchange.reader.MAX_ROWS", 60)
    assert _refused(packed(texts())).startswith("candlings.csv, row 13: too many rows; allowed: 60 in all tables")
    monkeypatch.undo()
    monkeypatch.setattr("chalaza.exchange.reader.MAX_READINGS", 2_000)
    assert _refused(packed(texts())).startswith("readings_p1.csv: too many readings")


def test_a_line_without_end_is_refused() -> None:
    files = {**texts(), "notes.csv": "uid,at,text\n" + "x" * 8_000_001}
    assert _refused(packed(files, zipfile.ZIP_STORED)).startswith("notes.csv, row 2: a line without end")


@pytest.mark.parametrize(
    "data", [b"", b"hello", b"PK\x05\x06", b"\0" * 500, b"PK\x05\x06" + b"\0" * 20, b"PK\x03\x04" + b"\0" * 100]
)
def test_what_is_no_zip_is_refused(data: bytes) -> None:
    message = _refused(io.BytesIO(data))
    assert message.startswith(("neither a folder nor a zip file", "a damaged zip"))


def test_a_zip_with_an_index_of_the_large_kind_or_a_long_one_is_refused() -> None:
    data = packed(texts()).getvalue()
    end = data[-22:]
    large = data[:-22] + struct.pack("<4sIQI", b"PK\x06\x07", 0, 0, 1) + end
    assert _refused(io.BytesIO(large)).startswith("too many files in the zip")
    long = data[:-22] + end[:12] + (200_000).to_bytes(4, "little") + end[16:]
    assert _refused(io.BytesIO(long)).startswith("too many files in the zip")


def test_damage_is_told_with_the_file_it_is_in(tmp_path: Path) -> None:
    data = bytearray(packed(texts()).getvalue())
    spot = data.index(b"batch.csv") + len("batch.csv") + 10
    data[spot] ^= 0xFF
    assert _refused(io.BytesIO(bytes(data))).startswith(("batch.csv: damaged in the zip", "batch.csv, row"))
    (tmp_path / "half.zip").write_bytes(data[: len(data) // 2])
    with pytest.raises(FolderError, match="neither a folder nor a zip file"):
        read_zip(tmp_path / "half.zip")
    with pytest.raises(FolderError, match="cannot be opened"):
        read_zip(tmp_path / "nothing.zip")


@pytest.mark.parametrize("seed", range(40))
def test_a_zip_with_bytes_changed_at_random_is_read_as_it_was_or_refused(seed: int) -> None:
    chance = random.Random(seed)
    sound = packed(texts()).getvalue()
    data = bytearray(sound)
    for _ in range(chance.randint(1, 4)):
        data[chance.randrange(len(data))] ^= 1 << chance.randrange(8)
    try:
        again = read_zip(io.BytesIO(bytes(data)))
    except FolderError:
        return
    assert again == read_zip(io.BytesIO(sound))
