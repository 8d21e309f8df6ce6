"""Exact posteriors on reduced models: the same fit, the same counts, with every other unknown held fixed.

The figures were computed beside the program with scipy (Gaussian conditioning, enumeration of polynomials); they are
printed in the fact pack "worked posteriors", sections W, C, K and V. Tolerance 1e-4 relative, as stated there, unless
the figure is printed more coarsely.
"""

import numpy as np
import pytest

from chalaza.decide.measure import MINUTES, Check, offer
from chalaza.inference.count import Counts, Group, Look, Stages, assess_counts, mean_of, quantile
from chalaza.inference.fit import Posterior, fit
from chalaza.inference.grid import Floats
from chalaza.inference.unknowns import Prior, Unknowns
from chalaza.values.estimate import Z90

U, O = ("batch", "conductance"), ("probe:p", "rh_offset")  # noqa: E741
H, PS = 0.50, 48.40


def row(unknowns: Unknowns, parts: dict, constant: float, seen: float, variance: float):
    """One linear observation as residuals: constant + gradient x - seen, in standard deviations."""
    gradient, sd = unknowns.gradient(parts), variance**0.5

    def terms(x: Floats) -> tuple[Floats, Floats]:
        return np.array([(constant + gradient @ x - seen) / sd]), gradient[None, :] / sd

    return terms


# --- W: weighings and the hygrometer -----------------------------------------------------------------------------


def water(variance: float, *, u_sd: float = 0.22, o_sd: float = 0.05, second: bool = False) -> Posterior:
    unknowns = Unknowns.of([Prior(U, np.log(0.265), u_sd), Prior(O, 0.0, o_sd)])
    constant = np.log(PS * (1 - H) / 1000.0)
    seen = np.log(0.0065) - np.log(PS * (1 - H) / 1000.0)
    terms = [row(unknowns, {U: 1.0, O: -1 / (1 - H)}, 0.0, seen, variance)]
    if second:
        terms.append(row(unknowns, {U: 1.0, O: -1 / (1 - 0.60)}, 0.0, np.log(0.0050 / 0.01936), variance))
    assert constant + seen == pytest.approx(np.log(0.0065))
    return fit(unknowns, terms)


@pytest.mark.parametrize(
    ("case", "u", "u_sd", "o", "o_sd", "corr"),
    [
        ({"variance": 1e-4}, -1.316877, 0.091412, -0.001152, 0.045526, 0.994011),
        ({"variance": 0.0065}, -1.317976, 0.110928, -0.001038, 0.045987, 0.730962),
        ({"variance": 1e-4, "u_sd": 0.05}, -1.325352, 0.044766, -0.005347, 0.022713, 0.975714),
        ({"variance": 1e-4, "o_sd": 0.025}, -1.315237, 0.049673, -0.000330, 0.024380, 0.979569),
        ({"variance": 1e-4, "second": True}, -1.208175, 0.054124, 0.056049, 0.023874, 0.991438),
    ],
    ids=["W1", "W2", "W3", "W4", "W5"],
)
def test_weights_fix_the_product_of_shell_and_air_not_the_two(case, u, u_sd, o, o_sd, corr):
    found = water(**case)
    assert found.value(U) == pytest.approx(u, rel=1e-4, abs=2e-6)
    assert found.sd(U) == pytest.approx(u_sd, rel=1e-4)
    assert found.value(O) == pytest.approx(o, rel=1e-4, abs=2e-6)
    assert found.sd(O) == pytest.approx(o_sd, rel=1e-4)
    assert found.correlation(U, O) == pytest.approx(corr, rel=1e-4)


def test_before_weighing_the_loss_is_open_by_a_factor_of_two():
    unknowns = Unknowns.of([Prior(U, np.log(0.265), 0.22), Prior(O, 0.0, 0.05)])
    gradient = unknowns.gradient({U: 1.0, O: -2.0})
    sd = float(np.sqrt(gradient @ unknowns.cov @ gradient))
    median = 18 * 0.265 * PS * (1 - H) / 1000.0 * 100.0
    assert (median, sd) == pytest.approx((11.5434, 0.241661), rel=1e-4)
    assert (median * np.exp(-Z90 * sd), median * np.exp(Z90 * sd)) == pytest.approx((7.757, 17.178), abs=6e-4)


