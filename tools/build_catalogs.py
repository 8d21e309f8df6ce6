"""Compile the catalogs: `<language>/LC_MESSAGES/chalaza.po` into the `.mo` beside it that the program looks texts up in.

    python tools/build_catalogs.py

The build calls this as its hook, for a wheel and for an editable install alike, so no tool of the system is needed and no
compiled file is kept in the tree. A translation that would break a page ends the build: every hole of a text must stand in
its translation, and no other.
"""

import re
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from babel.core import UnknownLocaleError
from babel.messages.catalog import Catalog, Message
from babel.messages.mofile import write_mo
from babel.messages.pofile import PoFileError, read_po
from hatchling.builders.hooks.plugin.interface import BuildHookInterface

DOMAIN = "chalaza"
FOLDER = Path("src", DOMAIN, "words", "catalogs")
_HOLE = re.compile(r"\{([^{}]*)\}")


class CatalogError(Exception):
    """Translations that cannot be used; the text names file, text and fault."""


def compiled(folder: Path) -> list[Path]:
    """Compile every catalog below `folder`; the files written. Raises `CatalogError` for one that cannot be used."""
    written = []
    for source in sorted(folder.glob(f"*/LC_MESSAGES/{DOMAIN}.po")):
        catalog = read(source)
        target = source.with_suffix(".mo")
        with target.open("wb") as file:
            write_mo(file, catalog)
        written.append(target)
    return written


def read(source: Path) -> Catalog:
    """A catalog, checked. Raises `CatalogError`."""
    name = source.parents[1].name
    try:
        with source.open("rb") as file:
            catalog = read_po(file, locale=name, domain=DOMAIN, abort_invalid=True)
    except (PoFileError, UnknownLocaleError, UnicodeDecodeError, ValueError) as fault:
        raise CatalogError(f"{source}: cannot be read: {fault}") from fault
    faults = [fault for message in catalog if message.id for fault in _faults(message)]
    if faults:
        raise CatalogError("\n".join(f"{source}: {fault}" for fault in faults))
    return catalog


def _faults(message: Message) -> Iterator[str]:
    """What is wrong with one translation; none where it is not translated yet."""
    texts = _forms(message.id)
    said = [one for one in _forms(message.string) if one]
    if not said:
        return
    if len(said) < len(_forms(message.string)):
        yield f"{texts[0]!r}: a form is missing"
    allowed = {hole for text in texts for hole in _HOLE.findall(text)}
    # A plural may leave its number out of a form ("one egg"); what every form of the text has, each must have.
    needed = set.intersection(*(set(_HOLE.findall(text)) for text in texts))
    for one in said:
        holes = _HOLE.findall(one)
        if not needed <= set(holes) <= allowed:
            yield f"{texts[0]!r}: holes {sorted(set(holes))} where {sorted(needed)} are wanted"
        bare = _HOLE.sub("", one)
        if "{" in bare or "}" in bare:
            yield f"{texts[0]!r}: a brace stands alone"
        # A page trusts the texts of its template, so a translation brings no markup of its own.
        if {sign for sign in "<>&" if sign in bare} - set("".join(texts)):
            yield f"{texts[0]!r}: markup that the text does not have"


def _forms(text: Any) -> Sequence[str]:
    return tuple(text) if isinstance(text, list | tuple) else (text,)


class CatalogHook(BuildHookInterface):  # type: ignore[type-arg]  # its parameter is not public
    """Compiles the catalogs before a wheel is made, and takes the result in although version control ignores it."""

    PLUGIN_NAME = "custom"

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Called by the builder."""
        del version
        for path in compiled(Path(self.root) / FOLDER):
            build_data["artifacts"].append(f"/{path.relative_to(self.root).as_posix()}")


def main() -> int:
    """Compile the catalogs of this checkout."""
    for path in compiled(Path(__file__).resolve().parents[1] / FOLDER):
        print(path)
    return 0


if __name__ == "__main__":
    sys.exit(main())
