"""The manual lists every file and column, in words that the documentation tool takes without complaint."""

import pytest
from docutils.core import publish_doctree
from docutils.nodes import literal, section, title

from chalaza.exchange import listing
from chalaza.exchange.cells import FORMULA_RULE
from chalaza.exchange.schema import BELIEFS, SERIES, TABLES, specs


# docutils 0.2x, the reference parser of reStructuredText; level 1 stops at the slightest complaint.
def test_every_file_and_column_is_listed_in_order() -> None:
    tree = publish_doctree(listing(), settings_overrides={"halt_level": 1, "report_level": 1, "doctitle_xform": False})
    listed = {
        node.next_node(title).astext(): [cell.astext() for cell in node.findall(literal)][1:]
        for node in tree.findall(section)
    }
    tables = (*TABLES.values(), BELIEFS, SERIES)
    assert listed == {table.file: [spec.name for spec in specs(table)] for table in tables}


@pytest.mark.parametrize(
    "words",
    [
        FORMULA_RULE,
        "   * - ``altitude_m``\n     - altitude of the place\n"
        "     - number from -430 to 5500 m, dot as decimal sign\n     - yes: 0.0\n",
        "     - one of fan, still\n     - no\n",
        "     - uids of eggs.csv separated by blanks, or all\n     - no\n",
        "     - one of normal, beta, fixed, correlation\n",
        "``readings\\_<probe>.csv``".replace("\\", ""),
    ],
)
def test_the_listing_says_unit_span_words_and_defaults(words: str) -> None:
    assert words in listing()
