"""Wrong folders are refused with file, row, field, what was given and what is allowed; foreign but sound ones are read."""

import json
import os
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from chalaza.errors import FolderError
from chalaza.exchange import FolderErrors, left_out, read, read_folder, read_zip, write_folder
from exchange.files import packed, spoiled, texts
from factory import SET_AT, make_evidence

_UID = "text without blanks, up to 100 characters, once in this file"
_MOMENT = "moment between 1970 and 2100 in whole seconds with its zone, like 2026-03-01T08:00:00Z"


@pytest.mark.parametrize(
    ("file", "old", "new", "message"),
    [
        # one cell
        (
            "eggs.csv",
            "56.5",
            "565",
            "eggs.csv, row 2, field 'length_mm': outside what can be true; given: '565'; "
            "allowed: number from 8 to 200 mm, dot as decimal sign, or empty",
        ),
        ("eggs.csv", "56.5", "nan", "row 2, field 'length_mm': not a number with a dot as decimal sign; given: 'nan'"),
        ("eggs.csv", "56.5", "inf", "row 2, field 'length_mm': not a number with a dot as decimal sign; given: 'inf'"),
        ("eggs.csv", "56.5", '"56,5"', "row 2, field 'length_mm': not a number with a dot as decimal sign"),
        ("eggs.csv", "56.5", "1_0", "row 2, field 'length_mm': not a number with a dot as decimal sign"),
        ("eggs.csv", "56.5", "٥٦", "row 2, field 'length_mm': not a number with a dot as decimal sign"),
        ("eggs.csv", "e1,1,l1,1,", "e1,1,l1,1.5,", "row 2, field 'count': not a whole number; given: '1.5'"),
        (
            "eggs.csv",
            "e1,1,",
            "e 1,1,",
            f"row 2, field 'uid': not a name without blanks; given: 'e 1'; allowed: {_UID}",
        ),
        ("eggs.csv", "e1,1,", ",1,", f"row 2, field 'uid': is empty; given: ''; allowed: {_UID}"),
        ("eggs.csv", "e1,1,", "e1,1\0,", "eggs.csv, row 2, field 'label': holds a NUL character"),
        ("eggs.csv", "e1,1,", f"e1,{'x' * 100_001},", "row 2, field 'label': longer than 100000 characters"),
        (
            "machines.csv",
            "fan",
            "breeze",
            "machines.csv, row 2, field 'airflow': not one of the words allowed; given: 'breeze'; "
            "allowed: one of fan, still",
        ),
        ("machines.csv", "false", "perhaps", "field 'mapped': neither true nor false; given: 'perhaps'"),
        (
            "batch.csv",
            "2026-03-01T08:00:00Z",
            "2026-03-01T08:00:00",
            f"field 'set_at': not a moment in whole seconds with its zone; given: '2026-03-01T08:00:00'; "
            f"allowed: {_MOMENT}",
        ),
        ("batch.csv", "2026-03-01T08:00:00Z", "2026-02-30T08:00:00Z", "field 'set_at': no such day or hour"),
        (
            "batch.csv",
            "2026-03-01T08:00:00Z",
            "2026-03-01T08:00:00.5Z",
            "field 'set_at': not a moment in whole seconds",
        ),
        ("batch.csv", "2026-03-01T08:00:00Z", "1969-03-01T08:00:00Z", "field 'set_at': outside what can be true"),
        ("batch.csv", "Europe/Berlin", "Europe/Ys", "field 'zone': no such time zone; given: 'Europe/Ys'"),
        (
            "batch.csv",
            "Europe/Berlin",
            "../../etc/passwd",
            "field 'zone': no such time zone; given: '../../etc/passwd'",
        ),
        ("batch.csv", "Europe/Berlin", "Europe", "field 'zone': no such time zone; given: 'Europe'"),
        # the table
        (
            "eggs.csv",
            "label",
            "lable",
            "eggs.csv, row 1: no such column; given: 'lable'; allowed: uid, label, lot, count",
        ),
        ("eggs.csv", "label", "lable", "eggs.csv, row 1, field 'label': a column is missing; allowed: text"),
        ("eggs.csv", "label", "uid", "eggs.csv, row 1: a column twice; given: 'uid'"),
        ("eggs.csv", "e1,1,l1,", "e1,1,l1,,", "eggs.csv, row 2: more or fewer cells than columns; given: '11 cells'"),
        ("eggs.csv", "e1,1,", 'e1,"1"x,', "eggs.csv, row 2: not readable as CSV"),
        ("eggs.csv", "e12,12", 'e12,"12', "eggs.csv, row 13: not readable as CSV"),
        # rows against each other
        ("eggs.csv", "e2,2", "e1,2", "eggs.csv, row 3, field 'uid': the same name as row 2; given: 'e1'"),
        ("eggs.csv", "e2,2", "all,2", "eggs.csv, row 3, field 'uid': means all eggs in weighings.csv; given: 'all'"),
        (
            "eggs.csv",
            "e2,2,l1",
            "e2,2,l2",
            "eggs.csv, row 3, field 'lot': no such row in lots.csv; given: 'l2'; allowed: l1",
        ),
        (
            "weighings.csv",
            ",e2,",
            ",e2 e99,",
            "weighings.csv, row 3, field 'eggs': no such row in eggs.csv; given: 'e99'; "
            "allowed: e1, e2, e3, e4, e5, e6, e7, e8 and 4 more",
        ),
        (
            "air_cells.csv",
            "depth_mm\n",
            "depth_mm\na1,2026-03-01T08:00:00Z,e99,3.5\n",
            "air_cells.csv, row 2, field 'egg': no such row in eggs.csv; given: 'e99'",
        ),
        ("stays.csv", "s1,spring", "s1,autumn", "stays.csv, row 2, field 'batch': no such row in batch.csv"),
        (
            "stays.csv",
            "s1,spring,box,2026-03-01T08:00:00Z,",
            "s1,spring,box,2026-03-01T08:00:00Z,2026-03-01T07:00:00Z",
            "stays.csv, row 2, field 'end': earlier than 'start'; given: '2026-03-01T07:00:00Z'; "
            "allowed: 2026-03-01T08:00:00Z or later",
        ),
        (
            "stays.csv",
            "s1,spring,box,2026-03-01T08:00:00Z,",
            "s1,spring,box,2026-03-01T08:00:00Z,\ns2,spring,box,2026-03-05T08:00:00Z,",
            "stays.csv, row 3, field 'start': overlaps row 2 of the same batch; given: '2026-03-05T08:00:00Z'; "
            "allowed: after the other has ended",
        ),
        (
            "mounts.csv",
            "m2,p1,box,2026-02-28T08:00:00Z,",
            "m0,p1,,2026-02-27T08:00:00Z,2026-03-01T08:00:00Z,,\nm2,p1,box,2026-02-28T08:00:00Z,",
            "mounts.csv, row 4, field 'start': overlaps row 3 of the same probe; given: '2026-02-28T08:00:00Z'; "
            "allowed: 2026-03-01T08:00:00Z or later",
        ),
        (
            "place.csv",
            "shed,",
            "yard,Yard,0,,UTC\nshed,",
            "place.csv: not one row; given: '2 rows'; allowed: exactly one row",
        ),
        # readings
        (
            "readings_p1.csv",
            "2026-03-01T08:10:00Z,37.6",
            "2026-03-01T08:10:00Z,warm",
            "readings_p1.csv, row 3, field 'temp_degc': not a number with a dot as decimal sign; given: 'warm'",
        ),
        ("readings_p1.csv", "08:10:00Z,37.6,0.45", "08:10:00Z,,4.5.1", "row 3, field 'rh': not a number with a dot"),
        ("readings_p1.csv", "08:10:00Z,37.6", "08:10:00Z,4e38", "row 3, field 'temp_degc': too large a number"),
        ("readings_p1.csv", "08:10:00Z", "28:10:00Z", "row 3, field 'at': no such day or hour"),
        ("readings_p1.csv", "08:10:00Z", "08:10", "row 3, field 'at': not a moment in whole seconds with its zone"),
        (
            "readings_p1.csv",
            "2026-03-01T08:10:00Z",
            "2026-03-01T08:00:00Z",
            "readings_p1.csv, row 3, field 'at': not later than the row before; given: '2026-03-01T08:00:00Z'; "
            "allowed: later than 2026-03-01T08:00:00Z",
        ),
        ("readings_p1.csv", "08:10:00Z,37.6", "08:10:00Z,37.6,1", "row 3: more or fewer cells than columns"),
        ("readings_p1.csv", "rh", "humidity", "row 1: no such column; given: 'humidity'; allowed: at, temp_degc, rh"),
        ("readings_p1.csv", "rh", "at", "readings_p1.csv, row 1: a column twice; given: 'at'"),
        ("readings_p1.csv", "at,temp_degc,rh", "temp_degc,rh", "row 1, field 'at': a column is missing"),
        # beliefs
        ("beliefs.csv", "normal", "guess", "beliefs.csv, row 2, field 'shape': not one of the words allowed"),
        ("beliefs.csv", "normal,0.0,0.5", "normal,0.0,-0.5", "row 2, field 'b': a spread cannot be negative"),
        ("beliefs.csv", "beta,3.0", "beta,0", "beliefs.csv, row 3, field 'a': counts of a Beta must be positive"),
        (
            "beliefs.csv",
            "b2,probe:p1,offset",
            "b2,kind:chicken,pace",
            "row 3, field 'quantity': a second belief about it",
        ),
        (
            "beliefs.csv",
            "correlation,0.25",
            "correlation,1.25",
            "row 4, field 'a': outside what can be true; given: '1.25'",
        ),
        (
            "beliefs.csv",
            "probe:p1,offset\n",
            "probe:p2,offset\n",
            "row 4, field 'with_subject': a correlation with a belief",
        ),
        (
            "beliefs.csv",
            "log,published,,,",
            "log,published,,x,y",
            "row 2, field 'with_subject': only a correlation speaks",
        ),
        (
            "beliefs.csv",
            "c1,",
            "c0,probe:p1,offset,correlation,0.5,0,1,,,,kind:chicken,pace\nc1,",
            "beliefs.csv, row 5, field 'subject': a second correlation of the same two",
        ),
        ("beliefs.csv", "normal,0.0", "normal,1e999", "row 2, field 'a': too large a number"),
    ],
)
def test_an_error_names_file_row_field_given_and_allowed(file: str, old: str, new: str, message: str) -> None:
    with pytest.raises(FolderError) as caught:
        read_zip(spoiled(file, old, new))
    assert message in str(caught.value)
    assert caught.value.file == file


