"""Reading drawings made by hand back: words with their boxes, curves as points, and what no drawing may hold."""

from itertools import combinations
from re import findall
from typing import Any

import numpy as np

from chalaza.charts import tokens
from charts.reading import SVG, colours, measured, tree

#: What a strict page refuses, and what would clash where many drawings lie in one page.
_REFUSED = r"<script|<foreignObject|<image|<use|href=|url\(|\bon[a-z]+=|<style| style=| id="


def sound(svg: str) -> Any:
    """The drawing as a tree, once it is known to be well formed, in named colours, and with nothing a page refuses."""
    root = tree(svg)
    assert findall(_REFUSED, svg) == []
    used = colours(svg)
    assert used
    assert all(one[4:-1].lstrip("-") in tokens.LIGHT for one in used), used
    return root


def words(svg: str) -> list[tuple[str, tuple[float, float, float, float]]]:
    """Each word and its box as drawn with the fonts of this machine: left, top, right, bottom. [px]"""
    found = []
    for one in tree(svg).iter(f"{SVG}text"):
        word, bold = one.text or "", one.get("font-weight") == "700"
        width = measured(word, bold)
        share = {"middle": 0.5, "end": 1.0}.get(one.get("text-anchor", ""), 0.0)
        left, y = float(one.get("x", "0")) - share * width, float(one.get("y", "0"))
        found.append((word, (left, y - 10.5, left + width, y + 3.0)))
    return found


def legible(svg: str) -> list[str]:
    """The words, once it is known that none covers another and none is cut."""
    root = tree(svg)
    width, height = float(root.get("width", "0")), float(root.get("height", "0"))
    placed = words(svg)
    for word, (left, top, right, bottom) in placed:
        assert left >= -0.5, word
        assert right <= width + 0.5, word
        assert top >= -0.5, word
        assert bottom <= height + 0.5, word
    for (first, a), (second, b) in combinations(placed, 2):
        apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
        assert apart, f"{first!r} covers {second!r}"
    return [word for word, _ in placed]


def curve(d: str, per: int = 24) -> np.ndarray:
    """Points along a path of M, Q and C with places in full: rows of x and y."""
    points: list[tuple[float, float]] = []
    for sort, numbers in findall(r"([MQC])([\d.\s-]+)", d):
        v = np.array([float(one) for one in findall(r"-?[\d.]+", numbers)]).reshape(-1, 2)
        if sort == "M":
            points.append(tuple(v[0]))
            continue
        held = np.vstack((points[-1], v))
        for t in np.linspace(0.0, 1.0, per + 1)[1:]:
            level = held
            while len(level) > 1:  # de Casteljau
                level = (1.0 - t) * level[:-1] + t * level[1:]
            points.append(tuple(level[0]))
    return np.array(points)


def paths(svg: str, **wanted: str) -> list[str]:
    """The `d` of every path with these attributes (a line for a hyphen)."""
    found = []
    for one in tree(svg).iter(f"{SVG}path"):
        if all(one.get(name.replace("_", "-")) == value for name, value in wanted.items()):
            found.append(one.get("d", ""))
    return found
