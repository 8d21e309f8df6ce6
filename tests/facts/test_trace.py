"""Every figure about a kind can be followed to its citation."""

import pytest

from chalaza import facts
from chalaza.errors import EvidenceError


def test_every_figure_of_every_kind_has_a_citation_and_a_standing() -> None:
    for kind in facts.kinds():
        for each in facts.trace(kind):
            assert each.value, each
            assert each.source, each
            assert each.status in {"checked", "memory", "practice", "computed"}, each


def test_values_come_first_and_read_as_typical_with_span() -> None:
    first = facts.trace("hen")[0]
    assert (first.quantity, first.value, first.unit) == ("egg_mass", "58 (50 to 70)", "g")
    by_quantity = {each.quantity: each for each in facts.trace("hen")}
    assert by_quantity["loss_target"].value == "0.122 (0.11 to 0.135) at day 18"
    assert by_quantity["conductance"].value == "0.265 (0.1845 to 0.3805)"
    assert by_quantity["candling_alive (dark_d7)"].value == "0.7, 0.25, 0.04, 0.01"
    assert by_quantity["term"].source.startswith("Mississippi State University Extension")


def test_published_losses_are_shown_beside_the_target_as_they_were_printed() -> None:
    losses = [each.value for each in facts.trace("turkey") if each.quantity == "loss_literature"]
    assert losses == [
        "0.12 (0.11 to 0.13) at day 28",
        "at most 0.115 at day 25",
        "0.12 (0.11 to 0.13) at day 24",
        "0.15 (0.125 to 0.175) over the whole term",
    ]


def test_a_strange_kind_is_refused() -> None:
    with pytest.raises(EvidenceError, match="no kind 'moa'"):
        facts.trace("moa")