def test_an_error_carries_its_parts() -> None:
    with pytest.raises(FolderError) as caught:
        read_zip(spoiled("eggs.csv", "56.5", "565"))
    error = caught.value
    assert (error.file, error.row, error.field, error.given) == ("eggs.csv", 2, "length_mm", "565")
    assert error.allowed == "number from 8 to 200 mm, dot as decimal sign, or empty"


def test_a_reference_into_a_table_without_rows_says_so() -> None:
    files = texts()
    files["lots.csv"] = files["lots.csv"].splitlines()[0]
    with pytest.raises(FolderErrors, match="given: 'l1'; allowed: none, for that file has no rows"):
        read_zip(packed(files))


def test_several_faults_are_told_together_one_a_line() -> None:
    files = texts()
    files["eggs.csv"] = files["eggs.csv"].replace("56.5", "565", 2)
    files["lots.csv"] = files["lots.csv"].replace("own", "stolen")
    with pytest.raises(FolderErrors) as caught:
        read_zip(packed(files))
    lines = str(caught.value).splitlines()
    assert [line.split(":")[0] for line in lines] == [
        "lots.csv, row 2, field 'origin'",
        "eggs.csv, row 2, field 'length_mm'",
        "eggs.csv, row 3, field 'length_mm'",
    ]
    assert [problem.row for problem in caught.value.problems] == [2, 2, 3]


