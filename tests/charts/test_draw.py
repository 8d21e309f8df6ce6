import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from chalaza.charts import draw, tokens
from chalaza.charts.base import Drawing, Panel
from charts.reading import SVG, colours, pixels, tree


def small(label: str = "A line <rising> & falling") -> dict:
    out = Drawing(100, 60, label)
    panel = Panel(left=0.0, right=100.0, top=0.0, bottom=out.foot, x=(0.0, 2.0), y=(0.0, 1.0), x_ticks=(0.0,))
    out.data["rows"] = [{"x": float(x), "y": y} for x, y in enumerate((0.0, 1.0, 0.5))]
    out.panels.append([panel.line("rows", "x", "y", width=2.25)])
    return out.definition()


def test_a_drawing_is_a_picture_with_one_label_and_one_face():
    root = tree(draw.to_svg(small()))
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    assert root.get("aria-label") == "A line <rising> & falling"
    assert root.get("font-family") == tokens.FACE
    assert (root.get("width"), root.get("height")) == ("100", "60")


def test_colours_leave_as_names_and_stand_alone_as_light_ones():
    svg = draw.to_svg(small())
    assert colours(svg) == {"var(--ink)"}
    alone = draw.to_svg(small(), standalone=True)
    assert colours(alone) == {tokens.LIGHT["ink"]}
    tree(alone)


def test_the_same_definition_gives_the_same_bytes():
    first = draw.to_svg(small())
    draw.kept.clear()
    assert draw.to_svg(small()) == first


def test_many_threads_may_draw_at_once():
    with ThreadPoolExecutor(4) as pool:
        drawn = list(pool.map(lambda i: draw.to_svg(small(f"line {i}")), range(8)))
    assert [tree(one).get("aria-label") for one in drawn] == [f"line {i}" for i in range(8)]


@pytest.mark.parametrize("palette", [tokens.LIGHT, tokens.DARK])
def test_a_picture_lies_on_its_paper_in_its_colours(palette):
    found = pixels(draw.to_png(draw.to_svg(small()), palette=palette, scale=2.0))
    assert found.shape == (120, 200, 4)
    paper = [int(palette["paper"][i : i + 2], 16) for i in (1, 3, 5)]
    ink = [int(palette["ink"][i : i + 2], 16) for i in (1, 3, 5)]
    assert found[2, 3].tolist() == [*paper, 255]
    assert (abs(found[:, :, :3] - ink).max(axis=2) <= 2).any()


def test_numbers_that_are_not_are_refused_rather_than_drawn():
    broken = small()
    broken["datasets"]["rows"][1]["y"] = float("nan")
    with pytest.raises(ValueError, match="not JSON compliant"):
        draw.to_svg(broken)


def test_the_compiler_is_loaded_at_the_first_drawing_only():
    code = "import sys, chalaza.charts; print('vl_convert' in sys.modules)"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "False"


def test_of_what_was_drawn_the_last_are_kept_and_no_more(monkeypatch):
    made: list[str] = []
    compiled = draw._compiled

    def counting(text: str) -> str:
        made.append(text)
        return compiled(text)

    monkeypatch.setattr(draw, "_compiled", counting)
    monkeypatch.setattr(draw, "kept", draw._Kept(3))
    for label in ("a", "b", "c", "a", "d", "a", "b"):
        draw.to_svg(small(label))
    # The fourth puts out "b", which nobody had asked for since; "a" stays, for it was asked for again.
    assert [text.split('"description": "')[1][0] for text in made] == ["a", "b", "c", "d", "b"]
    assert len(draw.kept) == 3


def test_threads_that_ask_for_one_drawing_at_once_make_it_once(monkeypatch):
    made: list[str] = []
    compiled = draw._compiled

    def counting(text: str) -> str:
        made.append(text)
        return compiled(text)

    monkeypatch.setattr(draw, "_compiled", counting)
    draw.kept.clear()
    with ThreadPoolExecutor(6) as pool:
        drawn = set(pool.map(lambda _: draw.to_svg(small("one")), range(12)))
    assert len(drawn) == 1
    assert len(made) == 1
