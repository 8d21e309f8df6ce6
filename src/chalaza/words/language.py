"""The language sentences are made in: `gettext` of the standard library, English when there is no catalog.

English sentences are the msgids. They stand in tables, marked by `mark`, and are looked up only when they are said. The
pseudo-language changes every letter that went through a lookup and leaves the holes alone, so that a test finds text
that did not.
"""

import gettext
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path
from re import split
from types import MappingProxyType

from chalaza.errors import ChalazaError

DOMAIN = "chalaza"
ENGLISH = "en"
PSEUDO = "pseudo"


def mark(text: str) -> str:
    """`text`, marked as a msgid for whoever collects them."""
    return text


@dataclass(frozen=True, slots=True)
class Plural:
    """A sentence in two forms; which one is said depends on the figure named `by`."""

    one: str
    many: str
    by: str


Text = str | Plural


@dataclass(frozen=True, slots=True)
class Language:
    """A language: its name, and the two lookups of a catalog."""

    name: str
    gettext: Callable[[str], str]
    ngettext: Callable[[str, str, int], str]


_FROM = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
_TO = "áƀćđéƒǵħíĵķłḿńóṕɋŕśťúṽŵẋýžÁƁĆĐÉƑǴĦÍĴĶŁḾŃÓṔɊŔŚŤÚṼŴẊÝŽ"
_CHANGE = str.maketrans(_FROM, _TO)
OPEN, CLOSE = "⟦", "⟧"


def pseudo(text: str) -> str:
    """`text` in brackets with every letter outside its holes changed."""
    parts = split(r"(\{[^{}]*\})", text)
    changed = [part if i % 2 else part.translate(_CHANGE) for i, part in enumerate(parts)]
    return OPEN + "".join(changed) + CLOSE


def _pseudo_plural(one: str, many: str, n: int) -> str:
    return pseudo(one if n == 1 else many)


def _english_plural(one: str, many: str, n: int) -> str:
    return one if n == 1 else many


#: Languages that need no catalog.
BUILT_IN: Mapping[str, Language] = MappingProxyType(
    {
        ENGLISH: Language(ENGLISH, mark, _english_plural),
        PSEUDO: Language(PSEUDO, pseudo, _pseudo_plural),
    }
)


def languages(folder: Path | None = None) -> tuple[str, ...]:
    """Names a keeper may choose: English, and what has a catalog `<name>/LC_MESSAGES/chalaza.mo` in `folder`."""
    with as_file(files("chalaza.words")) as package:
        found = sorted((folder or package / "catalogs").glob(f"*/LC_MESSAGES/{DOMAIN}.mo"))
    return (ENGLISH, *(path.parts[-3] for path in found))


def language(name: str = ENGLISH, folder: Path | None = None) -> Language:
    """The language of that name; `folder` holds the catalogs (default: those of the package).

    Raises `ChalazaError` naming the languages there are.
    """
    if name in BUILT_IN:
        return BUILT_IN[name]
    if name not in languages(folder):
        raise ChalazaError(f"no language {name!r}; allowed: {', '.join(languages(folder))}")
    with as_file(files("chalaza.words")) as package:
        catalog = gettext.translation(DOMAIN, str(folder or package / "catalogs"), languages=[name])
    return Language(name, catalog.gettext, catalog.ngettext)
