"""The card of air cells: true to size in print, its figures those of the drawing in the browser, its words translated."""

import re
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from chalaza import facts
from chalaza.assess import prior_beliefs, read, understand
from chalaza.charts import air_cell_of
from chalaza.errors import ChalazaError, EvidenceError
from chalaza.inference.understanding import Understanding
from chalaza.physics import egg
from chalaza.sheets import SHEETS, Paper, Sheet, pdf, pictures
from chalaza.sheets.air_cell import By, card, days, laid
from chalaza.values.answers import Assessment
from chalaza.values.evidence import Egg, Weighing
from chalaza.words import Preference, Voice, language
from charts.cases import evidence, log, of_kind, understood
from factory import DAY_S, SET_AT, make_evidence
from sheets.reading import Gray, gray, paths, runs, strokes

#: Ten pixels to the millimetre.
PPI, PX_PER_MM = 254.0, 10.0


def batch(labels: list[str], name: str = "Spring", sizes: list[tuple[float, float]] | None = None) -> Any:
    """Eggs with these labels, weighed at setting and on day 7, seen on day 10."""
    sizes = sizes or [(57.0 + 0.2 * (i % 12), 42.0 + 0.3 * (i % 9)) for i in range(len(labels))]
    eggs = tuple(
        Egg(uid=f"e{i}", label=label, length_mm=size[0], breadth_mm=size[1])
        for i, (label, size) in enumerate(zip(labels, sizes, strict=True))
    )
    weighings = tuple(
        Weighing(uid=f"w{day}-{i}", at=SET_AT + day * DAY_S, eggs=f"e{i}", session=f"d{day}",
                 gross_g=round(float(egg.mass_from_size(*size)) * (1.0 - 0.0065 * day), 1))
        for day in (0, 7)
        for i, size in enumerate(sizes)
    )  # fmt: skip
    rows = make_evidence(series={"p1": log(10.0)}, eggs=eggs, lots=(), weighings=weighings, candlings=(), events=())
    rows = replace(rows, batch=replace(rows.batch, name=name))
    u = understand(prior_beliefs("chicken"), rows, SET_AT + 10 * DAY_S)
    return u, read(u, rows)


@cache
def two_dozen() -> tuple[Understanding, Assessment]:
    """Twenty-four measured and weighed eggs."""
    found: tuple[Understanding, Assessment] = batch([f"{row}{i}" for row in "ABC" for i in range(1, 9)])
    return found


def strip_of(page: Gray, breadth_mm: float) -> tuple[Gray, int, int]:
    """The strip of a page that holds the first outline, and the rows in which it stands: the tallest stretch of ink."""
    strip = page[:, : int((12.0 + 0.5 + breadth_mm + 1.0) * PX_PER_MM)]
    first, last = max(runs((strip < 128).any(axis=1)), key=lambda one: one[1] - one[0])
    return strip, first, last


@pytest.mark.parametrize("paper", [Paper.A4, Paper.LETTER])
def test_an_egg_is_printed_as_long_and_as_broad_as_it_is(paper: Paper) -> None:
    u, a = batch(["A1"], sizes=[(57.3, 43.6)])
    page = gray(pictures(laid(u, a, Voice(), by=By.EGG, paper=paper), ppi=PPI)[0])
    strip, first, last = strip_of(page, 43.6)
    # Middle to middle of the stroke; the outline stands 12.5 mm from the edge of the paper.
    middle = strip[first:last, round((12.5 + 0.5 * 43.6) * PX_PER_MM)]
    upright = strokes(middle)
    assert (upright[-1] - upright[0]) / PX_PER_MM == pytest.approx(57.3, abs=0.2)
    across = [strokes(strip[y, 100:]) for y in range(first + 220, first + 330)]
    widest = max(row[-1] - row[0] for row in across)
    assert widest / PX_PER_MM == pytest.approx(43.6, abs=0.2)


