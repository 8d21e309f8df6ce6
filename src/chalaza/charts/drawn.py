"""Things with a real size, drawn in millimetres: one egg's outline, and where the edge of its air cell should run today.

A torch shows the edge of a domed membrane deeper than a flat one would lie. The line, the band and the dots are all told
as the torch shows them, with the calibration this batch has learnt from its own marks (else the published one), so what
is drawn is what is seen.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import exp, hypot, sqrt

import numpy as np

from chalaza import facts
from chalaza.charts import draw, shell, tokens
from chalaza.charts.base import Say, plain
from chalaza.charts.labels import SIZE_PX, apart, text_width
from chalaza.errors import EvidenceError
from chalaza.inference.grid import Floats
from chalaza.inference.published import Rules, published
from chalaza.inference.published import plain as central
from chalaza.inference.understanding import Understanding
from chalaza.inference.water import MARK_OFFSET, MARK_SLOPE, MARK_START, EggUnit, mass_key
from chalaza.physics import egg
from chalaza.values.answers import Assessment
from chalaza.values.estimate import Z90

#: The bar to check the printer by. [mm]
CHECK_MM = 50.0
#: Words on paper: 14 px are 3.7 mm. Margins, leader to the words, from line to line. [mm]
_WORD_MM, _LEFT_MM, _TOP_MM, _LEADER_MM, _LINE_MM = 3.7, 1.0, 2.0, 6.0, 4.7
_MM_PER_PX = _WORD_MM / SIZE_PX
_STEPS = 90


@dataclass(frozen=True, slots=True, kw_only=True)
class AirCell:
    """Sizes of one egg [mm], its mass at setting [g] and loss with its 90 % range [1], and depths below the blunt pole as
    seen by torch.

    `depth_mm`: expected today from this egg's loss, `shallow_mm` to `reach_mm` how high and how deep it may show;
    `wanted_mm`: today's band. From lockdown on all stays as it was then.
    """

    length_mm: float
    breadth_mm: float
    mass_g: float
    loss: float
    loss_low: float
    loss_high: float
    depth_mm: float
    wanted_mm: tuple[float, float]
    shallow_mm: float
    reach_mm: float


@dataclass(frozen=True, slots=True)
class Torch:
    """What a torch makes of a flat membrane: offset [mm], slope [1], their covariance, and the cell at setting [mL/60 g]."""

    offset: float
    slope: float
    cov: Floats
    start_ml: float

    def seen(self, loss: float, length_mm: float, breadth_mm: float, mass_g: float) -> float:
        """Depth shown for an egg of this size that has lost this share of its mass. [mm]"""
        flat = self._flat(loss, length_mm, breadth_mm, mass_g)
        return float(egg.candled_depth(flat, offset_mm=self.offset, slope=self.slope))

    def doubt(self, loss: float, length_mm: float, breadth_mm: float, mass_g: float) -> float:
        """Half the 90 % range of that depth where the loss is known. [mm]"""
        gradient = np.array([1.0, self._flat(loss, length_mm, breadth_mm, mass_g)])
        return Z90 * sqrt(max(float(gradient @ self.cov @ gradient), 0.0))

    def _flat(self, loss: float, length_mm: float, breadth_mm: float, mass_g: float) -> float:
        # Air so wet that an egg gains makes its cell no smaller than at setting.
        volume = self.start_ml * mass_g / 60.0 + egg.air_cell_growth(mass_g * max(loss, 0.0))
        return float(egg.air_cell_depth(volume, length_mm, breadth_mm))

    def cell(
        self, size: tuple[float, float, float], loss: tuple[float, float, float], wanted: tuple[float, float]
    ) -> AirCell:
        """The air cell of an egg of `size` (length, breadth [mm], mass [g]) by its loss and its 90 % range."""
        low, high = (self.seen(each, *size) for each in loss[1:])
        depth = self.seen(loss[0], *size)
        doubt = hypot(self.doubt(loss[0], *size), 0.5 * (high - low))
        return AirCell(
            length_mm=size[0], breadth_mm=size[1], mass_g=size[2],
            loss=loss[0], loss_low=loss[1], loss_high=loss[2],
            depth_mm=depth, wanted_mm=(self.seen(wanted[0], *size), self.seen(wanted[1], *size)),
            shallow_mm=max(depth - doubt, 0.0), reach_mm=depth + doubt,
        )  # fmt: skip


def air_cell_of(u: Understanding, a: Assessment, uid: str) -> AirCell:
    """The air cell of one egg today. Raises `EvidenceError` for no such egg."""
    if uid not in u.rows.units:
        raise EvidenceError(f"no egg {uid!r} in this batch; there are: {', '.join(list(u.rows.units)[:12])} ...")
    unit = u.rows.units[uid]
    return torch_of(u).cell(_size(u, unit), _loss(u, a, unit), wanted_loss(a, u.now_h / 24.0))


def wanted_loss(a: Assessment, day_d: float) -> tuple[float, float]:
    """The wanted band of the loss on a day: even from setting to the target's day, and as then afterwards. [1]"""
    share = min(day_d / a.water.target_day_d, 1.0)
    return a.water.wanted.low * share, a.water.wanted.high * share


