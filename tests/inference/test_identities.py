"""What must be so whatever the figures: no data give the prior, good data the truth, and one check narrows everything."""

from dataclasses import replace

import numpy as np
import pytest

from chalaza.assess import assess, prior_beliefs, understand
from chalaza.inference.felt import machine_key, probe_key, rh_key
from chalaza.inference.water import CONDUCTANCE
from chalaza.scenario.simulate import Plan, Truth, simulate
from chalaza.values.evidence import CheckSort, ProbeCheck
from inference.coverage_runs import DAY, SET_AT, display, humidity

BELIEFS = prior_beliefs("chicken")


def batch(truth: Truth | None = None, seed: int = 3, **changes):
    settings = {"days": 12.0, "eggs": 12, "weigh_days": (0.0, 4.0, 8.0, 11.5), "candle_days": (7.0,)} | changes
    plan = Plan(set_at=SET_AT, display=display, rh=humidity, **settings)
    evidence, lived = simulate(truth or Truth(), plan, np.random.default_rng(seed))
    return evidence, lived, int(SET_AT + plan.days * DAY)


def test_without_evidence_the_posterior_is_the_prior():
    evidence, _, now = batch(weigh_days=(), candle_days=())
    u = understand(BELIEFS, evidence, now)
    assert u.posterior.mean == pytest.approx(u.felt.unknowns.mean, abs=1e-9)
    assert np.sqrt(np.diag(u.posterior.cov)) == pytest.approx([one.sd for one in u.felt.unknowns.priors], rel=1e-6)


def test_perfect_weights_and_checks_give_the_truth():
    """A scale that shows micrograms and a thermometer compared: the loss is what it was, to a hundredth of a point."""
    truth = Truth(temp_offset_k=0.3, rh_offset=-0.03, conductance=0.30)
    evidence, lived, now = batch(truth, resolution_g=1e-4, check=CheckSort.COMPARE, noise_k=0.0, noise_rh=0.0)
    found = assess(BELIEFS, evidence, now).water
    assert found.loss_now.value == pytest.approx(lived.loss(288.0), abs=1e-4)
    assert found.loss_now.half_width < 3e-4
    for egg, true in zip(found.eggs, lived.egg_conductance / lived.egg_conductance.mean(), strict=True):
        assert egg.loss_now.value / found.loss_now.value == pytest.approx(true, rel=0.01)


def test_one_thermometer_check_narrows_clock_water_and_warmth_in_one_go():
    evidence, _, now = batch(weigh_days=(0.0,))
    check = ProbeCheck(
        uid="now", probe=evidence.setting.probes[0].uid, at=now - 3600, sort=CheckSort.COMPARE, reading_degc=37.0,
        reference_degc=37.0,
    )  # fmt: skip
    checked = replace(evidence, setting=replace(evidence.setting, checks=(check,)))
    before, after = assess(BELIEFS, evidence, now), assess(BELIEFS, checked, now)
    assert after.warmth.shell.half_width < 0.5 * before.warmth.shell.half_width
    assert after.clock.half_hatched.half_width < 0.8 * before.clock.half_hatched.half_width
    assert after.clock.age_d.half_width < 0.6 * before.clock.age_d.half_width
    assert after.water.loss_at_lockdown.half_width < before.water.loss_at_lockdown.half_width


def test_weights_alone_move_the_hygrometer_and_the_shells_together():
    """The product is seen, not the two: they end correlated near one, and the humidity error hardly narrows."""
    evidence, _, now = batch(Truth(rh_offset=0.08, conductance=0.34), days=12.0)
    u = understand(BELIEFS, evidence, now)
    key = rh_key(evidence.setting.probes[0].uid)
    assert u.posterior.value(key) != pytest.approx(0.0, abs=0.005)
    assert u.posterior.correlation(CONDUCTANCE, key) > 0.9
    assert u.posterior.sd(key) > 0.7 * 0.06


def test_the_display_to_run_is_known_far_better_than_the_true_humidity():
    """Seven times better if shells never change and a scale has no zero (worked example W1); with both, still twice."""
    evidence, _, now = batch(days=8.0, eggs=24)
    found = assess(BELIEFS, evidence, now).water
    assert found.rh_to_run.half_width < 0.6 * found.rh_true.half_width


