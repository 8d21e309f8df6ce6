"""`chalaza begin`: a batch folder out of nothing, what was taken and from whom, and a sentence for every mistake."""

import csv
import json
from datetime import datetime
from pathlib import Path

import pytest
from click.testing import Result
from tests.cli.helpers import process, run

from chalaza import facts
from chalaza.exchange import read
from chalaza.values.evidence import Airflow, Origin

SET = "2026-11-01 18:00"


def begin(folder: Path, *more: str, kind: str = "chicken", eggs: str = "24", at: str = SET, **env: str) -> Result:
    """The command in this process; the zone is Berlin unless another is among `more`."""
    zone = () if "--zone" in more else ("--zone", "Europe/Berlin")
    return run("begin", str(folder), "--kind", kind, "--eggs", eggs, "--set", at, *zone, *more, **env)


def flat(result: Result) -> str:
    """What was said, on one line."""
    return " ".join(result.output.split())


def test_the_folder_holds_what_was_said(tmp_path: Path) -> None:
    words = (
        "--name", "Speckled hens", "--airflow", "still", "--probe", "digital", "--height", "0.5in", "--altitude", "460ft",
        "--wanted", "15", "--parents", "yard flock", "--laid", "2026-10-24..2026-10-30", "--posted",
    )  # fmt: skip
    result = begin(tmp_path / "spring", *words, kind="hen")
    assert result.exit_code == 0, result.output
    evidence, beliefs = read(tmp_path / "spring")
    assert beliefs is None
    batch = evidence.batch
    assert (batch.uid, batch.name, batch.kind) == ("spring", "Speckled hens", "chicken")
    assert (batch.zone, batch.wanted_young) == ("Europe/Berlin", 15)
    assert batch.set_at == datetime.fromisoformat("2026-11-01T17:00Z").timestamp()  # Berlin is one hour ahead in winter
    setting = evidence.setting
    assert setting.machines[0].airflow is Airflow.STILL
    assert setting.mounts[0].height_mm == pytest.approx(12.7)
    assert setting.place.altitude_m == pytest.approx(140.208)
    (lot,) = evidence.lots
    assert (lot.parents, lot.origin) == ("yard flock", Origin.POSTED)
    assert lot.laid_first == datetime.fromisoformat("2026-10-24T12:00+02:00").timestamp()
    assert lot.laid_last == datetime.fromisoformat("2026-10-30T12:00+01:00").timestamp()
    assert [egg.label for egg in evidence.eggs] == [f"{row}{n}" for row in "ABCD" for n in range(1, 7)]
    assert evidence.stays[0].start == batch.set_at


def test_everything_taken_is_said_with_its_place_and_the_plans_with_their_sources(tmp_path: Path) -> None:
    result = begin(tmp_path / "spring")
    text = flat(result)
    for cell in (
        "batch.csv, planned_temp_degc", "batch.csv, planned_rh", "batch.csv, name", "place.csv, altitude_m",
        "machines.csv, airflow", "machines.csv, uid", "probes.csv, sort", "lots.csv, parents", "lots.csv, origin",
    ):  # fmt: skip
        assert f"[{cell}]" in text
    assert "batch.csv, zone" not in text
    kind = facts.kind("chicken")
    for band in (kind.temp_forced_degc, kind.rh_setting):
        for key in band.sources:
            source = facts.sources()[key]
            assert source.cite in text
    assert "37.5 °C (99.5 °F) is planned" in text
    assert text.count("That is a guess.") == 3


def test_what_was_said_is_not_said_to_be_taken(tmp_path: Path) -> None:
    words = (
        "--name",
        "x",
        "--airflow",
        "fan",
        "--probe",
        "display",
        "--altitude",
        "0",
        "--parents",
        "y",
        "--posted",
        "--box",
        "z",
    )
    found = json.loads(begin(tmp_path / "a", *words, "--laid", "2026-10-30", "--json").output)
    assert {row["column"] for row in found["taken"]} == {"planned_temp_degc", "planned_rh"}
    assert found["ask"] == []


def test_still_air_without_a_height_says_why_it_is_asked_for(tmp_path: Path) -> None:
    without = flat(begin(tmp_path / "a", "--airflow", "still"))
    assert "Measure how high the probe hangs over the egg tops. Still air is layered" in without
    assert "[mounts.csv, height_mm]" in without
    assert "Still air is layered" not in flat(begin(tmp_path / "b", "--airflow", "still", "--height", "5"))
    assert "Still air is layered" not in flat(begin(tmp_path / "c"))


