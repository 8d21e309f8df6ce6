"""The clock of one batch against dense sums (scipy.stats, numpy.trapezoid) and Monte Carlo (200,000 seeded draws)."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from chalaza.assess import prior_beliefs, understand
from chalaza.inference import clock
from chalaza.inference.clock import ClockModel, HatchHour, Look
from chalaza.inference.fit import fit
from chalaza.inference.understanding import Understanding
from chalaza.inference.unknowns import Prior, Unknowns
from chalaza.scenario.simulate import Plan, Truth, simulate
from inference.coverage_runs import DAY, SET_AT, display, humidity

HALF = HatchHour(505.0, 12.0, 8.0, 0.2)
DRAWS = 200_000


@cache
def one_batch() -> Understanding:
    plan = Plan(set_at=SET_AT, days=10.0, display=display, rh=humidity)
    evidence, _ = simulate(Truth(), plan, np.random.default_rng(2))
    return understand(prior_beliefs("chicken"), evidence, SET_AT + 10 * DAY)


@pytest.fixture(scope="module")
def understood() -> Understanding:
    return one_batch()


@pytest.fixture(scope="module")
def model(understood) -> ClockModel:
    return understood.clock


# --- what was seen ---------------------------------------------------------------------------------------------------


def dense(model: ClockModel, prior: HatchHour, looks: list, rest: float, watched: float | None) -> tuple:
    """Mean and sd of the hour and of the log spread on a grid ten times as fine, scipy.stats.norm for every chance."""
    hour = np.linspace(prior.hour - 7 * prior.sd, prior.hour + 7 * prior.sd, 1201)[:, None]
    log_spread = np.linspace(-4.5, 4.5, 181)[None, :] * prior.spread_log_sd + np.log(prior.spread_h)
    spread = np.exp(log_spread)
    log = stats.norm.logpdf(hour, prior.hour, prior.sd) + stats.norm.logpdf(
        log_spread, np.log(prior.spread_h), prior.spread_log_sd
    )
    for one in looks:
        centre = hour - model.pip_h * one.pipped
        scale = np.sqrt(spread**2 + (model.pip_sd_h * one.pipped) ** 2)
        upper, lower = stats.norm.cdf(one.until_h, centre, scale), stats.norm.cdf(one.after_h, centre, scale)
        log = log + one.count * np.log(np.maximum(upper - lower, 1e-300))
    if watched is not None:
        still = stats.norm.sf(watched, hour - model.pip_h, np.hypot(spread, model.pip_sd_h))
        log = log + rest * np.log(0.1 + 0.9 * still)
    p = np.exp(log - log.max())
    p /= p.sum()
    mean, log_mean = float((p * hour).sum()), float((p * log_spread).sum())
    return (
        mean, float(np.sqrt((p * (hour - mean) ** 2).sum())),
        float(np.exp(log_mean)), float(np.sqrt((p * (log_spread - log_mean) ** 2).sum())),
    )  # fmt: skip


_SEEN = {
    "three pipped": ([Look(3, 480.0, 486.0, True)], 7.0, 486.0),
    "half out": ([Look(2, 490.0, 496.0, False), Look(4, 496.0, 502.0, False)], 4.0, 502.0),
    "early": ([Look(5, 466.0, 472.0, False)], 5.0, 472.0),
    "late and silent": ([], 9.0, 512.0),
    "one night unwatched": ([Look(9, 480.0, 504.0, False)], 1.0, 504.0),
    "all out": ([Look(1, 494.0, 497.0, False), Look(6, 497.0, 506.0, False), Look(3, 506.0, 512.0, False)], 0.0, 512.0),
}


@pytest.mark.parametrize("case", list(_SEEN))
def test_looks_move_the_hour_as_a_dense_posterior_says(model, case):
    """Grid of a twelfth of a prior sd and thirteen spreads against ten times as many: a quarter hour, 3 % of an sd and
    of the spread, 8 % of the spread's own doubt."""
    looks, rest, watched = _SEEN[case]
    found = clock.seen(model, HALF, looks, rest, watched)
    hour, sd, spread, log_sd = dense(model, HALF, looks, rest, watched)
    assert found.hour == pytest.approx(hour, abs=0.25)
    assert found.sd == pytest.approx(sd, rel=0.03)
    assert found.spread_h == pytest.approx(spread, rel=0.03)
    assert found.spread_log_sd == pytest.approx(log_sd, rel=0.08)