def test_no_more_than_twenty_faults_are_told() -> None:
    files = texts()
    files["weighings.csv"] = files["weighings.csv"].replace("Z,e", "Z,x")
    with pytest.raises(FolderErrors) as caught:
        read_zip(packed(files))
    assert len(caught.value.problems) == 20
    assert str(caught.value).splitlines()[-1] == "There may be more: the first 20 are listed."


def test_rows_are_counted_as_a_spreadsheet_does() -> None:
    text = '"two\nlines",'
    with pytest.raises(FolderError, match=r"eggs\.csv, row 4, field 'length_mm'"):
        read_zip(spoiled("eggs.csv", "e1,1,l1,1,56.5,43.0", f"e0,{text}l1,1,,43.0,light,,,\n\ne1,1,l1,1,565,43.0"))


def test_text_that_is_not_utf8_is_refused_with_its_row() -> None:
    files: dict[str, Any] = texts()
    files["eggs.csv"] = files["eggs.csv"].encode().replace(b"e2,2", b"e2,\xe9")
    with pytest.raises(FolderError, match=r"eggs\.csv, row 3: not UTF-8 text; given: 'e9'; allowed: UTF-8"):
        read_zip(packed(files))


def test_an_empty_table_file_lacks_its_columns() -> None:
    with pytest.raises(FolderError, match=r"lots\.csv, row 1, field 'uid': a column is missing"):
        read_zip(packed({**texts(), "lots.csv": ""}))