def test_a_kind_with_nothing_published_for_still_air_is_given_no_plan(tmp_path: Path) -> None:
    result = begin(tmp_path / "a", "--airflow", "still", kind="pigeon")
    assert "No temperature is planned: for this kind in still air none is published." in flat(result)
    assert read(tmp_path / "a")[0].batch.planned_temp_degc is None


def test_it_ends_with_what_to_do_next(tmp_path: Path) -> None:
    result = begin(tmp_path / "my hens")
    lines = [line.strip() for line in result.output.splitlines()]
    assert f"chalaza read LOG --into '{tmp_path / 'my hens'}'" in lines
    assert f"chalaza assess '{tmp_path / 'my hens'}'" in lines
    assert "weighings.csv" in result.output


@pytest.mark.parametrize(
    ("kind", "words", "caution"),
    [
        ("chicken", ("--posted",), "During movement bans"),
        ("pheasant", (), "may need licences"),
        ("swan", (), "may need licences"),
        ("budgie", (), "need feeding by hand"),
        ("chicken", (), "Plan homes for the surplus males"),
    ],
)
def test_cautions_stand_where_the_act_is(tmp_path: Path, kind: str, words: tuple[str, ...], caution: str) -> None:
    text = flat(begin(tmp_path / "a", *words, kind=kind))
    assert caution in text
    assert "This program informs; it does not permit." in text


def test_every_table_can_be_filled_in_with_a_spreadsheet(tmp_path: Path) -> None:
    begin(tmp_path / "a")
    for path in sorted((tmp_path / "a").glob("*.csv")):
        with open(path, encoding="utf-8", newline="") as file:
            head, *rows = list(csv.reader(file))
        assert head[0] in ("uid", "at"), path.name
        assert all(len(row) == len(head) for row in rows)


@pytest.mark.parametrize(("eggs", "words", "said"), [
    ("1", (), "On the egg: A1."), ("24", (), "A1 to D6"), ("60", ("--counted",), "in one row of eggs.csv"),
])  # fmt: skip
def test_it_says_how_the_eggs_are_named(tmp_path: Path, eggs: str, words: tuple[str, ...], said: str) -> None:
    assert said in flat(begin(tmp_path / "a", *words, eggs=eggs))
    assert sum(egg.count for egg in read(tmp_path / "a")[0].eggs) == int(eggs)


def test_nothing_is_written_into_a_folder_that_holds_anything(tmp_path: Path) -> None:
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "photo.jpg").write_bytes(b"x")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    for name in ("full", "file"):
        result = begin(tmp_path / name)
        assert (result.exit_code, "Something is there already" in result.output) == (1, True)
    assert [path.name for path in (tmp_path / "full").iterdir()] == ["photo.jpg"]
    begin(tmp_path / "b")
    assert begin(tmp_path / "b").exit_code == 1
    (tmp_path / "empty").mkdir()
    assert begin(tmp_path / "empty").exit_code == 0


@pytest.mark.parametrize("name", [".", "..", ""])
def test_the_folder_one_stands_in_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    (tmp_path / "in").mkdir()
    monkeypatch.chdir(tmp_path / "in")
    result = run("begin", name, "--kind", "hen", "--eggs", "3", "--set", SET, "--zone", "UTC")
    assert (result.exit_code, "wants a folder of its own" in result.output) == (1, True)
    assert list((tmp_path / "in").iterdir()) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"at": "2026-10-25 02:30"}, "comes twice in Europe/Berlin"),
        ({"at": "2026-03-29 02:30"}, "does not exist in Europe/Berlin"),
        ({"at": "2026-11-01"}, "has no hour"),
        ({"kind": "chickn"}, "nearest: chicken"),
        ({"more": ("--zone", "Europe/Berlim")}, "nearest: Europe/Berlin"),
        ({"more": ("--wanted", "25")}, "25 young cannot come out of 24 eggs"),
        ({"more": ("--altitude", "high")}, "write it like 140m or 140ft"),
        ({"more": ("--altitude", "9000")}, "allowed: -430 to 5,500 m"),
        ({"more": ("--height", "2000")}, "allowed: -300 to 1,000 mm"),
        ({"more": ("--laid", "2026-11-02")}, "Laid on 2026-11-02 is after setting on 2026-11-01"),
        ({"more": ("--laid", "2026-08-01")}, "more than 60 days before setting"),
        ({"more": ("--laid", "last week")}, "is no day"),
        ({"more": ("--laid", "2026-10-30..2026-10-24")}, "ends before it begins"),
        ({"more": ("--language", "xx")}, "allowed: en"),
    ],
)
def test_a_mistake_ends_with_a_sentence_and_writes_nothing(tmp_path: Path, words: dict[str, str], said: str) -> None:
    more = words.get("more", ())
    result = begin(tmp_path / "a", *more, **{name: text for name, text in words.items() if name != "more"})
    assert result.exit_code == 1
    assert said in flat(result)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", [("--eggs", "0"), ("--eggs", "many"), ("--airflow", "storm"), ("--probe", "thumb")])
