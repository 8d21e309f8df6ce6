"""What every sheet shares: paper, the bar to check the printer by, the foot, letters, and the way to PDF.

A sheet is data and the name of a layout (`*.typ` beside this module). Text reaches the layout as JSON and is set as it
is: nothing a keeper types is ever read as code. Only the letters inside the compiler's own wheel are used, so a sheet is
the same on every machine; a sign they lack is set as `LACKING`, and the foot says so.
"""

import json
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from threading import Lock
from types import MappingProxyType
from typing import Any

from chalaza.errors import ChalazaError
from chalaza.sheets.typed import cleaned
from chalaza.units import inside
from chalaza.words import numbers
from chalaza.words.language import ENGLISH, mark
from chalaza.words.numbers import Preference, Voice

#: The bar on every page. [mm]
CHECK_MM = 50.0
#: Stands for a sign that none of our letters have.
LACKING = "□"
#: Left and right of what is printed. [mm]
MARGIN_MM = 12.0

Data = dict[str, Any]


class Paper(StrEnum):
    """Paper a sheet is made for."""

    A4 = "a4"
    LETTER = "us-letter"


#: Width and height. [mm]  ISO 216; ANSI/ASME Y14.1 A (8.5 by 11 in).
SIZE_MM: Mapping[Paper, tuple[float, float]] = MappingProxyType(
    {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet ready to be made: its layout, the data set in it, and the moment it speaks of (seconds UTC)."""

    layout: str
    data: Data
    at: int


def sheet(voice: Voice, *, layout: str, title: str, name: str, paper: Paper, body: Data, at: int) -> Sheet:
    """A sheet with its frame. `title`: what sort of sheet, said already; `name`: what it is about, as typed."""
    bars = _bars(voice)
    lengths = {"length": f"{CHECK_MM:g}{numbers.NB}mm", "inches": f"2{numbers.NB}in"}
    language, region = _tongue(voice)
    frame = {
        "title": title,
        "paper": paper.value,
        "margin_mm": MARGIN_MM,
        "language": language,
        "region": region,
        "bars": bars,
        "check": voice.say(_ONE_BAR if len(bars) == 1 else _TWO_BARS, lengths),
        "ruler": voice.say(_RULER),
        "foot": voice.say(mark("{name} · {title}"), {"name": cleaned(name, 40), "title": title}),
        # The layout counts the pages.
        "page": voice.say(mark("page {page} of {pages}"), {"page": "{page}", "pages": "{pages}"}),
        "lacking": voice.say(mark("{box} stands for a sign that these letters do not have."), {"box": LACKING}),
    }
    return Sheet(layout=layout, data={"frame": frame, "body": body}, at=at)


_ONE_BAR = mark("This bar must be {length} long.")
_TWO_BARS = mark("The upper bar must be {length} long, the lower one {inches}.")
_RULER = mark(
    "Lay a ruler on it. If it is not, print again at 100 %, not “fit to page”. On a screen nothing here is true to size."
)


def _tongue(voice: Voice) -> tuple[str, str]:
    """Language and region of what is said, as a PDF names them; English where the name is none."""
    found = re.fullmatch(r"([a-z]{2,3})(?:[-_]([A-Z]{2}))?", voice.language.name)
    return (found[1], found[2] or "") if found else (ENGLISH, "")


def _bars(voice: Voice) -> list[dict[str, Any]]:
    """The bar of 50 mm, and one of two inches for who has a ruler in inches alone. [mm]"""
    bars = [{"mm": CHECK_MM, "ticks": [10.0 * i for i in range(1, 5)]}]
    if voice.units is Preference.US:
        bars.append({"mm": inside(2.0, "in"), "ticks": [inside(0.5 * i, "in") for i in range(1, 4)]})
    return bars


def pdf(made: Sheet, *, timestamp: int | None = None) -> bytes:
    """The sheet as a tagged PDF, written for PDF/UA-1. The same sheet and `timestamp` (of making, seconds UTC; else the
    moment the sheet speaks of) give the same bytes."""
    at = made.at if timestamp is None else timestamp
    data, standards = _settable(made, at)
    return _compile(made.layout, data, format="pdf", timestamp=at, pdf_standards=standards)[0]


def pictures(made: Sheet, *, ppi: float = 144.0) -> tuple[bytes, ...]:
    """The pages as PNG, `ppi` pixels to the inch."""
    data, _ = _settable(made, made.at)
    return _compile(made.layout, data, format="png", timestamp=made.at, ppi=ppi)


# To the compiler --------------------------------------------------------------------------------------------------

#: One compiler for the process: it keeps letters and layouts. Several threads would only wait for each other.
_LOCK = Lock()
_ROUNDS = 8
_LACKS = re.compile(r'the text `"(.*?)"` could not be displayed', re.DOTALL)


@cache
def _compiler() -> Any:
    import typst  # 34 MB, needed by nobody who prints nothing

    return typst.Compiler(ignore_system_fonts=True)


@cache
def _source(layout: str) -> bytes:
    """Frame and layout as one source: no file is read while it is compiled."""
    here = files("chalaza.sheets")
    return b"\n".join((here / f"{name}.typ").read_bytes() for name in ("frame", layout))


def _compile(layout: str, data: Data, **how: Any) -> tuple[bytes, ...]:
    told = {"data": json.dumps(data, ensure_ascii=False)}
    with _LOCK:
        made = _compiler().compile(input=_source(layout), sys_inputs=told, **how)
    return tuple(made) if isinstance(made, list) else (made,)


def _settable(made: Sheet, at: int) -> tuple[Data, list[str]]:
    """The data with every sign our letters lack put as a box, and the standard it then meets.

    The compiler names what it lacks when it is held to the standard; more than a few rounds of that are not asked for.
    """
    data, lacking = made.data, False
    for _ in range(_ROUNDS):
        try:
            _compile(made.layout, data | {"lacking": lacking}, format="pdf", timestamp=at, pdf_standards=["ua-1"])
        except RuntimeError as said:
            found = _lacks(str(getattr(said, "diagnostic", "")))
            if not found:
                raise ChalazaError(f"the sheet {made.layout!r} cannot be set: {said}") from said
            data, lacking = _over(data, lambda text, found=found: _boxed(text, found)), True  # type: ignore[misc]
        else:
            return data | {"lacking": lacking}, ["ua-1"]
    return data | {"lacking": lacking}, []


def _lacks(diagnostic: str) -> tuple[str, ...]:
    """The signs named as lacking, longest first; the compiler writes some as `\\u{hex}`."""
    named = (re.sub(r"\\u\{([0-9a-f]+)\}", lambda m: chr(int(m[1], 16)), one) for one in _LACKS.findall(diagnostic))
    return tuple(sorted(dict.fromkeys(named), key=len, reverse=True))


def _boxed(text: str, signs: Sequence[str]) -> str:
    for sign in signs:
        text = text.replace(sign, LACKING)
    return text


def _over(data: Any, change: Callable[[str], str]) -> Any:
    """The data with `change` made to every text in it."""
    if isinstance(data, str):
        return change(data)
    if isinstance(data, Mapping):
        return {key: _over(value, change) for key, value in data.items()}
    if isinstance(data, Sequence):
        return [_over(value, change) for value in data]
    return data
