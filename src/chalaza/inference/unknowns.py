"""The unknowns of one batch: named, with a Gaussian before the evidence. Whatever shares a probe shares its offset."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from chalaza.errors import BalanceError
from chalaza.inference.grid import Floats
from chalaza.values.beliefs import Key


@dataclass(frozen=True, slots=True)
class Prior:
    """One unknown before the evidence. `tail` is the degrees of freedom of a heavy tail (None: Gaussian) and `scale`
    its scale: far out it is believed to be wider, so that one cracked egg or one bad display does not move the rest."""

    key: Key
    mean: float
    sd: float
    tail: float | None = None
    scale: float | None = None


@dataclass(frozen=True, slots=True)
class Unknowns:
    """The vector of unknowns: `priors` in order, and the covariance before the evidence (n x n)."""

    priors: tuple[Prior, ...]
    cov: Floats
    index: Mapping[Key, int]

    @classmethod
    def of(cls, priors: Iterable[Prior], correlations: Mapping[tuple[Key, Key], float] | None = None) -> "Unknowns":
        """Build the vector; correlations between unknowns that are not both in it are left out."""
        listed = tuple(priors)
        index = {one.key: i for i, one in enumerate(listed)}
        if len(index) != len(listed):
            raise BalanceError("an unknown is named twice")
        sd = np.array([one.sd for one in listed])
        cov = np.diag(sd * sd)
        for (left, right), value in (correlations or {}).items():
            if left in index and right in index:
                i, j = index[left], index[right]
                cov[i, j] = cov[j, i] = value * sd[i] * sd[j]
        return cls(listed, cov, index)

    @property
    def mean(self) -> Floats:
        """Means before the evidence."""
        return np.array([one.mean for one in self.priors])

    def __len__(self) -> int:
        return len(self.priors)

    def __contains__(self, key: Key) -> bool:
        return key in self.index

    def gradient(self, parts: Mapping[Key, float]) -> Floats:
        """A vector over all unknowns with the given partial derivatives."""
        out = np.zeros(len(self.priors))
        for key, value in parts.items():
            out[self.index[key]] += value
        return out
