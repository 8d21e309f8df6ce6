"""More readings into a folder: nothing twice, the first figure stays, exact to the bit, whole or not at all."""

import csv
import json
import shutil
from datetime import datetime
from pathlib import Path

import frictionless
import numpy as np
import pytest
from hypothesis import given
from tests.factory import SET_AT, make_evidence, make_series, serieses

from chalaza.errors import FolderError
from chalaza.exchange import Added, add_all, add_readings, read, readings_files, write_folder, write_zip
from chalaza.exchange.add import merged
from chalaza.values.evidence import Probe, ProbeSort, Series

NAN = float("nan")


def series(*rows: tuple[int, float, float]) -> Series:
    """A series of rows: seconds, temperature, humidity."""
    t, temp, rh = zip(*rows, strict=True) if rows else ((), (), ())
    return Series(np.array(t, np.int64), np.array(temp, np.float32), np.array(rh, np.float32))


def bits(one: Series) -> list[tuple[int, int, int]]:
    """Each row with its figures as the bits they are."""
    columns = (one.t, one.temp_degc.view(np.uint32), one.rh.view(np.uint32))
    return list(zip(*(column.tolist() for column in columns), strict=True))


def files(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {path.name: path.read_bytes() for path in folder.iterdir()}


@pytest.fixture
def spring(tmp_path: Path) -> Path:
    """The small invented batch as a folder."""
    write_folder(tmp_path / "spring", make_evidence())
    return tmp_path / "spring"


def test_of_a_second_in_both_the_kept_figure_stays_and_the_rest_comes_in() -> None:
    kept = series((10, 37.5, 0.5), (20, 37.6, 0.5), (30, 37.7, 0.5))
    new = series((5, 36.0, 0.4), (20, 37.6, 0.5), (30, 39.0, 0.5), (40, 37.8, 0.6))
    whole, said = merged(kept, new)
    assert said == Added(kept=3, added=2, same=1, differing=1, filled=0)
    assert whole == series((5, 36.0, 0.4), (10, 37.5, 0.5), (20, 37.6, 0.5), (30, 37.7, 0.5), (40, 37.8, 0.6))


def test_a_missing_figure_is_filled_in_only_where_the_other_one_agrees() -> None:
    kept = series((10, 37.5, NAN), (20, 37.5, NAN), (30, NAN, NAN), (40, 37.5, 0.5))
    new = series((10, 37.5, 0.5), (20, 39.0, 0.7), (30, NAN, 0.6), (40, NAN, NAN))
    whole, said = merged(kept, new)
    assert said == Added(kept=4, added=0, same=1, differing=1, filled=2)
    assert whole == series((10, 37.5, 0.5), (20, 37.5, NAN), (30, NAN, 0.6), (40, 37.5, 0.5))


@given(serieses(), serieses())
def test_what_stood_there_is_never_changed_and_every_new_reading_is_accounted_for(kept: Series, new: Series) -> None:
    """Against the plainest way of saying it: a dictionary from second to figures."""
    whole, said = merged(kept, new)
    old, add = ({row[0]: row for row in bits(one)} for one in (kept, new))
    assert sorted(old.keys() | add.keys()) == whole.t.tolist()
    assert said.kept == len(kept)
    assert said.added == len(add.keys() - old.keys())
    assert said.added + said.same + said.differing + said.filled == len(new)
    for row in bits(whole):
        of_old, of_new = old.get(row[0]), add.get(row[0])
        if of_old is None:
            assert row == of_new
            continue
        for at in (1, 2):
            missing = np.isnan(np.array(of_old[at], np.uint32).view(np.float32))
            assert row[at] == of_old[at] or (missing and of_new is not None and row[at] == of_new[at])


@given(serieses(), serieses())
def test_the_same_readings_a_second_time_change_nothing(kept: Series, new: Series) -> None:
    once, first = merged(kept, new)
    twice, second = merged(once, new)
    assert bits(twice) == bits(once)
    assert not second.changed
    assert (second.added, second.filled, second.differing) == (0, 0, first.differing)


def test_the_folder_is_byte_for_byte_what_the_writer_makes_of_both(spring: Path, tmp_path: Path) -> None:
    evidence = make_evidence()
    old = evidence.setting.series["p1"]
    rng = np.random.default_rng(7)
    t = old.t[-300:] + 60_000
    more = Series(t, rng.normal(37.6, 0.1, 300).astype(np.float32), rng.random(300).astype(np.float32))
    said = add_readings(spring, "p1", more)
    n_both = len(set(old.t.tolist()) & set(t.tolist()))
    assert n_both > 100
    assert said == Added(kept=len(old), added=300 - n_both, same=0, differing=n_both)
    whole, _ = merged(old, more)
    write_folder(tmp_path / "anew", make_evidence(series={**evidence.setting.series, "p1": whole}))
    assert files(spring) == files(tmp_path / "anew")
    again, _ = read(spring)
    assert bits(again.setting.series["p1"]) == bits(whole)


def test_another_reader_finds_the_readings_too(spring: Path) -> None:
    """The csv module and datetime of the language, which know nothing of ours."""
    add_readings(spring, "p1", series((SET_AT + 11 * 86_400, 37.4, 0.51)))
    with open(spring / "readings_p1.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    times = [datetime.fromisoformat(row["at"]) for row in rows]
    assert times == sorted(set(times))
    assert (times[-1].timestamp(), float(rows[-1]["temp_degc"])) == (SET_AT + 11 * 86_400, 37.4)


def test_the_first_readings_of_a_probe_are_named_in_the_descriptor(tmp_path: Path) -> None:
    evidence = make_evidence()
    more = Probe(uid="Probe-№2", name="Spare", sort=ProbeSort.GLASS)
    with_spare = make_evidence(probes=(*evidence.setting.probes, more))
    write_folder(tmp_path / "b", with_spare)
    new = make_series(1.0)
    assert add_readings(tmp_path / "b", more.uid, new) == Added(0, len(new), 0, 0)
    again, _ = read(tmp_path / "b")
    assert again.setting.series[more.uid] == new
    named = {**with_spare.setting.series, more.uid: new}
    write_folder(tmp_path / "anew", make_evidence(probes=with_spare.setting.probes, series=named))
    assert files(tmp_path / "b") == files(tmp_path / "anew")
    found = frictionless.validate(str(tmp_path / "b" / "datapackage.json"))  # an independent reader of the standard
    assert found.valid, found.flatten(["message"])


def test_what_others_wrote_into_the_descriptor_stays(tmp_path: Path) -> None:
    write_folder(tmp_path / "b", make_evidence(series={}))
    path = tmp_path / "b" / "datapackage.json"
    package = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({"keywords": ["ours"], **package}), encoding="utf-8")
    add_readings(path, "p1", make_series(1.0))
    assert json.loads(path.read_text(encoding="utf-8"))["keywords"] == ["ours"]
    assert readings_files(path) == readings_files(tmp_path / "b") == {"p1": "readings_p1.csv"}


def test_files_that_are_not_of_the_folder_are_left_alone(spring: Path) -> None:
    (spring / "hens.jpg").write_bytes(b"picture")
    add_readings(spring, "p1", series((SET_AT + 11 * 86_400, 37.4, 0.5)))
    assert (spring / "hens.jpg").read_bytes() == b"picture"


def test_nothing_new_writes_nothing(spring: Path) -> None:
    before = {path.name: path.stat().st_mtime_ns for path in spring.iterdir()}
    said = add_readings(spring, "p1", make_evidence().setting.series["p1"])
    assert not said.changed
    assert said.same == len(make_series())
    assert {path.name: path.stat().st_mtime_ns for path in spring.iterdir()} == before


@pytest.mark.parametrize("failing", ["os.fsync", "pathlib.Path.replace"])
def test_a_disk_that_fails_leaves_the_folder_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failing: str
) -> None:
    write_folder(tmp_path / "b", make_evidence(series={"display": make_series(1.0)}))
    before = files(tmp_path / "b")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(failing, full)
    with pytest.raises(OSError, match="No space left"):
        add_all(tmp_path / "b", {"display": make_series(2.0), "p1": make_series(1.0)})
    monkeypatch.undo()
    assert files(tmp_path / "b") == before


