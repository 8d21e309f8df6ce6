"""Counts against enumeration over all fates, scipy.stats.betabinom, denser nodes and plain Monte Carlo."""

import itertools
import time

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from chalaza.inference import count
from chalaza.inference.count import Counts, Group, Look, Stages, assess_counts, mean_of, quantile
from chalaza.inference.published import published
from chalaza.inference.rows import look
from chalaza.values.evidence import Shell

BELIEFS = published("chicken")
SHARES = st.floats(0.05, 0.98)


def stages_of(origin: str) -> Stages:
    names = ("fertility", "survival_early", "survival_middle", "survival_late")
    pairs = [(BELIEFS[f"kind:chicken:{origin}", name].a, BELIEFS[f"kind:chicken:{origin}", name].b) for name in names]
    return Stages(fertility=pairs[0], early=pairs[1], middle=pairs[2], late=pairs[3])


def seen(finding: str, day: float) -> Look:
    found = look(finding, Shell.LIGHT, day / 21.0, BELIEFS)
    assert found is not None
    return found


# --- one egg at a time -----------------------------------------------------------------------------------------------


def died(share: float, stage: int) -> float:
    """Share of a stage's deaths by a share of the term, written again: crowded early, even, crowded late."""
    w = min(max(3 * share - stage, 0.0), 1.0)
    return (1 - (1 - w) ** 2, w, w * w)[stage]


def fates(shares: tuple, group: Group, now: float, silence: float) -> dict:
    """P(findings and fate) of one egg: infertile, dead, alive (and whether it will hatch), out; by listing all."""
    phi, *s = shares
    times = sorted({one.share for one in group.looks} | {0.0, now})
    alive_at = {t: np.prod([1 - (1 - s[k]) * died(t, k) for k in range(3)]) for t in times}
    whole = float(np.prod(s))

    def says(state: int, when: float | None = None) -> float:
        """Chance of all findings if the egg is in `state`, or alive until `when` and dead from then on."""
        out = 1.0
        for one in group.looks:
            out *= one.likelihood[state if when is None else (0 if one.share < when else 1)]
        return out

    if group.hatched:
        return {"out": phi * whole}
    dead = sum(
        phi * (alive_at[a] - alive_at[b]) * says(0, b) for a, b in itertools.pairwise([t for t in times if t <= now])
    )
    living = phi * alive_at[now] * says(0)
    hatches, fails = living * whole / alive_at[now], living * (1 - whole / alive_at[now])
    return {
        "infertile": (1 - phi) * says(2),
        "dead": dead + fails * (1 - silence),
        "alive, will hatch": hatches * silence,
        "alive, will not": fails * silence,
    }


def enumerated(shares: tuple, groups: list, now: float, silence: float) -> tuple:
    """Distributions of fertile, alive and young by going through every combination of every egg's fate."""
    eggs = [fates(shares, group, now, silence) for group in groups for _ in range(group.count)]
    eggs = [{fate: p / sum(one.values()) for fate, p in one.items()} for one in eggs]
    gone = [group.removed for group in groups for _ in range(group.count)]
    n = len(eggs)
    fertile, alive, young = np.zeros(n + 1), np.zeros(n + 1), np.zeros(n + 1)
    for world in itertools.product(*(one.items() for one in eggs)):
        p = float(np.prod([chance for _, chance in world]))
        names = [fate for fate, _ in world]
        here = [fate if not out else fate.replace("alive", "taken") for fate, out in zip(names, gone, strict=True)]
        fertile[sum(fate != "infertile" for fate in names)] += p
        alive[sum(fate.startswith("alive") for fate in here)] += p
        young[sum(fate in ("alive, will hatch", "out") for fate in here)] += p
    return fertile, alive, young


_FINDINGS = st.sampled_from(["live", "unsure", "clear", "dead"])


@st.composite
def small_batches(draw):
    out = []
    for _ in range(draw(st.integers(1, 4))):
        days = draw(st.sampled_from([(), (7.0,), (7.0, 14.0), (14.0,), (6.0, 11.0, 18.0)]))
        looks = [seen(draw(_FINDINGS), day) for day in days]
        if sum(one.unsure for one in looks) > 1:
            looks = looks[:1]
        fate = draw(st.sampled_from(["", "", "", "hatched", "removed"]))
        out.append(Group(draw(st.integers(1, 2)), tuple(looks), hatched=fate == "hatched", removed=fate == "removed"))
    return out[:5]


