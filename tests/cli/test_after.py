"""`chalaza assess --after`: finished batches teach the next one, and no batch teaches itself."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from tests.cli.helpers import run

from chalaza.exchange import write_folder
from chalaza.scenario import demo
from chalaza.values.evidence import Evidence

NOW = 1_795_600_000
AT = "2026-11-25T09:46Z"
DAY_S = 86_400


def renamed(evidence: Evidence, uid: str) -> Evidence:
    return replace(
        evidence,
        batch=replace(evidence.batch, uid=uid),
        stays=tuple(replace(one, batch=uid) for one in evidence.stays),
    )


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two batches of the same hens in the same box under the same display, sixty days apart."""
    path = tmp_path_factory.mktemp("season")
    write_folder(path / "now", demo.batches(NOW)["speckled-hens"])
    write_folder(path / "before", renamed(demo.batches(NOW - 60 * DAY_S)["speckled-hens"], "summer-hens"))
    return path


def width(path: Path, *more: str) -> float:
    result = run("assess", str(path / "now"), "--now", "2026-11-12T08:00Z", "--json", *more)
    assert result.exit_code == 0, result.output
    loss = json.loads(result.output)["water"]["loss_at_lockdown"]
    return float(loss["high"] - loss["low"])


def test_what_was_learnt_narrows_the_next_batch_and_is_said(season):
    assert width(season, "--after", str(season / "before")) < 0.7 * width(season)
    told = run("assess", str(season / "now"), "--now", AT, "--after", str(season / "before")).output
    assert "Learnt from finished batches: summer-hens." in " ".join(told.split())


def test_a_batch_does_not_teach_itself(season):
    assert width(season, "--after", str(season / "now")) == width(season)


def test_batches_that_end_later_teach_nothing_and_that_is_said(season):
    told = run("assess", str(season / "before"), "--now", "2026-09-20T08:00Z", "--after", str(season / "now"))
    assert "None of those batches had ended by then" in " ".join(told.output.split())


def test_a_folder_that_is_not_there_is_told(season):
    result = run("assess", str(season / "now"), "--after", str(season / "gone"))
    assert result.exit_code == 1
    assert "There is no" in result.output