def test_what_is_not_among_the_choices_is_a_usage_mistake(tmp_path: Path, words: tuple[str, ...]) -> None:
    assert begin(tmp_path / "a", *words).exit_code == 2
    assert list(tmp_path.iterdir()) == []


def test_the_hour_that_comes_twice_is_taken_with_its_offset(tmp_path: Path) -> None:
    for name, text in (("first", "2026-10-25 02:30+02:00"), ("second", "2026-10-25 02:30+01:00")):
        assert begin(tmp_path / name, at=text).exit_code == 0
    first, second = (read(tmp_path / name)[0].batch.set_at for name in ("first", "second"))
    assert second - first == 3600


def test_eggs_laid_on_the_day_of_setting_were_laid_before_it(tmp_path: Path) -> None:
    assert begin(tmp_path / "a", "--laid", "2026-11-01", at="2026-11-01 08:00").exit_code == 0
    evidence, _ = read(tmp_path / "a")
    assert evidence.lots[0].laid_last == evidence.batch.set_at


def test_a_name_that_a_spreadsheet_would_run_comes_back_as_it_was(tmp_path: Path) -> None:
    begin(tmp_path / "a", "--name", "=SUM(A1)", "--parents", '@a,"b"')
    evidence, _ = read(tmp_path / "a")
    assert (evidence.batch.name, evidence.lots[0].parents) == ("=SUM(A1)", '@a,"b"')
    assert "'=SUM(A1)" in (tmp_path / "a" / "batch.csv").read_text(encoding="utf-8")


def test_the_zone_of_the_computer_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", "Asia/Kathmandu")
    result = run("begin", str(tmp_path / "a"), "--kind", "hen", "--eggs", "3", "--set", SET)
    assert "The zone is Asia/Kathmandu: this computer's clock says so." in flat(result)
    assert read(tmp_path / "a")[0].setting.place.zone == "Asia/Kathmandu"


@pytest.mark.parametrize("width", [40, 60, 80, 200])
def test_no_line_is_wider_than_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    monkeypatch.chdir(tmp_path)
    words = ("--kind", "hen", "--eggs", "9", "--set", SET, "--zone", "UTC", "--airflow", "still")
    text = run("begin", "a", *words, width=width).output
    assert max(map(len, text.splitlines())) <= min(max(width, 40), 108)


def test_units_are_those_asked_for(tmp_path: Path) -> None:
    assert "°F" not in begin(tmp_path / "a", "--units", "metric").output
    assert "°C" not in begin(tmp_path / "b", "--units", "us").output


def test_the_pseudo_language_finds_no_unmarked_text(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    words = (
        "--kind",
        "hen",
        "--eggs",
        "9",
        "--set",
        SET,
        "--zone",
        "UTC",
        "--airflow",
        "still",
        "--name",
        "7",
        "--box",
        "6",
    )
    found = json.loads(run("begin", "8", *words, "--language", "pseudo", "--json").output)
    said = [row["words"] for row in (*found["taken"], *found["ask"])] + [step["do"] for step in found["next"]]
    bare = " ".join(said).replace("°C", "").replace("°F", "")
    assert not any("a" <= letter.lower() <= "z" for letter in bare), bare


def test_a_fresh_interpreter_begins_by_the_name_of_the_package(tmp_path: Path) -> None:
    code = (
        "import runpy, sys; sys.argv[0] = 'chalaza'; runpy.run_module('chalaza', run_name='__main__', alter_sys=True)"
    )
    words = ("begin", str(tmp_path / "a"), "--kind", "hen", "--eggs", "3", "--set", SET, "--zone", "UTC")
    done = process(*words, code=code)
    assert (done.returncode, done.stderr) == (0, "")
    assert (tmp_path / "a" / "datapackage.json").is_file()