@given(st.tuples(SHARES, SHARES, SHARES, SHARES), small_batches(), st.sampled_from([1.0, 0.6, 0.05]))
def test_a_small_batch_is_the_sum_over_every_fate_of_every_egg(shares, groups, silence):
    stages = Stages(fertility=shares[0], early=shares[1], middle=shares[2], late=shares[3])
    found = assess_counts(stages, groups, 0.9, silence=silence)
    fertile, alive, young = enumerated(shares, groups, 0.9, silence)
    assert found.fertile == pytest.approx(fertile, abs=1e-9)
    assert found.alive == pytest.approx(alive, abs=1e-9)
    assert found.young == pytest.approx(young, abs=1e-9)


def test_deaths_of_a_stage_add_up_and_survival_is_their_rest():
    ends = [count.died_by(3 * share - stage, stage) for share, stage in ((1 / 3, 0), (2 / 3, 1), (1.0, 2))]
    assert ends == pytest.approx([1, 1, 1])
    whole = count.survival_at(1.0, np.array([0.9]), np.array([0.8]), np.array([0.7]))
    assert whole[0] == pytest.approx(0.9 * 0.8 * 0.7)
    course = [float(count.survival_at(t, *(np.array([s]) for s in (0.9, 0.97, 0.9)))[0]) for t in np.linspace(0, 1, 50)]
    assert np.all(np.diff(course) <= 0)


# --- shares only believed --------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("a", "b"), [(12.18, 1.82), (4.8, 1.2), (0.5, 0.5), (1.0, 1.0), (2.5e4, 3e3), (18.0, 2.0)])
def test_nodes_integrate_a_beta(a, b):
    """Moments of scipy.stats.beta, up to the ninth: five nodes are exact to degree nine, whatever the counts.
    (Its own eighth moment of Beta(18, 2) is off by 2e-9 of the closed 18·19/(26·27).)"""
    x, w = count.beta_nodes(a, b, 5)
    for k in range(10):
        assert float(w @ x**k) == pytest.approx(stats.beta(a, b).moment(k) if k else 1.0, rel=1e-8)
    one, weight = count.beta_nodes(a, b, 1)
    assert (one[0], weight[0]) == pytest.approx((a / (a + b), 1.0))


@pytest.mark.parametrize("n", [1, 6, 12, 24])
def test_fertile_eggs_nobody_looked_at_are_beta_binomial(n):
    """scipy.stats.betabinom; 13 nodes are exact for up to 25 eggs. What is left are dropped nodes, a tenth of a millionth."""
    found = assess_counts(Stages(fertility=(12.18, 1.82), early=1.0, middle=1.0, late=1.0), [Group(n, ())], 0.2)
    expected = stats.betabinom(n, 12.18, 1.82).pmf(np.arange(n + 1))
    assert found.fertile == pytest.approx(expected, abs=1e-7)
    assert found.alive == pytest.approx(expected, abs=1e-7)


@pytest.mark.parametrize("n", [60, 200, 1000])
def test_many_eggs_nobody_looked_at_are_beta_binomial_too(n):
    found = assess_counts(Stages(fertility=(12.18, 1.82), early=1.0, middle=1.0, late=1.0), [Group(n, ())], 0.2)
    one = stats.betabinom(n, 12.18, 1.82)
    assert mean_of(found.fertile) == pytest.approx(one.mean(), abs=0.02)
    assert found.fertile == pytest.approx(one.pmf(np.arange(n + 1)), abs=0.01)
    for share in (0.05, 0.5, 0.95):
        assert quantile(found.fertile, share) == pytest.approx(one.ppf(share), abs=0.01 * n)


