"""Reading drawings back: words with their places, colours, and how wide words truly run in the fonts at hand."""

from functools import cache
from html import escape
from re import findall
from struct import unpack
from typing import Any
from xml.etree import ElementTree
from zlib import decompress

import numpy as np
import vl_convert

from chalaza.charts import tokens

SVG = "{http://www.w3.org/2000/svg}"


def tree(svg: str) -> ElementTree.Element:
    """The drawing as a tree; not well-formed raises."""
    return ElementTree.fromstring(svg)


def colours(svg: str) -> set[str]:
    """Every colour named in the drawing."""
    return set(findall(r'(?<= )(?:fill|stroke|color|stop-color)="([^"]*)"', svg)) - {"none"}


def layers(definition: dict[str, Any]) -> list[dict[str, Any]]:
    """Every mark of a definition."""
    found: list[dict[str, Any]] = []
    for one in definition["layer"]:
        found += layers(one) if "layer" in one else [one]
    return found


def pixels(png: bytes) -> Any:
    """A picture as rows x columns x (red, green, blue, opacity). PNG specification (W3C), filters 0 to 4, 8 bit RGBA."""
    width, height, depth, sort, _, _, interlaced = unpack(">IIBBBBB", png[16:29])
    assert (depth, sort, interlaced) == (8, 6, 0)
    at, packed = 8, b""
    while at < len(png):
        length, name = unpack(">I4s", png[at : at + 8])
        packed += png[at + 8 : at + 8 + length] if name == b"IDAT" else b""
        at += 12 + length
    raw = np.frombuffer(decompress(packed), np.uint8).reshape(height, 1 + 4 * width)
    rows = np.zeros((height + 1, width + 1, 4), np.int64)
    for y in range(height):
        line, up = raw[y, 1:].reshape(width, 4).astype(np.int64), rows[y]
        for x in range(width):
            a, b, c = rows[y + 1, x], up[x + 1], up[x]
            rows[y + 1, x + 1] = (line[x] + _predicted(int(raw[y, 0]), a, b, c)) % 256
    return rows[1:, 1:]


def _predicted(sort: int, a: Any, b: Any, c: Any) -> Any:
    if sort < 4:
        return (0 * a, a, b, (a + b) // 2)[sort]
    pa, pb, pc = abs(b - c), abs(a - c), abs(a + b - 2 * c)
    return np.where((pa <= pb) & (pa <= pc), a, np.where(pb <= pc, b, c))


@cache
def measured(word: str, bold: bool) -> float:
    """Width of the ink of a word as drawn with the fonts of this machine. [px]"""
    weight = ' font-weight="700"' if bold else ""
    face = escape(tokens.FACE)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="340" height="20" font-family="{face}">'
        f'<text x="10" y="14" font-size="{tokens.WORD_PX}"{weight}>{escape(word)}</text></svg>'
    )
    inked = np.flatnonzero(pixels(vl_convert.svg_to_png(svg, scale=1))[:, :, 3].max(axis=0) > 40)
    return float(inked[-1] - inked[0] + 1)


def words(definition: dict[str, Any]) -> list[tuple[str, bool, tuple[float, float, float, float]]]:
    """Each word of a chart, whether it is bold, and its box: left, top, right, bottom. [px]"""
    found = []
    for one in layers(definition):
        mark = one["mark"]
        if mark["type"] != "text":
            continue
        bold = mark.get("fontWeight") == 700
        for row in definition["datasets"][one["data"]["name"]]:
            width = measured(row["text"], bold)
            left = row["x"] - {"left": 0.0, "center": 0.5, "right": 1.0}[mark["align"]] * width
            found.append((row["text"], bold, (left, row["y"] - 10.5, left + width, row["y"] + 3.0)))
    return found


def said(definition: dict[str, Any]) -> set[str]:
    """The words of a chart."""
    return {word for word, _, _ in words(definition)}