@pytest.mark.parametrize(
    ("variance", "loss_now", "days_left", "k", "h2", "sd"),
    [(1e-4, 0.0455, 11.0, 1.111914, 0.443914, 0.007476), (0.0065, None, 11.0, 1.114249, 0.442757, 0.066537)],
    ids=["W1", "W2"],
)
def test_the_humidity_on_this_display_is_known_far_better_than_the_true_one(variance, loss_now, days_left, k, h2, sd):
    found = water(variance)
    u, o = found.value(U), found.value(O)
    rate = float(np.exp(u - o / (1 - H) + np.log(PS * (1 - H) / 1000.0)))
    lost = loss_now if loss_now is not None else 7 * rate
    need = (0.125 - lost) / days_left / rate
    if loss_now is None:
        need = (0.125 / rate - 7) / days_left
    display = 1 - need * (1 - H) - o * (1 - need)
    by_rate = (1 - H - o) * (need if loss_now is not None else 0.125 / rate / days_left)
    gradient = found.unknowns.gradient({U: by_rate, O: by_rate * -1 / (1 - H) - (1 - need)})
    assert need == pytest.approx(k, rel=1e-4)
    assert display == pytest.approx(h2, rel=1e-4)
    assert found.spread(gradient) == pytest.approx(sd, rel=2e-3)  # delta method on the linearised form
    if variance == 1e-4:
        assert found.sd(O) > 6 * found.spread(gradient)


def test_after_all_eggs_are_weighed_a_salt_check_buys_nothing_for_the_projection():
    found = water(1e-4)
    gradient = found.unknowns.gradient({U: 1.0, O: -2.0})
    checked = found.narrowed(found.unknowns.gradient({O: 1.0}), 0.025**2)
    assert found.spread(gradient) == pytest.approx(0.009991, rel=1e-3)
    assert checked.spread(gradient) == pytest.approx(0.009990, rel=1e-3)


# --- C: the clock --------------------------------------------------------------------------------------------------

D, T, P, S = ("batch", "hatch_hours"), ("probe:p", "temp_offset"), ("machine:m", "placement"), ("batch", "storage")


def clock(offset_sd: float) -> tuple[Posterior, Floats]:
    unknowns = Unknowns.of([Prior(D, 503.0, 8.0), Prior(T, 0.0, offset_sd), Prior(P, 0.0, 0.25), Prior(S, 1.2, 0.4)])
    return fit(unknowns, []), unknowns.gradient({D: 1.0, T: -21.0, P: -21.0, S: 4.0})


@pytest.mark.parametrize(
    ("offset_sd", "variance"), [(0.50, 204.3725), (0.17, 106.8674), (0.10, 98.5325)], ids=["C1", "C2", "C3"]
)
def test_an_unchecked_probe_widens_the_hatch_forecast_by_the_right_amount(offset_sd, variance):
    posterior, gradient = clock(offset_sd)
    mean = float(gradient @ posterior.mean) - 21.0 * -0.20
    assert mean == pytest.approx(512.0)
    assert posterior.spread(gradient) ** 2 == pytest.approx(variance, rel=1e-6)


@pytest.mark.parametrize(
    ("offset_sd", "d", "o", "p", "s"),
    [
        (0.50, (496.24287, 6.659046), (0.554296, 0.343111), (0.138574, 0.232879), (1.132429, 0.397535)),
        (0.17, (490.300144, 5.201439), (0.120430, 0.159930), (0.260446, 0.216707), (1.073001, 0.395355)),
        (0.10, (489.267769, 4.904252), (0.045059, 0.097826), (0.281618, 0.213773), (1.062678, 0.394975)),
    ],
    ids=["C1", "C2", "C3"],
)
def test_an_early_hatch_is_shared_out_between_probe_place_and_hens(offset_sd, d, o, p, s):
    posterior, gradient = clock(offset_sd)
    after = posterior.observe(gradient, 490.0 - 512.0, 4.0)
    for key, (value, sd) in zip((D, T, P, S), (d, o, p, s), strict=True):
        assert after.value(key) == pytest.approx(value, rel=1e-4)
        assert after.sd(key) == pytest.approx(sd, rel=1e-4)
    if offset_sd == 0.50:
        assert after.correlation(D, T) == pytest.approx(0.705753, rel=1e-4)
        assert after.correlation(T, P) == pytest.approx(-0.413860, rel=1e-4)
        together = after.unknowns.gradient({T: 1.0, P: 1.0})
        assert float(together @ after.mean) == pytest.approx(0.692870, rel=1e-4)
        assert after.spread(together) == pytest.approx(0.325300, rel=1e-4)