def _loss(u: Understanding, a: Assessment, unit: EggUnit) -> tuple[float, float, float]:
    """Loss of one egg today with its 90 % range; of an egg not weighed singly the batch's doubt and what shells differ by."""
    force, _ = u.drive.at(min(u.now_h, a.water.target_day_d * 24.0))
    loss = u.water.specific(u.posterior.mean, unit) * force
    past = u.now_h >= a.water.target_day_d * 24.0
    for one in a.water.eggs:
        if one.uid == unit.uid:
            told = one.loss_at_lockdown if past else one.loss_now
            return loss, told.low, told.high
    told = a.water.loss_at_lockdown if past else a.water.loss_now
    among = Z90 * u.water.spread / sqrt(unit.count)
    half = hypot(told.half_width, abs(loss) * among)
    return loss, loss - half, loss + half


def torch_of(u: Understanding) -> Torch:
    """What a torch makes of the cells of this batch, by its own marks if there are any."""
    find, x = u.posterior.unknowns.index, u.posterior.mean
    if MARK_OFFSET in find:
        at = [find[MARK_OFFSET], find[MARK_SLOPE]]
        return Torch(float(x[at[0]]), float(x[at[1]]), u.posterior.cov[np.ix_(at, at)], exp(float(x[find[MARK_START]])))
    return _believed(u.beliefs, u.kind.key)


def _believed(beliefs: Rules, kind: str) -> Torch:
    """What a torch is believed to make of cells before any mark."""
    bird = f"kind:{kind}"
    offset, slope = beliefs[bird, "air_cell_offset"], beliefs[bird, "air_cell_slope"]
    together = facts.prior("correlation", kind, "air_cell_offset_slope").mean * offset.sd * slope.sd
    cov = np.array([[offset.sd**2, together], [together, slope.sd**2]])
    return Torch(offset.mean, slope.mean, cov, central(beliefs[bird, "air_cell_start_ml"]))


def air_cell_usual(kind: str, day_d: float) -> AirCell:
    """The air cell of a typical egg of a kind (key or other name) that loses what is wanted, on a day since setting.

    For eggs nobody has weighed, and for a look ahead. Raises `EvidenceError` for no such kind.
    """
    bird = facts.kind(kind)
    target = bird.loss_target
    share = min(max(day_d, 0.0), target.day_d) / target.day_d
    size = (bird.egg_length_mm.typical, bird.egg_breadth_mm.typical, bird.egg_mass_g.typical)
    middle, low, high = (share * each for each in (target.typical, target.low, target.high))
    return _believed(published(bird.key), bird.key).cell(size, (middle, low, high), (low, high))


def _size(u: Understanding, unit: EggUnit) -> tuple[float, float, float]:
    """Length and breadth as measured [mm], and mass [g]; an egg nobody measured has the shape of its kind at its mass."""
    kind, key = u.kind, mass_key(unit.uid)
    usual = (kind.egg_length_mm.typical, kind.egg_breadth_mm.typical)
    measured = (unit.length_mm, unit.breadth_mm) != usual
    by_size = float(egg.mass_from_size(unit.length_mm, unit.breadth_mm))
    known = key in u.posterior.unknowns.index
    mass = exp(float(u.posterior.mean[u.posterior.unknowns.index[key]])) if known else by_size
    size = 1.0 if measured else (mass / by_size) ** (1.0 / 3.0)
    return unit.length_mm * size, unit.breadth_mm * size, mass


def label(cell: AirCell, say: Say = plain) -> str:
    """What the drawing says, for who cannot see it."""
    return say(
        "Outline of the egg at true size. The edge of the air cell is expected {depth} mm below the blunt end; "
        "{low} to {high} mm wanted today; it may show as deep as {reach} mm."
    ).format(
        depth=f"{cell.depth_mm:.1f}", low=f"{cell.wanted_mm[0]:.1f}", high=f"{cell.wanted_mm[1]:.1f}",
        reach=f"{cell.reach_mm:.1f}",
    )  # fmt: skip


