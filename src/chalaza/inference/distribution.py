"""Distributions of whole numbers: sums of eggs that live by chances of their own, mixed over nodes; mean and quantile."""

from collections.abc import Sequence

import numpy as np
from scipy.special import gammaln, ndtr, xlog1py, xlogy

from chalaza.inference.grid import Floats

#: Beyond so many eggs a sum of them is taken for a Gaussian: within 0.002 in any probability, 0.011 if few of them live.
SMOOTH = 1000
#: Probabilities held at once, and bins of like mean where sums are Gaussian.
_AT_ONCE, _BINS = 2_000_000, 400


def mixture(parts: Sequence[tuple[int, Floats]], weight: Floats, total: int) -> Floats:
    """Distribution of a sum of independent eggs (index = number, 0 to `total`).

    `parts`: per group its number of eggs and each one's chance, at every node; `weight`: of the nodes, adding to 1.
    """
    if total > SMOOTH:
        return _smooth(parts, weight, total)
    out = np.zeros(total + 1)
    step = max(_AT_ONCE // (total + 1), 1)
    for begin in range(0, len(weight), step):
        here = slice(begin, begin + step)
        held, start = np.ones((len(weight[here]), 1)), 0
        for count, p in sorted(parts, key=lambda one: one[0]):
            more, first = _binomial(count, np.clip(p[here], 0.0, 1.0))
            held, start = _sum(held, more), start + first
        out[start : start + held.shape[1]] += weight[here] @ held
    return out


def _smooth(parts: Sequence[tuple[int, Floats]], weight: Floats, total: int) -> Floats:
    """The same of very many eggs: nodes of like mean taken together, each bin a Gaussian over whole numbers."""
    mean = np.sum([count * p for count, p in parts], axis=0)
    variance = np.sum([count * p * (1.0 - p) for count, p in parts], axis=0)
    low, high = float(mean.min()), float(mean.max())
    at = np.minimum((_BINS * (mean - low) / max(high - low, 1e-9)).astype(np.int64), _BINS - 1)
    share = np.bincount(at, weights=weight, minlength=_BINS)
    used = share > 0.0
    share, middle = share[used], np.bincount(at, weights=weight * mean, minlength=_BINS)[used] / share[used]
    square = np.bincount(at, weights=weight * (variance + mean**2), minlength=_BINS)[used] / share
    sd = np.sqrt(np.maximum(square - middle**2, 1e-6))
    out = np.zeros(total + 1)
    for w, m, s in zip(share.tolist(), middle.tolist(), sd.tolist(), strict=True):
        first, last = max(int(m - 9.0 * s) - 1, 0), min(int(m + 9.0 * s) + 2, total)
        edges = np.arange(first, last + 2) - 0.5
        edges[0], edges[-1] = -np.inf, np.inf
        out[first : last + 1] += w * np.diff(ndtr((edges - m) / s))
    return out


def _binomial(n: int, p: Floats) -> tuple[Floats, int]:
    """Probabilities of the numbers of n that can come up at any node (nodes x numbers), and the least of them."""
    mean, reach = n * p, 9.0 * np.sqrt(n * p * (1.0 - p)) + 9.0
    low, high = max(int(np.min(mean - reach)), 0), min(int(np.max(mean + reach)) + 1, n)
    k = np.arange(low, high + 1.0)
    log = gammaln(n + 1.0) - gammaln(k + 1.0) - gammaln(n - k + 1.0)
    return np.asarray(np.exp(log + xlogy(k, p[:, None]) + xlog1py(n - k, -p[:, None]))), low


def _sum(left: Floats, right: Floats) -> Floats:
    """Distribution of the sum of two independent numbers, at each node."""
    small, large = (left, right) if left.shape[1] <= right.shape[1] else (right, left)
    width = large.shape[1]
    out = np.zeros((len(large), width + small.shape[1] - 1))
    for i in range(small.shape[1]):
        out[:, i : i + width] += small[:, i : i + 1] * large
    return out


def quantile(distribution: Floats, share: float) -> int:
    """Smallest number whose cumulative probability reaches `share`."""
    return int(np.searchsorted(np.cumsum(distribution) - 1e-12, share))


def mean_of(distribution: Floats) -> float:
    """Mean of a distribution over 0, 1, 2 ..."""
    return float(distribution @ np.arange(len(distribution)))