def test_a_second_batch_of_other_hens_barely_narrows_the_probe():
    first, second = ("batch1", "hatch_hours"), ("batch2", "hatch_hours")
    unknowns = Unknowns.of(
        [
            Prior(first, 503.0, 8.0),
            Prior(second, 503.0, 8.0),
            Prior(T, 0.0, 0.5),
            Prior(P, 0.0, 0.25),
            Prior(S, 1.2, 0.4),
        ]
    )
    terms = [row(unknowns, {hens: 1.0, T: -21.0, P: -21.0, S: 4.0}, 4.2, 490.0, 4.0) for hens in (first, second)]
    found = fit(unknowns, terms)
    assert (found.value(T), found.sd(T)) == pytest.approx((0.662375, 0.303205), rel=1e-4)
    assert (found.value(P), found.sd(P)) == pytest.approx((0.165594, 0.229392), rel=1e-4)
    assert (found.value(first), found.sd(second)) == pytest.approx((498.962666, 5.292435), rel=1e-4)
    assert found.spread(unknowns.gradient({T: 1.0, P: 1.0})) == pytest.approx(0.255970, rel=1e-4)


# --- K: two candlings ----------------------------------------------------------------------------------------------

_FINDINGS = ("live", "unsure", "clear", "dead")
_DAY7 = {"alive": (0.70, 0.25, 0.04, 0.01), "dead": (0.10, 0.35, 0.25, 0.30), "infertile": (0.02, 0.18, 0.79, 0.01)}
_DAY14 = {"alive": (0.90, 0.08, 0.01, 0.01), "dead": (0.03, 0.22, 0.25, 0.50), "infertile": (0.005, 0.045, 0.94, 0.01)}


def look(day: int, finding: str) -> Look:
    table = _DAY7 if day == 7 else _DAY14
    k = _FINDINGS.index(finding)
    chances = (table["alive"][k], table["dead"][k], table["infertile"][k])
    return Look(day / 21, chances, finding == "unsure")


def candled(pairs: list, fertility, late=0.90, shell_share: float = 0.0) -> Counts:
    groups = [Group(n, (look(7, first), look(14, second))) for n, first, second in pairs]
    stages = Stages(fertility=fertility, early=0.88, middle=0.98, late=late)
    return assess_counts(stages, groups, 14 / 21, shell_share=shell_share)


@pytest.mark.parametrize(
    ("first", "second", "alive"),
    [
        ("live", "live", 0.998627), ("live", "unsure", 0.897605), ("unsure", "live", 0.992071),
        ("unsure", "unsure", 0.597118), ("unsure", "clear", 0.049433), ("clear", "unsure", 0.174795),
        ("clear", "clear", 0.002481), ("clear", "live", 0.950461), ("dead", "dead", 0.004741),
        ("dead", "live", 0.876452),
    ],
)  # fmt: skip
def test_odds_of_one_egg_after_two_looks(first, second, alive):
    found = candled([(1, first, second)], 0.85)
    assert found.alive_by_group[0] == pytest.approx(alive, abs=6e-7)  # printed to six decimals


_BATCH = [
    (7, "live", "live"),
    (1, "unsure", "live"),
    (2, "unsure", "unsure"),
    (1, "clear", "unsure"),
    (1, "clear", "clear"),
]


def spread(distribution: Floats) -> float:
    i = np.arange(len(distribution))
    return float(np.sqrt(distribution @ (i - mean_of(distribution)) ** 2))


def test_k1_fixed_rates():
    found = candled(_BATCH, 0.85).alive
    assert (mean_of(found), spread(found)) == pytest.approx((9.353968, 0.803318), rel=1e-6)
    assert found[7:12] == pytest.approx([0.002362, 0.138677, 0.423842, 0.372941, 0.062010], abs=6e-7)
    assert (quantile(found, 0.05), quantile(found, 0.95)) == (8, 11)


def test_k2_fertility_shared_by_the_batch():
    counts = candled(_BATCH, (17.0, 3.0))
    found = counts.alive
    a, b = counts.posterior["fertility"]
    assert (a / (a + b), np.sqrt(a * b / (a + b + 1)) / (a + b)) == pytest.approx((0.863519, 0.062995), rel=1e-5)
    assert (mean_of(found), spread(found)) == pytest.approx((9.371690, 0.809770), rel=1e-6)
    assert found[7:12] == pytest.approx([0.002309, 0.135631, 0.418243, 0.375880, 0.067659], abs=6e-7)


def test_k3_and_k4_young_with_survival_fixed_or_shared():
    fixed, shared = candled(_BATCH, (17.0, 3.0), 0.90).young, candled(_BATCH, (17.0, 3.0), (18.0, 2.0)).young
    assert (mean_of(fixed), spread(fixed)) == pytest.approx((8.434521, 1.172430), rel=1e-6)
    assert (mean_of(shared), spread(shared)) == pytest.approx((8.434521, 1.309063), rel=1e-6)
    for one in (fixed, shared):
        assert (quantile(one, 0.05), quantile(one, 0.95)) == (6, 10)