def test_nobody_looked_says_nothing(model):
    assert clock.seen(model, HALF, [], 9.0, None) is HALF
    assert clock.seen(model, HALF, [], 0.0, 512.0) is HALF


@given(st.floats(440, 520))
def test_silence_never_makes_the_hatch_earlier(watched):
    """Nothing seen at the last look can only put the hour off; long before the hour it says next to nothing."""
    found = clock.seen(one_batch().clock, HALF, [], 8.0, watched)
    assert found.hour >= HALF.hour - 0.05
    if watched < HALF.hour - 5.0 * HALF.sd:  # an hour later the shift passes 0.3 h: the first of eight comes early
        assert found.hour == pytest.approx(HALF.hour, abs=0.3)


def test_a_few_duds_cannot_hold_the_hour_back_for_ever(model):
    """Two eggs that are still whole need not hatch at all: a night of silence puts the hour off, three days of it say
    that they are duds and the hour was what it was."""
    night, days = (clock.seen(model, HALF, [], 2.0, watched).hour for watched in (510.0, 577.0))
    assert night > HALF.hour + 8.0
    assert days == pytest.approx(HALF.hour, abs=0.5)


def test_many_young_pin_the_hour_and_their_spread(model):
    rng = np.random.default_rng(3)
    out = rng.normal(497.0, 6.0, 400)
    edges = np.arange(470.0, 530.0, 1.0)
    looks = [
        Look(int(n), a, a + 1.0, False) for a, n in zip(edges, np.histogram(out, [*edges, 530.0])[0], strict=True) if n
    ]
    found = clock.seen(model, HALF, looks, 0.0, 530.0)
    assert found.hour == pytest.approx(out.mean(), abs=0.5)
    assert found.spread_h == pytest.approx(out.std(), rel=0.08)


# --- first and last --------------------------------------------------------------------------------------------------


def drawn(half: HatchHour, n: int, lead: float = 0.0, lead_sd: float = 0.0) -> np.ndarray:
    """Batches of n young: a shared hour, a shared spread, each its own (and its own lead)."""
    rng = np.random.default_rng(17)
    hour = rng.normal(half.hour, half.sd, DRAWS)[:, None]
    spread = half.spread_h * np.exp(half.spread_log_sd * rng.normal(size=DRAWS))[:, None]
    return hour + spread * rng.normal(size=(DRAWS, n)) - rng.normal(lead, lead_sd, (DRAWS, n))


@pytest.mark.parametrize("n", [1, 4, 12, 24])
@pytest.mark.parametrize("half", [HALF, HatchHour(500.0, 3.0, 10.0, 0.25)], ids=["unsure", "sure"])
def test_first_and_last_of_n_are_those_of_simulated_batches(half, n):
    """Monte Carlo of 200,000 batches: its 5 and 95 % points are good to about 0.1 h. The spread's three nodes and the
    steps of the course add up to 0.3 h where the spread rules."""
    last, first = (
        clock.last_of(half, n, not_before=None),
        clock.first_of(half, n, lead_h=15, lead_sd_h=4, not_before=None),
    )
    assert (last.low, last.middle, last.high) == pytest.approx(
        tuple(np.quantile(drawn(half, n).max(axis=1), (0.05, 0.5, 0.95))), abs=0.5
    )
    assert (first.low, first.middle, first.high) == pytest.approx(
        tuple(np.quantile(drawn(half, n, 15, 4).min(axis=1), (0.05, 0.5, 0.95))), abs=0.5
    )


@pytest.mark.parametrize("watched", [480.0, 490.0, 500.0])
def test_given_that_none_was_seen_the_first_is_later(model, watched):
    """The same draws, kept only where the first pip had not come by then: through `seen`, then the first. The waiting is
    counted once (counted twice it came out two hours late). 1.1 h: a tenth of eggs may be duds in `seen`, none here."""
    first = drawn(HALF, 10, model.pip_h, model.pip_sd_h).min(axis=1)
    kept = first[first > watched]
    half = clock.seen(model, HALF, [], 10.0, watched)
    found = clock.first_of(half, 10, lead_h=model.pip_h, lead_sd_h=model.pip_sd_h, not_before=watched)
    assert found.low >= watched
    assert (found.low, found.middle, found.high) == pytest.approx(tuple(np.quantile(kept, (0.05, 0.5, 0.95))), abs=1.1)


