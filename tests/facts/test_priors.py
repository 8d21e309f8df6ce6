"""Beliefs before a batch: complete for every kind, summarised as scipy does, equal to the compiled pack."""

import csv
from pathlib import Path

import pytest
from scipy import stats

from chalaza import facts
from chalaza.errors import TableError
from chalaza.facts.loader import Row, known
from chalaza.facts.priors import Prior, expand, read
from chalaza.facts.schema import SPECS

ROWS = facts.table("priors")
BELIEFS = [read(number, row) for number, row in enumerate(ROWS, start=2)]

#: What other floors ask for, with the conditions of each.
ASKED = {
    "temp_offset": {"display", "digital", "glass", "ice", "ice_boil", "compare", "infrared"},
    "rh_offset": {"display", "digital", "salt_one", "salt_two", "dry_box", "wick_fan", "wick_still"},
    "placement": {"fan", "fan_mapped", "still_egg_top", "still_unknown"},
    "fertility": {"own", "posted"},
    "survival_early": {"own", "posted"},
    "survival_middle": {"own", "posted"},
    "survival_late": {"own", "posted"},
    "conductance_cv": {"young", "old"},
    "heat_conductance": {"fan", "still"},
    "time_constant": {"fan", "still"},
    "chill_survival": {"h12", "h24", "h36", "h48", "h72"},
    "turning_survival": {"per_d3", "per_d6", "per_d12"},
    **{
        f"candling_{truth}": {"light_d6", "light_d7", "light_d14", "dark_d7", "dark_d10", "dark_d14", "any_d18"}
        for truth in ("alive", "dead", "infertile")
    },
}
PLAIN = [
    "conductance",
    "conductance_batch_spread",
    "conductance_season_rise",
    "leaky_share",
    "conductance_mass_exponent",
    "conductance_rise",
    "native_altitude",
    "scale_rounding",
    "scale_zero",
    "scale_span",
    "air_cell_reading",
    "air_cell_offset",
    "air_cell_slope",
    "air_cell_start_ml",
    "temp_gain",
    "temp_drift",
    "rh_saturation",
    "rh_drift",
    "logger_clock",
    "egg_heat_capacity",
    "heat_scale",
    "rate_slope",
    "rate_slope_above",
    "rate_age_first",
    "rate_34",
    "rate_30",
    "rate_zero",
    "chill_delay",
    "hatch_hours",
    "hatch_spread",
    "storage_delay",
    "size_delay",
    "male_delay",
    "internal_pip",
    "external_pip",
    "hen_correlation",
    "loss_penalty",
    "heat_halving",
    "heat_doubling",
    "heat_sustained",
    "turning_end",
    "male_share",
    "room_vapour",
    "box_heat_loss",
    "box_heat_capacity",
    "heater_power",
    "control_dead_time",
    "egg_loss_band",
]


def test_every_quantity_asked_for_is_there_for_every_kind() -> None:
    for kind in facts.kinds():
        for quantity in PLAIN:
            assert facts.prior(quantity, kind).quantity == quantity
        for quantity, conditions in ASKED.items():
            assert set(facts.conditions(quantity)) == conditions
            assert all(facts.prior(quantity, kind, condition).unit for condition in conditions)
    assert set(PLAIN) | set(ASKED) <= set(facts.quantities())


def test_the_most_particular_row_is_taken() -> None:
    assert facts.prior("rate_slope", "chicken").p == (0.042, 0.008)
    assert facts.prior("rate_slope", "emu").p == (0.045, 0.01)
    assert facts.prior("rate_slope", "guinea").p == (0.046, 0.012)
    assert facts.prior("conductance_rise", "mule").mean == 0.1
    assert facts.prior("fertility", "mule", "own").p == (4.4, 3.6)