def _package(change: Any) -> Any:
    files = texts()
    package = json.loads(files["datapackage.json"])
    change(package)
    return packed({**files, "datapackage.json": json.dumps(package)})


def _set(table: str, **values: Any) -> Any:
    def change(package: Any) -> None:
        next(resource for resource in package["resources"] if resource["name"] == table).update(values)

    return change


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (_set("eggs", path="../eggs.csv"), "field 'path': a path that leads out of the folder; given: '../eggs.csv'"),
        (_set("eggs", path="/etc/passwd"), "field 'path': a path that leads out of the folder; given: '/etc/passwd'"),
        (_set("eggs", path="C:eggs.csv"), "field 'path': a path that leads out of the folder"),
        (_set("eggs", path="\\\\host\\eggs.csv"), "field 'path': a path that leads out of the folder"),
        (_set("eggs", path="https://eggs.test/eggs.csv"), "field 'path': a path that leads out of the folder"),
        (_set("eggs", path="file:///etc/passwd"), "field 'path': a path that leads out of the folder"),
        (_set("eggs", path="data/eggs.csv"), "field 'path': a path into another folder"),
        (_set("eggs", path=["eggs.csv", "more.csv"]), "field 'path': not the path of one file"),
        (_set("eggs", path=None, data=[]), "field 'path': not the path of one file; given: 'null'"),
        (_set("eggs", path="datapackage.json"), "field 'path': no file of this format"),
        (_set("eggs", path="hens.csv", name="hens"), "field 'path': no file of this format; given: 'hens.csv'"),
        (_set("eggs", name="hens"), "field 'name': not the name of its file; given: 'hens'; allowed: eggs"),
        (
            _set("eggs", encoding="latin-1"),
            "field 'encoding': a table in another form; given: 'latin-1'; allowed: utf-8",
        ),
        (_set("eggs", compression="gz"), "field 'compression': a table in another form; given: 'gz'; allowed: none"),
        (
            _set("eggs", dialect={"delimiter": ";"}),
            "field 'delimiter': a table in another form; given: ';'; allowed: ,",
        ),
        (_set("eggs", schema={"missingValues": ["", "NA"]}), "field 'missingValues': a table in another form"),
        (
            _set("readings_p1", probe=7),
            "field 'probe': names no probe; given: '7'; allowed: uid of a row of probes.csv",
        ),
        (_set("readings_p1", probe="display"), "field 'resources': named twice; given: 'display'"),
        (lambda package: package.update(format_version=2), "another version of the folder; given: '2'; allowed: 1"),
        (lambda package: package.update(resources=[]), "field 'resources': names no files"),
        (lambda package: package.update(resources=["eggs.csv"]), "field 'resources': not a resource"),
        (lambda package: package["resources"].append(package["resources"][0]), "named twice; given: 'batch'"),
    ],
)
def test_a_descriptor_may_name_only_plain_tables_beside_it(change: Any, message: str) -> None:
    with pytest.raises(FolderError) as caught:
        read_zip(_package(change))
    assert str(caught.value).startswith("datapackage.json, ")
    assert message in str(caught.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("{", "datapackage.json: not readable as JSON"),
        ("[" * 100_000, "datapackage.json: not readable as JSON"),
        ("[]", "datapackage.json: not a data package; allowed: a JSON object with resources"),
        (" " * 4_000_001, "datapackage.json: too long; allowed: 4,000,000 bytes"),
    ],
)
def test_what_is_no_descriptor_is_refused(tmp_path: Path, text: str, message: str) -> None:
    (tmp_path / "datapackage.json").write_text(text)
    with pytest.raises(FolderError) as caught:
        read(tmp_path)
    assert message in str(caught.value)