def air_cell(u: Understanding, a: Assessment, uid: str, *, standalone: bool = False, say: Say = plain) -> str:
    """The drawing of one egg's air cell, as SVG in millimetres. Raises `EvidenceError` for no such egg."""
    cell = air_cell_of(u, a, uid)
    words = [
        (0.5 * sum(cell.wanted_mm), f"{say('wanted today')} {cell.wanted_mm[0]:.1f}–{cell.wanted_mm[1]:.1f}", False),
        (cell.depth_mm, f"{say('expected')} {cell.depth_mm:.1f}", True),
        (cell.reach_mm, f"{say('may show to here')} {cell.reach_mm:.1f}", False),
    ]
    name = f"{u.rows.units[uid].label} · {cell.length_mm:.1f} × {cell.breadth_mm:.1f} mm, {say('about')} {cell.mass_g:.0f} g"
    check = say("this bar must be 50 mm; print at 100 %")
    edge = _LEFT_MM + cell.breadth_mm + _LEADER_MM
    width = max(
        edge + max(_mm(word, bold) for _, word, bold in words),
        _LEFT_MM + max(CHECK_MM, _mm(name), _mm(check)) + 1.0,
    )
    foot = _TOP_MM + cell.length_mm
    parts = [
        draw.root(round(width, 1), round(foot + 20.0, 1), label(cell, say), unit="mm"),
        _band(cell),
        _path(_outline(cell.length_mm, cell.breadth_mm, 0.0, cell.length_mm), width=0.45),
        _across(cell, cell.depth_mm, width=0.9),
        _across(cell, cell.reach_mm, width=0.5, dots=True),
        *_words(cell, words, edge),
        _text(_LEFT_MM, foot + 5.5, name),
        _bar(foot + 11.0),
        _text(_LEFT_MM, foot + 17.5, check, token="soft"),
        "</svg>",
    ]
    svg = "".join(parts)
    return tokens.alone(svg) if standalone else svg


def _mm(word: str, bold: bool = False) -> float:
    return text_width(word, bold=bold) * _MM_PER_PX


def _outline(length: float, breadth: float, first: float, last: float) -> str:
    """The outline between two depths below the blunt pole, as a path. [mm]"""
    return shell.path(
        length, breadth, x=_LEFT_MM + 0.5 * breadth, y=_TOP_MM, first=first, last=last, steps=_STEPS, digits=3
    )


def _path(d: str, *, width: float, fill: str | None = None, token: str = "ink") -> str:
    paint = "none" if fill is None else tokens.var(fill)
    return f'<path d="{d}" fill="{paint}" stroke="{tokens.var(token)}" stroke-width="{width:g}"/>'


def _band(cell: AirCell) -> str:
    return _path(_outline(cell.length_mm, cell.breadth_mm, *cell.wanted_mm), width=0.2, fill="want", token="line")


def _half(cell: AirCell, depth: float) -> float:
    return float(egg.outline(depth, cell.length_mm, cell.breadth_mm, egg.HEN_SHIFT_SHARE * cell.length_mm))


def _across(cell: AirCell, depth: float, *, width: float, dots: bool = False) -> str:
    """A level line through the egg at a depth."""
    middle, half, y = _LEFT_MM + 0.5 * cell.breadth_mm, _half(cell, depth), _TOP_MM + depth
    dash = ' stroke-dasharray="0.1 1.3" stroke-linecap="round"' if dots else ""
    return (
        f'<line x1="{middle - half:.3f}" x2="{middle + half:.3f}" y1="{y:.3f}" y2="{y:.3f}" '
        f'stroke="{tokens.var("ink")}" stroke-width="{width:g}"{dash}/>'
    )


def _words(cell: AirCell, words: Sequence[tuple[float, str, bool]], edge: float) -> list[str]:
    """Each word beside its line, joined by a leader; the words a line apart."""
    ordered = sorted(words)
    ys = apart([_TOP_MM + depth for depth, _, _ in ordered], _LINE_MM, low=4.0, high=_TOP_MM + cell.length_mm)
    out = []
    for (depth, word, bold), y in zip(ordered, ys, strict=True):
        x = _LEFT_MM + 0.5 * cell.breadth_mm + _half(cell, depth)
        out.append(
            f'<path d="M{x:.2f} {_TOP_MM + depth:.2f}L{edge - 1.0:.2f} {y:.2f}" fill="none" '
            f'stroke="{tokens.var("line")}" stroke-width="0.2"/>'
        )
        out.append(_text(edge, y + 1.2, word, bold=bold, token="ink" if bold else "soft"))
    return out


def _text(x: float, y: float, word: str, *, bold: bool = False, token: str = "ink") -> str:
    weight = ' font-weight="700"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{_WORD_MM:g}" fill="{tokens.var(token)}"{weight}>'
        f"{escape(word)}</text>"
    )


def _bar(y: float) -> str:
    """Fifty millimetres with a tick at each ten."""
    ends = f"M{_LEFT_MM:g} {y - 2:g}V{y + 2:g}M{_LEFT_MM + CHECK_MM:g} {y - 2:g}V{y + 2:g}"
    ticks = "".join(f"M{_LEFT_MM + 10 * i:g} {y - 1:g}V{y + 1:g}" for i in range(1, 5))
    return _path(f"M{_LEFT_MM:g} {y:g}H{_LEFT_MM + CHECK_MM:g}{ends}{ticks}", width=0.4)
