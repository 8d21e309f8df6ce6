"""`chalaza assess`: what is said first, what JSON holds, and a clear sentence for every mistake."""

import json
import re
import shutil
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from tests.cli.helpers import AT, folder, process, run
from tests.factory import DAY_S, NOW, SET_AT, make_evidence, make_series

from chalaza.assess import assess, prior_beliefs
from chalaza.cli.terminal import PLAIN
from chalaza.exchange import write_folder, write_zip
from chalaza.values.evidence import Batch, Series
from chalaza.words.basis import STATUSES
from chalaza.words.language import CLOSE, OPEN


@pytest.fixture(scope="module")
def spring(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small invented batch as a folder."""
    return folder(tmp_path_factory.mktemp("batches"))


def test_advice_comes_first_then_the_answers_then_what_to_measure(spring: Path) -> None:
    result = run("assess", str(spring), "--now", AT)
    assert result.exit_code == 0
    marks = ["Spring", "because", "Warmth", "Water", "Clock", "Count", "Measure", "This program informs"]
    places = [result.output.index(mark) for mark in marks]
    assert places == sorted(places)


def test_the_levels_run_from_most_to_least_urgent(spring: Path) -> None:
    text = run("assess", str(spring), "--now", AT).output
    levels = re.findall(r"^(?:╫╫|││|│|─) +(now|act|watch|good)\b", text, re.MULTILINE)
    assert levels
    assert levels == sorted(levels, key=["now", "act", "watch", "good"].index)


@pytest.mark.parametrize("width", [40, 60, 80, 120, 300])
def test_no_line_is_wider_than_the_terminal(spring: Path, width: int) -> None:
    text = run("assess", str(spring), "--now", AT, "--why", width=width).output
    assert max(map(len, text.splitlines())) <= max(width, 40)
    assert max(map(len, text.splitlines())) <= 108


def test_without_unicode_every_mark_has_a_plain_twin(spring: Path) -> None:
    done = process("assess", str(spring), "--now", AT, PYTHONIOENCODING="ascii")
    assert done.returncode == 0, done.stderr
    assert done.stdout.isascii()
    assert "37." in done.stdout
    assert "deg C" in done.stdout
    assert "?" not in done.stdout
    assert all(twin.isascii() for twin in PLAIN.values())


def test_the_figures_are_those_of_the_library(spring: Path) -> None:
    found = json.loads(run("assess", str(spring), "--now", AT, "--json").output)
    a = assess(prior_beliefs("chicken"), make_evidence(), NOW)
    assert found["water"]["loss_at_lockdown"]["value"] == a.water.loss_at_lockdown.value
    assert found["count"]["expected_young"]["low"] == a.count.expected_young.low
    assert datetime.fromisoformat(found["clock"]["half_hatched"]["value"]).timestamp() == pytest.approx(
        a.clock.half_hatched.value, abs=1.0  # whole seconds are written
    )  # fmt: skip
    assert [one["code"] for one in found["advice"]] == [one.code for one in a.advice]
    assert found["notices"] == []
    assert found["own_beliefs"] is False


def test_a_zip_and_the_descriptor_give_the_same_as_the_folder(spring: Path, tmp_path: Path) -> None:
    write_zip(tmp_path / "spring.zip", make_evidence())
    texts = [
        run("assess", str(place), "--now", AT, "--json").output
        for place in (spring, spring / "datapackage.json", tmp_path / "spring.zip")
    ]
    assert texts[0] == texts[1] == texts[2]


def test_beliefs_that_came_along_are_used_and_it_says_so(tmp_path: Path) -> None:
    beliefs = prior_beliefs("chicken")
    key = ("kind:chicken", "hatch_hours")
    late = replace(beliefs.rows[key], a=beliefs.rows[key].a + 48.0)
    write_folder(tmp_path / "late", make_evidence(), replace(beliefs, rows={**beliefs.rows, key: late}))
    write_folder(tmp_path / "usual", make_evidence())
    said = run("assess", str(tmp_path / "late"), "--now", AT)
    assert "beliefs that came with the folder" in " ".join(said.output.split())
    hours = {}
    for name in ("late", "usual"):
        found = json.loads(run("assess", str(tmp_path / name), "--now", AT, "--json").output)
        hours[name] = datetime.fromisoformat(found["clock"]["half_hatched"]["value"]).timestamp() / 3600.0
    assert hours["late"] - hours["usual"] == pytest.approx(48.0, abs=2.0)  # the spread of the prior pulls a little


def test_why_names_method_records_and_sources_with_their_status(spring: Path) -> None:
    text = " ".join(run("assess", str(spring), "--now", AT, "--why").output.split())
    assert "Records: readings of the probes" in text
    assert any(f"({status})" in text for status in STATUSES.values())


def test_units_are_those_asked_for(spring: Path) -> None:
    us = run("assess", str(spring), "--now", AT, "--units", "us").output
    metric = run("assess", str(spring), "--now", AT, "--units", "metric").output
    assert "°F" in us
    assert "°F" not in metric
    figures = [line for line in us.splitlines() if re.search(r"shells|reading", line)]
    assert figures
    assert not any("°C" in line for line in figures)


def test_records_after_the_moment_are_said_not_to_be_used(spring: Path) -> None:
    result = run("assess", str(spring), "--now", "2026-03-06T12:00")
    text = " ".join(result.output.split())
    assert "The folder holds records up to Wed 11 March 2026" in text
    assert "Nothing after Fri 6 March 2026, 12:00 was used." in text


def test_a_last_record_long_ago_is_said(spring: Path) -> None:
    text = " ".join(run("assess", str(spring), "--now", "2026-03-16").output.split())
    assert "The newest record is 5 days old" in text
    assert "With --now last" in text


def test_an_old_folder_is_assessed_as_of_its_newest_record(spring: Path) -> None:
    found = json.loads(run("assess", str(spring), "--now", "last", "--json").output)
    newest = int(make_series().t[-1])
    assert datetime.fromisoformat(found["as_of"]).timestamp() == newest
    assert found["notices"] == []


@pytest.mark.parametrize(
    ("now", "seconds"),
    [
        ("2026-03-11T09:00", NOW),  # the batch's zone, Europe/Berlin, is an hour ahead of UTC in winter
        ("2026-03-11 09:00", NOW),
        ("2026-03-11T08:00Z", NOW),
        ("2026-03-11T03:00-05:00", NOW),
        ("2026-03-11", NOW + 3 * 3600),  # a date alone means noon
    ],
)
def test_moments_are_read_as_iso_8601(spring: Path, now: str, seconds: int) -> None:
    found = json.loads(run("assess", str(spring), "--now", now, "--json").output)
    assert datetime.fromisoformat(found["as_of"]).timestamp() == seconds


@pytest.mark.parametrize("now", ["yesterday", "2026-13-01", "11.3.2026", "", "2026-03-11T25:00"])
def test_a_wrong_moment_is_refused_with_what_is_allowed(spring: Path, now: str) -> None:
    result = run("assess", str(spring), "--now", now)
    assert result.exit_code == 1
    assert "is no moment; write 2026-04-17T18:40" in result.output


def test_a_moment_before_setting_is_refused(spring: Path) -> None:
    result = run("assess", str(spring), "--now", "2026-02-01")
    assert result.exit_code == 1
    assert "before the eggs were set" in result.output


def test_a_folder_that_is_not_there_is_refused_with_the_nearest(spring: Path) -> None:
    result = run("assess", str(spring.parent / "sprnig"))
    assert result.exit_code == 1
    assert "nearest: spring" in result.output


def test_a_folder_of_batches_names_them(spring: Path) -> None:
    result = run("assess", str(spring.parent))
    assert result.exit_code == 1
    assert "it holds: spring" in result.output


def test_an_empty_folder_and_a_plain_file_are_refused(tmp_path: Path) -> None:
    empty = run("assess", str(tmp_path))
    assert empty.exit_code == 1
    assert empty.output.startswith("datapackage.json: is missing")
    (tmp_path / "note.txt").write_text("hello", encoding="utf-8")
    other = run("assess", str(tmp_path / "note.txt"))
    assert other.exit_code == 1
    assert "neither a folder nor a zip" in other.output.lower()


def test_several_wrong_cells_are_named_in_one_go(spring: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken"
    shutil.copytree(spring, broken)
    eggs = (broken / "eggs.csv").read_text(encoding="utf-8")
    (broken / "eggs.csv").write_text(eggs.replace("56.5", "wide", 2), encoding="utf-8")
    result = run("assess", str(broken))
    assert result.exit_code == 1
    lines = result.output.strip().splitlines()
    assert len(lines) == 2
    assert all(line.startswith("eggs.csv, row") and "'wide'" in line for line in lines)


def test_a_kind_nobody_knows_is_refused_with_the_nearest(tmp_path: Path) -> None:
    batch = Batch(uid="spring", name="Spring", kind="chickn", set_at=SET_AT)
    write_folder(tmp_path / "odd", make_evidence(batch=batch))
    result = run("assess", str(tmp_path / "odd"), "--now", AT)
    assert result.exit_code == 1
    assert "'chickn'" in result.output
    assert "chicken" in result.output


def test_a_language_that_is_not_there_is_refused(spring: Path) -> None:
    result = run("assess", str(spring), "--language", "xx")
    assert result.exit_code == 1
    assert "no language 'xx'; allowed: en" in result.output.lower()


def test_png_without_a_place_for_it_is_a_usage_mistake(spring: Path) -> None:
    result = run("assess", str(spring), "--png")
    assert result.exit_code == 2
    assert "--png needs --charts" in result.output


def test_charts_are_written_where_asked(spring: Path, tmp_path: Path) -> None:
    result = run("assess", str(spring), "--now", AT, "--charts", str(tmp_path / "pictures"))
    assert result.exit_code == 0, result.output
    drawn = sorted(path.name for path in (tmp_path / "pictures").iterdir())
    assert any(name.endswith(".svg") for name in drawn)
    assert str(tmp_path / "pictures") in "".join(result.output.split())


def test_the_pseudo_language_finds_no_unmarked_text(tmp_path: Path) -> None:
    """Every letter that is no unit, no data and no name went through the catalog."""
    spikes = make_series()
    hot = spikes.temp_degc.copy()
    hot[700:760] = 41.5
    hot[900] = 90.0
    gap = np.r_[0:300, 420 : len(spikes)]
    series = {"p1": Series(spikes.t[gap], hot[gap], spikes.rh[gap])}
    batch = replace(make_evidence().batch, name="2026/3", zone="UTC", wanted_young=12)
    evidence = make_evidence(batch=batch, series=series)
    write_folder(tmp_path / "b", evidence)
    for now in (SET_AT + 3600, SET_AT + 3 * DAY_S, NOW, SET_AT + 19 * DAY_S, SET_AT + 30 * DAY_S):
        moment = datetime.fromtimestamp(now, tz=datetime.now().astimezone().tzinfo).isoformat()
        text = run("assess", str(tmp_path / "b"), "--now", moment, "--language", "pseudo", width=100).output
        assert OPEN in text
        assert CLOSE in text
        bare = re.sub(r"°[CF]·h|°[CF]|\bUTC\b|(?<=\d )(h|d|g|mm|in|oz)\b", " ", text)
        assert re.findall(r"[A-Za-z]+", bare) == [], text
