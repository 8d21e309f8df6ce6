"""The joint fit against closed forms (numpy) and general optimisers and densities (scipy)."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import optimize, stats

from chalaza.errors import BalanceError, EvidenceError
from chalaza.inference.fit import Posterior, fit
from chalaza.inference.unknowns import Prior, Unknowns


def names(n: int) -> list:
    return [("batch", f"x{i}") for i in range(n)]


def linear(matrix, seen, sd):
    """Observations seen = matrix x + noise of sd, as residuals."""

    def terms(x):
        return (matrix @ x - seen) / sd, matrix / sd[:, None]

    return terms


def problem(seed: int, n: int = 4, m: int = 6):
    rng = np.random.default_rng(seed)
    priors = [Prior(key, rng.normal(), rng.uniform(0.2, 2.0)) for key in names(n)]
    unknowns = Unknowns.of(priors, {(names(n)[0], names(n)[1]): float(rng.uniform(-0.8, 0.8))})
    return unknowns, rng.normal(size=(m, n)), rng.normal(size=m), rng.uniform(0.1, 1.0, m)


@given(st.integers(0, 10_000))
def test_a_linear_problem_is_the_closed_form_gaussian(seed):
    """Conditioning of a Gaussian: P = (C⁻¹ + AᵀR⁻¹A)⁻¹, mean = P (C⁻¹m + AᵀR⁻¹y) (numpy.linalg)."""
    unknowns, a, y, sd = problem(seed)
    found = fit(unknowns, [linear(a[:2], y[:2], sd[:2]), linear(a[2:], y[2:], sd[2:])])
    sharp, noise = np.linalg.inv(unknowns.cov), np.diag(1 / sd**2)
    cov = np.linalg.inv(sharp + a.T @ noise @ a)
    mean = cov @ (sharp @ unknowns.mean + a.T @ noise @ y)
    assume(np.max(np.abs((y - a @ mean) / sd)) < 6.0)  # what lies farther astray is held: no Gaussian any more
    assert found.mean == pytest.approx(mean, abs=1e-9)
    assert found.cov == pytest.approx(cov, abs=1e-9)
    assert found.prior_cov == pytest.approx(unknowns.cov)


def test_without_observations_the_prior_comes_back():
    unknowns, _, _, _ = problem(3)
    found = fit(unknowns, [])
    assert found.mean == pytest.approx(unknowns.mean)
    assert found.cov == pytest.approx(unknowns.cov)


@given(st.integers(0, 200))
def test_the_optimum_of_a_curved_problem_is_that_of_a_general_minimiser(seed):
    """Losses are exponentials of logs: y = exp(u) (1 - v) + w. scipy.optimize.minimize (BFGS) on the same log posterior;
    the fit stops when a step is under a thousandth of a prior sd, and so far may they differ."""
    rng = np.random.default_rng(seed)
    unknowns = Unknowns.of(
        [Prior(key, m, s) for key, m, s in zip(names(3), (-1.3, 0.5, 0.0), (0.22, 0.05, 0.1), strict=True)]
    )
    seen, sd = np.exp(-1.3 + 0.2 * rng.normal()) * 0.5 + rng.normal(0, 0.02, 3), np.full(3, 0.02)
    scale = np.array([1.0, 1.5, 2.0])

    def terms(x):
        u, v, w = x
        model = np.exp(u) * (1 - v) * scale + w
        jacobian = np.column_stack((np.exp(u) * (1 - v) * scale, -np.exp(u) * scale, np.ones(3)))
        return (model - seen * scale) / sd, jacobian / sd[:, None]

    def minus_log(x):
        away = (x - unknowns.mean) / np.array([0.22, 0.05, 0.1])
        residual, _ = terms(x)
        return 0.5 * away @ away + 0.5 * residual @ residual

    best = optimize.minimize(minus_log, unknowns.mean, method="BFGS", options={"gtol": 1e-7})
    found = fit(unknowns, [terms])
    assert (found.mean - best.x) / np.array([0.22, 0.05, 0.1]) == pytest.approx(np.zeros(3), abs=1e-3)
    assert minus_log(found.mean) <= best.fun + 1e-5


@pytest.mark.parametrize("seen", [-8.0, -3.0, 1.5, 2.0, 5.0, 20.0])
def test_a_heavy_tail_ends_at_the_mode_of_students_t(seen):
    """Prior of the sort single eggs have, t(4) of scale 1, and an observation of sd 0.5. Beyond one scale the re-weighted
    optimum is the maximum of scipy.stats.t times the likelihood; within it the core is Gaussian on purpose."""
    unknowns = Unknowns.of([Prior(names(1)[0], 0.0, 1.0, 4.0)])
    found = fit(unknowns, [linear(np.eye(1), np.array([seen]), np.array([0.5]))])

    def minus_log(x):
        return -stats.t.logpdf(x, 4) + 0.5 * ((x - seen) / 0.5) ** 2

    ends = sorted((0.0, seen))
    best = optimize.minimize_scalar(
        minus_log, bounds=(ends[0] - 1, ends[1] + 1), method="bounded", options={"xatol": 1e-8}
    )
    assert abs(best.x) > 1.0
    assert found.mean[0] == pytest.approx(best.x, abs=2e-3)


def test_within_one_scale_the_core_is_gaussian():
    unknowns = Unknowns.of([Prior(names(1)[0], 0.0, 1.0, 4.0)])
    found = fit(unknowns, [linear(np.eye(1), np.array([0.8]), np.array([0.5]))])
    assert found.mean[0] == pytest.approx(0.8 * 1.0 / 1.25)


def test_an_odd_one_among_many_does_not_move_the_rest():
    """Twelve deviations about one mean, one of them five sd out: with heavy tails the mean stays (scipy's t location
    estimate of the same twelve), with a Gaussian it is dragged by a twelfth of five."""
    said = np.array([0.1, -0.2, 0.3, 0.0, -0.1, 0.2, -0.3, 0.1, 0.0, -0.1, 0.05, 6.0])
    keys = [("batch", "mean"), *names(12)]
    design = np.column_stack((np.ones(12), np.eye(12)))

    def mean(tail: float | None) -> float:
        priors = [Prior(keys[0], 0.0, 10.0), *(Prior(key, 0.0, 1.0, tail) for key in keys[1:])]
        return fit(Unknowns.of(priors), [linear(design, said, np.full(12, 0.05))]).value(keys[0])

    plain = float(np.mean(said))
    assert mean(None) == pytest.approx(plain, abs=0.02)
    assert abs(mean(4.0)) < 0.4 * plain


def test_a_probes_tail_lies_between_its_gaussian_and_the_observation():
    """Unchecked display: t(4) of scale 0.5 K with a Gaussian core of 0.6 K. Hatches say +2.0 +/- 0.4 K: the optimum is
    near the mode under the printed t (scipy), and far above the Gaussian's."""
    unknowns = Unknowns.of([Prior(names(1)[0], 0.0, 0.6, 4.0, 0.51)])
    found = fit(unknowns, [linear(np.eye(1), np.array([2.0]), np.array([0.4]))]).mean[0]
    best = optimize.minimize_scalar(
        lambda x: -stats.t.logpdf(x, 4, scale=0.5) + 0.5 * ((x - 2.0) / 0.4) ** 2, bounds=(0, 2.5), method="bounded"
    )
    gaussian = 2.0 * 0.36 / (0.36 + 0.16)
    assert found > gaussian + 0.1
    # The core is 1.2 times wider than the scale, so the tail pulls a little less: 0.1 K of 2.
    assert found == pytest.approx(best.x, abs=0.12)