def test_readings_of_a_probe_that_is_not_there_are_refused() -> None:
    with pytest.raises(
        FolderError, match=r"readings_p1\.csv: readings of a probe that is not in probes\.csv; given: 'p9'"
    ):
        read_zip(_package(_set("readings_p1", probe="p9")))


def test_a_table_that_is_named_and_missing_or_there_and_not_named_is_refused() -> None:
    files = texts()
    del files["eggs.csv"]
    with pytest.raises(FolderError, match=r"eggs\.csv: named in datapackage\.json and missing"):
        read_zip(packed(files))
    with pytest.raises(FolderError, match=r"eggs\.csv: not named in datapackage\.json, so not read"):
        read_zip(_package(lambda package: package["resources"].pop(9)))


def test_a_folder_without_descriptor_batch_or_place_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FolderError, match=r"datapackage\.json: is missing; allowed: a data package"):
        read_folder(tmp_path)
    with pytest.raises(FolderError, match="cannot be opened"):
        read_folder(tmp_path / "nowhere")
    (tmp_path / "datapackage.json").write_text('{"resources": [{"name": "notes", "path": "notes.csv"}]}')
    (tmp_path / "notes.csv").write_text("uid,at,text\n")
    with pytest.raises(FolderError, match=r"batch\.csv: not named in datapackage\.json; allowed: exactly one row"):
        read_folder(tmp_path)


def test_a_folder_made_by_hand_is_read(tmp_path: Path) -> None:
    """The least one may write: three tables and readings, columns in any order, zones as offsets, endings of any editor."""
    tables = {
        "batch": "kind,name,uid,set_at\r\nchicken,Spring,a,2026-03-01T09:00+01:00\r\n",
        "place": "\ufeffuid,name,altitude_m\nhome,Home,+1.2e2\n\n",
        "probes": "uid,name,sort,controls\nP 1,Grey,digital,TRUE\n".replace("P 1", "P1"),
        "readings_P1": "rh,at\n,2026-03-01 08:00:00Z\n0.45,2026-03-01T10:00:00+0100\n",
    }
    resources = [{"name": name, "path": f"{name}.csv"} for name in tables]
    (tmp_path / "datapackage.json").write_text(json.dumps({"resources": resources}))
    for name, text in tables.items():
        (tmp_path / f"{name}.csv").write_bytes(text.encode())
    (tmp_path / "egg.jpg").write_bytes(b"\xff\xd8")
    evidence, beliefs = read(tmp_path)
    assert (evidence.batch.set_at, evidence.batch.zone) == (SET_AT, "UTC")
    assert evidence.setting.place.altitude_m == 120.0
    assert evidence.setting.probes[0].controls is True
    assert evidence.setting.series["P1"].t.tolist() == [SET_AT, SET_AT + 3600]
    assert np.array_equal(evidence.setting.series["P1"].rh, np.array([np.nan, 0.45], np.float32), equal_nan=True)
    assert evidence.eggs == ()
    assert beliefs is None
    assert left_out(tmp_path) == ("egg.jpg",)


def test_readings_that_cannot_be_true_are_kept_for_the_assessment_to_set_aside() -> None:
    evidence, _ = read_zip(
        spoiled("readings_p1.csv", "2026-03-01T08:10:00Z,37.6,0.45", "2026-03-01T08:10:00Z,150,-1.5")
    )
    series = evidence.setting.series["p1"]
    assert (series.temp_degc[1], series.rh[1]) == (150.0, -1.5)


def test_links_and_other_things_than_files_are_not_followed(tmp_path: Path) -> None:
    write_folder(tmp_path / "batch", make_evidence())
    eggs = tmp_path / "batch" / "eggs.csv"
    eggs.rename(tmp_path / "eggs.csv")
    eggs.symlink_to(tmp_path / "eggs.csv")
    with pytest.raises(FolderError, match=r"eggs\.csv: a link; allowed: a plain file in the folder"):
        read_folder(tmp_path / "batch")
    eggs.unlink()
    eggs.mkdir()
    with pytest.raises(FolderError, match=r"eggs\.csv: (not a plain file|cannot be opened)"):
        read_folder(tmp_path / "batch")
    eggs.rmdir()
    os.mkfifo(eggs)
    with pytest.raises(FolderError, match=r"eggs\.csv: not a plain file"):
        read_folder(tmp_path / "batch")
