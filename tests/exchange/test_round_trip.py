"""What is written is read again without loss: random batches, folder and zip, and an independent reader of the standard."""

import io
import json
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chalaza.errors import FolderError
from chalaza.exchange import left_out, read, read_folder, read_zip, write_folder, write_zip
from chalaza.exchange.cells import FORMULA_RULE, FORMULA_STARTS, unguarded
from chalaza.values.beliefs import Belief, Beliefs, Shape
from chalaza.values.evidence import Evidence, Note, Series
from factory import beliefses, evidences, make_evidence


def _zipped(evidence: Evidence, beliefs: Beliefs | None = None) -> io.BytesIO:
    file = io.BytesIO()
    write_zip(file, evidence, beliefs)
    return file


def _bits(series: Series) -> tuple[bytes, bytes, bytes]:
    """The columns to the last bit; every NaN is the same missing figure."""
    temp, rh = (np.where(np.isnan(column), np.float32(np.nan), column) for column in (series.temp_degc, series.rh))
    return series.t.tobytes(), temp.tobytes(), rh.tobytes()


@given(evidence=evidences(), beliefs=st.none() | beliefses())
def test_any_batch_comes_back_from_a_zip_as_it_was(evidence: Evidence, beliefs: Beliefs | None) -> None:
    again, believed = read_zip(_zipped(evidence, beliefs))
    assert again == evidence
    assert believed == beliefs
    wanted = {probe: _bits(series) for probe, series in evidence.setting.series.items()}
    assert {probe: _bits(series) for probe, series in again.setting.series.items()} == wanted


@given(evidence=evidences(), beliefs=st.none() | beliefses())
def test_any_batch_comes_back_from_a_folder_as_it_was(
    evidence: Evidence, beliefs: Beliefs | None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("folder") / "batch"
    write_folder(path, evidence, beliefs)
    assert read_folder(path) == (evidence, beliefs)
    assert left_out(path) == ()


@given(evidence=evidences(), beliefs=beliefses())
def test_the_same_batch_gives_the_same_bytes(evidence: Evidence, beliefs: Beliefs) -> None:
    once = _zipped(evidence, beliefs).getvalue()
    assert _zipped(*read_zip(io.BytesIO(once))).getvalue() == once


def test_numbers_of_beliefs_keep_their_last_bit() -> None:
    third = Belief(shape=Shape.NORMAL, a=1.0 / 3.0, b=5e-324, unit="1")
    other = Belief(shape=Shape.BETA, a=0.1 + 0.2, b=1e300, unit="1")
    one, two = ("kind:chicken", "pace"), ("probe:p1", "offset")
    beliefs = Beliefs({one: third, two: other}, {(one, two): -0.1 - 0.2})
    _, again = read_zip(_zipped(make_evidence(), beliefs))
    assert again is not None
    assert (again[one].a, again[one].b, again[two].a, again[two].b) == (1.0 / 3.0, 5e-324, 0.1 + 0.2, 1e300)
    assert dict(again.correlations) == {(one, two): -0.1 - 0.2}


def test_no_beliefs_and_beliefs_about_nothing_are_told_apart() -> None:
    assert read_zip(_zipped(make_evidence(), None))[1] is None
    assert read_zip(_zipped(make_evidence(), Beliefs({})))[1] == Beliefs({})


def test_read_finds_out_whether_it_is_a_folder_its_descriptor_or_a_zip(tmp_path: Path) -> None:
    evidence = make_evidence()
    write_folder(tmp_path / "batch", evidence)
    write_zip(tmp_path / "batch.zip", evidence)
    places = [tmp_path / "batch", str(tmp_path / "batch" / "datapackage.json"), tmp_path / "batch.zip"]
    assert [read(place) for place in places] == [(evidence, None)] * 3
    with open(tmp_path / "batch.zip", "rb") as file:
        assert read(file) == (evidence, None)


def _faults(path: Path) -> list[list[object]]:
    """What the library of the standard says of a folder: table, row, column, kind of fault."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # deprecations within the library
        import frictionless

        report = frictionless.validate(str(path / "datapackage.json"))
    return [[task.name, *row] for task in report.tasks for row in task.flatten(["rowNumber", "fieldName", "type"])]


# Frictionless Data Package and Table Schema, through the reference library of the standard (frictionless 5).
@pytest.mark.parametrize("start", ["", *FORMULA_STARTS])
def test_the_library_of_the_standard_finds_the_folder_sound_and_reads_the_same_words(
    tmp_path: Path, start: str
) -> None:
    text = f'{start}so, "they"\nsaid'
    evidence = make_evidence(notes=(Note(uid=f"{start.strip()}n1", at=1_772_352_000, text=text),))
    beliefs = Beliefs({})
    write_folder(tmp_path / "batch", evidence, beliefs)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # deprecations within the library
        import frictionless

        package = frictionless.Package(str(tmp_path / "batch" / "datapackage.json"))
        note = package.get_resource("notes").read_rows()[0].to_dict()
        readings = package.get_resource("readings_p1").read_rows()
        assert len(package.resources) == 19
    assert _faults(tmp_path / "batch") == []
    assert (unguarded(note["uid"]), unguarded(note["text"])) == (f"{start.strip()}n1", text)
    assert note["at"].timestamp() == 1_772_352_000
    series = evidence.setting.series["p1"]
    assert [row["at"].timestamp() for row in readings] == series.t.tolist()
    assert np.array([row["temp_degc"] for row in readings], np.float32).tobytes() == series.temp_degc.tobytes()


@settings(max_examples=12)  # the library takes 0.2 s a folder
@given(evidence=evidences(), beliefs=beliefses())
def test_the_library_of_the_standard_finds_any_batch_sound(
    evidence: Evidence, beliefs: Beliefs, tmp_path_factory: pytest.TempPathFactory
) -> None:
    path = tmp_path_factory.mktemp("folder") / "batch"
    write_folder(path, evidence, beliefs)
    assert _faults(path) == []


@pytest.mark.parametrize(
    ("file", "old", "new", "fault"),
    [
        ("eggs.csv", "e2,2,l1", "e2,2,l9", ["eggs", 3, None, "foreign-key"]),
        ("eggs.csv", "56.5", "560.5", ["eggs", 2, "length_mm", "constraint-error"]),
        ("eggs.csv", "e2,2,", "e1,2,", ["eggs", 3, None, "primary-key"]),
        ("probes.csv", "digital", "metal", ["probes", 3, "sort", "constraint-error"]),
        ("weighings.csv", "2026-03-01T08:00:00Z", "yesterday", ["weighings", 2, "at", "type-error"]),
        ("batch.csv", "spring,Spring", "spring,", ["batch", 2, "name", "constraint-error"]),
    ],
)
def test_the_library_of_the_standard_finds_the_faults_that_we_find(
    tmp_path: Path, file: str, old: str, new: str, fault: list[object]
) -> None:
    write_folder(tmp_path / "batch", make_evidence())
    path = tmp_path / "batch" / file
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), "utf-8")
    assert _faults(tmp_path / "batch")[0] == fault
    with pytest.raises(FolderError) as caught:
        read(tmp_path / "batch")
    assert (caught.value.file, caught.value.row) == (file, fault[1])


def test_the_descriptor_says_how_text_is_guarded_and_which_version_it_is(tmp_path: Path) -> None:
    write_folder(tmp_path / "batch", make_evidence())
    package = json.loads((tmp_path / "batch" / "datapackage.json").read_text("utf-8"))
    assert package["formula_rule"] == FORMULA_RULE
    assert package["format_version"] == 1
    assert "created" not in package
    assert package["title"] == "Spring"