@given(st.integers(0, 10_000))
def test_observing_is_fitting_again_with_that_observation(seed):
    unknowns, a, y, sd = problem(seed)
    before = fit(unknowns, [linear(a[:-1], y[:-1], sd[:-1])])
    again = fit(unknowns, [linear(a, y, sd)])
    # What lies farther astray than six standard deviations is held, so the problem is linear only short of that.
    assume(all(np.max(np.abs((y - a @ one.mean) / sd)) < 6.0 for one in (before, again)))
    after = before.observe(a[-1], float(y[-1] - a[-1] @ before.mean), float(sd[-1] ** 2))
    assert after.mean == pytest.approx(again.mean, abs=1e-8)
    assert after.cov == pytest.approx(again.cov, abs=1e-8)
    narrowed = before.narrowed(a[-1], float(sd[-1] ** 2))
    assert narrowed.mean == pytest.approx(before.mean)
    assert narrowed.cov == pytest.approx(again.cov, abs=1e-8)


@given(st.integers(0, 10_000), st.floats(1e-4, 10.0))
def test_an_observation_never_widens_anything(seed, variance):
    unknowns, a, y, sd = problem(seed)
    before = fit(unknowns, [linear(a[:2], y[:2], sd[:2])])
    after = before.narrowed(a[3], variance)
    assert np.all(np.diag(after.cov) <= np.diag(before.cov) + 1e-12)
    assert np.all(np.linalg.eigvalsh(before.cov - after.cov) > -1e-10)


