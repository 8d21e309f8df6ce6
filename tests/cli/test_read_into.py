"""`chalaza read --into`: from nothing to the four answers by commands, and nothing written while anything is open."""

import csv
import json
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.cli.helpers import run
from tests.factory import make_evidence

from chalaza.exchange import read, write_folder, write_zip
from chalaza.intake import read as read_log
from chalaza.values.evidence import Probe, ProbeSort, Setting

#: An invented box at 37.5 °C; the rows of its logger, an hour apart, in the time of the box.
FIRST = datetime(2026, 11, 1, 18, 0)


def log(path: Path, hours: range, *, form: str = "%Y-%m-%d %H:%M", unit: str = " (°C)", add: float = 0.0) -> Path:
    """A logger file of these hours after setting."""
    rows = [
        f"{FIRST + timedelta(hours=h):{form}};{37.5 + h % 4 / 10 + add:.1f};{48 + h % 3}".replace(".", ",")
        for h in hours
    ]
    path.write_text("\n".join([f"when;Temp{unit};RH (%)", *rows, ""]), encoding="utf-8")
    return path


def files(folder: Path) -> dict[str, bytes]:
    """Every file of a folder."""
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def said(text: str) -> str:
    """What was said, on one line."""
    return " ".join(text.split())


@pytest.fixture
def hens(tmp_path: Path) -> Path:
    """A folder as `begin` makes it, in the zone of Berlin."""
    words = ("--kind", "hen", "--eggs", "12", "--set", "2026-11-01 18:00", "--zone", "Europe/Berlin")
    assert run("begin", str(tmp_path / "hens"), *words, "--laid", "2026-10-24..2026-10-30").exit_code == 0
    return tmp_path / "hens"


def test_from_nothing_to_four_answers_by_commands_alone(hens: Path, tmp_path: Path) -> None:
    before = run("read", str(log(tmp_path / "a.csv", range(120))), "--into", str(hens))
    assert before.exit_code == 0, before.output
    with open(hens / "weighings.csv", "a", encoding="utf-8", newline="") as file:
        sheet = csv.writer(file)  # uid, at, eggs, gross_g, tare_g, resolution_g, session
        sheet.writerow(["w1", "2026-11-01T16:30:00Z", "all", "912", "212", "1", ""])
        sheet.writerow(["w2", "2026-11-06T17:30:00Z", "all", "889", "212", "1", ""])
    done = run("assess", str(hens), "--now", "2026-11-06 20:00", "--json")
    assert done.exit_code == 0, done.output
    found = json.loads(done.output)
    # The mean of 37.5, 37.6, 37.7 and 37.8 is what the display read.
    assert found["warmth"]["reading"]["value"] == pytest.approx(37.65, abs=0.02)
    assert "readings" in found["warmth"]["shell"]["basis"]["inputs"]
    assert found["water"]["weighed"] == 12
    # 23 of 700 g were lost: 3.3 %; the scale's step of 1 g is 0.14 %.
    assert found["water"]["loss_now"]["value"] == pytest.approx(23 / 700, abs=0.006)
    assert found["clock"]["half_hatched"]["value"].startswith("2026-11-2")
    assert 0 < found["count"]["expected_young"]["value"] <= 12


def test_the_readings_are_those_the_reader_gives_to_the_bit(hens: Path, tmp_path: Path) -> None:
    file = log(tmp_path / "a.csv", range(30))
    assert run("read", str(file), "--into", str(hens)).exit_code == 0
    evidence, _ = read(hens)
    assert evidence.setting.series["display"] == read_log(file, zone="Europe/Berlin").series()
    assert evidence.setting.series["display"].t[0] == datetime(2026, 11, 1, 17, tzinfo=UTC).timestamp()


