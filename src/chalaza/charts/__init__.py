"""The four answers as drawings, each with the table that says the same, and one egg's air cell at true size.

Data against axes is a Vega-Lite definition drawn to SVG; a thing with a real size is SVG in millimetres. A drawing
carries names of colours (`var(--ink)`) for the page it lies in; the standing-alone kind brings its own light, dark and
paper. Nothing here opens a file except `write`.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from chalaza.charts import clock, count, draw, tally, tokens, warmth, water
from chalaza.charts.base import WIDTHS, Say, plain
from chalaza.charts.drawn import AirCell, air_cell, air_cell_of, air_cell_usual
from chalaza.charts.table import Column, Table
from chalaza.charts.window import WINDOWS, window_of
from chalaza.errors import EvidenceError
from chalaza.inference.understanding import Understanding
from chalaza.values.answers import Assessment
from chalaza.values.evidence import Series

__all__ = [
    "CLOSE", "NAMES", "WIDTHS", "WINDOWS", "AirCell", "Chart", "Column", "Say", "Table", "air_cell", "air_cell_of",
    "air_cell_usual", "charts", "window_of", "write",
]  # fmt: skip

#: The drawings of a batch in the order of the answers; "eggs" is the tally beside the count.
NAMES = ("warmth", "water", "clock", "count", "eggs")
#: Those that can be looked at closely.
CLOSE = ("warmth", "water")
_MODULES: Mapping[str, Any] = MappingProxyType({"warmth": warmth, "water": water, "clock": clock, "count": count})


@dataclass(frozen=True, slots=True)
class Chart:
    """One drawing: its name, the label that says the finding, and the same numbers as a table.

    `definition` is its Vega-Lite definition; None for what is drawn by hand. It is drawn when `svg` or `png` is called.
    """

    name: str
    label: str
    table: Table
    definition: Mapping[str, Any] | None
    _draw: Callable[[], str]

    def svg(self, *, standalone: bool = False) -> str:
        """As SVG: for a page of ours, or (`standalone`) for anywhere."""
        inline = self._draw()
        return tokens.alone(inline) if standalone else inline

    def png(self, *, dark: bool = False, scale: float = 2.0) -> bytes:
        """As a picture on paper colour, `scale` dots a px."""
        return draw.to_png(self._draw(), palette=tokens.DARK if dark else tokens.LIGHT, scale=scale)


def charts(
    u: Understanding, a: Assessment, *, width: int = 420, zone: str | None = None, say: Say = plain,
    labels: Mapping[str, str] | None = None, window: tuple[float, float] | None = None,
    readings: Mapping[str, Series] | None = None, only: Collection[str] = NAMES,
) -> Mapping[str, Chart]:  # fmt: skip
    """The drawings of a batch by name (those of `NAMES` in `only`), `width` px wide.

    `zone`: where moments are told (that of the batch, if None). `say` translates the words in a drawing; `labels` are
    sentences that stand for the labels read aloud. `window`: from when to when [seconds UTC] warmth and water are shown
    (all of the term, if None; see `window_of`), with the `readings` (by uid of the probe) one by one where it is
    short. Raises `EvidenceError` for a window in which the batch did not live, and for no such name.
    """
    if strange := [name for name in only if name not in NAMES]:
        raise EvidenceError(f"no drawing {strange[0]!r}; allowed: {', '.join(NAMES)}")
    given = labels or {}
    found: dict[str, Chart] = {}
    for name, module in _MODULES.items():
        if name not in only:
            continue
        close = {"window": window, "readings": readings} if name in CLOSE else {}
        spec = module.definition(u, a, width=width, zone=zone, text=given.get(name), say=say, **close)
        more = {"zone": zone} if module is clock else {"window": window} if name in CLOSE else {}
        table = module.table(u, a, say, **more)
        found[name] = Chart(name, str(spec["description"]), table, spec, lambda spec=spec: draw.to_svg(spec))  # type: ignore[misc]
    if "eggs" in only:
        text = given.get("eggs") or tally.label(u, a, say)
        found["eggs"] = Chart(
            "eggs", text, tally.table(u, a, say), None, lambda: tally.drawing(u, a, width=width, text=text, say=say)
        )
    return found


def write(
    u: Understanding, a: Assessment, folder: Path, png: bool = False, *, width: int = 420, say: Say = plain
) -> list[Path]:
    """Write every drawing to `folder` (made if missing) as standing-alone SVG, and as PNG too if asked; the paths written.

    Every egg that is kept as one gets an air-cell drawing.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    for name, chart in charts(u, a, width=width, say=say).items():
        written.append(_put(folder / f"{name}.svg", chart.svg(standalone=True).encode()))
        if png:
            written.append(_put(folder / f"{name}.png", chart.png()))
    for i, uid in enumerate(u.rows.units, start=1):
        if u.rows.units[uid].count == 1:
            svg = air_cell(u, a, uid, standalone=True, say=say)
            written.append(_put(folder / f"air-cell-{i}.svg", svg.encode()))
    return written


def _put(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path
