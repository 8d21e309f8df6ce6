"""The open folder field by field, as reStructuredText for the manual, from the same rows that are read and written."""

from collections.abc import Iterator

from chalaza.exchange.cells import FORMULA_RULE, allowed_words, empty_words
from chalaza.exchange.schema import BELIEFS, SERIES, TABLES, Spec, Table, specs


def listing() -> str:
    """Every file with its columns: name, what it holds, what is allowed, whether a cell may be empty."""
    parts = [FORMULA_RULE, *(_section(table) for table in (*TABLES.values(), BELIEFS, SERIES))]
    return "\n\n".join(parts) + "\n"


def _section(table: Table) -> str:
    title = f"``{table.file}``"
    rows = [("column", "holds", "allowed", "may be empty"), *(_row(spec) for spec in specs(table))]
    head = [title, "-" * len(title), "", _escaped(table.help), "", ".. list-table::", "   :header-rows: 1", ""]
    return "\n".join([*head, *(text for row in rows for text in _cells(row))])


def _row(spec: Spec) -> tuple[str, str, str, str]:
    return f"``{spec.name}``", _escaped(spec.field.help), _escaped(allowed_words(spec)), _escaped(empty_words(spec))


def _cells(row: tuple[str, ...]) -> Iterator[str]:
    for number, cell in enumerate(row):
        yield f"   {'* -' if number == 0 else '  -'} {cell}"


def _escaped(text: str) -> str:
    """Words that reStructuredText shall take as they are."""
    return "".join(f"\\{mark}" if mark in "\\*`|_" else mark for mark in text)
