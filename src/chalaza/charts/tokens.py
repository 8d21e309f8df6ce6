"""The colours of every drawing, each named once: light page, dark page, paper. A drawing speaks of names only.

The page's style sheet gives the same names; a drawing inside a page carries `var(--ink)` and takes whatever the page
says, so one drawing serves light, dark and print.
"""

from collections.abc import Mapping
from re import compile as pattern
from types import MappingProxyType

from chalaza.errors import ChalazaError

#: A cool page under daylight.
LIGHT: Mapping[str, str] = MappingProxyType(
    {
        "paper": "#F1F4F1",
        "leaf": "#E4EAE6",
        "ink": "#15252D",
        "soft": "#4A5B62",
        "line": "#68777D",
        "hair": "#C3CDCA",
        "want": "#D5E0DB",
        "yolk": "#F2A51E",
        "on-yolk": "#15252D",
        "lit": "#FFFFFF",
        "shade": "#4A5B62",
    }
)
#: The same page under a weak warm lamp.
DARK: Mapping[str, str] = MappingProxyType(
    {
        "paper": "#15120E",
        "leaf": "#221D16",
        "ink": "#D9CBB4",
        "soft": "#AE9F88",
        "line": "#8C7E6B",
        "hair": "#3A332A",
        "want": "#382F24",
        "yolk": "#E39A35",
        "on-yolk": "#15120E",
        "lit": "#BDAF97",
        "shade": "#2B241B",
    }
)
#: Black on white; now is a grey disc with a black rim.
PRINT: Mapping[str, str] = MappingProxyType(
    {
        "paper": "#fff",
        "leaf": "#fff",
        "ink": "#000",
        "soft": "#333",
        "line": "#555",
        "hair": "#bbb",
        "want": "#ddd",
        "yolk": "#999",
        "on-yolk": "#000",
        "lit": "#fff",
        "shade": "#555",
    }
)

#: One family, whichever the device has.
FACE = 'Charter, "Bitstream Charter", "Sitka Text", Cambria, "Noto Serif", "Source Serif 4", "Liberation Serif", serif'
#: Size of words in a drawing. [px]
WORD_PX = 14

_USED = pattern(r'(fill|stroke)="var\(--([a-z-]+)\)"')
_ANY = pattern(r"var\(--([a-z-]+)\)")


def var(name: str) -> str:
    """The colour as a drawing carries it. Raises `ChalazaError` for a name that is no token."""
    if name not in LIGHT:
        raise ChalazaError(f"no colour {name!r}; allowed: {', '.join(LIGHT)}")
    return f"var(--{name})"


def filled(svg: str, palette: Mapping[str, str]) -> str:
    """The drawing with every token put in: for pictures, which know no variables."""
    return _ANY.sub(lambda found: palette[found[1]], svg)


def alone(svg: str) -> str:
    """The drawing made to stand alone: light colours in place, and a style that follows the reader's theme and paper.

    The light page needs no style at all, so a viewer without style sheets (or without their variables) shows it; one
    with them turns to the dark page or to paper by the names.
    """
    names = sorted({(what, name) for what, name in _USED.findall(svg)})
    style = (
        f"svg:root{{background:{LIGHT['paper']}}}"
        f"@media (prefers-color-scheme:dark){{{_rules(DARK, names)}}}"
        f"@media print{{{_rules(PRINT, names)}}}"
    )
    body = _USED.sub(lambda found: f'{found[1]}="{LIGHT[found[2]]}" data-{found[1]}="{found[2]}"', svg)
    head, rest = body.split(">", 1)
    return f"{head}><style>{style}</style>{rest}"


def _rules(palette: Mapping[str, str], names: list[tuple[str, str]]) -> str:
    drawn = "".join(f'[data-{what}="{name}"]{{{what}:{palette[name]}}}' for what, name in names)
    return f"svg:root{{background:{palette['paper']}}}{drawn}"