def test_levels_are_printed_where_they_are_told_to_be() -> None:
    u, a = batch(["A1"], sizes=[(57.3, 43.6)])
    cell = air_cell_of(u, a, "e0")
    page = gray(pictures(laid(u, a, Voice(), by=By.EGG), ppi=PPI)[0])
    strip, first, last = strip_of(page, 43.6)
    upright = strokes(strip[first:last, round((12.5 + 0.5 * 43.6) * PX_PER_MM)])
    beside = strip[first:last, round((12.5 + 0.25 * 43.6) * PX_PER_MM)]
    level = [at for at in strokes(np.where(beside < 60, 0, 255)) if at - upright[0] < 250]
    assert (level[-1] - upright[0]) / PX_PER_MM == pytest.approx(cell.depth_mm, abs=0.2)


def test_outlines_of_the_pdf_have_the_sizes_of_the_eggs() -> None:
    u, a = two_dozen()
    uids = ["e0", "e5", "e11"]
    whole = [np.ptp(one, axis=0) for one in paths(card(u, a, Voice(), by=By.EGG, eggs=uids)) if len(one) > 100]
    sizes = [(u.rows.units[uid].breadth_mm, u.rows.units[uid].length_mm) for uid in uids]
    for breadth, length in sizes:
        found = [one for one in whole if abs(one[1] - length) < 0.01]
        assert any(abs(one[0] - breadth) < 0.03 for one in found), (breadth, length)


def test_two_dozen_eggs_fit_with_a_row_for_each() -> None:
    u, a = two_dozen()
    made = laid(u, a, Voice())
    body = made.data["body"]
    assert [row[0] for row in body["rows"]] == [f"{row}{i}" for row in "ABC" for i in range(1, 9)]
    assert all(row[-1] == "" for row in body["rows"])
    outlines = {one["caption"].split("mm")[0].strip() for one in body["eggs"]}
    assert {row[1] for row in body["rows"]} == outlines
    assert 2 <= len(outlines) <= 5
    pages = [gray(one) for one in pictures(made, ppi=50)]
    assert len(pages) == 2
    # Nothing runs over the margin of 12 mm (a pixel is half a millimetre).
    for page in pages:
        assert not (page[:, :22] < 128).any()
        assert not (page[:, -22:] < 128).any()


def test_two_dozen_outlines_fit_on_four_pages_and_their_notes() -> None:
    u, a = two_dozen()
    made = laid(u, a, Voice(), by=By.EGG)
    assert len(made.data["body"]["eggs"]) == 24
    assert made.data["body"]["rows"] == []
    assert len(pictures(made, ppi=20)) == 5


def test_figures_are_those_of_the_drawing_on_the_page() -> None:
    u, a = two_dozen()
    body = laid(u, a, Voice()).data["body"]
    for i in (0, 7, 23):
        cell, row = air_cell_of(u, a, f"e{i}"), body["rows"][i]
        assert row[3].split("\u00a0")[0] == f"{100 * cell.loss:.1f}"
        assert row[4] == f"{cell.wanted_mm[0]:.1f}–{cell.wanted_mm[1]:.1f}"
        assert row[5] == f"{cell.depth_mm:.1f}\u00a0({cell.shallow_mm:.1f}–{cell.reach_mm:.1f})"


def test_bands_follow_the_days_of_the_kind_and_today() -> None:
    u, a = two_dozen()
    assert days(facts.kind("chicken")) == (7.0, 10.0, 14.0, 18.0)
    made = laid(u, a, Voice(), by=By.EGG, eggs=["e0"])
    (drawn,) = made.data["body"]["eggs"]
    words = [one["text"] for one in drawn["words"]]
    # On day 10 the band of today is that of day 10.
    assert [text.split(":")[0] for text in words if "wanted" in text] == ["day 7", "today", "day 14", "day 18"]
    size = (u.rows.units["e0"].length_mm, u.rows.units["e0"].breadth_mm)
    cell = air_cell_of(u, a, "e0")
    # By hand for day 14: the loss wanted by day 18, even from setting; usual torch 2 mm + 0.93; 0.45 mL for 60 g.
    for share, text in zip((0.11, 0.135), _band(words, "day 14"), strict=True):
        lost = share * 14.0 / 18.0
        flat = egg.air_cell_depth(0.45 * cell.mass_g / 60.0 + egg.air_cell_growth(cell.mass_g * lost), *size)
        assert float(text) == pytest.approx(2.0 + 0.93 * flat, abs=0.11)
    assert [one["now"] for one in drawn["bands"]] == [False, False, False, True]


def _band(words: list[str], day: str) -> list[str]:
    return re.findall(r"[\d.]+", next(one for one in words if one.startswith(f"{day}:")).split(":")[1])


