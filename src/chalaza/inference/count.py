"""Count: how many are alive, how many will hatch?

An egg is infertile, died in one of three stages, or lives. Fertility and survival are shared by the batch and only
believed (Beta), so eggs are samples of one flock, not of a certainty; what the lamp showed has error rates by age and
shell. The sum over states is exact; the shared shares are integrated by Gauss-Jacobi nodes, which integrate a Beta
times the polynomial of the findings exactly as long as the nodes reach its degree. Eggs alike are counted together.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from scipy.linalg import eigh_tridiagonal

from chalaza.inference.distribution import SMOOTH, mean_of, mixture, quantile
from chalaza.inference.grid import Floats

__all__ = [
    "Counts",
    "Group",
    "Look",
    "Share",
    "Stages",
    "assess_counts",
    "beta_nodes",
    "died_by",
    "mean_of",
    "quantile",
    "survival_at",
]

#: Share of a repeated "unsure" that the shell alone explains: a dark shell or a weak lamp makes both looks unsure.
#: Judgement (memory); the pair is then worth between one look and two.
SHELL_SHARE = 0.5
#: Up to so many eggs the prior's own nodes do; beyond, nodes are taken where the findings put the weight.
_FEW = 24
#: Nodes of the passes that look for that place, at most so many, and of the last one.
_SEEK, _PASSES, _MANY, _VERY_MANY = (12, 10, 8, 6), 6, (14, 12, 10, 12), (48, 12, 10, 16)
#: Nodes that together hold less than this of the weight are dropped.
_CRUMBS = 1e-7
#: Beyond so many eggs a sum is taken as Gaussian at each node (its error is then under a tenth of an egg), and nodes of
#: like means are put into so many classes.
_EXACT, _LIKE = 600, 96

Share = tuple[float, float] | float


@dataclass(frozen=True, slots=True, kw_only=True)
class Stages:
    """Fertility and survival through the three thirds of the term: Beta counts, or a number where it is not doubted."""

    fertility: Share
    early: Share
    middle: Share
    late: Share

    def axes(self) -> tuple[Share, ...]:
        """The four in order."""
        return (self.fertility, self.early, self.middle, self.late)


@dataclass(frozen=True, slots=True)
class Look:
    """One finding under the lamp: at which share of the term, and P(finding | alive, dead, infertile)."""

    share: float
    likelihood: tuple[float, float, float]
    unsure: bool


@dataclass(frozen=True, slots=True)
class Group:
    """Eggs with the same findings and fate: how many; what was seen; what is certain (out, opened, pipped: alive)."""

    count: int
    looks: tuple[Look, ...]
    hatched: bool = False
    opened: str | None = None
    removed: bool = False
    pipped: bool = False


@dataclass(frozen=True, slots=True)
class Counts:
    """Exact distributions (index = number) of the eggs: fertile, alive now, young in the end; and per group P(alive)."""

    fertile: Floats
    alive: Floats
    young: Floats
    alive_by_group: tuple[float, ...]
    posterior: Mapping[str, tuple[float, float]]


@cache
def beta_nodes(a: float, b: float, nodes: int) -> tuple[Floats, Floats]:
    """Nodes and weights of a Beta(a, b): exact for polynomials up to degree 2 x nodes - 1.

    Gauss-Jacobi by the eigenvalues of its recurrence (Golub & Welsch 1969, memory): the weights come normalised, so
    counts of thousands do not overflow.
    """
    n = np.arange(1.0, nodes)
    alpha, beta = b - 1.0, a - 1.0
    both = alpha + beta
    twice = 2.0 * n + both
    first = (beta - alpha) / (both + 2.0)
    middle = np.concatenate(([first], (beta - alpha) * both / (twice * (twice + 2.0))))
    # n (n + both) / (2n + both - 1) is 1 at n = 1 whatever the counts: written so, nothing is divided by nothing.
    ratio = np.concatenate(([1.0], n[1:] * (n[1:] + both) / (twice[1:] - 1.0)))[: len(n)]
    side = np.sqrt(4.0 * (n + alpha) * (n + beta) * ratio / (twice**2 * (twice + 1.0)))
    x, vectors = eigh_tridiagonal(middle, side)
    return 0.5 * (x + 1.0), vectors[0] ** 2


def died_by(within: float, stage: int) -> float:
    """Share of a stage's deaths that have happened at a share `within` of the stage (0 to 1).

    Early deaths crowd at the start, late ones at the end, middle ones are even: the two peaks of deaths by day in
    jassim-1996 and kuurman-2001; the simple powers are judgement.
    """
    within = min(max(within, 0.0), 1.0)
    return (1.0 - (1.0 - within) ** 2, within, within**2)[stage]


def survival_at(share: float, early: Floats, middle: Floats, late: Floats) -> Floats:
    """Share of fertile eggs alive at a share of the term, for each value of the three survivals."""
    out = np.ones_like(early)
    for stage, s in enumerate((early, middle, late)):
        out = out * (1.0 - (1.0 - s) * died_by(3.0 * share - stage, stage))
    return out


def assess_counts(
    stages: Stages,
    groups: Sequence[Group],
    now_share: float,
    *,
    late_factors: Sequence[tuple[float, float]] = ((1.0, 1.0),),
    shell_share: float = SHELL_SHARE,
    silence: float = 1.0,
    nodes: Sequence[int] = (12, 9, 3, 4),
) -> Counts:
    """Sum over states, integrate over the shared shares.

    `late_factors`: (weight, factor on late survival) nodes of the Gaussian where warmth or water moves survival.
    `silence`: chance that an egg that will hatch is not out yet at the last look; near and after the due hour it speaks
    against the eggs that are still whole. A first pass at the prior's nodes finds where the findings put the weight; of
    many eggs (a narrow posterior) further ones take their nodes there.
    """
    ask = _Ask(now_share, shell_share, silence)
    total = sum(group.count for group in groups)
    alike: dict[Group, int] = {}
    for group in groups:
        one = replace(group, count=1)
        alike[one] = alike.get(one, 0) + group.count
    table = _integrate(stages, stages, alike, ask, nodes)
    if total > _FEW:
        last = _MANY if total <= SMOOTH else _VERY_MANY
        table = _integrate(stages, _found(stages, table, alike, ask), alike, ask, last)
    weight, parts = table.weight, tuple(zip(alike.values(), table.parts, strict=True))
    fertile = mixture([(n, f / p) for n, (p, f, _, _) in parts], weight, total)
    alive = mixture([(n, a / p) for n, (p, _, a, _) in parts], weight, total)
    young = np.zeros(total + 1)
    for share, factor in late_factors:
        onward = np.clip(table.onward * factor, 0.0, 1.0)
        ahead = [(n, (o + a * onward) / p) for n, (p, _, a, o) in parts]
        young += share * mixture(ahead, weight, total)
    lives = {one: float(weight @ ((a + o) / p)) for one, (p, _, a, o) in zip(alike, table.parts, strict=True)}
    single = tuple(lives[replace(group, count=1)] for group in groups)
    names = ("fertility", "survival_early", "survival_middle", "survival_late")
    posterior = {name: _beta_match(values, weight) for name, values in zip(names, table.shares, strict=True)}
    return Counts(fertile, alive, young, single, posterior)


@dataclass(frozen=True, slots=True)
class _Table:
    """What is known at each node: weight, the four shares, the parts of each group, P(hatches | alive now)."""

    weight: Floats
    shares: tuple[Floats, ...]
    parts: tuple[tuple[Floats, ...], ...]
    onward: Floats


def _integrate(
    stages: Stages, proposal: Stages, groups: Mapping[Group, int], ask: "_Ask", nodes: Sequence[int]
) -> _Table:
    """Weights and parts at every node; `groups`: one egg of each sort, and how many there are of it."""
    axes = [_axis(pair, n) for pair, n in zip(proposal.axes(), nodes, strict=True)]
    shares = [grid.ravel() for grid in np.meshgrid(*(axis[0] for axis in axes), indexing="ij")]
    log = np.log(np.prod(np.meshgrid(*(axis[1] for axis in axes), indexing="ij"), axis=0).ravel())
    for values, prior, drawn in zip(shares, stages.axes(), proposal.axes(), strict=True):
        log = log + _log_ratio(values, prior, drawn)
    phi, s1, s2, s3 = shares
    times = {look.share for group in groups for look in group.looks} | {ask.now_share}
    living = {time: survival_at(time, s1, s2, s3) for time in times}
    terms = [_group(group, phi, s1, s2, s3, ask, living) for group in groups]
    for n, (seen, _, _, _) in zip(groups.values(), terms, strict=True):
        log = log + n * np.log(np.maximum(seen, 1e-300))
    share = np.exp(log - log.max())
    order = np.argsort(share)
    keep = np.sort(order[np.searchsorted(np.cumsum(share[order]), _CRUMBS * share.sum()) :])
    weight = share[keep]
    kept = tuple(tuple(part[keep] for part in one) for one in terms)
    phi, s1, s2, s3 = (values[keep] for values in shares)
    onward = s1 * s2 * s3 / np.maximum(survival_at(ask.now_share, s1, s2, s3), 1e-12)
    return _Table(weight / weight.sum(), (phi, s1, s2, s3), kept, onward)


def _axis(pair: Share, nodes: int) -> tuple[Floats, Floats]:
    if isinstance(pair, tuple):
        return beta_nodes(pair[0], pair[1], nodes)
    return np.array([pair]), np.ones(1)


def _log_ratio(values: Floats, prior: Share, drawn: Share) -> Floats | float:
    """Log density of the prior over that of the proposal (a Beta against a Beta, constants left out)."""
    if not isinstance(prior, tuple) or not isinstance(drawn, tuple) or prior == drawn:
        return 0.0
    return (prior[0] - drawn[0]) * np.log(values) + (prior[1] - drawn[1]) * np.log1p(-values)


def _found(stages: Stages, table: _Table, groups: Mapping[Group, int], ask: "_Ask") -> Stages:
    """Betas a little wider than the weight, once it has come to rest."""
    last = stages
    for _ in range(_PASSES):
        now = _proposal(stages, table, 1.0)
        if _at_rest(last, now):
            break
        table, last = _integrate(stages, now, groups, ask, _SEEK), now
    return _proposal(stages, table, 0.7)


def _at_rest(last: Stages, now: Stages) -> bool:
    """Whether no mean has moved by a quarter of its standard deviation."""
    for before, after in zip(last.axes(), now.axes(), strict=True):
        if isinstance(before, tuple) and isinstance(after, tuple) and before != after:
            mean, total = after[0] / sum(after), sum(after)
            sd = (mean * (1.0 - mean) / (total + 1.0)) ** 0.5
            if abs(before[0] / sum(before) - mean) > 0.25 * sd or not 0.6 < sum(before) / total < 1.6:
                return False
    return True


def _proposal(stages: Stages, table: _Table, narrow: float) -> Stages:
    """Betas about where the weight lies, their counts times `narrow` (below 1: wider than it).

    What the findings hardly narrow keeps its prior, whose nodes are exact. The weight may lie between two nodes that are
    far apart, so part of their distance is added to its spread.
    """
    names = ("fertility", "early", "middle", "late")
    out: dict[str, Share] = {}
    for name, pair, values in zip(names, stages.axes(), table.shares, strict=True):
        out[name] = pair
        if not isinstance(pair, tuple):
            continue
        mean = float(table.weight @ values)
        variance = float(table.weight @ (values - mean) ** 2)
        before = pair[0] * pair[1] / (sum(pair) ** 2 * (sum(pair) + 1.0))
        if variance < 0.7 * before:
            variance = min(variance + 0.3 * _spacing(values, mean) ** 2, before)
            total = narrow * max(mean * (1.0 - mean) / variance - 1.0, 1e-3)
            out[name] = (max(mean * total, 0.8), max((1.0 - mean) * total, 0.8))
    return Stages(**out)


def _spacing(values: Floats, at: float) -> float:
    """Distance of the two nodes about a value."""
    nodes = np.unique(values)
    if len(nodes) < 2:
        return float(nodes[0] * (1.0 - nodes[0]))
    i = int(np.clip(np.searchsorted(nodes, at), 1, len(nodes) - 1))
    return float(nodes[i] - nodes[i - 1])


@dataclass(frozen=True, slots=True)
class _Ask:
    """When, and how far repeated and silent looks are believed."""

    now_share: float
    shell_share: float
    silence: float


def _group(
    group: Group, phi: Floats, s1: Floats, s2: Floats, s3: Floats, ask: _Ask, living: Mapping[float, Floats]
) -> tuple[Floats, Floats, Floats, Floats]:
    """P(findings), P(findings, fertile), P(findings, alive and not yet out), P(findings, out) of one egg of a group."""
    zero = np.zeros_like(phi)
    whole = s1 * s2 * s3
    if group.hatched:
        return phi * whole, phi * whole, zero, phi * whole
    looks = _tempered(group.looks, ask.shell_share)
    infertile = (1.0 - phi) * _product(look.likelihood[2] ** w for look, w in looks)
    alive = phi * living[ask.now_share] * _product(look.likelihood[0] ** w for look, w in looks)
    dead = zero
    times = sorted({look.share for look, _ in looks} | {ask.now_share})
    before = np.ones_like(phi)
    for time in (t for t in times if t <= ask.now_share):
        after = living[time]
        seen = _product(look.likelihood[0 if look.share < time else 1] ** w for look, w in looks)
        dead = dead + phi * (before - after) * seen
        before = after
    if group.pipped:
        return alive, alive, alive, zero
    onward = whole / np.maximum(living[ask.now_share], 1e-12)
    dead = dead + alive * (1.0 - onward) * (1.0 - ask.silence)
    alive = alive * ask.silence
    if group.opened is not None:
        return _opened(group.opened, phi, s1, s2, s3, infertile, dead)
    return infertile + alive + dead, alive + dead, zero if group.removed else alive, zero


def _opened(
    stage: str, phi: Floats, s1: Floats, s2: Floats, s3: Floats, infertile: Floats, dead: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    zero = np.zeros_like(phi)
    fates = {
        "infertile": (1.0 - phi, zero),
        "early": (zero, phi * (1.0 - s1)),
        "middle": (zero, phi * s1 * (1.0 - s2)),
        "late": (zero, phi * s1 * s2 * (1.0 - s3)),
        "pipped": (zero, phi * s1 * s2 * (1.0 - s3)),
        "unknown": (infertile, dead),
    }
    barren, died = fates[stage]
    return barren + died, died, zero, zero


def _tempered(looks: Sequence[Look], shell_share: float) -> list[tuple[Look, float]]:
    """A second "unsure" of the same egg is worth only what the shell does not explain."""
    out: list[tuple[Look, float]] = []
    before = False
    for look in sorted(looks, key=lambda one: one.share):
        out.append((look, 1.0 - shell_share if look.unsure and before else 1.0))
        before = before or look.unsure
    return out


def _product(values: Iterable[float]) -> float:
    out = 1.0
    for value in values:
        out *= value
    return out


def _beta_match(values: Floats, weight: Floats) -> tuple[float, float]:
    """Counts of the Beta with the same mean and variance."""
    mean = float(weight @ values)
    variance = max(float(weight @ (values - mean) ** 2), 1e-12)
    total = max(mean * (1.0 - mean) / variance - 1.0, 1e-3)
    return mean * total, (1.0 - mean) * total
