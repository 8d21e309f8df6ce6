"""Air cells: a picture for each egg against its outline, and the card at true size."""

import re
from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza import charts
from chalaza.records import acts, answers
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
PAGE, CARD = "/batches/hens-batch/air-cells/", "/batches/hens-batch/air-cells.pdf"


def test_every_egg_still_in_the_box_has_its_picture_and_its_figures(pages: Client, shown: Batches) -> None:
    html = pages.get(PAGE).content.decode()
    found = answers.understood("hens-batch", NOW)
    assert html.count('role="img"') == len(found.assessment.count.eggs) == 28
    text = text_of(html)
    for one in found.assessment.count.eggs[:5]:
        cell = charts.air_cell_of(found.understanding, found.assessment, one.uid)
        assert f"{one.label}: expected {cell.depth_mm:.1f} mm ({cell.shallow_mm:.1f}–{cell.reach_mm:.1f}" in text
        assert f"{cell.wanted_mm[0]:.1f}–{cell.wanted_mm[1]:.1f} mm" in text


def test_cautions_of_the_lamp_stand_beside_it(pages: Client, shown: Batches) -> None:
    text = text_of(pages.get(PAGE).content.decode())
    assert "A strong lamp is hot" in text
    assert "Wash hands with soap" in text
    assert "Nothing is thrown away on one look" in text


def test_a_batch_without_eggs_left_says_so(pages: Client, shown: Batches) -> None:
    text = text_of(pages.get("/batches/quail-batch/air-cells/").content.decode())
    assert "No egg is left in the box." in text
    assert "PDF" not in text


def test_eggs_that_are_only_counted_are_told(pages: Client, shown: Batches) -> None:
    egg = m.Egg.objects.filter(batch__uid="ducks-batch").order_by("id").first()
    assert egg is not None
    egg.count = 4
    acts.act(m.Keeper.objects.the_one(), "edit", save=[egg])
    text = text_of(pages.get("/batches/ducks-batch/air-cells/").content.decode())
    assert "4 eggs are kept as a group" in text


@pytest.mark.parametrize(("paper", "width_pt"), [("a4", "595"), ("letter", "612")])
def test_the_card_is_a_pdf_of_the_paper_asked_for(pages: Client, shown: Batches, paper: str, width_pt: str) -> None:
    answer = pages.get(CARD, {"paper": paper})
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'inline; filename="air-cells-{paper}.pdf"'
    assert answer.content.startswith(b"%PDF-")
    assert re.search(rb"/MediaBox ?\[0 0 " + width_pt.encode(), answer.content)


@pytest.mark.parametrize(
    "path", [f"{CARD}?paper=a9", "/batches/quail-batch/air-cells.pdf", "/batches/nothing/air-cells/",
             "/batches/nothing/air-cells.pdf"],
)  # fmt: skip
def test_what_is_not_there_is_a_page_that_says_so(pages: Client, shown: Batches, path: str) -> None:
    assert pages.get(path).status_code == 404


def test_of_a_batch_that_cannot_be_assessed_it_says_why(pages: Client, shown: Batches) -> None:
    rows = [*m.Weighing.objects.filter(batch__uid="ducks-batch"), *m.Egg.objects.filter(batch__uid="ducks-batch")]
    acts.act(m.Keeper.objects.the_one(), "delete", delete=rows)
    assert "no eggs" in pages.get("/batches/ducks-batch/air-cells/").content.decode()
    assert pages.get("/batches/ducks-batch/air-cells.pdf").status_code == 404


def test_both_are_only_for_reading(pages: Client, shown: Batches) -> None:
    assert pages.post(PAGE).status_code == 405
    assert pages.post(CARD).status_code == 405


def test_every_text_went_through_a_lookup(pages: Client, shown: Batches) -> None:
    speak_pseudo()
    assert unmarked(pages.get(PAGE).content.decode(), *keepers_words()) == []
    assert unmarked(pages.get("/batches/quail-batch/air-cells/").content.decode(), *keepers_words()) == []
