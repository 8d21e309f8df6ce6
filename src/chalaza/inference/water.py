"""Water: are the eggs losing the right amount of it?

An egg loses `specific conductance x mass x drying force`. The drying force comes from the log (or the plan) and shares
the probes' offsets with warmth and clock; weighings and air-cell marks are the observations. The batch mean and the
single eggs are fitted together: eggs differ by a spread that is itself learnt, with a heavy tail for cracked shells.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from chalaza import quantities as q
from chalaza.inference.felt import Course, Felt
from chalaza.inference.fit import Residuals
from chalaza.inference.grid import Floats
from chalaza.inference.readings import Ints
from chalaza.inference.unknowns import Unknowns
from chalaza.physics import egg
from chalaza.values.beliefs import Key

CONDUCTANCE: Key = ("batch", "conductance")
MARK_OFFSET: Key = ("batch", "air_cell_offset")
MARK_SLOPE: Key = ("batch", "air_cell_slope")
MARK_START: Key = ("batch", "air_cell_start")

#: What a scale does not repeat beside rounding (a draught, a drop, where the egg lies): a share of the load, and grams that
#: no pocket scale goes below. Judgement, no source.
_HANDLING, _REPEAT_G = 1.5e-4, 0.01
#: Scale of the Student-t(4) that fits Gaussian deviates of sd 1 best (computed): the spread is told as an sd.
_T4_SCALE = 0.83
_MOST_AIR_ML_PER_G = 0.45


def mass_key(uid: str) -> Key:
    """Log of the mass of an egg at setting."""
    return (f"egg:{uid}", "mass")


def egg_key(uid: str) -> Key:
    """Log of an egg's specific conductance over that of the batch."""
    return (f"egg:{uid}", "conductance")


def session_key(session: str) -> Key:
    """Zero shift of a scale in one session."""
    return (f"session:{session}", "scale_zero")