def test_a_second_unsure_look_at_a_dark_shell_adds_less():
    """If the shell alone explains both, the second look adds nothing: 0.749 x 0.98 = 0.734; so 0.60 to 0.73 is shown."""
    full = candled([(1, "unsure", "unsure")], 0.85, shell_share=0.0).alive_by_group[0]
    none = candled([(1, "unsure", "unsure")], 0.85, shell_share=1.0).alive_by_group[0]
    assert full == pytest.approx(0.597118, abs=6e-7)
    assert none == pytest.approx(0.748899 * 0.98, abs=6e-7)


# --- V: what a check is worth --------------------------------------------------------------------------------------

G, R = ("batch", "conductance"), ("probe:p", "rh_offset")


def worth() -> tuple[Posterior, Floats, Floats]:
    unknowns = Unknowns.of(
        [
            Prior(D, 503.0, 8.0), Prior(T, 0.0, 0.5), Prior(P, 0.0, 0.25), Prior(S, 1.2, 0.4),
            Prior(G, np.log(0.265), 0.22), Prior(R, 0.0, 0.05),
        ]
    )  # fmt: skip
    hatch = unknowns.gradient({D: 1.0, T: -21.0, P: -21.0, S: 4.0})
    loss = 0.115434 * unknowns.gradient({G: 1.0, R: -2.0, T: 0.0543})
    return fit(unknowns, []), hatch, loss


def offers() -> dict:
    posterior, hatch, loss = worth()
    find = posterior.unknowns
    relative = loss / 0.115434
    three = 0.16**2 / 3 * 9 / 12 + 1e-4
    listed = [
        Check(code="ice", minutes=10, gradient=find.gradient({T: 1.0}), variance=1 / (1 / 0.17**2 - 1 / 0.5**2)),
        Check(code="compare", minutes=15, gradient=find.gradient({T: 1.0}), variance=1 / (1 / 0.1**2 - 1 / 0.5**2)),
        Check(code="salt", minutes=20, gradient=find.gradient({R: 1.0}), variance=1 / (1 / 0.025**2 - 1 / 0.05**2)),
        Check(code="weigh_three", minutes=6, gradient=relative, variance=three),
        Check(code="weigh_all", minutes=15, gradient=relative, variance=1e-4),
    ]
    return {one.code: offer(one, posterior, hatch, loss, 1.503979) for one in listed}


@pytest.mark.parametrize(
    ("code", "hatch_h", "loss_points"),
    [
        ("ice", 17.0040, 4.5918), ("compare", 16.3274, 4.5896), ("salt", 23.5146, 4.3146),
        ("weigh_three", 23.5146, 1.4530), ("weigh_all", 23.5146, 0.1897),
    ],
)  # fmt: skip
def test_what_a_check_narrows(code, hatch_h, loss_points):
    found = offers()[code]
    assert found.hatch_before_h == pytest.approx(23.5146, rel=1e-4)
    assert found.loss_before * 100 == pytest.approx(4.6173, rel=1e-4)
    # A weighing also says a hair about the thermometer in the joint model (0.2 h); the pack holds them apart.
    assert found.hatch_after_h == pytest.approx(hatch_h, rel=0.01)
    assert found.loss_after * 100 == pytest.approx(loss_points, rel=0.002)


def test_ranking_of_checks():
    found = offers()

    def hatch(code: str) -> float:
        return found[code].hatch_before_h - found[code].hatch_after_h

    def loss(code: str) -> float:
        return found[code].loss_before - found[code].loss_after

    assert hatch("compare") > hatch("ice") > 20 * max(hatch("salt"), hatch("weigh_all"), hatch("weigh_three"))
    assert hatch("ice") / 10 > hatch("compare") / 15
    assert loss("weigh_all") > loss("weigh_three") > 5 * loss("salt") > loss("compare") > loss("ice")
    assert loss("weigh_three") / 6 > loss("weigh_all") / 15 > 5 * loss("salt") / 20
    assert MINUTES["ice"] == 10.0


def test_no_check_removes_hens_and_place():
    posterior, hatch, _ = worth()
    perfect = posterior.narrowed(posterior.unknowns.gradient({T: 1.0}), 1e-12)
    assert Z90 * perfect.spread(hatch) == pytest.approx(15.958, rel=1e-4)
    mapped = perfect.narrowed(posterior.unknowns.gradient({P: 1.0}), 1 / (1 / 0.10**2 - 1 / 0.25**2))
    unchecked = mapped.spread(hatch) ** 2 + (21 * 0.1) ** 2
    assert float(np.sqrt(unchecked)) == pytest.approx(8.682, rel=1e-3)
