"""From a definition to a drawing: SVG for pages, SVG that stands alone, PNG.

The compiler runs JavaScript of its own: it is loaded at the first drawing, called under one lock, and must never be
called in a forked process (it hangs there). The same definition always gives the same bytes, so the last are kept.
"""

import json
from collections import OrderedDict
from collections.abc import Mapping
from hashlib import sha256
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
    svg = kept.get(json.dumps(definition, ensure_ascii=False, allow_nan=False))
    return tokens.alone(svg) if standalone else svg


def to_png(svg: str, *, palette: Mapping[str, str] = tokens.LIGHT, scale: float = 2.0) -> bytes:
    """A drawing of ours (not a standing-alone one) as a picture on paper colour, at `scale` dots a px."""
    import vl_convert  # loads a JavaScript engine

    head, rest = tokens.filled(svg, palette).split(">", 1)
    paper = f'<rect width="100%" height="100%" fill="{palette["paper"]}"/>'
    with _LOCK:
        return bytes(vl_convert.svg_to_png(f"{head}>{paper}{rest}", scale=scale, ppi=_PX_PER_INCH))


class _Kept:
    """The last drawings by the hash of their definition: the text itself is as long as the drawing and is not held.

    Invariant: at most `most`, the one used longest ago goes first. All under the one lock, so of threads that ask for one
    drawing at once the first makes it.
    """

    def __init__(self, most: int) -> None:
        self.most = most
        self._by_hash: OrderedDict[bytes, str] = OrderedDict()

    def get(self, text: str) -> str:
        key = sha256(text.encode()).digest()
        with _LOCK:
            svg = self._by_hash.get(key)
            if svg is None:
                svg = self._by_hash[key] = _compiled(text)
                while len(self._by_hash) > self.most:
                    self._by_hash.popitem(last=False)
            self._by_hash.move_to_end(key)
            return svg

    def clear(self) -> None:
        """Forget all."""
        with _LOCK:
            self._by_hash.clear()

    def __len__(self) -> int:
        return len(self._by_hash)


#: What was drawn of late.
kept = _Kept(64)


def _compiled(text: str) -> str:
    """The drawing of a definition; called under the lock."""
    import vl_convert  # loads a JavaScript engine

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
