"""Texts on their way to other languages: collected from the source, translated, compiled in the build, looked up."""

import importlib
import importlib.util
import os
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from types import MappingProxyType, ModuleType

import pytest
from babel.messages.pofile import read_po
from tests.cli.helpers import AT, folder, run

from chalaza import facts
from chalaza.charts import air_cell, charts
from chalaza.sheets.air_cell import By, laid
from chalaza.words import Language, Voice, advice, jsonable, language, languages
from chalaza.words import facts as words_facts
from chalaza.words.cautions import caution
from chalaza.words.language import Plural
from charts.cases import CASES, understood
from words.codes import all_codes, sample

ROOT = Path(__file__).resolve().parents[1]


def tool(name: str) -> ModuleType:
    """A module of the tools folder, which is no package."""
    spec = importlib.util.spec_from_file_location(name, ROOT / "tools" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


collect_words, build_catalogs = tool("collect_words"), tool("build_catalogs")


def pairs(found: Iterable[object]) -> list[tuple[str, str]]:
    """Text and plural of each."""
    return [(one.text, one.plural) for one in found]  # type: ignore[attr-defined]


@cache
def everything() -> tuple[object, ...]:
    """Every text of the program."""
    return tuple(collect_words.collect())


# Collecting ---------------------------------------------------------------------------------------------------------

PYTHON = """
from chalaza.words.language import Plural, mark
from chalaza.words.language import mark as later

NAMES = tuple(map(mark, ("Mon", "Tue")))
LONG = mark(
    "A text over "
    "two lines, {hole}."
)
EGGS = Plural(mark("{n} egg"), mark("{n} eggs"), by="n")
late = later("Later.")

def told(voice, say, n, name, text):
    voice.say(mark("Left.") if n else mark("Right."))
    voice.say("Said outright." if n else "Or this.")
    voice.language.ngettext("{n} day", "{n} days", n)
    voice.language.gettext("Looked up.")
    [say(one) for one in ("shell", "centre")]
    voice.say(text), say(f"not {n}"), voice.language.gettext(name), print("Not this.")
"""


def test_texts_of_python_are_found_in_all_ways_they_are_marked() -> None:
    assert sorted(pairs(collect_words.in_python(PYTHON, "x.py"))) == sorted(
        [
            ("Mon", ""), ("Tue", ""), ("A text over two lines, {hole}.", ""), ("{n} egg", "{n} eggs"), ("{n} egg", ""),
            ("{n} eggs", ""), ("Later.", ""), ("Left.", ""), ("Right.", ""), ("Said outright.", ""), ("Or this.", ""),
            ("{n} day", "{n} days"), ("Looked up.", ""), ("shell", ""), ("centre", ""),
        ]
    )  # fmt: skip


def test_a_function_that_only_shares_the_name_marks_nothing() -> None:
    source = 'def mark(name):\n    return name\n\nmark("live")\nother.mark("live")\n'
    assert pairs(collect_words.in_python(source, "x.py")) == []


def test_texts_of_templates_are_found_in_tags_and_filters() -> None:
    source = """
    {% extends "base.html" %}
    <h1>{% say "Lost {loss} of {planned}." loss=page.loss planned=page.planned %}</h1>
    <nav aria-label="{% say 'Pages' %}">{% say_n page.eggs "{n} egg" "{n} eggs" %}</nav>
    {{ "Today"|say }} {{ page.name|say }} {% say page.label %} {# say "not this" #}
    {% include "parts/field.html" with label="Weight"|say hint='The scale\\'s step'|say other="plain" %}
    {% comment %}{% say "nor this" %}{% endcomment %}
    """
    found = pairs(collect_words.in_template(source, "x.html"))
    assert found == [
        ("Lost {loss} of {planned}.", ""), ("Pages", ""), ("{n} egg", "{n} eggs"), ("Today", ""), ("Weight", ""),
        ("The scale's step", ""),
    ]  # fmt: skip


def test_what_is_found_in_the_program_holds_texts_of_every_sort() -> None:
    found = pairs(everything())
    texts = {text for text, _ in found}
    assert "Air cells, true size" in texts  # sheets
    assert "Are the eggs losing the right amount of water?" in texts  # words
    assert "Chalaza" in texts  # templates
    assert "Chicken, large breeds" in texts  # tables
    assert "wanted today" in texts  # drawings
    assert ("{n} egg: {kind}.", "{n} eggs: {kind}.") in found
    assert len(texts) > 1000


def test_every_text_that_is_looked_up_is_collected(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: set[tuple[str, str]] = set()

    def one(text: str) -> str:
        asked.add((text, ""))
        return text

    def many(text: str, plural: str, n: int) -> str:
        asked.add((text, plural))
        return text if n == 1 else plural

    listening = Language("en", one, many)
    for name in ("chalaza.words.language", "chalaza.words.numbers"):
        monkeypatch.setattr(importlib.import_module(name), "BUILT_IN", MappingProxyType({"en": listening}))
    voice = Voice(language=listening)
    for name in CASES:
        u, a = understood(name)
        for chart in charts(u, a, say=one).values():
            chart.svg()
        air_cell(u, a, next(iter(u.rows.units)), say=one)
        jsonable.assessment(voice, a)
        for by in By:
            laid(u, a, voice, by=by)
    for code in all_codes():
        advice.say(voice, sample(code))
        advice.say(voice, sample(code, 1))
    for kind in facts.kinds():
        list(words_facts.known(voice, kind))
    for row in facts.table("cautions"):
        caution(voice, row["caution"])
    spring = str(folder(tmp_path))
    for words in (
        ["facts"],
        ["facts", "hen"],
        ["assess", spring, "--now", AT],
        ["assess", spring, "--now", AT, "--why"],
    ):
        assert run(*words).exit_code == 0
    found = set(pairs(everything()))
    known = {(text, "") for text, _ in found} | found
    assert asked - known == set()
    assert len(asked) > 800


# Translating and compiling ------------------------------------------------------------------------------------------


def catalog(home: Path, name: str, texts: dict[str, str | tuple[str, str]]) -> Path:
    """A catalog with some texts of the program translated, written as a translator's editor would leave it."""
    target: Path = collect_words.begin(home, name, collect_words.template(everything()))
    with target.open("rb") as file:
        made = read_po(file, locale=name, domain="chalaza")
    for text, said in texts.items():
        made[text].string = said
    collect_words.write(made, target)
    return target


def test_a_translation_is_collected_compiled_and_said(tmp_path: Path) -> None:
    source = catalog(
        tmp_path, "de",
        {"Air cells, true size": "Luftkammern in wahrer Größe", "{n} egg: {kind}.": ("{n} Ei: {kind}.", "{n} Eier: {kind}.")},
    )  # fmt: skip
    (target,) = build_catalogs.compiled(tmp_path)
    assert target == source.with_suffix(".mo")
    assert languages(tmp_path) == ("en", "de")
    voice = Voice(language=language("de", tmp_path))
    assert voice.say("Air cells, true size") == "Luftkammern in wahrer Größe"
    eggs = Plural("{n} egg: {kind}.", "{n} eggs: {kind}.", "n")
    assert voice.say(eggs, {"n": "12", "kind": "Huhn"}, 12) == "12 Eier: Huhn."
    assert voice.say("expected") == "expected"
    u, a = understood("day12")
    assert laid(u, a, voice).data["frame"]["title"] == "Luftkammern in wahrer Größe"
    assert laid(u, a, voice).data["frame"]["language"] == "de"


def test_the_same_catalog_gives_the_same_bytes(tmp_path: Path) -> None:
    catalog(tmp_path, "de", {"Air cells, true size": "Luftkammern"})
    first = build_catalogs.compiled(tmp_path)[0].read_bytes()
    assert build_catalogs.compiled(tmp_path)[0].read_bytes() == first


def test_new_texts_come_in_empty_gone_ones_go_and_nothing_is_guessed(tmp_path: Path) -> None:
    source = catalog(tmp_path, "de", {"expected": "erwartet", "about": "etwa"})
    texts = collect_words.template(
        [collect_words.Found("expected", "", "a.py"), collect_words.Found("expected by {day}", "", "a.py")]
    )
    told = collect_words.update(tmp_path, texts)
    with source.open("rb") as file:
        now = read_po(file, locale="de")
    assert {message.id: message.string for message in now if message.id} == {
        "expected": "erwartet",
        "expected by {day}": "",
    }
    assert told == ["de: 1 of 2 texts"]


def test_the_template_says_where_a_text_stands_and_that_braces_are_holes(tmp_path: Path) -> None:
    collect_words.write(collect_words.template(everything()), tmp_path / "chalaza.pot")
    text = (tmp_path / "chalaza.pot").read_text(encoding="utf-8")
    assert "#: chalaza/sheets/air_cell.py\n" in text
    assert "python-brace-format" in text
    assert "python-format" not in text.replace("python-brace-format", "")
    # Without line numbers and dates: the file changes when a text does.
    collect_words.write(collect_words.template(everything()), tmp_path / "again.pot")
    assert (tmp_path / "again.pot").read_text(encoding="utf-8") == text


@pytest.mark.parametrize(
    ("text", "said", "fault"),
    [
        ("expected {depth} ({range})", "erwartet {depth}", r"holes \['depth'\] where \['depth', 'range'\] are wanted"),
        ("expected {depth} ({range})", "erwartet {depth} ({reihe})", "are wanted"),
        ("expected", "erwartet {depth}", "are wanted"),
        ("expected", "erwartet }", "a brace stands alone"),
        ("expected", "<b>erwartet</b>", "markup that the text does not have"),
        ("{n} egg: {kind}.", ("{n} Ei: {kind}.", ""), "a form is missing"),
    ],
)
def test_a_translation_that_would_break_a_page_is_refused(
    tmp_path: Path, text: str, said: str | tuple[str, str], fault: str
) -> None:
    catalog(tmp_path, "de", {text: said})
    with pytest.raises(build_catalogs.CatalogError, match=fault) as caught:
        build_catalogs.compiled(tmp_path)
    assert str(tmp_path / "de") in str(caught.value)


def test_a_plural_may_leave_its_number_out_of_a_form(tmp_path: Path) -> None:
    texts = collect_words.template([collect_words.Found("One egg.", "{n} eggs.", "a.py")])
    source = collect_words.begin(tmp_path, "de", texts)
    with source.open("rb") as file:
        made = read_po(file, locale="de", domain="chalaza")
    made["One egg."].string = ("Ein Ei.", "{n} Eier.")
    collect_words.write(made, source)
    assert build_catalogs.compiled(tmp_path) == [source.with_suffix(".mo")]


@pytest.mark.parametrize("content", [b'msgid "a"\nmsgstr "b\nnot closed', b"\xff\xfe\x00"])
def test_a_file_that_is_no_catalog_is_named(tmp_path: Path, content: bytes) -> None:
    source = tmp_path / "de" / "LC_MESSAGES" / "chalaza.po"
    source.parent.mkdir(parents=True)
    source.write_bytes(content)
    with pytest.raises(build_catalogs.CatalogError, match="cannot be read"):
        build_catalogs.compiled(tmp_path)


def test_a_catalog_is_begun_once_and_for_a_language(tmp_path: Path) -> None:
    texts = collect_words.template([collect_words.Found("{n} egg", "{n} eggs", "a.py")])
    path = collect_words.begin(tmp_path, "pl", texts)
    # Polish has three forms or more (Unicode CLDR, plural rules); English two.
    with path.open("rb") as file:
        assert read_po(file, locale="pl").num_plurals >= 3
    with pytest.raises(ValueError, match="pl has its catalog already"):
        collect_words.begin(tmp_path, "pl", texts)
    for name in ("xx", "no such", "..", ""):
        with pytest.raises(ValueError, match="names no language"):
            collect_words.begin(tmp_path, name, texts)


def test_the_catalogs_of_the_program_can_be_used(tmp_path: Path) -> None:
    (tmp_path / "catalogs").mkdir()
    for source in collect_words.CATALOGS.glob("*/LC_MESSAGES/*.po"):
        target = tmp_path / "catalogs" / source.relative_to(collect_words.CATALOGS)
        target.parent.mkdir(parents=True)
        shutil.copy(source, target)
    written = build_catalogs.compiled(tmp_path / "catalogs")
    assert languages(tmp_path / "catalogs") == ("en", *(path.parents[1].name for path in written))


# In the build -------------------------------------------------------------------------------------------------------


def _build(home: Path) -> "subprocess.CompletedProcess[str]":
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "COV", "PYTEST"))}
    words = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(home / "out")]
    return subprocess.run(words, cwd=home, env=kept, capture_output=True, text=True, check=False)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A copy of what the build needs, with a catalog of its own."""
    home = tmp_path / "project"
    shutil.copytree(ROOT / "src" / "chalaza" / "words", home / "src" / "chalaza" / "words")
    for name in ("__init__.py", "errors.py", "units.py", "values", "facts"):
        source = ROOT / "src" / "chalaza" / name
        (shutil.copytree if source.is_dir() else shutil.copy)(source, home / "src" / "chalaza" / name)
    shutil.copytree(ROOT / "tools", home / "tools")
    for name in ("pyproject.toml", "README.md", "LICENSE", ".gitignore"):
        shutil.copy(ROOT / name, home / name)
    shutil.rmtree(home / "src" / "chalaza" / "words" / "catalogs", ignore_errors=True)
    catalog(home / "src" / "chalaza" / "words" / "catalogs", "sv", {"Today": "I dag"})
    return home


def test_the_wheel_holds_the_compiled_catalog_and_the_program_in_it_speaks(project: Path) -> None:
    done = _build(project)
    assert done.returncode == 0, done.stderr
    wheel = next((project / "out").glob("*.whl"))
    names = zipfile.ZipFile(wheel).namelist()
    assert [name for name in names if "catalogs" in name] == ["chalaza/words/catalogs/sv/LC_MESSAGES/chalaza.mo"]
    inside = project.parent / "inside"
    zipfile.ZipFile(wheel).extractall(inside)
    code = "from chalaza.words import language, languages; print(languages(), language('sv').gettext('Today'))"
    env = {**os.environ, "PYTHONPATH": str(inside), "PYTHONIOENCODING": "utf-8"}
    said = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True, cwd=inside)
    assert said.stdout.strip() == "('en', 'sv') I dag"


def test_an_editable_install_compiles_them_in_place(project: Path) -> None:
    code = "from hatchling.build import build_editable; build_editable('out')"
    (project / "out").mkdir()
    done = subprocess.run([sys.executable, "-c", code], cwd=project, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert languages(project / "src" / "chalaza" / "words" / "catalogs") == ("en", "sv")


def test_a_broken_translation_ends_the_build(project: Path) -> None:
    source = next(project.rglob("chalaza.po"))
    source.write_text(source.read_text(encoding="utf-8").replace("I dag", "I dag {x}"), encoding="utf-8")
    done = _build(project)
    assert done.returncode != 0
    assert "holes ['x'] where [] are wanted" in done.stdout + done.stderr
