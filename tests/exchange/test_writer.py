"""A folder or zip is whole or not there; nothing is written that could not be read again."""

import io
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest

from chalaza.errors import FolderError
from chalaza.exchange import FolderErrors, read_folder, read_zip, write_folder, write_zip
from chalaza.exchange.package import is_known, slug
from chalaza.exchange.schema import BELIEFS, TABLES
from chalaza.values.beliefs import Belief, Beliefs, Shape
from chalaza.values.evidence import Event, EventSort, Evidence, Note, Probe, ProbeSort
from factory import SET_AT, make_evidence, make_series

EVIDENCE = make_evidence()


def test_a_folder_holds_every_table_also_the_empty_ones(tmp_path: Path) -> None:
    write_folder(tmp_path / "batch", EVIDENCE, Beliefs({}))
    names = {path.name for path in (tmp_path / "batch").iterdir()}
    tables = {table.file for table in (*TABLES.values(), BELIEFS)}
    assert names == {"datapackage.json", "readings_display.csv", "readings_p1.csv", *tables}
    assert (tmp_path / "batch" / "notes.csv").read_bytes() == b"uid,at,text\n"


def test_files_are_utf8_with_line_feeds(tmp_path: Path) -> None:
    write_folder(tmp_path / "batch", make_evidence(notes=(Note(uid="n", at=SET_AT, text="Käse, „gut“"),)))
    text = (tmp_path / "batch" / "notes.csv").read_bytes()
    assert text == 'uid,at,text\nn,2026-03-01T08:00:00Z,"Käse, „gut“"\n'.encode()


def test_a_folder_is_written_into_an_empty_one_and_over_nothing_else(tmp_path: Path) -> None:
    goal = tmp_path / "batch"
    goal.mkdir()
    write_folder(goal, EVIDENCE)
    with pytest.raises(FolderError, match="something is there already"):
        write_folder(goal, EVIDENCE)
    (tmp_path / "file").write_text("mine")
    with pytest.raises(FolderError, match="something is there already"):
        write_folder(tmp_path / "file", EVIDENCE)
    assert (tmp_path / "file").read_text() == "mine"
    assert read_folder(goal)[0] == EVIDENCE


def test_a_zip_replaces_the_file_that_was_there(tmp_path: Path) -> None:
    goal = tmp_path / "deep" / "batch.zip"
    write_zip(goal, make_evidence(notes=(Note(uid="n", at=SET_AT, text="old"),)))
    write_zip(goal, EVIDENCE)
    assert read_zip(goal)[0] == EVIDENCE
    assert [path.name for path in goal.parent.iterdir()] == ["batch.zip"]


def _endless() -> Evidence:
    """Sound but for one reading, which is found only after the tables were written."""
    series = make_series(1.0)
    series.temp_degc[-1] = float("inf")
    return make_evidence(series={"p1": series})


def test_nothing_is_left_behind_when_writing_fails(tmp_path: Path) -> None:
    (tmp_path / "batch.zip").write_text("old")
    with pytest.raises(FolderError, match="not a finite number"):
        write_folder(tmp_path / "batch", _endless())
    with pytest.raises(FolderError, match="not a finite number"):
        write_zip(tmp_path / "batch.zip", _endless())
    assert [path.name for path in tmp_path.iterdir()] == ["batch.zip"]
    assert (tmp_path / "batch.zip").read_text() == "old"


def test_what_packs_too_well_for_a_careful_reader_is_stored() -> None:
    notes = tuple(Note(uid=f"n{number}", at=SET_AT, text="a" * 90_000) for number in range(400))
    evidence = make_evidence(notes=notes, series={})
    file = io.BytesIO()
    write_zip(file, evidence)
    with zipfile.ZipFile(file) as archive:
        assert {member.compress_type for member in archive.infolist()} == {zipfile.ZIP_STORED}
    assert read_zip(file)[0] == evidence