def test_pull_moves_the_optimum_by_the_covariance_times_its_gradient():
    """minus log posterior = quadratic + g x: the optimum moves by -P g; confirmed by scipy.optimize.minimize."""
    unknowns, a, y, sd = problem(7)
    gradient = np.array([0.3, -0.2, 0.5, 0.0])
    plain = fit(unknowns, [linear(a, y, sd)])
    pulled = fit(unknowns, [linear(a, y, sd)], pull=lambda x: gradient)
    assert pulled.mean == pytest.approx(plain.mean - plain.cov @ gradient, abs=1e-9)
    sharp = np.linalg.inv(unknowns.cov)

    def minus_log(x):
        away, residual = x - unknowns.mean, (a @ x - y) / sd
        return 0.5 * away @ sharp @ away + 0.5 * residual @ residual + gradient @ x

    assert pulled.mean == pytest.approx(optimize.minimize(minus_log, plain.mean).x, abs=1e-4)
    assert pulled.cov == pytest.approx(plain.cov)


def test_where_it_starts_does_not_matter():
    unknowns, a, y, sd = problem(9)
    one, other = (fit(unknowns, [linear(a, y, sd)], start=start) for start in (None, np.full(4, 5.0)))
    assert other.mean == pytest.approx(one.mean, abs=1e-8)


def test_numbers_that_run_away_are_our_bug_and_said():
    unknowns = Unknowns.of([Prior(names(1)[0], 0.0, 1.0)])

    def nonsense(x):
        return np.array([np.inf]), np.array([[1.0]])

    with pytest.raises(BalanceError, match="left the numbers"):
        fit(unknowns, [nonsense])


def test_an_observation_far_astray_pulls_no_harder_than_one_at_six_sds():
    """Ten readings of one unknown of which little was believed; one of them typed wrongly. By hand: the nine pull the
    estimate back by 9/sd² a unit, the one pulls with 6/sd, so it moves by 6 sd / 9 wherever the wrong one lies."""
    unknowns, sd = Unknowns.of([Prior(names(1)[0], 0.0, 5.0)]), 0.1
    for wrong in (5.0, 50.0, -500.0):
        seen = np.array([0.0] * 9 + [wrong])
        found = fit(unknowns, [lambda x, seen=seen: ((x[0] - seen) / sd, np.full((10, 1), 1.0 / sd))])
        assert found.mean[0] == pytest.approx(np.sign(wrong) * 6.0 * sd / 9.0, rel=1e-3)


def test_rows_that_agree_on_nothing_are_refused_in_words():
    """A residual that grows whichever way the unknown moves has no optimum."""
    unknowns = Unknowns.of([Prior(names(1)[0], 0.0, 1.0)])

    def turning(x):
        return np.array([5.0]), np.array([[3.0 if np.sin(40.0 * x[0]) > 0 else -3.0]])

    with pytest.raises(EvidenceError, match="contradict each other"):
        fit(unknowns, [turning])


def test_readings_of_the_posterior():
    unknowns, a, y, sd = problem(11)
    found: Posterior = fit(unknowns, [linear(a, y, sd)])
    draws = np.random.default_rng(0).multivariate_normal(found.mean, found.cov, 200_000)
    left, right = names(4)[:2]
    gradient = unknowns.gradient({left: 2.0, right: -1.0})
    # Monte Carlo (numpy): an sd from 200,000 draws is right to 0.16 %, a correlation to 0.003.
    assert found.sd(left) == pytest.approx(draws[:, 0].std(), rel=0.008)
    assert found.correlation(left, right) == pytest.approx(np.corrcoef(draws[:, 0], draws[:, 1])[0, 1], abs=0.01)
    assert found.spread(gradient) == pytest.approx((draws @ gradient).std(), rel=0.008)
    assert found.value(left) == pytest.approx(draws[:, 0].mean(), abs=0.01)


def test_a_name_given_twice_is_refused():
    with pytest.raises(BalanceError, match="named twice"):
        Unknowns.of([Prior(names(1)[0], 0.0, 1.0), Prior(names(1)[0], 1.0, 1.0)])