@pytest.mark.parametrize("key", sorted(facts.kinds()))
def test_every_kind_has_days_up_to_its_target_and_fits_on_paper(key: str) -> None:
    kind = facts.kind(key)
    found = days(kind)
    assert found == tuple(sorted(found))
    assert found[-1] == kind.loss_target.day_d
    assert 3 <= len(found) <= 4
    u, a = of_kind(key, 0.5)
    page = gray(pictures(laid(u, a, Voice()), ppi=25)[0])
    assert not (page[:, -10:] < 128).any()


def test_before_the_first_day_nothing_is_wanted_yet() -> None:
    u, a = understood("start")
    body = laid(u, a, Voice()).data["body"]
    assert not any("today" in one["text"] for drawn in body["eggs"] for one in drawn["words"])
    assert {row[4] for row in body["rows"]} == {"–"}


def test_after_the_day_of_the_target_it_is_told_as_it_was_then() -> None:
    u, a = understood("hatching")
    body = laid(u, a, Voice()).data["body"]
    assert any(one["text"].startswith("at lockdown:") for one in body["eggs"][0]["words"])
    assert body["heads"][3] == "lost by lockdown, %"


def test_eggs_that_are_out_or_opened_are_left_out_and_named_ones_are_taken() -> None:
    u, a = understood("after")
    assert [row[0] for row in laid(u, a, Voice()).data["body"]["rows"]] == ["11", "12"]
    assert [row[0] for row in laid(u, a, Voice(), eggs=["e3", "e3", "e1"]).data["body"]["rows"]] == ["3", "1"]


def test_a_counted_group_has_a_row_with_its_number() -> None:
    u, a = understood("many")
    body = laid(u, a, Voice()).data["body"]
    assert [row[0] for row in body["rows"]] == ["T1 (100 eggs)", "T2 (100 eggs)", "T3 (100 eggs)"]
    assert body["eggs"][0]["caption"].endswith("300 eggs")


def test_no_egg_and_no_such_egg_are_told() -> None:
    u, a = understood("day12")
    with pytest.raises(ChalazaError, match="no egg to draw: name at least one"):
        laid(u, a, Voice(), eggs=[])
    with pytest.raises(EvidenceError, match="no egg 'e99' in this batch"):
        card(u, a, Voice(), eggs=["e1", "e99"])


def test_without_a_second_weighing_the_card_says_what_it_goes_by() -> None:
    def heads(name: str) -> list[str]:
        return [one["head"] for one in laid(*understood(name), Voice()).data["body"]["notes"]]

    assert "Not weighed." in heads("none")
    assert "Not weighed." not in heads("day12")


def test_a_millimetre_is_told_in_share_of_the_weight() -> None:
    u, a = batch(["A1"], sizes=[(57.0, 43.0)])
    cell = air_cell_of(u, a, "e0")
    note = next(one["text"] for one in laid(u, a, Voice()).data["body"]["notes"] if one["head"] == "How sure it is.")
    told = float(re.search(r"about ([\d.]+)", note)[1])  # type: ignore[index]

    def flat(lost: float) -> float:
        return egg.air_cell_depth(0.45 * cell.mass_g / 60 + egg.air_cell_growth(cell.mass_g * lost), 57.0, 43.0)

    slope = 0.93 * (flat(cell.loss + 0.005) - flat(cell.loss - 0.005)) / 0.01
    assert told == pytest.approx(100.0 / slope, abs=0.06)


def test_cautions_stand_with_the_act() -> None:
    care = " ".join(laid(*understood("day12"), Voice()).data["body"]["cautions"])
    assert "Wash hands" in care
    assert "lamp is hot" in care
    assert "one look" in care


def test_inches_and_ounces_for_who_reads_them() -> None:
    u, a = two_dozen()
    body = laid(u, a, Voice(units=Preference.US)).data["body"]
    cell = air_cell_of(u, a, "e0")
    assert body["heads"][5] == "expected, in"
    assert body["rows"][0][5].startswith(f"{cell.depth_mm / 25.4:.2f}\u00a0(")
    assert body["rows"][0][2] == f"{cell.mass_g / 28.349523125:.2f}"
    text = " ".join(_texts(body))
    assert "mm" not in text.replace("common", "")


