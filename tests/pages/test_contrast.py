"""Contrast of every pair of colours that pages use, computed from the style sheets: light, dark and on paper.

Formula and bounds: WCAG 2.2, relative luminance and contrast ratio; 4.5 for text (1.4.3), 3 for what must be seen (1.4.11).
"""

from pathlib import Path
from re import DOTALL, MULTILINE, findall, search

import pytest

from chalaza.charts import tokens

STATIC = Path(__file__).resolve().parents[2] / "src" / "chalaza" / "pages" / "static"
#: Where each palette is written.
BLOCKS = {
    "light": ("tokens.css", r"^:root \{(.*?)\}"),
    "dark by the device": ("tokens.css", r':root:not\(\[data-theme="light"\]\) \{(.*?)\}'),
    "dark by choice": ("tokens.css", r'^:root\[data-theme="dark"\] \{(.*?)\}'),
    "paper": ("print.css", r"^:root, :root\[data-theme\][^{]*\{(.*?)\}"),
}
#: What stands on what: foreground, ground, the least ratio, and what it is.
PAIRS = (
    ("ink", "paper", 7.0, "words"),
    ("ink", "leaf", 7.0, "what is typed, keys"),
    ("ink", "want", 7.0, "marks and words in the wanted band"),
    ("soft", "paper", 4.5, "units, ranges, reasons"),
    ("soft", "leaf", 4.5, "units in a line one writes on"),
    ("soft", "want", 4.5, "words in the wanted band"),
    ("paper", "ink", 4.5, "the main act, the undo bar"),
    ("on-yolk", "yolk", 4.5, "a word behind which the yolk lies"),
    ("line", "paper", 3.0, "what is to come; edges of things to press"),
    ("line", "want", 3.0, "edges of the wanted band"),
    ("shade", "lit", 3.0, "what is dark inside an egg under the lamp"),
)


def _palette(name: str) -> dict[str, str]:
    file, pattern = BLOCKS[name]
    found = search(pattern, (STATIC / file).read_text(encoding="utf-8"), DOTALL | MULTILINE)
    assert found is not None
    return dict(findall(r"--([a-z-]+):\s*(#[0-9A-Fa-f]+)\b", found[1]))


def _luminance(colour: str) -> float:
    digits = colour.lstrip("#")
    digits = "".join(c * 2 for c in digits) if len(digits) == 3 else digits
    parts = [int(digits[i : i + 2], 16) / 255.0 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _ratio(a: str, b: str) -> float:
    high, low = sorted((_luminance(a), _luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("name", BLOCKS)
@pytest.mark.parametrize(("over", "ground", "least", "what"), PAIRS, ids=lambda one: str(one))
def test_what_is_written_and_drawn_can_be_seen(name: str, over: str, ground: str, least: float, what: str) -> None:
    palette = _palette(name)
    assert _ratio(palette[over], palette[ground]) >= least, what


@pytest.mark.parametrize(
    ("name", "drawn"),
    [
        ("light", tokens.LIGHT),
        ("dark by the device", tokens.DARK),
        ("dark by choice", tokens.DARK),
        ("paper", tokens.PRINT),
    ],
)
def test_drawings_and_pages_mean_the_same_colour_by_a_name(name: str, drawn: dict[str, str]) -> None:
    def whole(colour: str) -> str:
        digits = colour.lstrip("#").upper()
        return "".join(c * 2 for c in digits) if len(digits) == 3 else digits

    palette = _palette(name)
    assert {key: whole(palette[key]) for key in drawn} == {key: whole(colour) for key, colour in drawn.items()}
    assert set(palette) == set(drawn)


def test_the_ratios_of_the_design_are_those_of_the_style_sheet() -> None:
    # The table the design was made with, light and dark; the yolk itself is told from the page by its rim of ink.
    light, dark = _palette("light"), _palette("dark by choice")
    said = {
        ("ink", "paper"): (14.2, 11.7), ("soft", "paper"): (6.4, 7.2), ("soft", "want"): (5.2, 5.1),
        ("line", "paper"): (4.2, 4.7), ("line", "want"): (3.4, 3.3), ("on-yolk", "yolk"): (7.6, 7.9),
        ("shade", "lit"): (7.1, 7.1),
    }  # fmt: skip
    found = {
        (over, ground): tuple(round(_ratio(each[over], each[ground]), 1) for each in (light, dark))
        for over, ground in said
    }
    assert found == said


def test_no_style_sheet_names_a_colour_of_its_own() -> None:
    # Every colour has one name in one place: else it would not follow the theme, and nobody would have measured it.
    stray = {}
    for sheet in sorted(STATIC.glob("*.css")):
        if sheet.name in ("tokens.css", "print.css"):
            continue
        rules = "".join(findall(r"\{[^{}]*\}", sheet.read_text(encoding="utf-8")))
        found = findall(r"#[0-9A-Fa-f]{3,8}\b|\b(?:rgb|hsl|oklch|lab|color)a?\(|:\s*(?:red|green|white|black)\b", rules)
        if found:
            stray[sheet.name] = found
    assert stray == {}