def test_members_of_a_zip_carry_no_time_and_no_owner() -> None:
    file = io.BytesIO()
    write_zip(file, EVIDENCE)
    with zipfile.ZipFile(file) as archive:
        assert {member.date_time for member in archive.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        assert {member.external_attr >> 16 for member in archive.infolist()} == {0o100644}


def _refused(evidence: Evidence, beliefs: Beliefs | None = None) -> str:
    with pytest.raises(FolderError) as caught:
        write_zip(io.BytesIO(), evidence, beliefs)
    return str(caught.value)


def test_evidence_that_could_not_be_read_again_is_refused_with_its_place() -> None:
    egg = EVIDENCE.eggs[1]
    assert "eggs.csv, row 3, field 'length_mm': outside what can be true; given: '500.0'" in _refused(
        make_evidence(eggs=(EVIDENCE.eggs[0], replace(egg, length_mm=500.0), *EVIDENCE.eggs[2:]))
    )
    assert "weighings.csv, row 2, field 'eggs': no such row in eggs.csv; given: 'e1'" in _refused(
        make_evidence(eggs=EVIDENCE.eggs[1:], candlings=())
    )
    assert "stays.csv, row 3, field 'start': overlaps row 2 of the same batch" in _refused(
        make_evidence(stays=(EVIDENCE.stays[0], replace(EVIDENCE.stays[0], uid="s2", start=SET_AT + 60)))
    )
    assert "readings_x9.csv: readings of a probe that is not in probes.csv; given: 'x9'" in _refused(
        make_evidence(series={"x9": make_series(0.1)})
    )
    assert "beliefs.csv, row 2, field 'a': not a number with a dot as decimal sign; given: 'nan'" in _refused(
        EVIDENCE, Beliefs({("a", "b"): Belief(shape=Shape.FIXED, a=float("nan"), b=0.0, unit="1")})
    )


def test_sources_of_a_belief_that_would_run_together_are_refused() -> None:
    belief = Belief(shape=Shape.FIXED, a=1.0, b=0.0, unit="1", sources=("two words",))
    assert "beliefs.csv, row 2, field 'sources'" in _refused(EVIDENCE, Beliefs({("a", "b"): belief}))


def test_events_belong_to_the_machine_they_name() -> None:
    event = Event(uid="x", at=SET_AT, sort=EventSort.LID)
    assert "events.csv, row 2, field 'machine': an event of a machine belongs to the setting" in _refused(
        make_evidence(machine_events=(event,))
    )
    assert "given: 'box'" in _refused(make_evidence(events=(replace(event, machine="box"),)))


def test_all_faults_are_told_before_anything_is_written(tmp_path: Path) -> None:
    eggs = tuple(replace(egg, breadth_mm=1.0) for egg in EVIDENCE.eggs)
    with pytest.raises(FolderErrors) as caught:
        write_folder(tmp_path / "batch", make_evidence(eggs=eggs))
    assert [problem.row for problem in caught.value.problems] == list(range(2, 14))
    assert list(tmp_path.iterdir()) == []


def test_probes_whose_names_differ_only_in_capitals_or_odd_marks_get_files_of_their_own() -> None:
    uids = ["p1", "P1", "p.1", "p-1", "../p1", "p/1", "=p1", "ü", "中", "con", "x" * 100, "X" * 100]
    files = [f"readings_{slug(uid)}.csv" for uid in uids]
    assert len({file.lower() for file in files}) == len(uids)
    assert all(is_known(file) for file in files)
    probes = tuple(Probe(uid=uid, name=uid, sort=ProbeSort.DIGITAL) for uid in uids)
    series = {uid: make_series(0.05, temp_degc=30.0 + number) for number, uid in enumerate(uids)}
    evidence = make_evidence(setting=replace(EVIDENCE.setting, probes=probes, mounts=(), checks=(), series=series))
    file = io.BytesIO()
    write_zip(file, evidence)
    assert read_zip(file)[0] == evidence


@pytest.mark.parametrize(
    ("limit", "problem"),
    [("MAX_ROWS", "too many rows"), ("MAX_READINGS", "too many readings"), ("MAX_BYTES", "too many bytes")],
)
def test_no_more_is_written_than_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limit: str, problem: str
) -> None:
    monkeypatch.setattr(f"chalaza.exchange.writer.{limit}", 50)
    assert _refused(EVIDENCE).startswith(problem)
    with pytest.raises(FolderError, match=problem):
        write_folder(tmp_path / "batch", EVIDENCE)
    assert list(tmp_path.iterdir()) == []


def test_more_probes_than_a_zip_may_hold_go_into_a_folder(tmp_path: Path) -> None:
    probes = tuple(Probe(uid=f"p{number}", name="p", sort=ProbeSort.DIGITAL) for number in range(100))
    series = {probe.uid: make_series(0.02) for probe in probes}
    evidence = make_evidence(setting=replace(EVIDENCE.setting, probes=probes, series=series, mounts=(), checks=()))
    assert _refused(evidence).startswith("too many files for a zip; given: '117'; allowed: 100; write a folder")
    write_folder(tmp_path / "batch", evidence)
    assert read_folder(tmp_path / "batch")[0] == evidence
