"""Ways to check a probe: one for each sort, each with its steps, what spoils it, its sources and its cautions."""

import pytest

from chalaza import facts
from chalaza.values.evidence import CheckSort
from chalaza.words.cautions import cautions
from chalaza.words.checks import WAYS
from chalaza.words.numbers import Voice


def test_every_sort_of_check_has_its_way() -> None:
    assert set(WAYS) == set(CheckSort)


@pytest.mark.parametrize("sort", list(CheckSort))
def test_a_way_says_how_what_spoils_it_and_who_says_so(sort: CheckSort) -> None:
    way = WAYS[sort]
    assert way.steps
    assert way.spoils
    assert len(cautions(Voice(), way.cautions)) == len(way.cautions)
    assert all(key in facts.sources() for key in way.sources)


def test_steam_salt_and_ice_carry_their_cautions() -> None:
    said = {sort: " ".join(cautions(Voice(), WAYS[sort].cautions)) for sort in CheckSort}
    assert "boiling water burn" in said[CheckSort.BOIL]
    assert "away from the eggs and from children" in said[CheckSort.SALT]
    assert "proves 0 °C only" in said[CheckSort.ICE]
    assert "never a reference" in said[CheckSort.COMPARE]