def test_a_descriptor_that_cannot_be_put_in_place_takes_the_new_file_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path / "b", make_evidence(series={}))
    before = files(tmp_path / "b")
    replace = Path.replace

    def but_descriptor(self: Path, target: Path) -> Path:
        if target.name == "datapackage.json":
            raise OSError(13, "Permission denied")
        return replace(self, target)

    monkeypatch.setattr(Path, "replace", but_descriptor)
    with pytest.raises(OSError, match="Permission denied"):
        add_readings(tmp_path / "b", "p1", make_series(1.0))
    assert files(tmp_path / "b") == before


def test_what_cannot_be_added_is_refused_and_nothing_has_changed(spring: Path, tmp_path: Path) -> None:
    before = files(spring)
    with pytest.raises(FolderError, match=r"probes\.csv: no such probe; given: 'p9'; allowed: display, p1"):
        add_all(spring, {"p1": series((SET_AT - 9, 37.0, 0.5)), "p9": make_series(1.0)})
    with pytest.raises(FolderError, match="not a finite number"):
        add_all(spring, {"display": series((SET_AT - 9, 37.0, 0.5)), "p1": series((SET_AT - 5, np.inf, 0.5))})
    with pytest.raises(FolderError, match="outside what can be true"):
        add_readings(spring, "p1", series((-5, 37.0, 0.5)))
    assert files(spring) == before
    write_zip(tmp_path / "spring.zip", make_evidence())
    with pytest.raises(FolderError, match="an open batch folder, unpacked"):
        add_readings(tmp_path / "spring.zip", "p1", make_series(1.0))


def test_a_folder_with_a_wrong_cell_is_refused_before_anything_is_written(spring: Path) -> None:
    eggs = spring / "eggs.csv"
    eggs.write_text(eggs.read_text(encoding="utf-8").replace("56.5", "wide", 1), encoding="utf-8")
    before = files(spring)
    with pytest.raises(FolderError, match=r"eggs\.csv, row 2, field 'length_mm'"):
        add_readings(spring, "p1", series((SET_AT - 9, 37.0, 0.5)))
    assert files(spring) == before


def test_a_file_that_belongs_to_another_probe_is_not_written_over(tmp_path: Path) -> None:
    write_folder(tmp_path / "b", make_evidence(series={"display": make_series(1.0)}))
    package = tmp_path / "b" / "datapackage.json"
    text = package.read_text(encoding="utf-8").replace("readings_display", "readings_p1")
    package.write_text(text, encoding="utf-8")
    shutil.move(tmp_path / "b" / "readings_display.csv", tmp_path / "b" / "readings_p1.csv")
    assert readings_files(package) == {"display": "readings_p1.csv"}
    with pytest.raises(FolderError, match="holds the readings of another probe"):
        add_readings(tmp_path / "b", "p1", make_series(1.0))
    assert add_readings(tmp_path / "b", "display", make_series(2.0)).added == 144