def test_a_file_that_comes_again_longer_adds_its_new_rows_alone(hens: Path, tmp_path: Path) -> None:
    first, longer = log(tmp_path / "a.csv", range(30)), log(tmp_path / "b.csv", range(20, 50))
    assert "30 readings of display came in." in said(run("read", str(first), "--into", str(hens)).output)
    text = said(run("read", str(longer), "--into", str(hens)).output)
    assert "20 readings of display came in." in text
    assert "10 stood there already, the same." in text
    assert "The folder holds 50 now." in text
    before = files(hens)
    text = said(run("read", str(longer), "--into", str(hens)).output)
    assert "No reading of display is new." in text
    assert "30 stood there already, the same." in text
    assert files(hens) == before


def test_where_two_files_differ_the_first_stays_and_the_number_is_said(hens: Path, tmp_path: Path) -> None:
    run("read", str(log(tmp_path / "a.csv", range(30))), "--into", str(hens))
    kept = read(hens)[0].setting.series["display"]
    other = log(tmp_path / "b.csv", range(25, 31), add=1.0)
    found = json.loads(run("read", str(other), "--into", str(hens), "--json").output)["into"]
    assert found["zone_from"] == "batch"
    (one,) = found["probes"]
    assert {key: one[key] for key in ("kept", "added", "same", "differing", "filled")} == {
        "kept": 30, "added": 1, "same": 0, "differing": 5, "filled": 0
    }  # fmt: skip
    assert read(hens)[0].setting.series["display"].window(0, float(kept.t[-1]) + 1) == kept
    assert "5 differ from what stands there" in said(run("read", str(other), "--into", str(hens)).output)


def test_an_undecided_file_is_asked_about_and_nothing_is_written(hens: Path, tmp_path: Path) -> None:
    before = files(hens)
    file = log(tmp_path / "a.csv", range(5), form="%d/%m/%Y %H:%M", unit="")
    done = run("read", str(file), "--into", str(hens))
    assert done.exit_code == 1
    assert done.output.startswith("Nothing was written")
    assert "date-order=dmy" in done.output
    assert "date-order=mdy" in done.output
    assert "--answer CODE=CHOICE" in done.output
    assert files(hens) == before
    asked = run("read", str(file), "--into", str(hens), "--json")
    assert asked.exit_code == 1
    report = json.loads(asked.stdout)
    assert report["into"] is None
    assert any(one["code"] == "date-order" and one["blocking"] for one in report["questions"])
    done = run("read", str(file), "--into", str(hens), "--answer", "date-order=dmy", "--answer", "unit:2=degc")
    assert done.exit_code == 0, done.output
    assert len(read(hens)[0].setting.series["display"]) == 5


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("when;Temp\n" + "".join(f"2026-11-0{d} {h:02}:00;4{d}\n" for d in range(4, 8) for h in range(24)), "unit:2"),
        (
            "when,Temp,RH\n" + "".join(f"2026-11-02 {h:02}:00,37,{h % 10},55,{h % 7}\n" for h in range(24)),
            "decimal-comma",
        ),
    ],
)
def test_every_question_that_blocks_is_put_with_its_options(hens: Path, tmp_path: Path, text: str, code: str) -> None:
    file = tmp_path / "a.csv"
    file.write_text(text, encoding="utf-8")
    before = files(hens)
    done = run("read", str(file), "--into", str(hens))
    assert done.exit_code == 1
    assert f"{code}: " in done.output
    assert done.output.count(f"{code}=") >= 2
    assert files(hens) == before


def test_the_zone_is_that_of_the_batch_only_where_it_is_said(hens: Path, tmp_path: Path) -> None:
    file = log(tmp_path / "a.csv", range(3))
    text = said(run("read", str(file), "--into", str(hens)).output)
    assert "The file names no zone. It was read in Europe/Berlin, that of the batch." in text
    assert "Empty readings_display.csv below the first row" in text
    head = (hens / "readings_display.csv").read_text(encoding="utf-8").splitlines()[0]
    (hens / "readings_display.csv").write_text(f"{head}\n", encoding="utf-8")
    text = said(run("read", str(file), "--into", str(hens), "--zone", "-05:00").output)
    assert "that of the batch" not in text
    assert read(hens)[0].setting.series["display"].t[0] == datetime(2026, 11, 1, 23, tzinfo=UTC).timestamp()


