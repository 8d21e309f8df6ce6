"""The page of all parts shows every part that pages use, made of the very templates the pages are made of."""

from pathlib import Path

import pytest
from django.test import Client
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked

from chalaza.charts import tokens
from chalaza.pages import patterns

pytestmark = pytest.mark.django_db

TEMPLATES = Path(patterns.__file__).parent / "templates"
#: Parts that cannot be looked at by themselves, with the reason.
NOT_SHOWN = {
    "today.html": "the whole page of the day; its lines are shown one by one",
    "fresh.html": "asks for fresh answers as soon as it is there",
}


def _shown(pages: Client) -> tuple[str, set[str]]:
    answer = pages.get("/patterns/")
    assert answer.status_code == 200
    return answer.content.decode(), {str(one.name) for one in answer.templates}


def test_every_part_of_the_pages_is_shown(pages: Client) -> None:
    _, used = _shown(pages)
    parts = {path.name for path in (TEMPLATES / "parts").glob("*.html")}
    assert len(parts) > 15
    assert {name for name in parts if f"parts/{name}" not in used} == set(NOT_SHOWN)


def test_the_page_needs_no_batch_and_stores_nothing(pages: Client) -> None:
    from chalaza.records import models as m

    text, _ = _shown(pages)
    assert "hens-batch" not in text
    assert not m.Batch.objects.exists()
    assert not m.Act.objects.exists()


def test_every_level_every_mark_and_every_colour_is_there(pages: Client) -> None:
    text, _ = _shown(pages)
    for level in ("good", "watch", "act", "urgent"):
        assert f'class="advice {level}"' in text
    for name in tokens.LIGHT:
        assert f'class="sw sw-{name}"' in text
    for word in ("alive", "unsure", "stopped", "clear", "not looked at", "taken out", "at hand"):
        assert f"<span>{word}</span>" in text


def test_the_field_that_is_wrong_keeps_what_was_typed_and_says_what_is_allowed(pages: Client) -> None:
    text, _ = _shown(pages)
    assert 'value="595"' in text
    assert "allowed: 0 to 100" in text
    assert 'name="keep_mass" value="35.1"' in text


def test_contrast_is_that_of_the_standard() -> None:
    # WCAG 2.2: black on white is 21 to 1, a colour on itself 1 to 1; #777777 on white is 4.48, just not enough.
    assert patterns.contrast("#000000", "#FFFFFF") == pytest.approx(21.0)
    assert patterns.contrast("#15252D", "#15252D") == 1.0
    assert patterns.contrast("#FFFFFF", "#777777") == pytest.approx(4.48, abs=0.005)


def test_all_of_it_can_be_translated(pages: Client) -> None:
    speak_pseudo()
    text, _ = _shown(pages)
    colours = [one for each in (tokens.LIGHT, tokens.DARK, tokens.PRINT) for one in each.values()]
    known = (*tokens.LIGHT, *colours, *keepers_words(), "shed-april.csv", "P1", *(f"A{n}" for n in range(1, 8)))
    assert unmarked(text, *known) == []
