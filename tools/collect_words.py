"""Collect every text that is looked up in a language, and write it where translators take it from.

    python tools/collect_words.py              write catalogs/chalaza.pot, bring the catalogs up to date with it
    python tools/collect_words.py --begin de   begin a catalog for a language, all its texts empty
    python tools/collect_words.py --list       show the texts and where they stand

Collected are: in Python texts given to `mark`, `Plural`, `gettext`, `ngettext` and `say`; in templates the texts of the
tags `say` and `say_n` and of the filter `say`; in the tables of facts the columns of `TABLES`. Only a text that stands
there as it is can be collected: whatever is put together while the program runs is not a text to translate.
"""

import ast
import csv
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType

from babel.core import Locale, UnknownLocaleError
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po

ROOT = Path(__file__).resolve().parents[1]
PACKAGE = ROOT / "src" / "chalaza"
CATALOGS = PACKAGE / "words" / "catalogs"
DOMAIN = "chalaza"
#: Table of facts -> columns that hold texts people read.
TABLES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "advice_ranges": ("words",),
        "candling": ("seen", "embryo"),
        "cautions": ("text",),
        "kind_notes": ("text",),
        "kind_values": ("where",),
        "kinds": ("name",),
        "limits": ("meaning",),
        "loss_literature": ("meaning",),
        "loss_targets": ("note",),
        "priors": ("note",),
    }
)
#: Function -> where its texts stand among the arguments; two places are one text and its plural.
CALLS: Mapping[str, tuple[int, ...]] = MappingProxyType(
    {"mark": (0,), "say": (0,), "gettext": (0,), "Plural": (0, 1), "ngettext": (0, 1), "say_n": (1, 2)}
)
_OWN = "chalaza.words.language"


@dataclass(frozen=True, slots=True)
class Found:
    """A text as it is looked up, its plural or nothing, and the file it stands in."""

    text: str
    plural: str
    file: str


def collect(package: Path = PACKAGE) -> list[Found]:
    """Every text of the package, in order of file and place."""
    out: list[Found] = []
    for path in sorted(package.rglob("*.py")):
        out += in_python(path.read_text(encoding="utf-8"), _named(path, package))
    for path in sorted(package.rglob("templates/**/*")):
        if path.suffix in (".html", ".svg", ".txt"):
            out += in_template(path.read_text(encoding="utf-8"), _named(path, package))
    for table, columns in TABLES.items():
        path = package / "facts" / "tables" / f"{table}.csv"
        if path.exists():
            out += in_table(path.read_text(encoding="utf-8"), columns, _named(path, package))
    return list(dict.fromkeys(out))


def _named(path: Path, package: Path) -> str:
    return (Path(package.name) / path.relative_to(package)).as_posix()


# Python -----------------------------------------------------------------------------------------------------------


def in_python(source: str, file: str) -> Iterator[Found]:
    """The texts of one module."""
    tree = ast.parse(source)
    names = _names(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.GeneratorExp | ast.ListComp | ast.SetComp):
            yield from _each(node, names, file)
        if not isinstance(node, ast.Call):
            continue
        called = _called(node.func, names)
        if called == "map" and len(node.args) == 2 and _called(node.args[0], names) == "mark":
            yield from (Found(text, "", file) for text in _texts(node.args[1]))
        elif called in CALLS:
            yield from _call(called, node, names, file)


def _each(node: ast.GeneratorExp | ast.ListComp | ast.SetComp, names: Mapping[str, str], file: str) -> Iterator[Found]:
    """The texts of `say(one) for one in ("a", "b")`."""
    over = {one.target.id: one.iter for one in node.generators if isinstance(one.target, ast.Name)}
    for call in (each for each in ast.walk(node.elt) if isinstance(each, ast.Call) and each.args):
        first = call.args[0]
        if _called(call.func, names) in ("say", "gettext", "mark") and isinstance(first, ast.Name) and first.id in over:
            yield from (Found(text, "", file) for text in _texts(over[first.id]))