def test_a_file_that_names_its_zone_is_believed(hens: Path, tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    file.write_text("Date Time, GMT+00:00;Temp (°C)\n2026-11-02 10:00;37.5\n2026-11-02 11:00;37.6\n", encoding="utf-8")
    done = run("read", str(file), "--into", str(hens))
    assert done.exit_code == 0, done.output
    assert "that of the batch" not in done.output
    assert read(hens)[0].setting.series["display"].t[0] == datetime(2026, 11, 2, 10, tzinfo=UTC).timestamp()


def test_a_recipe_brings_its_own_zone(hens: Path, tmp_path: Path) -> None:
    home = {"CHALAZA_DATA": str(tmp_path / "home")}
    file = log(tmp_path / "a.csv", range(3))
    assert run("read", str(file), "--zone", "UTC", "--keep-recipe", "shed", **home).exit_code == 0
    text = run("read", str(file), "--into", str(hens), "--recipe", "shed", **home).output
    assert "that of the batch" not in said(text)
    assert read(hens)[0].setting.series["display"].t[0] == datetime(2026, 11, 1, 18, tzinfo=UTC).timestamp()


def test_the_hour_that_comes_twice_is_told_apart_by_the_rows_or_asked_about(tmp_path: Path) -> None:
    words = ("--kind", "hen", "--eggs", "12", "--set", "2026-10-20 18:00", "--zone", "Europe/Berlin")
    assert run("begin", str(tmp_path / "autumn"), *words).exit_code == 0
    # The clock goes back from 03:00 to 02:00 on 25 October 2026 (tz database): 02:00 to 02:50 comes twice.
    utc = [datetime(2026, 10, 24, 22, tzinfo=UTC) + timedelta(minutes=10 * n) for n in range(36)]
    offset = [timedelta(hours=2 if at < datetime(2026, 10, 25, 1, tzinfo=UTC) else 1) for at in utc]
    rows = [f"{at + by:%Y-%m-%d %H:%M};37.5" for at, by in zip(utc, offset, strict=True)]
    file = tmp_path / "a.csv"
    file.write_text("\n".join(["when;Temp (°C)", *rows, ""]), encoding="utf-8")
    assert run("read", str(file), "--into", str(tmp_path / "autumn")).exit_code == 0
    before = files(tmp_path / "autumn")
    series = read(tmp_path / "autumn")[0].setting.series["display"]
    assert series.t.tolist() == [int(at.timestamp()) for at in utc]
    once = tmp_path / "once.csv"  # the same night by a clock that was never set back: nobody can tell
    rows = [f"{at + timedelta(hours=2):%Y-%m-%d %H:%M};37.5" for at in utc]
    once.write_text("\n".join(["when;Temp (°C)", *rows, ""]), encoding="utf-8")
    done = run("read", str(once), "--into", str(tmp_path / "autumn"))
    assert done.exit_code == 1
    assert "clock-change=standard" in done.output
    assert files(tmp_path / "autumn") == before


@pytest.fixture
def two(tmp_path: Path) -> Path:
    """A folder with two probes of its own, neither with readings."""
    plain = make_evidence(series={})
    room = Probe(uid="room", name="On the shelf", sort=ProbeSort.DIGITAL)
    setting: Setting = plain.setting
    write_folder(tmp_path / "two", make_evidence(series={}, probes=(*setting.probes, room)))
    return tmp_path / "two"


def test_of_several_probes_in_the_folder_one_must_be_named(two: Path, tmp_path: Path) -> None:
    file = log(tmp_path / "a.csv", range(9))
    before = files(two)
    done = run("read", str(file), "--into", str(two))
    assert done.exit_code == 1
    assert "display (Display), p1 (Grey probe), room (On the shelf); allowed: --probe" in done.output
    wrong = run("read", str(file), "--into", str(two), "--probe", "rom")
    assert wrong.exit_code == 1
    assert "there is no probe 'rom'; nearest: room" in wrong.output
    assert files(two) == before
    assert run("read", str(file), "--into", str(two), "--probe", "room").exit_code == 0
    assert {uid: len(one) for uid, one in read(two)[0].setting.series.items()} == {"room": 9}


def test_of_several_probes_in_the_file_each_is_paired_or_left_out(two: Path, tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    rows = [f"2026-03-0{2 + h // 24} {h % 24:02}:00;37.{h % 8};18.{h % 9};5.{h % 7}" for h in range(48)]
    head = "when;Probe 1 Temp (°C);Probe 2 Temp (°C);Probe 3 Temp (°C)"
    file.write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    names = [log.name for log in read_log(file, zone="UTC").probes]
    assert len(names) == 3
    before = files(two)
    done = run("read", str(file), "--into", str(two), "--probe", "p1")
    assert done.exit_code == 1
    assert f"{names[0]} (48 readings)" in done.output
    assert "--probe-of" in done.output
    pairs = ("--probe-of", f"{names[0]}=p1", "--probe-of", f"{names[1]}=room")
    for wrong, words in (
        (("--probe-of", "Probe 9=p1"), "The file holds no probe 'Probe 9'"),
        (("--probe-of", f"{names[0]}=p9"), "there is no probe 'p9'"),
        (("--probe-of", f"{names[0]}=p1", "--probe-of", f"{names[1]}=p1"), "names a probe a second time"),
    ):
        done = run("read", str(file), "--into", str(two), *wrong)
        assert done.exit_code == 1
        assert words in done.output
    assert files(two) == before
    done = run("read", str(file), "--into", str(two), *pairs)
    assert done.exit_code == 0, done.output
    assert f"Not brought in: {names[2]}." in done.output
    series = read(two)[0].setting.series
    assert set(series) == {"p1", "room"}
    assert float(np.median(series["room"].temp_degc)) == pytest.approx(18.4, abs=0.2)


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("--probe", "x"), "need --into FOLDER"),
        (("--probe-of", "a=b"), "need --into FOLDER"),
        (("--into", "{hens}", "--probe", "display", "--probe-of", "a=display"), "give one of them"),
        (("--into", "{hens}", "--probe-of", "display"), "is not NAME=UID"),
    ],
)
def test_options_that_do_not_go_together_are_usage_mistakes(
    hens: Path, tmp_path: Path, words: tuple[str, ...], why: str
) -> None:
    before = files(hens)
    file = log(tmp_path / "a.csv", range(5))
    done = run("read", str(file), *(word.format(hens=hens) for word in words))
    assert (done.exit_code, why in done.output) == (2, True)
    assert files(hens) == before


