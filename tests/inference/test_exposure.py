"""The hourly integrals against the course stepped directly, and what becomes of bad readings and gaps."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from chalaza.assess import assess, prior_beliefs, understand
from chalaza.inference.felt import machine_key, probe_key
from chalaza.physics import egg_heat
from chalaza.scenario import demo
from chalaza.scenario.simulate import Plan, Truth, simulate
from chalaza.values.evidence import Event, EventSort, Series
from inference.coverage_runs import DAY, HOUR, SET_AT, display, humidity

BELIEFS = prior_beliefs("chicken")


def batch(truth: Truth | None = None, *, seed: int = 3, **changes):
    plan = Plan(
        set_at=SET_AT, **({"days": 20.0, "display": display, "rh": humidity, "noise_k": 0.0, "noise_rh": 0.0} | changes)
    )
    evidence, lived = simulate(truth or Truth(), plan, np.random.default_rng(seed))
    return evidence, lived, int(SET_AT + plan.days * DAY)


@given(offset=st.floats(-0.9, 0.9), place=st.floats(-0.35, 0.35), ratio=st.floats(0.8, 1.25))
def test_age_and_drying_at_any_offset_are_those_of_the_direct_course(offset, place, ratio):
    """The simulator steps five minutes egg by egg; the exposure interpolates between five trial offsets. Over the term
    they agree to 0.6 h of 480 (the kink where heat no longer hastens lies between nodes) and 0.2 % of the drying: a
    twentieth of what the best-checked probe leaves open."""
    truth = Truth(temp_offset_k=offset, placement_k=place, heat_ratio=ratio, conductance_rise=0.02)
    evidence, lived, now = batch(truth)
    u = understand(BELIEFS, evidence, now)
    x = u.felt.unknowns.mean.copy()
    find = u.felt.unknowns.index
    x[find[probe_key(evidence.setting.probes[0].uid)]] = offset
    x[find[machine_key(evidence.setting.machines[0].uid)]] = place
    x[find[("batch", "heat_ratio")]] = np.log(ratio)
    assert u.felt.age(x).at(480.0)[0] == pytest.approx(lived.age_h(480.0), abs=0.6)
    force = u.felt.drive(x).at(432.0)[0]
    mean = lived.egg_conductance.mean() * 1e-3
    assert mean * force == pytest.approx(lived.loss(432.0), rel=0.002)


def test_a_cold_night_is_felt_as_the_one_thermal_model_says():
    def cut(h):
        return display(h) - 15.0 * (1 - np.exp(-np.clip(h - 100, 0, 5) / 2)) * np.exp(-np.clip(h - 105, 0, None) / 0.7)

    evidence, _, now = batch(display=cut, log_step_s=60)
    e = understand(BELIEFS, evidence, now).exposure
    t = np.arange(0, now - SET_AT, 60.0)
    tau = float(egg_heat.time_constant(60.0, "fan"))
    direct = np.asarray(egg_heat.lagged(t, cut(t / HOUR), tau))
    hourly = direct[: len(direct) // 60 * 60].reshape(-1, 60).mean(axis=1)
    n = min(len(hourly), int(e.past.sum()))
    felt = e.shell_degc[:n] - e.rise_k[:n]
    # Steps of one minute against means of five: 0.06 K at the steepest point of the fall, 0.01 K elsewhere.
    assert felt == pytest.approx(hourly[:n], abs=0.08)
    cold = [one for one in e.spells if one.sort == "cold"]
    assert len(cold) == 1
    assert cold[0].start_s == pytest.approx(SET_AT + 100.3 * HOUR, abs=0.5 * HOUR)
    assert cold[0].air_degc < cold[0].shell_degc - 0.3


def test_an_air_spike_of_minutes_is_not_an_egg_spike():
    evidence, _, now = batch(log_step_s=60, days=8.0)
    uid, one = next(iter(evidence.setting.series.items()))
    temp = one.temp_degc.copy()
    at = 5000
    temp[at : at + 5] = 42.0
    hot = replace(evidence, setting=replace(evidence.setting, series={uid: Series(one.t, temp, one.rh)}))
    found = assess(BELIEFS, hot, now).warmth
    spike = [spell for spell in found.spells if spell.sort == "air"]
    assert len(spike) == 1
    assert spike[0].air.value > 41.5
    assert spike[0].shell.high < 39.5
    assert not [spell for spell in found.spells if spell.sort == "warm"]
    assert found.odds == ()


def test_one_reading_of_150_degrees_is_set_aside_and_said():
    evidence, _, now = batch(days=8.0)
    uid, one = next(iter(evidence.setting.series.items()))
    temp = one.temp_degc.copy()
    temp[300] = 150.0
    spiked = replace(evidence, setting=replace(evidence.setting, series={uid: Series(one.t, temp, one.rh)}))
    plain, found = assess(BELIEFS, evidence, now), assess(BELIEFS, spiked, now)
    assert found.warmth.set_aside == {uid: {"temperature outside -15 to 54 °C": 1}}
    assert found.warmth.shell.value == pytest.approx(plain.warmth.shell.value, abs=0.01)
    assert found.clock.half_hatched.value == pytest.approx(plain.clock.half_hatched.value, abs=120)


@given(step=st.sampled_from([60, 300, 600, 900]))
def test_the_interval_of_the_log_does_not_matter(step):
    evidence, _, now = batch(log_step_s=step, days=6.0)
    found = assess(BELIEFS, evidence, now)
    assert found.warmth.reading.value == pytest.approx(37.42, abs=0.03)
    assert found.clock.age_d.value == pytest.approx(5.97, abs=0.03)


def test_a_gap_is_named_and_widens_the_age():
    whole, _, now = batch(days=10.0)
    holed, _, _ = batch(days=10.0, gaps=((60.0, 100.0),))
    one, other = assess(BELIEFS, whole, now).warmth, assess(BELIEFS, holed, now).warmth
    assert other.covered == pytest.approx(1 - 40 / 240, abs=0.01)
    assert len(other.gaps) == 1
    assert other.gaps[0][0] == pytest.approx(SET_AT + 60 * HOUR, abs=700)
    assert other.gaps[0][1] == pytest.approx(SET_AT + 100 * HOUR, abs=700)
    assert other.delay_h.half_width > one.delay_h.half_width
    assert one.gaps == ()


def test_a_power_cut_that_stopped_the_logger_is_not_read_as_warmth():
    holed, _, now = batch(days=10.0, gaps=((100.0, 108.0),))
    machine = holed.setting.machines[0].uid
    cut = Event(uid="cut", at=SET_AT + 100 * HOUR, until=SET_AT + 108 * HOUR, sort=EventSort.POWER_OFF, machine=machine)
    known = replace(holed, setting=replace(holed.setting, events=(cut,)))
    silent, told = assess(BELIEFS, holed, now).warmth, assess(BELIEFS, known, now).warmth
    assert told.delay_h.value - silent.delay_h.value > 3.0
    assert any(one.sort == "cold" for one in told.spells)


def test_thirty_days_of_minutes_make_a_small_value():
    evidence, _, now = batch(days=30.0, log_step_s=60)
    e = understand(BELIEFS, evidence, now).exposure
    held = sum(
        g.values.nbytes + g.slopes.nbytes for g in (e.near, e.cold, e.ps_shell, e.ps_air, e.vapour, e.above, e.below)
    )
    assert e.hours >= 720
    assert held < 1_000_000


@pytest.mark.parametrize("name", ["speckled-hens", "pond-ducks", "orchard-quail"])
@pytest.mark.parametrize("after_h", [0.0, 0.2, 0.5, 1.2, 2.5, 5.0, 8.0, 12.0])
def test_eggs_that_are_still_warming_do_not_move_the_forecast(name: str, after_h: float) -> None:
    # The warm-up costs an hour or two of development (physics.egg_heat), never days: what is ahead runs at the plan until
    # the box has settled. 24 h is a third of the width of the forecast on these days.
    evidence = demo.batches(1_776_444_000)[name]
    beliefs = prior_beliefs(evidence.batch.kind)
    early = assess(beliefs, evidence, evidence.batch.set_at + int(after_h * 3600)).clock.half_hatched
    later = assess(beliefs, evidence, evidence.batch.set_at + 86_000).clock.half_hatched
    assert abs(early.value - later.value) < 24 * 3600
    assert early.high - early.low < 2.0 * (later.high - later.low)
