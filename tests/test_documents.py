"""The documents beside the code: words and units, the map, decisions, the README's shape."""

import re
from pathlib import Path

import pytest

from chalaza.exchange.schema import BELIEFS, TABLES, specs
from chalaza.quantities import QUANTITIES

ROOT = Path(__file__).resolve().parents[1]
DOCS = ROOT / "docs"
PAGES = (
    *sorted(DOCS.glob("*.md")),
    *sorted((DOCS / "decisions").glob("*.md")),
    ROOT / "README.md",
    ROOT / "CHANGELOG.md",
)


def _rows(page: Path) -> list[list[str]]:
    """Rows of the first table of a page, head and rule left out."""
    lines = page.read_text(encoding="utf-8").split("\n\n")
    table = next(block for block in lines if block.startswith("|"))
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()[2:]]


def test_nomenclature_has_one_word_and_one_unit_for_each_quantity() -> None:
    shown = {key: (words, unit, displays) for key, words, unit, displays, _ in _rows(DOCS / "nomenclature.md")}
    said = {
        one.key: (one.words, "share" if one.unit == "1" else one.unit, ", ".join(one.displays))
        for one in QUANTITIES.values()
    }
    assert shown == said


def test_every_column_of_the_open_folder_ends_as_the_nomenclature_says() -> None:
    endings = {key: tuple(re.findall(r"`([^`]+)`", ends)) for key, *_, ends in _rows(DOCS / "nomenclature.md")}
    wrong = []
    seen = set()
    for table in (*TABLES.values(), BELIEFS):
        for spec in specs(table):
            if spec.span is not None:
                seen.add(spec.span.key)
                if not spec.name.endswith(endings[spec.span.key]):
                    wrong.append(f"{table.file}: {spec.name} is {spec.span.words}")
    assert wrong == []
    assert len(seen) > 12


def test_the_map_names_every_folder_and_nothing_that_is_not_there() -> None:
    text = (DOCS / "map.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`([a-z_./-]+/)`", text))
    packages = {f"src/chalaza/{path.parent.name}/" for path in (ROOT / "src" / "chalaza").glob("*/__init__.py")}
    assert packages <= named
    assert {name for name in named if not (ROOT / name).is_dir()} == set()
    files = set(re.findall(r"`([A-Za-z_./-]+\.(?:py|js|md|toml|csv|sh|lock|rst))`", text))
    assert {name for name in files if not (ROOT / name).is_file()} == set()


def test_decisions_are_numbered_without_a_hole_and_say_what_was_weighed() -> None:
    pages = sorted((DOCS / "decisions").glob("*.md"))
    assert [page.name[:4] for page in pages] == [f"{n:04d}" for n in range(1, len(pages) + 1)]
    for page in pages:
        if page.name != "0005-facts-and-disagreements.md":  # a table: what is printed, what we hold, why
            assert re.search(r"^## Weighed", page.read_text(encoding="utf-8"), re.MULTILINE), page.name


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_links_within_the_documents_lead_somewhere(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    links = [link for link in re.findall(r"\]\(([^)#]+)", text) if "://" not in link]
    assert [link for link in links if not (page.parent / link).exists()] == []
    assert text.startswith("# ")


def test_the_readme_names_both_commands_and_every_folder_at_the_top() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "make demo" in text
    assert "make test" in text
    for name in ("records", "worker", "pages", "sheets"):
        assert f"`{name}`" in text
    for name in ("src/chalaza", "tests", "docs", "bench", "tools"):
        assert (ROOT / name).is_dir()
        assert f"`{name}/`" in text
    assert text.index("# Chalaza") == 0
    heads = re.findall(r"^## (.*)$", text, re.MULTILINE)
    assert heads[-1] == "Licence"
    assert {"What it does", "Start", "How sure the numbers are", "Cautions"} <= set(heads)


def test_every_subject_of_the_answers_has_its_page() -> None:
    pages = {page.stem for page in (DOCS / "manual").glob("*.rst")}
    assert {"warmth", "water", "clock", "count", "advice", "measure", "folder", "logs", "facts"} <= pages
    assert {"index", "start", "python", "commands", "numbers", "cautions"} <= pages


def test_every_subject_of_the_notebook_has_its_page() -> None:
    pages = {page.stem for page in (DOCS / "manual").glob("*.rst")}
    assert {"serve", "today", "batch", "entry", "logs", "machines", "sheets", "history", "reading"} <= pages
    assert {"phones", "backup", "folders", "answers", "folder_way", "languages"} <= pages


def test_every_page_of_the_manual_is_listed_in_its_index() -> None:
    index = (DOCS / "manual" / "index.rst").read_text(encoding="utf-8")
    listed = set(re.findall(r"^   ([a-z_]+)$", index, re.MULTILINE))
    assert {page.stem for page in (DOCS / "manual").glob("*.rst")} - {"index"} == listed