def test_a_wrong_folder_is_refused_in_words(hens: Path, tmp_path: Path) -> None:
    file = log(tmp_path / "a.csv", range(5))
    missing = run("read", str(file), "--into", str(tmp_path / "hen"))
    assert (missing.exit_code, "nearest: hens" in missing.output) == (1, True)
    above = run("read", str(file), "--into", str(tmp_path))
    assert (above.exit_code, "it holds: hens" in above.output) == (1, True)
    write_zip(tmp_path / "b.zip", make_evidence())
    packed = run("read", str(file), "--into", str(tmp_path / "b.zip"))
    assert (packed.exit_code, "the folder, unpacked" in packed.output) == (1, True)
    (tmp_path / "none").mkdir()
    assert run("read", str(file), "--into", str(tmp_path / "none")).exit_code == 1
    by_descriptor = run("read", str(file), "--into", str(hens / "datapackage.json"))
    assert by_descriptor.exit_code == 0, by_descriptor.output


def test_a_folder_without_probes_says_where_to_add_one(tmp_path: Path) -> None:
    write_folder(tmp_path / "b", make_evidence(series={}, probes=(), mounts=(), checks=()))
    done = run("read", str(log(tmp_path / "a.csv", range(5))), "--into", str(tmp_path / "b"))
    assert (done.exit_code, done.output.startswith("probes.csv: it has no rows")) == (1, True)