def test_the_last_is_not_before_the_last_seen():
    found = clock.last_of(HALF, 10, not_before=540.0)
    assert 540.0 <= found.low <= found.middle <= found.high
    late = clock.last_of(HALF, 10, not_before=700.0)
    assert (late.low, late.middle) == (700.0, 700.0)
    assert late.high > 700.0


@given(st.integers(1, 200), st.floats(0.5, 20), st.floats(2, 12), st.floats(0.0, 0.4))
def test_more_young_begin_earlier_and_end_later(n, sd, spread, log_sd):
    half = HatchHour(505.0, sd, spread, log_sd)
    one, more = (clock.first_of(half, k, lead_h=15, lead_sd_h=4, not_before=None) for k in (n, 2 * n))
    assert more.middle <= one.middle + 1e-6
    ends = [clock.last_of(half, k, not_before=None) for k in (n, 2 * n)]
    assert ends[1].middle >= ends[0].middle - 1e-6
    for q in (one, more, *ends):
        assert q.low <= q.middle <= q.high


# --- the joint posterior ---------------------------------------------------------------------------------------------


@given(st.floats(-25, 25), st.floats(0.05, 0.98))
def test_matched_gives_the_joint_the_mean_and_sd_of_the_hour(shift, narrower):
    keys = [("batch", "hatch_hours"), ("probe:p", "temp_offset"), ("machine:m", "placement")]
    unknowns = Unknowns.of([Prior(key, m, s) for key, m, s in zip(keys, (503, 0, 0), (8, 0.5, 0.25), strict=True)])
    joint = fit(unknowns, [])
    gradient = unknowns.gradient({keys[0]: 1.0, keys[1]: -21.0, keys[2]: -21.0})
    before = HatchHour(float(gradient @ joint.mean), joint.spread(gradient), 8.0, 0.2)
    after = replace(before, hour=before.hour + shift, sd=before.sd * narrower)
    found = clock.matched(joint, gradient, before, after)
    assert float(gradient @ found.mean) == pytest.approx(after.hour, abs=1e-6)
    assert found.spread(gradient) == pytest.approx(after.sd, rel=1e-6)
    if abs(shift) > 0.5:
        assert np.sign(found.value(keys[1])) == -np.sign(shift)


def test_matched_leaves_the_joint_alone_where_nothing_was_seen():
    unknowns = Unknowns.of([Prior(("batch", "hatch_hours"), 503.0, 8.0)])
    joint = fit(unknowns, [])
    assert clock.matched(joint, np.array([1.0]), HALF, HALF) is joint


@given(share=st.floats(0.1, 1.1), less=st.floats(0.0, 24.0))
def test_the_hour_is_the_inverse_of_the_age(share, less):
    """Age at `hour_at(...)` is the share of the needed hours less `less`; beyond the last hour the last pace goes on."""
    understood = one_batch()
    x, age, model = understood.posterior.mean, understood.age, understood.clock
    hour, _ = model.hour_at(x, age, share, less)
    need, _ = model.need(x)
    assert age.at(hour)[0] == pytest.approx(need * share - less, abs=1e-6)


def test_the_gradient_of_the_hour_is_its_derivative(understood):
    """Central differences over a hundredth of a prior sd; the course is piecewise straight, so 2 % of the largest."""
    model, x = understood.clock, understood.posterior.mean
    _, gradient = model.hour_at(x, model.felt.age(x))
    for i, one in enumerate(model.felt.unknowns.priors):
        h = 0.01 * one.sd
        ends = []
        for sign in (1, -1):
            moved = x.copy()
            moved[i] += sign * h
            ends.append(model.hour_at(moved, model.felt.age(moved))[0])
        # An hour's share of a prior sd of each unknown: that is what the intervals are made of.
        assert (ends[0] - ends[1]) / (2 * h) * one.sd == pytest.approx(gradient[i] * one.sd, abs=0.1)


def test_storage_and_size_put_the_hour_off(understood):
    """Storage: 1.2 h a day beyond the first, size by its belief; both add to what is needed."""
    x = understood.posterior.mean
    plain = understood.clock.need(x)[0]
    stored = replace(understood.clock, stored_d=understood.clock.stored_d + 5.0).need(x)[0]
    assert stored - plain == pytest.approx(5 * x[understood.felt.unknowns.index[clock.STORAGE]])
    assert stored - plain == pytest.approx(6.0, abs=1.0)
    larger = replace(understood.clock, extra_mass_g=understood.clock.extra_mass_g + 10.0).need(x)[0]
    assert larger >= plain