def test_pips_and_hatches_tighten_the_forecast_and_tell_of_the_sum_only():
    evidence, lived, now = batch(Truth(temp_offset_k=0.5, placement_k=0.2), days=21.5, hatch_look_h=4.0, eggs=24)
    early = assess(BELIEFS, evidence, SET_AT + 18 * DAY).clock.half_hatched
    u = understand(BELIEFS, evidence, now)
    late = assess(BELIEFS, evidence, now).clock.half_hatched
    assert late.half_width < 0.5 * early.half_width
    assert late.low <= SET_AT + 3600 * float(np.nanmedian(lived.out_h)) <= late.high
    probe, box = probe_key(evidence.setting.probes[0].uid), machine_key(evidence.setting.machines[0].uid)
    both = u.felt.unknowns.gradient({probe: 1.0, box: 1.0})
    assert u.posterior.correlation(probe, box) < -0.15
    assert u.posterior.spread(both) < u.posterior.sd(probe)
    assert float(both @ u.posterior.mean) > 0.15


def test_the_band_tightens_as_evidence_comes():
    evidence, _, _ = batch(days=16.0)
    widths = [assess(BELIEFS, evidence, SET_AT + day * DAY).water.loss_at_lockdown.half_width for day in (1, 5, 9, 13)]
    assert widths == sorted(widths, reverse=True)


def test_what_comes_after_the_moment_is_not_seen():
    evidence, _, _ = batch(days=16.0)
    now = SET_AT + 9 * DAY
    early = replace(
        evidence,
        weighings=tuple(one for one in evidence.weighings if one.at <= now),
        candlings=tuple(one for one in evidence.candlings if one.at <= now),
        setting=replace(
            evidence.setting, series={uid: one.window(0, now + 1) for uid, one in evidence.setting.series.items()}
        ),
    )
    assert assess(BELIEFS, evidence, now) == assess(BELIEFS, early, now)


def test_the_order_of_rows_does_not_matter():
    evidence, _, now = batch()
    turned = replace(evidence, weighings=evidence.weighings[::-1], candlings=evidence.candlings[::-1])
    one, other = assess(BELIEFS, evidence, now), assess(BELIEFS, turned, now)
    assert other.water.loss_now.value == pytest.approx(one.water.loss_now.value, rel=1e-9)
    assert other.count.alive == one.count.alive


def test_the_same_evidence_gives_the_same_answer():
    evidence, _, now = batch()
    assert assess(BELIEFS, evidence, now) == assess(BELIEFS, evidence, now)


def test_a_leaky_egg_does_not_move_the_batch():
    """One cracked egg among twelve, losing three times as much: the batch's mean of the others hardly moves."""
    evidence, _, now = batch(eggs=12)
    leaky = evidence.eggs[0].uid
    first = {one.eggs: one.gross_g for one in evidence.weighings if one.at == SET_AT}
    cracked = tuple(
        replace(one, gross_g=first[one.eggs] - 3.0 * (first[one.eggs] - one.gross_g)) if one.eggs == leaky else one
        for one in evidence.weighings
    )
    before = assess(BELIEFS, evidence, now).water
    after = assess(BELIEFS, replace(evidence, weighings=cracked), now).water
    assert after.eggs[0].odd
    assert after.eggs[0].robust_z > 3.5
    assert not any(egg.odd for egg in after.eggs[1:])
    for one, other in zip(before.eggs[1:], after.eggs[1:], strict=True):
        assert other.loss_now.value == pytest.approx(one.loss_now.value, abs=0.001)


def test_without_a_log_the_plan_speaks_with_its_doubt():
    evidence, _, now = batch(logged=False, weigh_days=())
    logged, _, _ = batch(weigh_days=())
    plan, log = assess(BELIEFS, evidence, now), assess(BELIEFS, logged, now)
    assert plan.water.planned
    assert not log.water.planned
    assert plan.warmth.probe is None
    assert plan.water.loss_at_lockdown.half_width > log.water.loss_at_lockdown.half_width