def _names(tree: ast.Module) -> dict[str, str]:
    """Names in this module -> what they call. `mark` and `Plural` are ours only where they were imported as such."""
    found = {name: name for name in (*CALLS, "map") if name not in ("mark", "Plural")}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module in (_OWN, "chalaza.words"):
            found |= {each.asname or each.name: each.name for each in node.names}
    if any(isinstance(node, ast.FunctionDef) and node.name == "mark" and node.args.args for node in tree.body):
        found.pop("mark", None)
    return found


def _called(node: ast.expr, names: Mapping[str, str]) -> str:
    if isinstance(node, ast.Name):
        return names.get(node.id, "")
    if isinstance(node, ast.Attribute):
        return node.attr if node.attr in CALLS and node.attr not in ("mark", "Plural") else ""
    return ""


def _call(called: str, node: ast.Call, names: Mapping[str, str], file: str) -> Iterator[Found]:
    places = [node.args[i] for i in CALLS[called] if i < len(node.args)]
    if len(places) < len(CALLS[called]) or any(isinstance(each, ast.Starred) for each in node.args):
        return
    if len(places) == 1:
        yield from (Found(text, "", file) for text in _texts(places[0]))
        return
    one, many = (_single(each, names) for each in places)
    if one and many:
        yield Found(one, many, file)


def _texts(node: ast.expr) -> Iterator[str]:
    """Texts that stand in an expression as they are: alone, as either branch of a choice, or in a row of them."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value:
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from (*_texts(node.body), *_texts(node.orelse))
    elif isinstance(node, ast.Tuple | ast.List | ast.Set):
        for each in node.elts:
            yield from _texts(each)


def _single(node: ast.expr, names: Mapping[str, str]) -> str:
    """The one text of an argument, within `mark` or not."""
    if isinstance(node, ast.Call) and _called(node.func, names) == "mark" and node.args:
        node = node.args[0]
    return next(_texts(node), "") if isinstance(node, ast.Constant) else ""


# Templates and tables ---------------------------------------------------------------------------------------------


def in_template(source: str, file: str) -> Iterator[Found]:
    """The texts of one template, in tags and filters; tags of other names may hand texts on by the filter."""
    from django.template.base import Lexer, TokenType

    remark = False
    for token in Lexer(source).tokenize():
        if token.token_type not in (TokenType.BLOCK, TokenType.VAR):
            continue
        bits = token.split_contents()
        remark = bits[:1] == ["comment"] or (remark and bits[:1] != ["endcomment"])
        if remark:
            continue
        if token.token_type is TokenType.BLOCK and bits and bits[0] in ("say", "say_n"):
            texts = [_literal(bits[1 + i]) for i in CALLS[bits[0]] if 1 + i < len(bits)]
            if len(texts) == len(CALLS[bits[0]]) and all(texts):
                yield Found(texts[0], texts[1] if len(texts) > 1 else "", file)
        yield from (Found(text, "", file) for bit in bits if (text := _filtered(bit)))


def _filtered(bit: str) -> str:
    """The text that is handed to the filter `say` at its beginning; `name="text"|say` counts as well."""
    head, bar, rest = bit.rpartition("|say")
    if not bar or (rest and rest[0] not in "|:"):
        return ""
    return _literal(head.partition("=")[2]) or _literal(head)


def _literal(bit: str) -> str:
    """A quoted text of a template without its quotes, or nothing."""
    if len(bit) < 2 or bit[0] not in "\"'" or bit[-1] != bit[0]:
        return ""
    return bit[1:-1].replace(f"\\{bit[0]}", bit[0]).replace("\\\\", "\\")


def in_table(source: str, columns: Sequence[str], file: str) -> Iterator[Found]:
    """The texts of some columns of a table."""
    for row in csv.DictReader(source.splitlines()):
        yield from (Found(row[name], "", file) for name in columns if row[name])


# Catalogs ---------------------------------------------------------------------------------------------------------


def template(found: Iterable[Found], version: str = "") -> Catalog:
    """The texts as a catalog without translations. A text that has a plural somewhere is kept with it."""
    plurals = {one.text: one.plural for one in found if one.plural}
    catalog = Catalog(
        domain=DOMAIN, project="Chalaza", version=version, copyright_holder="the Chalaza contributors",
        msgid_bugs_address="where you got Chalaza", last_translator="", language_team="",
        header_comment="# Texts of Chalaza. Holes in {braces} stay as they are.\n# MIT licence, as the program.",
        creation_date=datetime(2026, 1, 1, tzinfo=UTC), fuzzy=False,
    )  # fmt: skip
    for one in found:
        plural = plurals.get(one.text, "")
        message = catalog.add((one.text, plural) if plural else one.text, locations=[(one.file, 0)])
        message.flags.discard("python-format")  # "100 % not" is no format
        if "{" in one.text:
            message.flags.add("python-brace-format")
    return catalog


def write(catalog: Catalog, path: Path) -> None:
    """Write a catalog in order of its texts' files, without line numbers: they would change with every edit."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        write_po(file, catalog, width=120, include_lineno=False, ignore_obsolete=True)


