"""The page of sheets: what there is to print, and how it comes out true to size."""

import pytest
from django.test import Client
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.records.demo import put_all

pytestmark = pytest.mark.django_db


def test_it_offers_the_card_of_every_batch_with_eggs_on_both_papers(pages: Client) -> None:
    batches = put_all()
    text = pages.get("/paper/").content.decode()
    for name, one in batches.items():
        assert one.name in text
        for paper in ("a4", "letter"):  # of the quail every egg has hatched or was opened
            offered = f'href="/batches/{one.uid}/air-cells.pdf?paper={paper}"' in text
            assert offered == (name != "orchard-quail")
    assert "No egg is left in the box." in text
    assert "100 %" in text
    assert "50 mm" in text


def test_an_empty_notebook_is_led_to_its_first_batch(pages: Client) -> None:
    answer = pages.get("/paper/")
    assert answer.status_code == 200
    assert 'href="/begin/"' in answer.content.decode()


def test_it_is_only_for_reading(pages: Client) -> None:
    assert pages.post("/paper/").status_code == 405


def test_every_text_went_through_a_lookup(pages: Client) -> None:
    put_all()
    speak_pseudo()
    assert unmarked(pages.get("/paper/").content.decode(), *keepers_words(), "A4", "Letter") == []
