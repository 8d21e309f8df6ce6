"""`chalaza facts`: the kinds, and each figure of one with unit, range, source and status."""

import json
import re

from tests.cli.helpers import run

from chalaza import facts
from chalaza.words.facts import known
from chalaza.words.numbers import Voice


def test_without_a_kind_all_are_listed() -> None:
    result = run("facts")
    assert result.exit_code == 0
    for key, kind in facts.kinds().items():
        assert re.search(rf"^{key} ", result.output, re.MULTILINE)
        assert f"{kind.term_d.typical:g} days" in " ".join(result.output.split())


def test_the_list_as_json_has_every_kind() -> None:
    found = json.loads(run("facts", "--json").output)
    assert [one["kind"] for one in found] == list(facts.kinds())
    assert found[0]["term_d"] == 21.0


def test_every_figure_of_a_kind_is_printed_with_status_and_source() -> None:
    text = run("facts", "hen", width=100).output
    flat = " ".join(text.split())
    for row in known(Voice(), "hen"):
        assert " ".join(row.figure.replace("\u00a0", " ").split()) in flat
    numbers = {int(n) for each in re.findall(r"\[([\d, ]+)\]", text.partition("\nSources")[0]) for n in each.split(",")}
    listed = {int(n) for n in re.findall(r"^\[(\d+)\]", text.partition("\nSources")[2], re.MULTILINE)}
    assert numbers == listed
    assert "checked: its page was seen" in text


def test_disagreement_is_shown_as_a_range_before_its_voices() -> None:
    text = run("facts", "hen").output
    assert "humidity until the last days: 20–66 %, by 13 voices" in text
    assert text.index("20–66 %") < text.index("20–30 %")


def test_json_has_numbers_units_sources_and_the_published_range() -> None:
    found = json.loads(run("facts", "duck", "--json").output)
    assert found["kind"] == "duck"
    term = next(one for one in found["facts"] if one["quantity"] == "term")
    assert (term["middle"], term["unit"], term["status"]) == (28.0, "d", term["sources"][0]["status"])
    assert all(one["sources"] for one in found["facts"])
    assert set(found["published_range"]) <= {one["quantity"] for one in found["facts"]}


def test_another_name_of_a_kind_does_as_well() -> None:
    assert run("facts", "Guinea fowl").output == run("facts", "guinea").output


def test_a_kind_that_is_not_there_is_refused_with_the_nearest() -> None:
    result = run("facts", "chickn")
    assert result.exit_code == 1
    assert "nearest: chicken" in result.output


def test_no_line_is_wider_than_the_terminal() -> None:
    for width in (60, 80, 120):
        assert max(map(len, run("facts", "hen", width=width).output.splitlines())) <= width


def test_the_pseudo_language_finds_no_unmarked_text() -> None:
    text = run("facts", "hen", "--language", "pseudo", width=108).output
    head, _, rest = text.partition("⟦Śóúŕćéś⟧")
    units = {row["unit"] for name in ("kind_values", "priors", "limits", "advice_ranges") for row in facts.table(name)}
    signs = sorted({*units, "°C", "°F", "in", "oz"} - {"1"}, key=len, reverse=True)
    bare = re.sub(rf"\(Gallus gallus domesticus\)|(?<=\d )({'|'.join(map(re.escape, signs))})(?![^\W\d])", " ", head)
    assert re.findall(r"[A-Za-z]+", bare) == []
    assert rest