def frozen(belief: Prior) -> "stats.rv_continuous | None":
    match belief.shape, belief.p:
        case "normal", (mean, sd):
            return stats.norm(mean, sd)
        case "lognormal", (median, sigma):
            return stats.lognorm(sigma, scale=median)
        case "beta", (a, b):
            return stats.beta(a, b)
        case "student_t", (location, scale, freedom):
            return stats.t(freedom, location, scale)
        case "halfnormal", (scale,):
            return stats.halfnorm(scale=scale)
        case "uniform", (low, high):
            return stats.uniform(low, high - low)
        case _:
            return None


def test_summaries_are_those_of_scipy_stats() -> None:
    # Checked against scipy.stats, another code path than scipy.special; both exact to rounding, hence 1e-9.
    seen = set()
    for belief in BELIEFS:
        if (same := frozen(belief)) is None:
            continue
        seen.add(belief.shape)
        assert belief.mean == pytest.approx(float(same.mean()), rel=1e-9, abs=1e-12)
        assert belief.sd == pytest.approx(float(same.std()), rel=1e-9)
        assert belief.interval90 == pytest.approx([float(same.ppf(q)) for q in (0.05, 0.95)], rel=1e-9, abs=1e-12)
    assert seen == {"normal", "lognormal", "beta", "student_t", "halfnormal", "uniform"}


def test_a_gaussian_core_takes_the_told_spread_of_heavy_tails() -> None:
    told = {"display": 0.6, "digital": 0.45, "glass": 0.6}
    assert {sort: facts.prior("temp_offset", "chicken", sort).gaussian_sd for sort in told} == told
    assert facts.prior("temp_offset", "chicken", "display").sd == pytest.approx(0.5 * 2**0.5)
    assert facts.prior("temp_offset", "chicken", "ice").gaussian_sd == 0.17


def test_lognormal_fixed_band_and_dirichlet_have_their_own_words() -> None:
    conductance = facts.prior("conductance", "chicken")
    assert conductance.log_mean == pytest.approx(-1.3280254, abs=1e-7)  # ln 0.265
    assert conductance.log_sd == 0.22
    fixed = facts.prior("turning_survival", "chicken", "per_d6")
    assert (fixed.mean, fixed.sd, fixed.interval90) == (0.83, 0.0, (0.83, 0.83))
    band = facts.prior("egg_loss_band", "emu")
    assert (band.mean, band.interval90) == (1.0, (0.65, 1.4))
    looks = facts.prior("candling_alive", "chicken", "dark_d7")
    assert looks.shares == pytest.approx((0.7, 0.25, 0.04, 0.01))


@pytest.mark.parametrize(
    ("quantity", "condition", "what"),
    [
        ("candling_alive", "dark_d7", "mean"),
        ("candling_alive", "dark_d7", "sd"),
        ("candling_alive", "dark_d7", "interval90"),
        ("egg_loss_band", "", "sd"),
        ("hatch_hours", "", "log_mean"),
        ("hatch_hours", "", "log_sd"),
        ("hatch_hours", "", "shares"),
    ],
)
def test_what_a_shape_does_not_have_is_refused(quantity: str, condition: str, what: str) -> None:
    with pytest.raises(TableError, match=f"has no {what}: {quantity}"):
        getattr(facts.prior(quantity, "chicken", condition), what)


@pytest.mark.parametrize(
    ("asked", "problem"),
    [
        (("luck", "chicken", ""), r"no quantity 'luck'; allowed: conductance, "),
        (
            ("placement", "chicken", ""),
            r"'placement' has no condition ''; allowed: fan, fan_mapped, still_egg_top, still_unknown",
        ),
        (("conductance", "chicken", "old"), r"'conductance' has no condition 'old'; allowed: none"),
        (("conductance", "moa", ""), r"no kind 'moa'; allowed: amherst_ph, "),
    ],
)
def test_what_is_not_believed_is_refused_with_what_is_allowed(asked: tuple[str, str, str], problem: str) -> None:
    with pytest.raises(TableError, match=problem):
        facts.prior(*asked)


def row(**changes: str) -> Row:
    empty = {column.name: "" for column in SPECS["priors"].columns}
    base = {
        "quantity": "x",
        "subject": "any",
        "shape": "normal",
        "p1": "1",
        "p2": "2",
        "unit": "1",
        "source": "judgement",
        "status": "memory",
    }
    return {**empty, **base, **changes}


