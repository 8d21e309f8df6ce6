"""The demonstration: invented and saying so, the same from the same seed, alive at any moment."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from chalaza.assess import assess, prior_beliefs
from chalaza.errors import FolderError
from chalaza.exchange import read
from chalaza.scenario import demo

NOW = 1_795_600_000


@settings(max_examples=12)
@given(now=st.integers(1_600_000_000, 2_000_000_000))
def test_it_is_alive_at_any_moment(now):
    """Whenever it is made: chickens in their third week, quail that hatched, ducks just set, all of it assessable."""
    found = {name: assess(prior_beliefs(e.batch.kind), e, now) for name, e in demo.batches(now).items()}
    assert 14.0 < found["speckled-hens"].clock.day < 17.2
    assert found["orchard-quail"].count.out >= 8
    assert 0.0 < found["pond-ducks"].clock.day < 2.0
    cold = [one for one in found["speckled-hens"].warmth.spells if one.sort == "cold"]
    assert len(cold) == 2
    assert not found["speckled-hens"].warmth.probe_checked
    assert found["speckled-hens"].measure_next


def test_the_same_seed_gives_the_same_batches():
    assert demo.batches(NOW) == demo.batches(NOW)
    assert demo.batches(NOW, seed=21) != demo.batches(NOW)


def test_it_says_that_it_is_invented(tmp_path):
    for folder in demo.make(tmp_path, NOW):
        evidence, beliefs = read(folder)
        assert "nvented" in evidence.batch.note
        assert beliefs is not None
        assert json.loads((folder / "datapackage.json").read_text())["resources"]


def test_a_second_demo_replaces_the_first_but_nothing_else(tmp_path):
    demo.make(tmp_path, NOW)
    again = demo.make(tmp_path, NOW + 86400)
    assert len(again) == 3
    (tmp_path / "pond-ducks" / "my letter.txt").write_text("kept")
    with pytest.raises(FolderError, match="not an earlier demonstration"):
        demo.make(tmp_path, NOW)
    assert (tmp_path / "pond-ducks" / "my letter.txt").read_text() == "kept"
