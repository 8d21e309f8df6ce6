"""What holds of every chart of every batch at both widths."""

from itertools import combinations
from re import findall

import pytest
import vl_convert

import chalaza.charts as package
from chalaza.charts import NAMES, WIDTHS, charts, tokens, write
from charts.cases import CASES, of_kind, understood
from charts.reading import colours, layers, tree, words

_DEFINED = tuple(name for name in NAMES if name != "eggs")
_EVERY = [(case, width) for case in (*CASES, "set") for width in WIDTHS]


def test_there_is_a_drawing_of_each_answer_with_label_and_table():
    u, a = understood("day12")
    found = charts(u, a)
    assert tuple(found) == NAMES
    for name, one in found.items():
        assert one.name == name
        assert one.label
        assert one.table.rows
        assert (one.definition is None) == (name == "eggs")


def test_the_package_exports_what_it_says():
    assert all(hasattr(package, name) for name in package.__all__)


@pytest.mark.parametrize(("case", "width"), _EVERY)
def test_definitions_compile_without_a_warning(case, width, capfd):
    for name, one in charts(*understood(case), width=width).items():
        if one.definition is not None:
            vega = vl_convert.vegalite_to_vega(one.definition, show_warnings=True)
            assert vega["marks"], name
    heard = capfd.readouterr()
    assert heard.err == ""
    assert heard.out == ""


def test_a_warning_would_be_heard(capfd):
    u, a = understood("day12")
    definition = dict(charts(u, a)["water"].definition or {})
    encoding = {"x": {"field": "x", "type": "quantitative", "scale": {"type": "band"}}}
    definition["layer"] = [{"data": {"values": [{"x": 1}]}, "mark": "point", "encoding": encoding}]
    vl_convert.vegalite_to_vega(definition, show_warnings=True)
    heard = capfd.readouterr()
    assert heard.err + heard.out != ""


@pytest.mark.parametrize(("case", "width"), _EVERY)
def test_drawings_are_sound_named_in_colour_and_reach_for_nothing(case, width):
    for one in charts(*understood(case), width=width).values():
        svg = one.svg()
        root = tree(svg)
        assert root.get("aria-label") == one.label
        assert root.get("width") == str(width)
        used = colours(svg)
        assert used
        assert all(findall(r"^var\(--([a-z-]+)\)$", colour)[0] in tokens.LIGHT for colour in used)
        assert not findall(r"<script|<foreignObject|<image|<use|href=|url\(|\bon[a-z]+=|<style| style=| id=", svg)
        assert "background" not in svg


@pytest.mark.parametrize(("case", "width"), _EVERY)
def test_no_ground_is_painted(case, width):
    for one in charts(*understood(case), width=width).values():
        if one.definition is not None:
            assert one.definition["background"] is None
            assert one.definition["config"]["view"] == {"stroke": None}
        assert 'fill="var(--paper)" width="100%"' not in one.svg()