@pytest.mark.parametrize("n", [6, 12, 24])
def test_young_are_beta_binomial_in_the_survival_of_the_last_third(n):
    """Four nodes for the last third: the mean is exact, a probability of a dozen to 1 %, of two dozen to 2 %."""
    found = assess_counts(Stages(fertility=1.0, early=1.0, middle=1.0, late=(18.0, 2.0)), [Group(n, ())], 0.2)
    one = stats.betabinom(n, 18.0, 2.0)
    assert mean_of(found.young) == pytest.approx(one.mean(), abs=1e-9)
    assert found.young == pytest.approx(one.pmf(np.arange(n + 1)), abs=0.01 if n < 20 else 0.02)


_MIXES = {
    "nothing": [(1.0, ())],
    "once": [(0.1, (("clear", 7),)), (0.05, (("unsure", 7),)), (0.05, (("dead", 7),)), (0.8, (("live", 7),))],
    "twice": [
        (0.1, (("clear", 7), ("clear", 14))),
        (0.05, (("unsure", 7), ("unsure", 14))),
        (0.05, (("live", 7), ("dead", 14))),
        (0.8, (("live", 7), ("live", 14))),
    ],
    "a bad batch": [
        (0.3, (("clear", 7), ("clear", 14), ("clear", 18))),
        (0.15, (("live", 7), ("live", 14), ("dead", 18))),
        (0.1, (("live", 7), ("dead", 14), ("dead", 18))),
        (0.45, (("live", 7), ("live", 14), ("live", 18))),
    ],
}


def many(n: int, mix: str) -> list:
    rows = [(round(share * n), looks) for share, looks in _MIXES[mix]]
    last = n - sum(k for k, _ in rows[:-1])
    return [
        Group(k, tuple(seen(finding, day) for finding, day in looks))
        for k, looks in [*rows[:-1], (last, rows[-1][1])]
        if k
    ]


def dense(monkeypatch, stages: Stages, groups: list, now: float) -> Counts:
    """The same integral with three to five times the nodes."""
    with monkeypatch.context() as m:
        m.setattr(count, "_MANY", (18, 16, 16, 14))
        m.setattr(count, "_SEEK", (14, 12, 10, 8))
        m.setattr(count, "_CRUMBS", 1e-9)
        return assess_counts(stages, groups, now)


@pytest.mark.parametrize("origin", ["own", "posted"])
@pytest.mark.parametrize("mix", ["once", "twice", "a bad batch"])
@pytest.mark.parametrize("n", [60, 200])
def test_many_eggs_agree_with_denser_nodes(monkeypatch, n, mix, origin):
    """Within 0.02 eggs in the mean and 0.01 in any probability: what a keeper could see is a whole egg."""
    groups, stages = many(n, mix), stages_of(origin)
    now = {"once": 7, "twice": 14, "a bad batch": 18}[mix] / 21 + 0.02
    found, fine = assess_counts(stages, groups, now), dense(monkeypatch, stages, groups, now)
    for name in ("fertile", "alive", "young"):
        one, other = getattr(found, name), getattr(fine, name)
        assert one.sum() == pytest.approx(1.0, abs=1e-6)
        assert mean_of(one) == pytest.approx(mean_of(other), abs=0.02)
        assert one == pytest.approx(other, abs=0.01)


@pytest.mark.parametrize(("origin", "n"), [("own", 24), ("own", 60), ("posted", 60)])
def test_eggs_looked_at_twice_agree_with_plain_monte_carlo(origin, n):
    """300,000 draws of the four shares from their Betas, weighted by the findings (numpy alone, fates listed as above).
    Tolerance: four standard errors of the weighted mean."""
    stages, now, rng = stages_of(origin), 14 / 21 + 0.02, np.random.default_rng(5)
    groups = [group for group in many(n, "twice") if sum(one.unsure for one in group.looks) < 2]
    draws = [rng.beta(a, b, 300_000) for a, b in stages.axes()]
    parts = [(group.count, _vector_fates(draws, group, now)) for group in groups]
    log = sum(k * np.log(sum(one.values())) for k, one in parts)
    weight = np.exp(log - log.max())
    weight /= weight.sum()
    found = assess_counts(stages, groups, now)
    for distribution, names in (
        (found.alive, ("hatch", "not")),
        (found.young, ("hatch",)),
        (found.fertile, ("hatch", "not", "dead")),
    ):
        value = sum(k * sum(one[name] for name in names) / sum(one.values()) for k, one in parts)
        mean = float(weight @ value)
        error = float(np.sqrt(np.sum(weight**2 * (value - mean) ** 2)))
        assert mean_of(distribution) == pytest.approx(mean, abs=4 * error + 1e-6)


