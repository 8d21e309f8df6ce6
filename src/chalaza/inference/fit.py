"""One joint fit: prior, observations, and the Gaussian about the optimum.

Gauss-Newton on the log posterior. Each subject gives its observations as `Terms`: a function from the unknowns to
residuals in standard deviations, with their Jacobian. Heavy-tailed priors are met by re-weighting (each is a Gaussian
whose width grows with how far the unknown has moved; Lange, Little & Taylor 1989, memory), and so are observations far
astray. The covariance at the end is the inverse of the last information matrix, so every interval on a page comes from
one posterior.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy import linalg

from chalaza.errors import BalanceError, EvidenceError
from chalaza.inference.grid import Floats
from chalaza.inference.unknowns import Unknowns
from chalaza.values.beliefs import Key

Residuals = tuple[Floats, Floats]
Terms = Callable[[Floats], Residuals]

_STEPS = 60
#: Longest step of one round, in standard deviations of the prior.
_REACH = 4.0
_SMALL = 1e-3
#: An observation this many standard deviations off pulls no harder than one at that distance: it was typed or taken
#: wrongly (Huber 1964, memory). Beyond what any rightly taken one of the worked examples shows; judgement.
_ASTRAY = 6.0
#: A last step longer than this has found no optimum. [standard deviations of the prior]
_STILL_FAR = 0.5


@dataclass(frozen=True, slots=True)
class Posterior:
    """A Gaussian over the unknowns after the evidence: mean (n), covariance (n x n), and what came before."""

    unknowns: Unknowns
    mean: Floats
    cov: Floats
    prior_cov: Floats

    def value(self, key: Key) -> float:
        """Mean of one unknown."""
        return float(self.mean[self.unknowns.index[key]])

    def sd(self, key: Key) -> float:
        """Standard deviation of one unknown."""
        i = self.unknowns.index[key]
        return float(np.sqrt(max(self.cov[i, i], 0.0)))

    def correlation(self, left: Key, right: Key) -> float:
        """Correlation of two unknowns."""
        i, j = self.unknowns.index[left], self.unknowns.index[right]
        return float(self.cov[i, j] / np.sqrt(self.cov[i, i] * self.cov[j, j]))

    def spread(self, gradient: Floats) -> float:
        """Standard deviation of a linear function of the unknowns."""
        return float(np.sqrt(max(float(gradient @ self.cov @ gradient), 0.0)))

    def observe(self, gradient: Floats, gap: float, variance: float) -> "Posterior":
        """Rank-one update by a linear observation: `gap` = observed minus expected, with its error variance."""
        reach = self.cov @ gradient
        gain = reach / (float(gradient @ reach) + variance)
        cov = self.cov - np.outer(gain, reach)
        return replace(self, mean=self.mean + gain * gap, cov=0.5 * (cov + cov.T))

    def narrowed(self, gradient: Floats, variance: float) -> "Posterior":
        """The same, for an observation not yet made: the mean stays, the covariance shrinks."""
        return self.observe(gradient, 0.0, variance)


def fit(
    unknowns: Unknowns,
    terms: Sequence[Terms],
    *,
    start: Floats | None = None,
    pull: Callable[[Floats], Floats] | None = None,
) -> Posterior:
    """The optimum and the covariance there. `start`: where to begin (the prior mean, if None); `pull`: gradient of what
    the log posterior has beside squares (a Laplace term). Raises `EvidenceError` where rows contradict each other so far
    that there is no optimum, `BalanceError` if the numbers run away (our bug)."""
    mean = unknowns.mean
    x = mean.copy() if start is None else start.copy()
    cov = unknowns.cov
    for _ in range(_STEPS):
        cov = _heavy(unknowns, x)
        information, shift = _normal_equations(x, mean, cov, terms)
        if pull is not None:
            shift = shift - pull(x)
        move = linalg.cho_solve(_factor(information), shift)
        far = float(np.max(np.abs(move) / np.maximum(np.sqrt(np.diag(cov)), 1e-12), initial=0.0))
        # A step is no longer than a few standard deviations of the prior: rows that contradict each other must not throw
        # the fit to where the physics does not hold.
        x = x + move * min(1.0, _REACH / max(far, 1e-12))
        if far < _SMALL:
            break
    else:
        if far > _STILL_FAR:
            raise _contradicting()
    after = linalg.cho_solve(_factor(information), np.eye(len(x)))
    return Posterior(unknowns, x, 0.5 * (after + after.T), cov)


def _factor(information: Floats) -> tuple[Floats, bool]:
    """Cholesky factor. Raises `EvidenceError` where rows contradict each other beyond what numbers can hold."""
    try:
        lower, is_lower = linalg.cho_factor(information)
    except linalg.LinAlgError:
        raise _contradicting() from None
    return np.asarray(lower), bool(is_lower)


def _contradicting() -> EvidenceError:
    return EvidenceError(
        "the weighings or marks contradict each other so far that no answer fits them: "
        "look for a wrong unit, a forgotten tray or eggs mixed up"
    )


def _heavy(unknowns: Unknowns, x: Floats) -> Floats:
    """Prior covariance with heavy-tailed unknowns widened by how far they have moved."""
    widen = np.ones(len(x))
    for i, one in enumerate(unknowns.priors):
        if one.tail is not None:
            scale = one.scale if one.scale is not None else one.sd
            far = (x[i] - one.mean) ** 2 / scale**2
            widen[i] = max(1.0, (one.tail + far) / (one.tail + 1.0))
    root = np.sqrt(widen)
    return np.asarray(unknowns.cov * np.outer(root, root))


def _normal_equations(x: Floats, mean: Floats, cov: Floats, terms: Sequence[Terms]) -> tuple[Floats, Floats]:
    information = linalg.cho_solve(linalg.cho_factor(cov), np.eye(len(x)))
    shift = information @ (mean - x)
    for term in terms:
        residual, jacobian = term(x)
        if not (np.all(np.isfinite(residual)) and np.all(np.isfinite(jacobian))):
            raise BalanceError("the joint fit left the numbers")
        if len(residual):
            held = np.minimum(1.0, _ASTRAY / np.maximum(np.abs(residual), _ASTRAY))
            information = information + (jacobian.T * held) @ jacobian
            shift = shift - jacobian.T @ np.clip(residual, -_ASTRAY, _ASTRAY)
    return information, shift
