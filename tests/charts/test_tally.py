from re import findall

import pytest

from chalaza.charts import tally
from charts.cases import CASES, understood
from charts.reading import SVG, colours, tree


@pytest.mark.parametrize("name", CASES)
def test_every_egg_is_counted_once(name):
    _, a = understood(name)
    found = tally.tally(a)
    assert sum(n for _, n in found.items()) == a.count.set
    assert found.hatched == a.count.out


def test_eggs_are_sorted_by_their_odds():
    assert tally.tally(understood("day12")[1]) == tally.Tally(sure=10, open=2, unlikely=0, hatched=0, gone=0)
    assert tally.tally(understood("after")[1]) == tally.Tally(sure=0, open=2, unlikely=0, hatched=9, gone=1)


def test_an_egg_is_one_mark_and_many_eggs_share_marks():
    def marks(name):
        svg = tally.drawing(*understood(name))
        return len(findall(r'<g transform="translate\([\d. ]+\)">', svg)), svg

    assert marks("day12")[0] == 12
    n, svg = marks("many")
    assert n <= 44
    assert "each mark: 10" in svg


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("width", [350, 420])
def test_marks_and_words_lie_inside_in_named_colours(name, width):
    svg = tally.drawing(*understood(name), width=width)
    root = tree(svg)
    height = float(root.get("height"))
    assert all(one.startswith("var(--") for one in colours(svg))
    for x, y in findall(r'<g transform="translate\(([\d.]+) ([\d.]+)\)">', svg):
        assert 12.5 <= float(x) <= width - 12.5
        assert float(y) + 33.0 <= height
    for word in root.iter(f"{SVG}text"):
        assert float(word.get("y")) <= height


def test_the_table_gives_each_egg_its_odds():
    _, a = understood("day12")
    rows = tally.table(*understood("day12")).rows
    assert [row[2] for row in rows] == [one.alive for one in a.count.eggs]
    assert tally.label(*understood("after")) == (
        "12 eggs by how likely they are alive: 2 open, 9 hatched, 1 taken out."
    )
