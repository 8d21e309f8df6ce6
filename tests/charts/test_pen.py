import pytest

from chalaza.charts import pen
from chalaza.charts.labels import Label
from chalaza.errors import ChalazaError
from charts.drawings import sound
from charts.reading import SVG


@pytest.mark.parametrize(("value", "text"), [(3.0, "3"), (3.14, "3.1"), (-0.01, "0"), (-0.26, "-0.3"), (120.0, "120")])
def test_places_are_as_short_as_a_tenth_of_a_pixel_allows(value, text):
    assert pen.n(value) == text


def test_marks_are_svg_in_named_colours():
    marks = (
        pen.path("M0 0H9", dash=(5, 4), round_ends=True) + pen.disc(4.0, 5.0, 2.0) + pen.yolk(9.0, 9.0, 6.5)
        + pen.bar(0.0, 5.0, 10.0, 8.0, thick=4.0, tick=8.0) + pen.path("M0 0H9V9Z", stroke=None, fill="ink", opacity=0.16)
    )  # fmt: skip
    root = sound(f'<svg xmlns="http://www.w3.org/2000/svg">{marks}</svg>')
    assert root[0].get("stroke-dasharray") == "5 4"
    assert root[2].get("fill") == "var(--yolk)"
    assert root[2].get("stroke") == "var(--ink)"
    assert root[-1].get("stroke") is None


def test_a_colour_that_has_no_name_is_refused():
    with pytest.raises(ChalazaError, match="no colour 'red'"):
        pen.path("M0 0H9", stroke="red")


def test_words_keep_what_a_page_would_read_as_marks():
    svg = pen.words([Label(x=1.0, y=14.0, text="<b> & 5", align="right", token="soft", bold=True)])
    word = sound(f'<svg xmlns="http://www.w3.org/2000/svg">{svg}</svg>').find(f"{SVG}text")
    assert word.text == "<b> & 5"
    assert word.get("text-anchor") == "end"
    assert word.get("font-weight") == "700"
    assert word.get("font-size") == "14"
