"""The reader of tables: what it refuses, in which words, and that it stays light."""

import hashlib
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

import chalaza
from chalaza import facts
from chalaza.errors import TableError
from chalaza.facts.loader import Known, Source, known, parse, parse_sources
from chalaza.facts.schema import spec

SRC = Path(chalaza.__file__).resolve().parents[1]
SPEC = spec("kind! quantity:slug! low? typical high? unit source status note?")
HEAD = "kind,quantity,low,typical,high,unit,source,status,note\n"
GOOD = "emu,term,48,51,56,d,page,checked,\n"


def a_source(key: str, status: str) -> Source:
    return Source(key=key, cite=key, url="", status=status, grade="A")


KNOWN = Known(
    kinds=frozenset({"emu", "rhea"}),
    groups=frozenset({"ratites"}),
    units=frozenset({"d", "g"}),
    sources={
        key: a_source(key, status) for key, status in {"page": "checked", "book": "memory", "ours": "computed"}.items()
    },
)


def test_a_good_table_is_read_as_text() -> None:
    (row,) = parse("t.csv", HEAD + GOOD, SPEC, KNOWN)
    assert row["typical"] == "51"
    assert row["note"] == ""


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("kind,typical\n", r"t\.csv, row 1: columns are \['kind', 'typical'\]; they must be"),
        ("", r"t\.csv, row 1: columns are \[\]"),
        (HEAD + "emu,term,48,51\n", r"t\.csv, row 2: 4 cells, but 9 columns"),
        (HEAD + GOOD.replace("page", "blog"), r"row 2: unknown source 'blog' in 'source'"),
        (HEAD + GOOD.replace("page", "page page"), r"row 2: 'source' names the same source twice"),
        (HEAD + GOOD.replace(",d,", ",days,"), r"row 2: unknown unit 'days' in 'unit'"),
        (HEAD + GOOD.replace("checked", "sure"), r"row 2: unknown status 'sure' in 'status'"),
        (HEAD + GOOD.replace("emu", "moa"), r"row 2: unknown kind 'moa' in 'kind'"),
        (HEAD + GOOD.replace("emu", "ratites"), r"row 2: unknown kind 'ratites' in 'kind'"),
        (HEAD + GOOD.replace("51", "long"), r"row 2: 'long' in 'typical' is not a number"),
        (HEAD + GOOD.replace("51", "nan"), r"row 2: 'nan' in 'typical' is not a number"),
        (HEAD + GOOD.replace("51", ""), r"row 2: 'typical' is empty"),
        (HEAD + GOOD.replace("page", ""), r"row 2: 'source' is empty"),
        (HEAD + GOOD.replace("term", " term"), r"row 2: blanks around ' term' in 'quantity'"),
        (HEAD + GOOD.replace("term", "Term days"), r"row 2: 'Term days' in 'quantity' is not a key"),
        (HEAD + GOOD.replace("51", "57"), r"row 2: impossible span: typical 57 is above high 56"),
        (HEAD + GOOD.replace("48", "52"), r"row 2: impossible span: low 52 is above typical 51"),
        (HEAD + GOOD + GOOD.replace("51", "50"), r"row 3: says again what row 2 says: emu, term"),
        (HEAD + GOOD.replace("page", "book"), r"row 2: status 'checked' without a source of that status: book"),
        (HEAD + GOOD.replace("checked", "practice"), r"row 2: status 'practice' without a source of that status: page"),
    ],
)
def test_a_bad_table_is_refused_with_table_row_and_problem(text: str, problem: str) -> None:
    with pytest.raises(TableError, match=problem) as caught:
        parse("t.csv", text, SPEC, KNOWN)
    assert caught.value.table == "t.csv"
    assert caught.value.row is not None


def test_a_span_with_one_edge_is_still_checked() -> None:
    with pytest.raises(TableError, match="low 3 is above high 2"):
        parse("t.csv", "low,best,high\n3,,2\n", spec("low? best? high?"), KNOWN)


def test_a_type_the_reader_does_not_know_is_refused() -> None:
    with pytest.raises(TableError, match="the schema has no type 'colour'"):
        parse("t.csv", "a\nred\n", spec("a:colour"), KNOWN)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ('[a]\nstatus = "checked"\n', r"\[a\] has no cite"),
        ('[a]\ncite = "A"\nstatus = "sure"\n', r"\[a\] unknown status 'sure'"),
        ('[a]\ncite = "A"\n', r"\[a\] unknown status None"),
        ('[a]\ncite = "A"\nstatus = "checked"\nyear = "1"\n', r"\[a\] has no field 'year'"),
    ],
)
def test_a_bad_source_is_refused(text: str, problem: str) -> None:
    with pytest.raises(TableError, match=problem):
        parse_sources(text)


def test_an_unknown_table_is_refused_with_those_that_exist() -> None:
    with pytest.raises(TableError, match=r"weather: no such table; there are: advice_ranges, .*, vocabulary"):
        facts.table("weather")


def test_rows_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        facts.table("kinds")[0]["name"] = "x"  # type: ignore[index]


def test_groups_give_each_kind_with_its_rank() -> None:
    assert facts.members("geese swan") == {"goose_light": 1, "goose_heavy": 1, "swan": 0}
    assert facts.members("any emu")["emu"] == 0
    assert set(facts.members("any").values()) == {2}
    assert set(facts.members("any")) == known().kinds


def test_digest_is_the_hash_of_all_tables_in_order() -> None:
    # Independent reading: plain file access instead of package resources.
    total = hashlib.sha256()
    for path in sorted((SRC / "chalaza" / "facts" / "tables").iterdir(), key=lambda each: each.name):
        total.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    assert facts.digest() == total.hexdigest()


def run(code: str, path: Path) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code], env={"PYTHONPATH": str(path)}, capture_output=True, text=True, check=True
    )
    return done.stdout.strip()


def test_importing_the_facts_brings_neither_numpy_nor_scipy() -> None:
    code = "import sys, chalaza.facts; print(sorted({'numpy', 'scipy', 'importlib.resources', 'tomllib'} & set(sys.modules)))"
    assert run(code, SRC) == "[]"


def test_the_tables_are_read_from_a_packed_wheel(tmp_path: Path) -> None:
    wheel = tmp_path / "chalaza.whl"
    with zipfile.ZipFile(wheel, "w") as packed:
        for path in (SRC / "chalaza").rglob("*"):
            if path.suffix in (".py", ".csv", ".toml"):
                packed.write(path, path.relative_to(SRC))
    code = "from chalaza import facts; print(facts.kind('hen').term_d.typical, facts.digest())"
    assert run(code, wheel) == f"21.0 {facts.digest()}"
