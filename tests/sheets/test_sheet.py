"""The frame of every sheet: size of paper and bar, letters, language, the same bytes for the same sheet."""

import re
from dataclasses import replace
from functools import cache
from importlib.resources import files

import numpy as np
import pytest

from chalaza.errors import ChalazaError
from chalaza.sheets import Paper, Sheet, pdf, pictures, sheet
from chalaza.sheets.air_cell import By, laid
from chalaza.words import Preference, Voice
from chalaza.words.language import BUILT_IN, Language
from charts.cases import understood
from sheets.reading import MM_PER_PT, gray, inflated, paths, strokes

#: Ten pixels to the millimetre.
PPI = 254.0
LAYOUTS = tuple(one.name for one in files("chalaza.sheets").iterdir() if one.name.endswith(".typ"))


@cache
def made(paper: Paper = Paper.A4, units: Preference = Preference.BOTH) -> Sheet:
    """The air cells of an invented batch on its twelfth day."""
    u, a = understood("day12")
    return laid(u, a, Voice(units=units), paper=paper)


@pytest.mark.parametrize(("paper", "size_mm"), [(Paper.A4, (210.0, 297.0)), (Paper.LETTER, (215.9, 279.4))])
def test_a_page_has_the_size_of_its_paper(paper: Paper, size_mm: tuple[float, float]) -> None:
    boxes = re.findall(rb"/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]", pdf(made(paper)))
    assert len(boxes) == len(pictures(made(paper), ppi=20))
    for box in boxes:
        assert [float(each) * MM_PER_PT for each in box] == pytest.approx(size_mm, abs=0.01)


def test_the_check_bar_is_fifty_millimetres_on_every_page() -> None:
    u, a = understood("day12")
    pages = pictures(laid(u, a, Voice(), by=By.EGG), ppi=PPI)
    assert len(pages) > 1
    for page in pages:
        head = gray(page)[: int(26 * PPI / 25.4), : int(70 * PPI / 25.4)]
        # Strokes at both ends are the tallest marks of the head's left side.
        tall = strokes(255 - 255 * ((head < 128).sum(axis=0) > 35))
        assert len(tall) == 2
        # Middle of one end stroke to the middle of the other; a pixel is 0.1 mm.
        assert (tall[1] - tall[0]) / 10.0 == pytest.approx(50.0, abs=0.1)


def test_the_bar_is_drawn_as_fifty_millimetres_in_the_pdf_itself() -> None:
    lengths = [float(np.ptp(one, axis=0).max()) for one in paths(pdf(made())) if len(one) == 2]
    assert sum(abs(each - 50.0) < 1e-3 for each in lengths) == len(pictures(made(), ppi=20))


def test_who_reads_inches_alone_gets_a_bar_of_two_inches_as_well() -> None:
    lengths = [float(np.ptp(one, axis=0).max()) for one in paths(pdf(made(units=Preference.US))) if len(one) == 2]
    assert any(abs(each - 50.0) < 1e-3 for each in lengths)
    assert any(abs(each - 50.8) < 1e-3 for each in lengths)
    frame = made(units=Preference.US).data["frame"]
    assert frame["check"] == "The upper bar must be 50\u00a0mm long, the lower one 2\u00a0in."


def test_the_words_beside_the_bar_say_how_to_check_and_how_to_print() -> None:
    frame = made().data["frame"]
    assert frame["check"] == "This bar must be 50\u00a0mm long."
    assert "ruler" in frame["ruler"]
    assert "100 %" in frame["ruler"]


def test_the_same_sheet_and_moment_give_the_same_bytes() -> None:
    assert pdf(made(), timestamp=1_780_000_000) == pdf(made(), timestamp=1_780_000_000)
    assert pdf(made()) == pdf(made(), timestamp=made().at)
    other = pdf(made(), timestamp=1_780_000_000)
    assert other != pdf(made())
    assert b"D:20260528202640" in other


def test_the_pdf_is_tagged_in_its_language_and_loads_and_runs_nothing() -> None:
    whole = pdf(made())
    parts = b"\n".join((whole, *inflated(whole)))
    assert b"/StructTreeRoot" in whole
    assert b"/Lang(en)" in whole
    assert b"pdfuaid:part" in parts
    assert parts.count(b"/Alt") >= len(made().data["body"]["eggs"])
    assert not re.search(rb"/(JavaScript|JS|Launch|URI|GoToR|EmbeddedFile|SubmitForm)\b", parts)


def test_letters_come_from_the_compilers_own_wheel() -> None:
    whole = pdf(made())
    parts = b"\n".join((whole, *inflated(whole)))
    names = {name.decode() for name in re.findall(rb"/BaseFont ?/[A-Z]{6}\+([A-Za-z]+)", parts)}
    assert names == {"LibertinusSerif"}


@pytest.mark.parametrize(("name", "told"), [("de", ("de", "")), ("pt_BR", ("pt", "BR")), ("pseudo", ("en", ""))])
def test_the_language_is_told_to_who_reads_aloud(name: str, told: tuple[str, str]) -> None:
    english = BUILT_IN["en"]
    u, a = understood("day12")
    frame = laid(u, a, Voice(language=Language(name, english.gettext, english.ngettext))).data["frame"]
    assert (frame["language"], frame["region"]) == told


def test_a_sign_that_the_letters_lack_becomes_a_box_and_the_foot_says_so() -> None:
    one = made()
    body = dict(one.data["body"]) | {"lead": "Hens 🐣 and 漢, שלום, привет"}
    settable, standards = sheet._settable(replace(one, data=one.data | {"body": body}), one.at)
    assert settable["body"]["lead"] == "Hens □ and □, שלום, привет"
    assert settable["lacking"] is True
    assert settable["frame"]["lacking"].startswith("□ stands for")
    assert standards == ["ua-1"]
    assert sheet._settable(one, one.at)[0]["lacking"] is False


def test_a_layout_that_cannot_be_set_is_told_and_not_sent() -> None:
    one = made()
    with pytest.raises(ChalazaError, match="the sheet 'air_cell' cannot be set"):
        pdf(replace(one, data={"frame": one.data["frame"], "body": {}}))


@pytest.mark.parametrize("name", LAYOUTS)
def test_layouts_hold_no_words_and_read_nothing(name: str) -> None:
    text = re.sub(r"//.*", "", (files("chalaza.sheets") / name).read_text(encoding="utf-8").replace("'http://", "'"))
    said = [one for one in re.findall(r"\[([^\[\]]*)\]", text) if re.search(r"[A-Za-z]", one)]
    assert said == []
    assert not re.search(r"#?import|#?include|\beval\b|\bread\(|@preview|plugin\(", text)
    assert LAYOUTS
