from re import findall, search

import pytest

from chalaza.charts import tokens
from chalaza.errors import ChalazaError


def _luminance(colour: str) -> float:
    digits = colour.lstrip("#")
    digits = "".join(c * 2 for c in digits) if len(digits) == 3 else digits
    parts = [int(digits[i : i + 2], 16) / 255.0 for i in (0, 2, 4)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(a: str, b: str) -> float:
    """WCAG 2.2, contrast ratio."""
    high, low = sorted((_luminance(a), _luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_three_palettes_name_the_same_colours():
    assert set(tokens.LIGHT) == set(tokens.DARK) == set(tokens.PRINT)


@pytest.mark.parametrize(
    ("palette", "file", "start"),
    [
        (tokens.LIGHT, "tokens.css", r":root \{"),
        (tokens.DARK, "tokens.css", r':root\[data-theme="dark"\] \{'),
        (tokens.PRINT, "print.css", r":root, :root"),
    ],
)
def test_colours_are_those_of_the_design(shared, palette, file, start):
    text = (shared / "design" / "mock" / file).read_text()
    block = text[search(start, text).start() :].split("}", 1)[0]
    named = dict(findall(r"--([a-z-]+):\s*(#[0-9A-Fa-f]+)", block))
    assert {name: named[name] for name in palette} == dict(palette)


@pytest.mark.parametrize("palette", [tokens.LIGHT, tokens.DARK, tokens.PRINT])
@pytest.mark.parametrize("ground", ["paper", "want"])
def test_words_can_be_read_and_marks_be_seen(palette, ground):
    # WCAG 2.2: 4.5 for text (1.4.3), 3 for graphics that carry meaning (1.4.11).
    assert _contrast(palette["ink"], palette[ground]) >= 7.0
    assert _contrast(palette["soft"], palette[ground]) >= 4.5
    assert _contrast(palette["line"], palette[ground]) >= 3.0


def test_a_colour_without_a_name_is_refused():
    with pytest.raises(ChalazaError, match="no colour 'red'; allowed: paper, leaf, ink"):
        tokens.var("red")


def test_filled_leaves_no_variable():
    assert tokens.filled('<svg fill="var(--ink)" stroke="var(--on-yolk)"/>', tokens.DARK) == (
        '<svg fill="#D9CBB4" stroke="#15120E"/>'
    )


def test_a_standing_alone_drawing_shows_the_light_page_even_without_styles_and_follows_theme_and_paper_with_them():
    svg = tokens.alone('<svg width="1"><path fill="var(--ink)" stroke="var(--want)"/></svg>')
    assert '<path fill="#15252D" data-fill="ink" stroke="#D5E0DB" data-stroke="want"/>' in svg
    assert "var(" not in svg
    assert (
        '@media (prefers-color-scheme:dark){svg:root{background:#15120E}[data-fill="ink"]{fill:#D9CBB4}'
        '[data-stroke="want"]{stroke:#382F24}}'
    ) in svg
    assert '@media print{svg:root{background:#fff}[data-fill="ink"]{fill:#000}[data-stroke="want"]{stroke:#ddd}}' in svg