# Words typed and words said -----------------------------------------------------------------------------------------

AWKWARD = [
    '#let x = panic("no")', "#import \"@preview/x:1.0.0\"", "*bold* _it_", "$x^2$ $", "`raw", "[", "]}", "\\", "<ref> @ref",
    "/* comment", "// line", '"quoted"', "שלום 12", "مرحبا", "🐣🐤", "漢字", "a\u202eb\u0000c", "\ud800", "W" * 300, "",
]  # fmt: skip


def _texts(data: Any) -> list[str]:
    if isinstance(data, str):
        return [data]
    if isinstance(data, dict):
        return [text for each in data.values() for text in _texts(each)]
    return [text for each in data for text in _texts(each)] if isinstance(data, list | tuple) else []


@pytest.mark.parametrize("by", list(By))
def test_whatever_was_typed_is_set_as_text(by: By) -> None:
    u, a = batch(AWKWARD, name='#panic() *x* $y$ "q" 🐣 שלום ' + "long" * 30)
    made = laid(u, a, Voice(), by=by)
    assert pdf(made).startswith(b"%PDF")
    if by is By.SIZE:
        labels = [row[0] for row in made.data["body"]["rows"]]
        assert labels[2] == "*bold* _it_"
        assert labels[-1] == "e19"  # no label: the egg's own name in the records


def test_marks_of_markup_are_printed_and_not_obeyed() -> None:
    def width(label: str) -> int:
        u, a = batch([label], sizes=[(57.0, 43.0)])
        page = gray(pictures(laid(u, a, Voice()), ppi=PPI)[0])
        rows = runs((page[:, 120:400] < 128).any(axis=1))
        below = [one for one in rows if one[0] > 1000]  # under the outline
        line = below[3]  # caption, head of the table, its rule, first row
        return int(np.ptp(np.flatnonzero((page[line[0] : line[1], 120:400] < 128).any(axis=0))))

    # Two asterisks of 10.5 pt are at least 3 mm; bold type alone would add a tenth of a millimetre.
    assert width("*ii*") - width("ii") > 25


def pseudo_free(text: str) -> str:
    """Letters of a text that no lookup has changed, units and what the keeper typed apart."""
    bare = re.sub(r"\{[a-z]+\}|\b(mm|in|g|oz)\b|Spring", "", text)
    return "".join(re.findall(r"[A-Za-z]+", bare))


@pytest.mark.parametrize("name", ["none", "day12", "hatching", "many"])
@pytest.mark.parametrize("by", list(By))
def test_every_word_of_the_card_goes_through_the_language(name: str, by: By) -> None:
    u, a = understood(name)
    made = laid(u, a, Voice(language=language("pseudo")), by=by)
    frame = {key: each for key, each in made.data["frame"].items() if key not in ("paper", "language", "region")}
    labels = {unit.label for unit in u.rows.units.values()}
    texts = [*_texts(frame), *_texts(made.data["body"])]
    left = {
        text: pseudo_free(text) for text in texts if not any(re.search(rf"\b{re.escape(x)}\b", text) for x in labels)
    }
    assert {text: found for text, found in left.items() if found} == {}
    assert len(texts) > 30


def test_the_sheet_is_in_the_list_of_sheets() -> None:
    assert SHEETS["air-cell"] == laid.__module__


def test_marks_of_the_batch_move_the_card() -> None:
    rows, now = evidence("day12")
    from chalaza.values.evidence import AirCellMark

    marks = tuple(
        AirCellMark(
            uid=f"m{i}", at=now - 3600, egg=f"e{i}", depth_mm=air_cell_of(*understood("day12"), f"e{i}").depth_mm - 2
        )
        for i in (1, 2, 3)
    )
    marked = replace(rows, air_cells=marks)
    u = understand(prior_beliefs("chicken"), marked, now)
    made: Sheet = laid(u, read(u, marked), Voice())
    before = laid(*understood("day12"), Voice())

    def expected(one: Sheet) -> float:
        return float(one.data["body"]["rows"][4][5].split("\u00a0")[0])

    assert expected(made) < expected(before) - 1.0
    note = next(one["text"] for one in made.data["body"]["notes"] if one["head"] == "How sure it is.")
    assert "marks noted so far" in note