@dataclass(frozen=True, slots=True, kw_only=True)
class EggUnit:
    """An egg, or a group handled as one, as the fit sees it. `deviates`: it has a conductance of its own."""

    uid: str
    label: str
    count: int
    deviates: bool
    length_mm: float
    breadth_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """A weighing as the fit sees it: which units, at what hour since setting, net grams, their sd, whose zero."""

    hour: float
    units: tuple[str, ...]
    net_g: float
    sd_g: float
    session: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """An air-cell mark as the fit sees it."""

    hour: float
    unit: str
    depth_mm: float
    sd_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The weighings laid out for one pass: per load (rows) hour, net, sd, place of its zero; per unit (columns) count,
    whether it deviates, places of its mass and conductance; `on_scale`: eggs of each unit on each load."""

    hours: Floats
    net: Floats
    sd: Floats
    zero: Ints
    on_scale: Floats
    counts: Floats
    deviates: Floats
    mass: Ints
    egg: Ints
    conductance: int

    @classmethod
    def of(cls, loads: Sequence[Load], units: Mapping[str, EggUnit], index: Mapping[Key, int]) -> "Plan":
        """Lay out `loads` of `units` whose unknowns stand at `index`."""
        used = [unit for unit in units.values() if mass_key(unit.uid) in index]
        column = {unit.uid: j for j, unit in enumerate(used)}
        on_scale = np.zeros((len(loads), len(used)))
        for row, load in enumerate(loads):
            for uid in load.units:
                on_scale[row, column[uid]] = units[uid].count
        net = np.array([load.net_g for load in loads], dtype=np.float64)
        return cls(
            hours=np.array([load.hour for load in loads], dtype=np.float64),
            net=net,
            sd=np.sqrt(
                np.array([load.sd_g for load in loads], dtype=np.float64) ** 2 + (_HANDLING * net) ** 2 + _REPEAT_G**2
            ),
            zero=np.array([index[session_key(load.session)] for load in loads], dtype=np.int64),
            on_scale=on_scale,
            counts=np.array([unit.count for unit in used], dtype=np.float64),
            deviates=np.array([float(unit.deviates) for unit in used]),
            mass=np.array([index[mass_key(unit.uid)] for unit in used], dtype=np.int64),
            egg=np.array([index.get(egg_key(unit.uid), 0) for unit in used], dtype=np.int64),
            conductance=index[CONDUCTANCE],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterModel:
    """Weighings and marks of one batch, tied to what the eggs felt. `spread` is the between-egg spread now in use."""

    felt: Felt
    units: Mapping[str, EggUnit]
    loads: tuple[Load, ...]
    marks: tuple[Mark, ...]
    spread: float
    pressure_factor: float
    mass_exponent: float
    mean_mass_g: float
    plan: "Plan"
    memo: dict[bytes, Course] = field(default_factory=dict, compare=False, repr=False)

    def _drive(self, x: Floats) -> Course:
        """The drying force at `x`, kept while terms and pull both ask for the same."""
        key = x.tobytes()
        if key not in self.memo:
            self.memo.clear()
            self.memo[key] = self.felt.drive(x)
        return self.memo[key]

    def specific(self, x: Floats, unit: EggUnit) -> float:
        """Specific conductance of one unit where it stands, in g/(g torr d)."""
        find = self.felt.unknowns.index
        log = float(x[find[CONDUCTANCE]])
        if unit.deviates:
            log += float(x[find[egg_key(unit.uid)]])
            log += self.mass_exponent * (float(x[find[mass_key(unit.uid)]]) - float(np.log(self.mean_mass_g)))
            log -= 0.5 * self.spread**2 / unit.count
        return float(np.exp(log)) * self.pressure_factor * 1e-3

    def terms(self, x: Floats) -> Residuals:
        """Residuals of weighings and marks in standard deviations, with their Jacobian."""
        drive = self._drive(x)
        residual, jacobian = self._loads(x, drive)
        if not self.marks:
            return residual, jacobian
        marked = [self._mark(x, mark, *drive.at(mark.hour)) for mark in self.marks]
        return (
            np.concatenate((residual, [one for one, _ in marked])),
            np.concatenate((jacobian, np.array([gradient for _, gradient in marked]))),
        )

    def _loads(self, x: Floats, drive: Course) -> Residuals:
        """All weighings at once: what stands on the scale is the eggs' mass less what they have lost, plus its zero."""
        p = self.plan
        force, partial = drive.at_all(p.hours)
        own = self.mass_exponent * p.deviates
        log = x[p.conductance] + p.deviates * x[p.egg] + own * (x[p.mass] - np.log(self.mean_mass_g))
        share = np.exp(log - p.deviates * 0.5 * self.spread**2 / p.counts) * self.pressure_factor * 1e-3
        mass = p.on_scale * np.exp(x[p.mass])
        lost = mass * share * force[:, None]
        residual = (mass - lost).sum(axis=1) + x[p.zero] - p.net
        jacobian = np.zeros((len(p.net), len(x)))
        rows = np.arange(len(p.net))
        jacobian[:, p.mass] = mass - lost * (1.0 + own)
        jacobian[:, p.egg[p.deviates > 0]] -= lost[:, p.deviates > 0]
        jacobian[rows, p.zero] += 1.0
        jacobian[:, p.conductance] -= lost.sum(axis=1)
        jacobian -= (mass * share).sum(axis=1)[:, None] * partial
        return residual / p.sd, jacobian / p.sd[:, None]

    def pull(self, x: Floats) -> Floats:
        """Gradient of the half log determinant of the single eggs' information.

        The weighings are linear in what an egg has lost, its unknown is the logarithm of it. The optimum in logarithms
        lies higher than the mean by as much as the information grows with the loss; over two dozen eggs that share a
        scale's zero this is a third of a standard deviation. Adding the Laplace term of the eggs puts it right. What an
        egg has lost is known as far as its mass at setting is: one weighing of an egg tells next to nothing of it.
        """
        p = self.plan
        gradient = np.zeros(len(x))
        if not np.any(p.deviates) or not len(p.net):
            return gradient
        force, partial = self._drive(x).at_all(p.hours)
        share = self._of_loss(x, force)
        information = share.sum(axis=0) * p.deviates
        known = information * self.spread**2 / p.counts
        weight = np.where(information > 0, known / (1.0 + known), 0.0)
        gradient[p.conductance] = weight.sum()
        gradient[p.egg[p.deviates > 0]] += weight[p.deviates > 0]
        by_load = (share * (weight / np.maximum(information, 1e-12))).sum(axis=1)
        by_force = np.divide(by_load, force, out=np.zeros_like(force), where=np.abs(force) > 1e-9)
        return np.asarray(gradient + by_force @ partial)

    def _of_loss(self, x: Floats, force: Floats) -> Floats:
        """What each weighing of a single egg adds to what is known of the logarithm of its loss, its mass at setting
        being unknown as well (loads x units)."""
        p = self.plan
        own = self.mass_exponent * p.deviates
        log = x[p.conductance] + p.deviates * x[p.egg] + own * (x[p.mass] - np.log(self.mean_mass_g))
        alone = ((p.on_scale > 0).sum(axis=1) == 1)[:, None]
        mass = np.where(alone, p.on_scale * np.exp(x[p.mass]), 0.0) / p.sd[:, None]
        lost = mass * np.exp(log) * self.pressure_factor * 1e-3 * force[:, None]
        left = mass - lost
        before = 1.0 / np.diag(self.felt.unknowns.cov)[p.mass]
        shared = (left * lost).sum(axis=0) / ((left * left).sum(axis=0) + before)
        return np.asarray(lost * lost - shared * left * lost)

    def _mark(self, x: Floats, mark: Mark, force: float, partial: Floats) -> tuple[float, Floats]:
        find = self.felt.unknowns.index
        unit = self.units[mark.unit]
        mass = float(np.exp(x[find[mass_key(mark.unit)]]))
        share = self.specific(x, unit) * force
        start = float(np.exp(x[find[MARK_START]])) * mass / 60.0
        # An egg is never more than half air: where a step of the fit tries it, the edge stays there.
        volume = min(max(start + float(egg.air_cell_growth(1.0)) * mass * share, 1e-3), _MOST_AIR_ML_PER_G * mass)
        size = (mass / egg.mass_from_size(unit.length_mm, unit.breadth_mm)) ** (1.0 / 3.0)
        length, breadth = max(unit.length_mm * size, q.LENGTH_MM.low), max(unit.breadth_mm * size, q.BREADTH_MM.low)
        flat = float(egg.air_cell_depth(volume, length, breadth))
        rim = float(egg.rim_diameter(flat, length, breadth))
        per_ml = 1000.0 / (np.pi * 0.25 * rim * rim)
        a, b = float(x[find[MARK_OFFSET]]), float(x[find[MARK_SLOPE]])
        gradient = np.zeros(len(self.felt.unknowns))
        by_loss = b * per_ml * float(egg.air_cell_growth(1.0)) * mass * share
        gradient[find[MARK_OFFSET]], gradient[find[MARK_SLOPE]] = 1.0, flat
        gradient[find[MARK_START]] = b * per_ml * start
        gradient[find[CONDUCTANCE]] += by_loss
        if unit.deviates:
            gradient[find[egg_key(mark.unit)]] += by_loss
        gradient += (by_loss / force if force else 0.0) * partial
        return (a + b * flat - mark.depth_mm) / mark.sd_mm, gradient / mark.sd_mm

    def mean_loss(self, x: Floats, force: float, partial: Floats) -> tuple[float, Floats]:
        """Mean share of its mass at setting that an egg of the batch has lost after a drying force [torr d]."""
        find = self.felt.unknowns.index
        gradient = np.zeros(len(self.felt.unknowns))
        count = sum(unit.count for unit in self.units.values())
        single = [unit for unit in self.units.values() if unit.deviates]
        others = count - sum(unit.count for unit in single)
        # Deviations are from the batch's own mean: what the single eggs are above it, the others are below it.
        lean = -sum(unit.count * float(x[find[egg_key(unit.uid)]]) for unit in single) / max(others, 1)
        total = others / count * float(np.exp(x[find[CONDUCTANCE]] + lean)) * self.pressure_factor * 1e-3 * force
        rest = total
        for unit in single:
            share = unit.count / count * self.specific(x, unit) * force
            total += share
            gradient[find[egg_key(unit.uid)]] += share - rest * unit.count / max(others, 1)
        gradient[find[CONDUCTANCE]] += total
        gradient += (total / force if force else 0.0) * partial
        return total, gradient

    def factor(self, x: Floats) -> tuple[float, Floats]:
        """Mean loss per unit of drying force, with its gradient."""
        return self.mean_loss(x, 1.0, np.zeros(len(self.felt.unknowns)))


