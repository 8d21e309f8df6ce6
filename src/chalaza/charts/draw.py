"""From a definition to a drawing: SVG for pages, SVG that stands alone, PNG.

The compiler runs JavaScript of its own: it is loaded at the first drawing, called under one lock, and must never be
called in a forked process (it hangs there). The same definition always gives the same bytes.
"""

import json
from collections.abc import Mapping
from functools import lru_cache
from html import escape
from re import compile as pattern
from threading import Lock
from typing import Any

from chalaza.charts import tokens

_LOCK = Lock()
#: What the compiler adds for scripts and screen readers. The drawing is one picture with one label.
_NOISE = pattern(r' (?:role|aria-[a-z]+|pointer-events|font-family|class)="[^"]*"| opacity="1"')
_EMPTY = pattern(r'<path(?: d="(?:M0,0h0v0h0Z)?"| display="none")+/>|<path d="M0,0h[\d.]+v[\d.]+h-[\d.]+Z"/>')
_PX_PER_INCH = 72


def to_svg(definition: Mapping[str, Any], *, standalone: bool = False) -> str:
    """A definition as SVG; its `description` is the label read aloud. Colours stay `var(--name)` unless `standalone`."""
    svg = _svg(json.dumps(definition, ensure_ascii=False, allow_nan=False))
    return tokens.alone(svg) if standalone else svg


def to_png(svg: str, *, palette: Mapping[str, str] = tokens.LIGHT, scale: float = 2.0) -> bytes:
    """A drawing of ours (not a standing-alone one) as a picture on paper colour, at `scale` dots a px."""
    import vl_convert  # loads a JavaScript engine

    head, rest = tokens.filled(svg, palette).split(">", 1)
    paper = f'<rect width="100%" height="100%" fill="{palette["paper"]}"/>'
    with _LOCK:
        return bytes(vl_convert.svg_to_png(f"{head}>{paper}{rest}", scale=scale, ppi=_PX_PER_INCH))


@lru_cache(maxsize=128)
def _svg(text: str) -> str:
    import vl_convert  # loads a JavaScript engine

    with _LOCK:
        raw = str(vl_convert.vegalite_to_svg(text))
    _, body = raw.split(">", 1)
    definition = json.loads(text)
    padding = definition["padding"]
    width = definition["width"] + padding["left"] + padding["right"]
    height = definition["height"] + padding["top"] + padding["bottom"]
    return root(width, height, str(definition["description"])) + _EMPTY.sub("", _NOISE.sub("", body))


def root(width: float, height: float, label: str, *, unit: str = "") -> str:
    """The opening tag of a drawing: a picture with a label; `unit` "mm" for things with a real size."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}{unit}" height="{height:g}{unit}" '
        f'viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(label)}" '
        f'font-family="{escape(tokens.FACE)}">'
    )