@pytest.mark.parametrize("name", _DEFINED)
@pytest.mark.parametrize(("case", "width"), _EVERY)
def test_no_word_covers_another_or_is_cut(case, width, name):
    definition = charts(*understood(case), width=width)[name].definition
    height = definition["height"] + definition["padding"]["bottom"]
    placed = words(definition)
    assert placed
    for word, _, (left, top, right, bottom) in placed:
        assert left >= -0.5, word
        assert right <= width + 0.5, word
        assert top >= -0.5, word
        assert bottom <= height + 0.5, word
    for (first, _, a), (second, _, b) in combinations(placed, 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, f"{first!r} covers {second!r}"


@pytest.mark.parametrize("name", _DEFINED)
@pytest.mark.parametrize(("case", "width"), _EVERY)
def test_marks_lie_inside_the_drawing(case, width, name):
    """A line or a point outside its scale would run over the page: nothing is clipped."""
    definition = charts(*understood(case), width=width)[name].definition
    for layer in layers(definition):
        if layer["mark"]["type"] == "text":
            continue
        encoding, rows = layer["encoding"], definition["datasets"][layer["data"]["name"]]
        for channel, end in (("x", width), ("y", definition["height"] + definition["padding"]["bottom"])):
            (low, high), (first, last) = encoding[channel]["scale"]["domain"], encoding[channel]["scale"]["range"]
            fields = [encoding[name]["field"] for name in (channel, f"{channel}2") if name in encoding]
            for value in (row[field] for row in rows for field in fields):
                if value is not None:
                    at = first + (value - low) / (high - low) * (last - first)
                    assert -0.5 <= at <= end + 0.5, (layer["data"]["name"], channel, value)


@pytest.mark.parametrize("case", CASES)
def test_words_are_fourteen_px_and_figures_carry_no_more_digits_than_shown(case):
    for one in charts(*understood(case)).values():
        if one.definition is not None:
            assert one.definition["config"]["text"]["fontSize"] == 14
            assert "font-size" in one.svg()
            assert set(findall(r'font-size="([^"]+)"', one.svg())) == {"14px"}


def test_words_in_a_drawing_and_its_label_go_through_the_translation():
    u, a = understood("day12")
    asked: list[str] = []

    def say(text: str) -> str:
        asked.append(text)
        return text.upper() if "{" not in text else text

    svg = charts(u, a, say=say)["water"].svg()
    assert ">WANTED<" in svg
    assert f">{100 * a.water.loss_at_lockdown.value:.1f} AS IT IS<" in svg
    assert any(text.startswith("Loss of weight") for text in asked)


def test_a_sentence_given_stands_for_the_label():
    u, a = understood("day12")
    found = charts(u, a, labels={"water": "Drying too fast.", "eggs": "Ten of twelve."})
    assert found["water"].label == "Drying too fast."
    assert tree(found["water"].svg()).get("aria-label") == "Drying too fast."
    assert tree(found["eggs"].svg()).get("aria-label") == "Ten of twelve."


def test_write_leaves_drawings_that_stand_alone(tmp_path):
    u, a = understood("day12")
    paths = write(u, a, tmp_path / "charts", png=True)
    assert all(path.is_file() for path in paths)
    names = {path.name for path in paths}
    assert {"warmth.svg", "water.svg", "clock.svg", "count.svg", "eggs.svg", "water.png", "air-cell-1.svg"} <= names
    assert len([name for name in names if name.startswith("air-cell")]) == 12
    for path in paths:
        content = path.read_bytes()
        if path.suffix == ".svg":
            tree(content.decode())
            assert b"prefers-color-scheme:dark" in content
            assert b'="var(' not in content
        else:
            assert content[:8] == b"\x89PNG\r\n\x1a\n"


def test_an_air_cell_file_is_not_named_by_what_a_keeper_typed(tmp_path):
    u, a = understood("many")
    assert sorted(path.name for path in write(u, a, tmp_path)) == [
        "clock.svg", "count.svg", "eggs.svg", "warmth.svg", "water.svg"
    ]  # fmt: skip


@pytest.mark.parametrize("dark", [False, True])
def test_a_chart_as_a_picture(dark):
    u, a = understood("day3")
    png = charts(u, a, width=350)["water"].png(dark=dark, scale=1.0)
    assert png[:8] == b"\x89PNG\r\n\x1a\n"


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize(("kind", "share"), [("ostrich", 0.3), ("ostrich", 0.97), ("goose", 0.9), ("quail", 0.95)])
def test_long_and_short_terms_are_drawn_as_well(kind, share, width):
    batch = of_kind(kind, share)
    found = charts(*batch, width=width)
    for name in _DEFINED:
        placed = words(found[name].definition)
        for (first, _, a), (second, _, b) in combinations(placed, 2):
            assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], f"{first!r} covers {second!r}"
    named = {word for word, _, _ in words(found["clock"].definition)}
    assert any(word.startswith("day ") for word in named)
    assert len([word for word in named if word[:3] in ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")]) >= 2