def test_a_wrong_cell_in_the_folder_is_named_with_its_row(hens: Path, tmp_path: Path) -> None:
    eggs = hens / "eggs.csv"
    eggs.write_text(eggs.read_text(encoding="utf-8").replace(",light,", ",lightish,", 2), encoding="utf-8")
    before = files(hens)
    done = run("read", str(log(tmp_path / "a.csv", range(5))), "--into", str(hens))
    assert done.exit_code == 1
    assert [line[:17] for line in done.output.splitlines()] == ["eggs.csv, row 2, ", "eggs.csv, row 3, "]
    assert files(hens) == before


def test_rows_that_did_not_come_in_are_said(hens: Path, tmp_path: Path) -> None:
    file = log(tmp_path / "a.csv", range(20))
    with open(file, "a", encoding="utf-8") as more:
        more.write("2026-11-02 14:00;-;no\n2026-11-02 15:00;150;50\n2026-11-02 16:00;37,5;50\n")
    text = said(run("read", str(file), "--into", str(hens)).output)
    assert (
        "22 readings of display came in." in text
    )  # of the three last rows, two have a humidity and one a temperature
    assert "set aside" in text
    assert "outside what can be true" in text


def test_a_log_of_another_time_is_questioned(hens: Path, shared: Path) -> None:
    """A real file of the shared logs, its readings counted beforehand by others (truth.json)."""
    name = "decimal_comma_semicolon_iso.csv"
    truth = {row["file"]: row for row in json.loads((shared / "data" / "truth.json").read_text(encoding="utf-8"))}[name]
    done = run("read", str(shared / "data" / "logs" / name), "--into", str(hens))
    assert done.exit_code == 0, done.output
    assert "All of it lies before setting" in said(done.output)
    series = read(hens)[0].setting.series["display"]
    assert len(series) == truth["records"]
    assert float(series.temp_degc.min()) == pytest.approx(truth["T_min"], abs=1e-5)  # single precision
    assert float(series.temp_degc.astype(np.float64).mean()) == pytest.approx(truth["T_mean"], abs=1e-3)
    assert float(series.rh.max()) == pytest.approx(truth["RH_max"] / 100, abs=1e-6)


def test_every_real_file_comes_in_twice_alike_or_is_refused_in_words(hens: Path, shared: Path, tmp_path: Path) -> None:
    came = 0
    for file in sorted((shared / "data" / "logs").iterdir()):
        target = tmp_path / file.name
        shutil.copytree(hens, target)
        before = files(target)
        done = run("read", str(file), "--into", str(target), "--json")
        if done.exit_code:
            assert (done.exit_code, files(target)) == (1, before), done.output
            assert len(done.stderr.strip()) > 30
            continue
        came += 1
        once = files(target)
        assert once != before
        again = json.loads(run("read", str(file), "--into", str(target), "--json").stdout)["into"]["probes"][0]
        assert (again["added"], again["differing"], again["filled"]) == (0, 0, 0)
        assert files(target) == once
    assert came >= 8


@pytest.mark.parametrize("width", [40, 60, 80])
def test_no_line_is_wider_than_the_terminal(
    hens: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, width: int
) -> None:
    monkeypatch.chdir(tmp_path)
    log(tmp_path / "a.csv", range(20))
    text = run("read", "a.csv", "--into", "hens", width=width).output
    assert max(map(len, text.splitlines())) <= width