def _vector_fates(draws: list, group: Group, now: float) -> dict:
    phi, *s = draws
    times = sorted({one.share for one in group.looks} | {0.0, now})
    alive = {t: np.prod([1 - (1 - s[k]) * died(t, k) for k in range(3)], axis=0) for t in times}
    all_live = float(np.prod([one.likelihood[0] for one in group.looks]))
    dead = sum(
        phi * (alive[a] - alive[b]) * float(np.prod([one.likelihood[0 if one.share < b else 1] for one in group.looks]))
        for a, b in itertools.pairwise(times)
    )
    whole = s[0] * s[1] * s[2]
    return {
        "infertile": (1 - phi) * float(np.prod([one.likelihood[2] for one in group.looks])),
        "dead": dead,
        "hatch": phi * whole * all_live,
        "not": phi * (alive[now] - whole) * all_live,
    }


def test_a_thousand_eggs_do_not_break_it():
    """A counted tray may hold any number; the sums stay distributions."""
    found = assess_counts(stages_of("own"), [Group(900, (seen("live", 7),)), Group(100, (seen("clear", 7),))], 8 / 21)
    for one in (found.fertile, found.alive, found.young):
        assert one.sum() == pytest.approx(1.0, abs=1e-6)
        assert np.all(one >= 0)
    assert 850 < mean_of(found.alive) < 950


def test_two_dozen_eggs_take_a_few_milliseconds():
    groups = [Group(1, (seen(finding, 7),)) for finding in ["live"] * 20 + ["clear"] * 3 + ["unsure"]]
    assess_counts(stages_of("own"), groups, 0.4)
    spent = []
    for _ in range(5):
        start = time.process_time()
        assess_counts(stages_of("own"), groups, 0.4)
        spent.append(time.process_time() - start)
    assert min(spent) < 0.02  # 1.7 ms on the development machine; a tenfold margin for a slow one


def test_eggs_alike_may_be_listed_or_counted():
    listed = [Group(1, (seen("live", 7),)) for _ in range(5)] + [Group(1, (seen("clear", 7),)) for _ in range(2)]
    counted = [Group(5, (seen("live", 7),)), Group(2, (seen("clear", 7),))]
    one, other = (assess_counts(stages_of("own"), groups, 0.4) for groups in (listed, counted))
    assert one.alive == pytest.approx(other.alive, abs=1e-12)
    assert one.alive_by_group == pytest.approx([other.alive_by_group[0]] * 5 + [other.alive_by_group[1]] * 2)


# --- what is certain, and silence ------------------------------------------------------------------------------------


@given(_FINDINGS, st.sampled_from([7.0, 10.0, 14.0]), st.sampled_from(["own", "posted"]), st.integers(1, 30))
def test_a_live_look_never_lowers_the_number_alive(finding, day, origin, n):
    before = [Group(n, (seen(finding, 7),))]
    after = [Group(n, (seen(finding, 7), seen("live", day + 1)))]
    one, other = (assess_counts(stages_of(origin), groups, 0.75) for groups in (before, after))
    assert mean_of(other.alive) >= mean_of(one.alive) - 1e-6


def test_a_live_neighbour_speaks_for_the_flock():
    alone = assess_counts(stages_of("posted"), [Group(6, ())], 0.4)
    beside = assess_counts(stages_of("posted"), [Group(6, ()), Group(12, (seen("live", 7),))], 0.4)
    assert beside.alive_by_group[0] > alone.alive_by_group[0] + 0.05


