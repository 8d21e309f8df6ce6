"""The Gaussian about the optimum against slow general methods on the very same posterior."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import optimize

from chalaza.assess import prior_beliefs, understand
from chalaza.inference import read_water
from chalaza.inference.fit import Posterior, Terms, fit
from chalaza.inference.grid import Floats
from chalaza.inference.understanding import Understanding
from chalaza.inference.water import CONDUCTANCE
from chalaza.scenario.simulate import Plan, Truth, simulate
from chalaza.values.estimate import Z90
from chalaza.values.evidence import CheckSort, Egg
from inference.coverage_runs import DAY, SET_AT, display, humidity


def tray_batch() -> Understanding:
    """A batch whose posterior is Gaussian in its priors (tray weighed as one: no heavy-tailed single eggs)."""
    plan = Plan(
        set_at=SET_AT, days=10.0, eggs=12, display=display, rh=humidity, weigh_days=(0.0, 4.0, 8.0), weigh_tray=True,
        resolution_g=0.5, check=CheckSort.COMPARE,
    )  # fmt: skip
    truth = Truth(conductance=0.31, rh_offset=-0.04, temp_offset_k=0.2)
    evidence, _ = simulate(truth, plan, np.random.default_rng(4))
    group = Egg(uid="tray", label="tray", count=12, lot=evidence.lots[0].uid)
    weighings = tuple(replace(one, eggs="tray") for one in evidence.weighings)
    evidence = replace(evidence, eggs=(group,), weighings=weighings)
    return understand(prior_beliefs("chicken"), evidence, SET_AT + 10 * DAY)


@pytest.fixture(scope="module")
def understood() -> Understanding:
    return tray_batch()


def log_posterior(u: Understanding, x: Floats, terms: list[Terms], sharp: Floats) -> float:
    away = x - u.felt.unknowns.mean
    return -0.5 * float(away @ sharp @ away) - 0.5 * sum(float(r @ r) for r, _ in (term(x) for term in terms))


def straightened(u: Understanding, base: Posterior, z: Floats, hour: float) -> Floats:
    """Draws of the Gaussian, bent along its flat valley. Shells and hygrometer are seen only as a product, so the
    valley between them is curved; with the loss itself as coordinate in place of the shells' conductance it is straight.
    The change of coordinate has determinant 1, so the density of a draw stays that of `z`."""
    draws = base.mean + z @ np.linalg.cholesky(base.cov).T
    value, gradient = u.water.mean_loss(base.mean, *u.felt.drive(base.mean).at(hour))
    wanted = np.log(value) + (draws - base.mean) @ (gradient / value)
    place = u.felt.unknowns.index[CONDUCTANCE]
    for x, log in zip(draws, wanted, strict=True):
        x[place] += log - np.log(u.water.mean_loss(x, *u.felt.drive(x).at(hour))[0])
    return draws


def test_importance_sampling_agrees_with_the_gaussian(understood):
    """4,000 draws weighted to the true posterior: what is read off the Gaussian (loss at the target's day, the humidity
    to run, the hatch hour) has its 5 and 95 % points within 8 % of the interval's width. Monte Carlo error of those points is about
    3 % of the width at this number; the rest is the curvature that the delta method drops."""
    u = understood
    sharp = np.linalg.inv(u.posterior.prior_cov)
    terms = [u.water.terms]
    base = fit(u.felt.unknowns, terms)
    z = np.random.default_rng(9).standard_normal((4_000, len(base.mean)))
    draws = straightened(u, base, z, 192.0)
    log = np.array([log_posterior(u, x, terms, sharp) for x in draws]) + 0.5 * (z * z).sum(axis=1)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    assert 1.0 / (weight @ weight) / len(weight) > 0.5
    due = u.kind.loss_target.day_d * 24.0
    known = replace(u, posterior=base, drive=u.felt.drive(base.mean), age=u.felt.age(base.mean))
    for read in (lambda v: read_water.loss_at(v, due), lambda v: read_water.rh_to_run(v, 0.122, due), _half):
        line = read(known)
        values = np.array([_moved(known, x, read) for x in draws])
        order = np.argsort(values)
        low, high = np.interp((0.05, 0.95), np.cumsum(weight[order]), values[order])
        width = 2 * Z90 * line.sd
        assert low == pytest.approx(line.value - Z90 * line.sd, abs=0.08 * width)
        assert high == pytest.approx(line.value + Z90 * line.sd, abs=0.08 * width)


def _half(u: Understanding) -> read_water.Line:
    hour, gradient = u.clock.hour_at(u.posterior.mean, u.felt.age(u.posterior.mean))
    return read_water.Line(hour, gradient, u.posterior.spread(gradient))


def _moved(u: Understanding, x: Floats, read) -> float:
    at = replace(u, posterior=replace(u.posterior, mean=x), drive=u.felt.drive(x))
    return read(at).value


def test_the_optimum_is_that_of_a_general_optimiser(understood):
    """scipy.optimize.minimize (BFGS, numeric gradient) on the same log posterior: the same optimum within 0.02 sd."""
    u = understood
    terms = [u.water.terms]
    base = fit(u.felt.unknowns, terms)
    sharp = np.linalg.inv(u.posterior.prior_cov)
    scale = np.sqrt(np.diag(base.cov))
    found = optimize.minimize(
        lambda z: -log_posterior(u, base.mean + scale * z, terms, sharp), np.full(len(scale), 0.3), method="BFGS"
    )
    assert np.abs(found.x).max() < 0.02


def test_jacobians_are_the_derivatives(understood):
    """Central differences at the optimum and away from it, for weighings, age and loss."""
    u = understood
    rng = np.random.default_rng(2)
    scale = np.sqrt(np.diag(u.posterior.cov))
    for x in (u.posterior.mean, u.posterior.mean + scale * rng.standard_normal(len(scale))):
        _, jacobian = u.water.terms(x)
        _, lived = u.felt.age(x).at(300.0)
        for i in range(len(x)):
            step = np.zeros(len(x))
            step[i] = 1e-4 * max(scale[i], 1e-6)
            plus, minus = u.water.terms(x + step)[0], u.water.terms(x - step)[0]
            numeric = (plus - minus) / (2 * step[i])
            assert jacobian[:, i] == pytest.approx(numeric, rel=2e-4, abs=1e-4 * (1 + np.abs(numeric).max()))
            ages = (u.felt.age(x + step).at(300.0)[0] - u.felt.age(x - step).at(300.0)[0]) / (2 * step[i])
            assert lived[i] == pytest.approx(ages, rel=1e-3, abs=1e-4)