def egg_covariance(units: Sequence[EggUnit], total: int, spread: float) -> Floats:
    """Covariance of the deviations of single units from the mean of a batch of `total` eggs.

    They are deviations from the batch's own mean, so they share a small negative correlation: three eggs weighed of
    twelve say less about the mean than twelve do (worked example W2).
    """
    counts = np.array([unit.count for unit in units], dtype=np.float64)
    return spread**2 * (np.diag(1.0 / counts) - (1.0 - 1e-3) / total)


def learnt_spread(
    deviations: Floats, variances: Floats, counts: Floats, spread: float, mean: float, sigma: float
) -> float:
    """Between-egg spread from fitted deviations and their variances, fitted under `spread`; a lognormal belief (`mean`,
    `sigma` of the log) goes before them.

    What the weighings alone said of each egg is taken out of the fit again, and the marginal likelihood of those sayings
    is maximised over the spread. The deviations are Student-t(4), so an odd egg weighs little; an egg nobody weighed
    twice says nothing.
    """
    before = spread**2 / counts
    error = 1.0 / np.maximum(1.0 / variances - 1.0 / before, 1e-6 / before)
    said = deviations * (before + error) / before
    logs = np.log(mean) + np.linspace(-4.0, 4.0, 161) * max(sigma, 1e-6)
    square = (_T4_SCALE * np.exp(logs))[:, None] ** 2 / counts + error
    log_density = -0.5 * np.log(square) - 2.5 * np.log1p(said**2 / (4.0 * square))
    score = log_density.sum(axis=1) - 0.5 * ((logs - np.log(mean)) / sigma) ** 2
    return float(np.exp(logs[int(np.argmax(score))]))


def unknown_eggs(unknowns: Unknowns) -> tuple[int, ...]:
    """Positions of the deviations of single eggs in the vector."""
    return tuple(
        i for i, one in enumerate(unknowns.priors) if one.key[0].startswith("egg:") and one.key[1] == "conductance"
    )