def test_removed_eggs_speak_for_fertility_but_are_neither_alive_nor_to_come():
    gone = assess_counts(stages_of("own"), [Group(4, (seen("clear", 7),), removed=True), Group(8, ())], 0.4)
    kept = assess_counts(stages_of("own"), [Group(4, (seen("clear", 7),)), Group(8, ())], 0.4)
    assert gone.alive[9:].sum() == 0.0
    assert gone.young[9:].sum() == 0.0
    assert gone.alive_by_group[0] == 0.0
    assert gone.alive_by_group[1] == pytest.approx(kept.alive_by_group[1])
    assert gone.posterior["fertility"] == pytest.approx(kept.posterior["fertility"])
    assert mean_of(gone.fertile) == pytest.approx(mean_of(kept.fertile))


def test_hatched_eggs_are_out_and_were_fertile():
    found = assess_counts(stages_of("own"), [Group(7, (), hatched=True), Group(3, ())], 1.0)
    assert found.young[:7].sum() == pytest.approx(0.0, abs=1e-12)
    assert found.fertile[:7].sum() == pytest.approx(0.0, abs=1e-12)
    assert found.alive[4:].sum() == 0.0
    assert found.alive_by_group[0] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("stage", "fertile", "moved"),
    [
        ("infertile", 0, "fertility"), ("early", 4, "survival_early"), ("middle", 4, "survival_middle"),
        ("late", 4, "survival_late"), ("pipped", 4, "survival_late"),
    ],
)  # fmt: skip
def test_an_opened_egg_teaches_the_stage_it_died_in(stage, fertile, moved):
    """With nothing else, k opened eggs of one stage update that Beta as k failures (conjugate, closed form) after all
    stages before it were passed."""
    found = assess_counts(stages_of("own"), [Group(4, (), opened=stage)], 1.0, nodes=(13, 10, 10, 10))
    assert found.fertile[fertile] == pytest.approx(1.0)
    assert found.alive[0] == found.young[0] == pytest.approx(1.0)
    names = ("fertility", "survival_early", "survival_middle", "survival_late")
    at = names.index(moved)
    for k, (name, (a, b)) in enumerate(zip(names, stages_of("own").axes(), strict=True)):
        expected = (a + 4, b) if k < at else (a, b + 4) if k == at else (a, b)
        assert found.posterior[name] == pytest.approx(expected, rel=1e-3)


def test_an_opened_egg_that_shows_nothing_is_infertile_or_dead():
    found = assess_counts(stages_of("own"), [Group(3, (), opened="unknown")], 1.0)
    assert found.alive[0] == pytest.approx(1.0)
    assert found.young[0] == pytest.approx(1.0)
    assert 0.0 < mean_of(found.fertile) < 3.0


def test_silence_after_the_hour_speaks_against_whole_eggs_and_never_kills_them_for_certain():
    groups = [Group(6, (), hatched=True), Group(4, (seen("live", 14),))]
    odds = [assess_counts(stages_of("own"), groups, 1.0, silence=s).alive_by_group[1] for s in (1.0, 0.5, 0.1, 0.01)]
    assert odds == sorted(odds, reverse=True)
    assert odds[-1] < 0.25 * odds[0]
    assert odds[-1] > 0.0


def test_nodes_of_the_loss_move_only_the_young():
    groups = [Group(10, (seen("live", 14),))]
    plain = assess_counts(stages_of("own"), groups, 0.7)
    dried = assess_counts(stages_of("own"), groups, 0.7, late_factors=((0.5, 0.8), (0.5, 0.6)))
    assert dried.alive == pytest.approx(plain.alive)
    assert mean_of(dried.young) == pytest.approx(0.7 * mean_of(plain.young), rel=1e-9)
    assert dried.young.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("n", [2_000, 80_000])
def test_a_hall_full_of_eggs_is_answered_too(n):
    """More than a bench-top ever holds, but a folder may say so: quantiles of scipy.stats.betabinom to 1 % of the eggs."""
    stages = Stages(fertility=(12.18, 1.82), early=0.9, middle=0.97, late=(18.0, 2.0))
    found = assess_counts(stages, [Group(n, ())], 0.1)
    one = stats.betabinom(n, 12.18, 1.82)
    assert mean_of(found.fertile) == pytest.approx(one.mean(), rel=1e-4)
    for share in (0.05, 0.5, 0.95):
        assert quantile(found.fertile, share) == pytest.approx(one.ppf(share), abs=0.01 * n)
    assert found.young.sum() == pytest.approx(1.0, abs=1e-6)
