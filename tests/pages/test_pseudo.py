"""The finder of unmarked text: it finds what it must, and leaves alone what may stand."""

import pytest
from tests.pages.pseudo import unmarked


@pytest.mark.parametrize(
    "html",
    [
        "<p>Plain words</p>",
        "<p>⟦Ŵōŕđś⟧ and more</p>",
        '<p aria-label="spoken">⟦Ŵōŕđś⟧</p>',
        '<input type="submit" value="Send">',
        "<title>⟦Ţōđáý⟧ · Chalaza</title>",
        "<svg><text>set</text></svg>",
        "<p>37.5 degrees</p>",
    ],
)
def test_text_that_went_through_no_lookup_is_found(html: str) -> None:
    assert len(unmarked(html)) == 1


@pytest.mark.parametrize(
    "html",
    [
        "<p>⟦Ŵōŕđś ⟦ẃíťħíń⟧ ẃōŕđś⟧</p>",
        "<p>37.5 °C (37.2–37.8; 99.5 °F)</p>",
        "<p>± 24 h</p><td>12.0–12.4 %</td><td>1 234</td><th>⟦đéƿťħ⟧, mm</th>",
        "<script>var words = 1</script><style>p { color: red }</style>",
        "<p>−4 … +12 h</p><p>03:00</p>",
    ],
)
def test_figures_units_and_sentences_may_stand(html: str) -> None:
    assert unmarked(html) == []


def test_what_a_keeper_wrote_may_stand_where_the_test_names_it() -> None:
    assert unmarked("<h1>Speckled hens</h1>", "Speckled hens") == []
    assert unmarked("<h1>Speckled hens, again</h1>", "Speckled hens") == ["Speckled hens, again"]