@pytest.mark.parametrize(
    ("bad", "problem"),
    [
        (row(p2=""), r"row 9: a normal takes 2 parameters \(mean, sd\)"),
        (row(p3="1"), r"a normal takes 2 parameters"),
        (row(shape="dirichlet"), r"a dirichlet takes 4 parameters \(live, unsure, clear, dead\)"),
        (row(p2="0"), r"a normal with a parameter that is not above zero"),
        (row(shape="beta", p1="-1"), r"a beta with a parameter that is not above zero"),
        (row(shape="uniform", p1="3"), r"impossible span: 3 to 2"),
        (row(shape="band", p3="3"), r"impossible span: 2 <= 1 <= 3"),
    ],
)
def test_parameters_that_do_not_fit_their_shape_are_refused(bad: Row, problem: str) -> None:
    with pytest.raises(TableError, match=problem):
        read(9, bad)


def test_two_rows_equally_particular_are_refused() -> None:
    rows = (row(), row(subject="geese"), row(subject="waterfowl"))
    with pytest.raises(TableError, match=r"row 4: two rows for 'goose_light': x"):
        expand(rows, known().kinds)


def test_a_kind_without_a_row_is_refused() -> None:
    with pytest.raises(TableError, match=r"no row of x d3 for kind 'bantam'"):
        expand((row(subject="chicken", condition="d3"),), frozenset({"chicken", "bantam"}))


#: Words of the pack that mean a group of ours; "others" are the kinds no other row names.
GROUPS = {
    "pheasant and partridges": "pheasants partridges",
    "pheasant and ornamental pheasants": "pheasants",
    "goose": "geese",
    "chicken-like": "chickens",
}
TO_ALL = {
    "any",
    "other kinds",
    "all other kinds",
    "chicken-sized eggs",
    "white or tinted shell",
    "brown, blue or thick shell",
    "any shell",
}
#: Unit of the pack where ours is another -> factor to ours.
FACTORS = {"points of loss (Gaussian half-width)": 0.01, "kPa": 1000.0}


def pack(shared: Path) -> list[dict[str, str]]:
    with (shared / "facts" / "priors.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_beliefs_are_those_of_the_compiled_pack_row_by_row(shared: Path) -> None:
    rows = [each for each in pack(shared) if each["symbol"] != "L*"]
    assert len(rows) == 299
    for theirs, ours, belief in zip(rows, ROWS, BELIEFS, strict=False):
        factor = FACTORS.get(theirs["unit"], 1.0)
        p = [float(theirs[name]) for name in ("p1", "p2", "p3", "p4") if theirs[name]]
        p[0] *= factor
        assert ours["shape"] == theirs["distribution"], theirs["id"]
        assert list(belief.p) == pytest.approx(p, rel=1e-12), theirs["id"]
        assert belief.status in {theirs["status"], "practice" if theirs["status"] == "memory" else ""}, theirs["id"]
        subject = theirs["kind"]
        expected = set(facts.members("any" if subject in TO_ALL else GROUPS.get(subject, subject)))
        assert set(facts.members(ours["subject"])) == expected, theirs["id"]
        if theirs["lo90"] and ours["shape"] != "band":
            # Printed to four figures there, hence 2e-3.
            printed = [float(theirs[end]) * factor for end in ("lo90", "hi90")]
            assert belief.interval90 == pytest.approx(printed, rel=2e-3, abs=1e-5), theirs["id"]


def test_loss_targets_are_those_of_the_compiled_pack(shared: Path) -> None:
    theirs = {each["kind"]: each for each in pack(shared) if each["symbol"] == "L*"}
    assert len(theirs) == 31
    for key, kind in facts.kinds().items():
        row = theirs[key]
        target = kind.loss_target
        assert [target.typical * 100, target.low * 100, target.high * 100, target.day_d] == pytest.approx(
            [float(row[name]) for name in ("p1", "p2", "p3", "p4")]
        )
        assert target.status == row["status"]