def update(catalogs: Path, texts: Catalog) -> list[str]:
    """Bring every catalog up to date: new texts empty, gone ones out, nothing guessed. What was done, by language."""
    told = []
    for path in sorted(catalogs.glob(f"*/LC_MESSAGES/{DOMAIN}.po")):
        name = path.parents[1].name
        with path.open("rb") as file:
            catalog = read_po(file, locale=name, domain=DOMAIN)
        catalog.update(texts, no_fuzzy_matching=True, keep_user_comments=True)
        write(catalog, path)
        done = sum(bool(message.id) and translated(message.string) for message in catalog)
        told.append(f"{name}: {done} of {len(catalog)} texts")
    return told


def begin(catalogs: Path, name: str, texts: Catalog) -> Path:
    """Begin the catalog of a language, its plurals known by its name; the file.

    Raises `ValueError` for no such language or one that has its catalog.
    """
    try:
        known = str(Locale.parse(name)) == name
    except (UnknownLocaleError, ValueError, TypeError):
        known = False
    if not known:
        raise ValueError(f"{name!r} names no language; write it as de or pt_BR")
    path = catalogs / name / "LC_MESSAGES" / f"{DOMAIN}.po"
    if path.exists():
        raise ValueError(f"{name} has its catalog already: {path}")
    made = Catalog(
        locale=name, domain=DOMAIN, project=texts.project, version="", header_comment=texts.header_comment,
        copyright_holder=texts.copyright_holder, msgid_bugs_address=texts.msgid_bugs_address,
        creation_date=texts.creation_date, last_translator="", language_team="", fuzzy=False,
    )  # fmt: skip
    made.update(texts, no_fuzzy_matching=True)
    write(made, path)
    return path


def translated(string: object) -> bool:
    """Whether a text has its translation, in all its forms."""
    return all(string) if isinstance(string, tuple | list) else bool(string)


def main(words: list[str]) -> int:
    """Write the template and update the catalogs, begin one, or list the texts."""
    found = collect()
    if "--list" in words:
        for one in found:
            print(f"{one.file}: {one.text}" + (f" / {one.plural}" if one.plural else ""))
        return 0
    texts = template(found)
    if words[:1] == ["--begin"]:
        try:
            print(begin(CATALOGS, " ".join(words[1:]), texts))
        except ValueError as fault:
            raise SystemExit(str(fault)) from None
        return 0
    write(texts, CATALOGS / f"{DOMAIN}.pot")
    print(f"{len(texts)} texts in {(CATALOGS / f'{DOMAIN}.pot').relative_to(ROOT)}")
    print("\n".join(update(CATALOGS, texts)) or "no catalog to bring up to date")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
