"""`chalaza demo`: three invented batches, written, assessed and drawn."""

import json
from pathlib import Path

import pytest
from tests.cli.helpers import run

from chalaza.exchange import read

AT = "2026-04-17T18:40"


def test_three_batches_are_written_and_each_is_answered(tmp_path: Path) -> None:
    result = run("demo", "--to", str(tmp_path / "d"), "--now", AT, "--no-charts")
    assert result.exit_code == 0, result.output
    names = sorted(path.name for path in (tmp_path / "d").iterdir())
    assert names == ["orchard-quail", "pond-ducks", "speckled-hens"]
    assert "All of this is invented" in result.output
    for name in names:
        evidence, beliefs = read(tmp_path / "d" / name)
        assert evidence.batch.name in result.output
        assert beliefs is not None
    assert result.output.count("\nWarmth") == 3


def test_the_same_seed_and_moment_give_the_same_and_another_seed_other_figures(tmp_path: Path) -> None:
    texts = [
        run("demo", "--to", str(tmp_path / name), "--now", AT, "--no-charts", "--json", "--seed", seed).output
        for name, seed in (("a", "20"), ("b", "20"), ("c", "7"))
    ]
    assert texts[0] == texts[1] != texts[2]
    found = json.loads(texts[0])
    assert set(found) == {"orchard-quail", "pond-ducks", "speckled-hens"}
    assert all({"warmth", "water", "clock", "count", "advice"} <= set(each) for each in found.values())


def test_what_demo_says_is_what_assess_says(tmp_path: Path) -> None:
    whole = json.loads(run("demo", "--to", str(tmp_path), "--now", AT, "--no-charts", "--json").output)
    one = json.loads(run("assess", str(tmp_path / "pond-ducks"), "--now", AT, "--json").output)
    assert whole["pond-ducks"] == one


def test_charts_lie_beside_the_folders(tmp_path: Path) -> None:
    result = run("demo", "--to", str(tmp_path), "--now", AT)
    assert result.exit_code == 0, result.output
    for name in ("orchard-quail", "pond-ducks", "speckled-hens"):
        assert list((tmp_path / "charts" / name).glob("*.svg"))


def test_a_second_demo_replaces_the_first_and_nothing_else(tmp_path: Path) -> None:
    assert run("demo", "--to", str(tmp_path), "--now", AT, "--no-charts").exit_code == 0
    assert run("demo", "--to", str(tmp_path), "--now", AT, "--no-charts").exit_code == 0
    (tmp_path / "pond-ducks" / "mine.txt").write_text("keep me", encoding="utf-8")
    result = run("demo", "--to", str(tmp_path), "--now", AT, "--no-charts")
    assert result.exit_code == 1
    assert (tmp_path / "pond-ducks" / "mine.txt").read_text(encoding="utf-8") == "keep me"


def test_a_wrong_moment_is_refused(tmp_path: Path) -> None:
    assert run("demo", "--to", str(tmp_path), "--now", "soon").exit_code == 1
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("seed", ["-1", "many"])
def test_a_wrong_seed_is_a_usage_mistake(tmp_path: Path, seed: str) -> None:
    assert run("demo", "--to", str(tmp_path), "--seed", seed).exit_code == 2
