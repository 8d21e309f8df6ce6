"""Sums of eggs against numpy.convolve of scipy.stats.binom, and very many against the exact sum."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from chalaza.inference import distribution
from chalaza.inference.distribution import mean_of, mixture, quantile

# Of a chance below 1e-300 the binomial of scipy, which is the peer here, overflows.
CHANCE = st.just(0.0) | st.floats(1e-300, 1.0)


@given(st.lists(st.tuples(st.integers(0, 40), CHANCE, CHANCE), min_size=1, max_size=5), st.floats(0.0, 1.0))
def test_a_sum_of_groups_is_the_convolution_of_binomials(groups, share):
    """Two nodes, each with chances of its own; what cannot come up (beyond nine sd) is left out: 1e-12."""
    total = sum(n for n, _, _ in groups)
    weight = np.array([share, 1.0 - share])
    found = mixture([(n, np.array([p, q])) for n, p, q in groups], weight, total)
    expected = np.zeros(total + 1)
    for node, w in enumerate(weight):
        one = np.ones(1)
        for n, *p in groups:
            one = np.convolve(one, stats.binom(n, p[node]).pmf(np.arange(n + 1)))
        expected += w * one
    assert found == pytest.approx(expected, abs=1e-12)


def test_nodes_are_taken_in_portions_without_a_seam(monkeypatch):
    rng = np.random.default_rng(1)
    parts, weight = [(12, rng.uniform(size=500)), (30, rng.uniform(size=500))], rng.dirichlet(np.ones(500))
    whole = mixture(parts, weight, 42)
    monkeypatch.setattr(distribution, "_AT_ONCE", 43 * 7)
    assert mixture(parts, weight, 42) == pytest.approx(whole, abs=1e-15)


@pytest.mark.parametrize("chance", [0.02, 0.5, 0.93])
def test_very_many_are_as_good_as_gaussian(monkeypatch, chance):
    """1,001 eggs over a spread of shares: the exact sum (the limit lifted) and the Gaussian one differ by 0.002 in any
    probability, 0.02 eggs in the mean and one egg in a quantile; where a handful of a thousand live, by 0.011."""
    rng = np.random.default_rng(2)
    spread = np.clip(chance + 0.02 * rng.normal(size=400), 0.001, 0.999)
    parts, weight = [(900, spread), (101, 0.5 * spread)], np.full(400, 1 / 400)
    smooth = mixture(parts, weight, 1001)
    monkeypatch.setattr(distribution, "SMOOTH", 2000)
    exact = mixture(parts, weight, 1001)
    assert smooth.sum() == pytest.approx(1.0, abs=1e-9)
    assert smooth == pytest.approx(exact, abs=0.012 if chance < 0.1 else 0.002)
    assert mean_of(smooth) == pytest.approx(mean_of(exact), abs=0.02)
    for share in (0.05, 0.5, 0.95):
        assert abs(quantile(smooth, share) - quantile(exact, share)) <= 1


def test_certain_eggs_are_certain_among_very_many():
    found = mixture([(1500, np.array([1.0])), (500, np.array([0.0]))], np.array([1.0]), 2000)
    assert quantile(found, 0.05) == quantile(found, 0.95) == 1500
    assert mean_of(found) == pytest.approx(1500.0, abs=1e-6)


@given(st.lists(st.floats(0.001, 1), min_size=1, max_size=30), st.floats(0.01, 0.99))
def test_a_quantile_is_the_smallest_number_that_reaches_the_share(weights, share):
    p = np.array(weights) / sum(weights)
    q = quantile(p, share)
    assert p[: q + 1].sum() >= share - 1e-9
    assert p[:q].sum() < share + 1e-9
