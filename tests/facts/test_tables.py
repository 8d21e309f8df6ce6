"""The tables among themselves: complete, sourced, in plain words, and closed where they must close."""

import csv
import re
from math import log
from pathlib import Path

import pytest

import chalaza
from chalaza import facts
from chalaza.facts.loader import known
from chalaza.facts.priors import expand
from chalaza.facts.schema import SHAPES, STATUSES
from chalaza.units import UNITS, inside

PACKAGE = Path(chalaza.__file__).resolve().parent
TABLES = {name: facts.table(name) for name in facts.SPECS}
TEXTS = [(name, column, row[column]) for name, rows in TABLES.items() for row in rows for column in row if row[column]]


def rows(name: str, **wanted: str) -> list[dict[str, str]]:
    return [dict(row) for row in TABLES[name] if all(row[key] == value for key, value in wanted.items())]


def test_every_file_is_described_and_every_description_has_its_file() -> None:
    files = {path.stem for path in (PACKAGE / "facts" / "tables").glob("*.csv")}
    assert files == set(facts.SPECS)


def test_every_source_named_exists_and_every_source_is_used() -> None:
    named = {key for rows in TABLES.values() for row in rows for key in row.get("source", "").split()}
    assert named <= set(facts.sources())
    code = "\n".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py"))
    idle = {key for key in set(facts.sources()) - named if not re.search(rf"\b{re.escape(key)}\b", code)}
    assert not idle


def test_every_citation_key_in_the_code_is_a_source() -> None:
    for path in PACKAGE.rglob("*.py"):
        keys = set(re.findall(r"(?<![\w-])[a-z][a-z-]*-(?:19|20)\d\d(?![\w-])", path.read_text(encoding="utf-8")))
        assert keys <= set(facts.sources()), path.name


def test_sources_are_citations_and_not_keys_of_another_list() -> None:
    for key, source in facts.sources().items():
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", key)
        assert len(source.cite) > 15
        assert source.url == "" or source.url.startswith(("http://", "https://"))
        assert source.grade in {"", "A", "B", "C", "M"}


def test_every_unit_of_the_tables_is_used_and_none_repeats_a_unit_of_the_program() -> None:
    ours = {row["unit"] for row in TABLES["units"]}
    used = {row["unit"] for name, rows in TABLES.items() if name != "units" for row in rows if row.get("unit")}
    assert ours <= used
    assert not ours & UNITS


def test_no_cell_holds_an_address_a_path_or_markup() -> None:
    for name, column, text in TEXTS:
        if column in ("unit",):
            continue
        assert not re.search(r"https?:|www\.|\\|<[a-z]|(^|\s)/\w|/work|/tmp|/home", text), (name, column, text)


def test_aliases_of_kinds_are_plain() -> None:
    for kind in facts.kinds().values():
        assert all(re.fullmatch(r"[a-z][a-z ]*", alias) for alias in kind.aliases), kind.key


def test_beliefs_cover_every_kind_once_at_the_best_rank() -> None:
    found = expand(TABLES["priors"], known().kinds)
    assert len(found) % 31 == 0


# Fahrenheit pairs printed in the sources, by the definition of the scale; ours are rounded to 0.1 °C.
@pytest.mark.parametrize(
    ("limit", "degf"),
    [
        ("still_warn", 103),
        ("fan_low", 97),
        ("fan_high", 102),
        ("air_harm_low", 96),
        ("air_harm_high", 103),
        ("slow_only", 95),
    ],
)
def test_limits_are_the_printed_degrees_fahrenheit(limit: str, degf: float) -> None:
    (row,) = rows("limits", limit=limit)
    assert float(row["value"]) == pytest.approx(inside(float(degf), "°F"), abs=0.06)


def test_pressure_at_altitude_is_that_of_the_standard_atmosphere() -> None:
    # ICAO standard atmosphere (ISO 2533:1975): p = 101325 (1 - 2.25577e-5 h)^5.25588. The table is rounded to 10 Pa.
    for row in TABLES["altitude"]:
        pressure_pa = 101_325 * (1 - 2.25577e-5 * float(row["altitude_m"])) ** 5.25588
        assert float(row["pressure_pa"]) == pytest.approx(pressure_pa, abs=12)
        assert float(row["diffusion_factor"]) == pytest.approx(101_325 / pressure_pa, abs=2e-4)
        # The printed rise (Tullett 2013) is in whole percent.
        assert float(row["printed_rise"]) == pytest.approx(101_325 / pressure_pa - 1, abs=0.0075)
        assert float(row["oxygen_pa"]) == pytest.approx(0.2095 * pressure_pa, rel=2e-3)


def test_rates_printed_for_spells_follow_from_hours_and_shift() -> None:
    # Poultry Science 2020 99:3897, table 1: hours are whole, so a shift of 5 is good to 10 %.
    for row in rows("temperature_rate_points", source="ps-2020-temperature"):
        if not row["slope"]:
            continue
        hours, shift = float(row["exposed_h"]), float(row["shift_h"])
        ratio = (hours + (-shift if shift < 0 else 0)) / (hours + (shift if shift > 0 else 0))
        assert float(row["rate_ratio"]) == pytest.approx(ratio, abs=0.003)
        step = abs(float(row["temp_degc"] or 38.9) - float(row["reference_degc"]))
        assert float(row["slope"]) == pytest.approx(abs(ratio - 1) / step, rel=0.06)


def test_rate_curve_rises_from_no_growth_to_flat() -> None:
    rates = [float(row["rate"]) for row in TABLES["rate_curve"]]
    assert rates == sorted(rates)
    assert rates[0] == 0.0
    assert rates[-1] == rates[-2]


def test_the_fates_of_the_laying_lines_add_up() -> None:
    # Archives Animal Breeding 2003, 46:483: shares of deaths and of eggs set both close at 100.0 %.
    deaths = rows("deaths_by_stage", source="aab-2003", base="embryo deaths")
    assert sum(float(row["share"]) for row in deaths) == pytest.approx(1.0, abs=1e-9)
    fates = rows("deaths_by_stage", source="aab-2003", base="eggs set")
    assert sum(float(row["share"]) for row in fates) == pytest.approx(1.0, abs=1e-9)


def test_candling_days_are_shares_of_21_days() -> None:
    for row in TABLES["candling"]:
        assert float(row["share"]) == pytest.approx(float(row["day_d"]) / 21, abs=0.001)


def test_loss_in_store_and_hatch_after_store_fall_with_the_days() -> None:
    lost = [float(row["value"]) for row in rows("storage_effects", source="turkey-2017", effect="mass lost")]
    assert lost == sorted(lost)
    hatched = [float(row["value"]) for row in rows("storage_effects", source="quail-4c")]
    assert hatched == sorted(hatched, reverse=True)


def test_stores_are_not_warmer_for_longer_keeping_within_one_source() -> None:
    for source in ("ucd-22", "hatchery-notes"):
        scheme = sorted(rows("storage_climate", source=source), key=lambda row: float(row["days_from"]))
        typical = [float(row["typical"]) for row in scheme]
        assert len(typical) >= 3
        assert typical == sorted(typical, reverse=True)


def test_conductance_from_two_humidities_is_one_conductance() -> None:
    # Romao 2009: at 36 and 52 % the same shells gave 0.2576 and 0.2579.
    quail = [float(row["value"]) for row in rows("conductance_measured", source="romao-2009")]
    assert quail[0] == pytest.approx(quail[1], rel=0.002)
    assert log(facts.prior("conductance", "coturnix").p[0]) == pytest.approx(log(quail[0]), abs=0.01)


def test_every_caution_is_a_sentence_at_a_named_act() -> None:
    for row in TABLES["cautions"]:
        assert row["text"].endswith(".")
        assert len(row["text"]) < 260
    acts = {row["where"] for row in TABLES["cautions"]}
    assert {
        "power_cut",
        "remove_eggs",
        "hatch",
        "calibrate_temp",
        "candle",
        "weigh",
        "overheat",
        "wash",
        "start",
    } <= acts


def read(shared: Path, name: str) -> list[dict[str, str]]:
    with (shared / "facts" / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_numbers_of_the_physiology_tables_are_those_of_the_compiled_pack(shared: Path) -> None:
    for ours, theirs in zip(TABLES["altitude"], read(shared, "egg/altitude.csv"), strict=True):
        assert float(ours["altitude_m"]) == float(theirs["altitude_m"])
        assert float(ours["pressure_pa"]) == pytest.approx(float(theirs["pressure_kPa"]) * 1000)
    for ours, theirs in zip(TABLES["rate_curve"], read(shared, "egg/rate_curve_default.csv"), strict=True):
        assert (float(ours["temp_degc"]), float(ours["rate"])) == (
            float(theirs["temp_C"]),
            float(theirs["rate_relative_to_37.8"]),
        )
        assert ours["status"] == theirs["status"]
    spells = {
        (row["age_d"], float(row["temp_C"]), float(row["exposure_h"]))
        for row in read(shared, "egg/heat_survival.csv")
        if row["exposure_h"].isdigit() and row["age_d"].isdigit()
    }
    ours = {
        (row["age_from_d"], float(row["temp_degc"]), float(row["exposed_h"]))
        for row in rows("heat_survival", subject="chicken")
        if row["exposed_h"]
    }
    assert spells <= ours
    density = [(float(row["mass_g"]), float(row["density"])) for row in TABLES["egg_density"]]
    assert density == [
        (float(row["mass_g"]), float(row["specific_gravity"]))
        for row in read(shared, "egg/egg_density_shape.csv")
        if row["mass_g"]
    ]
    depths = [float(row["value"]) for row in rows("air_cell", quantity="depth")]
    assert depths == [float(row["depth_mm"]) for row in read(shared, "egg/air_cell.csv") if row["day"]]
    pips = [float(row["internal_low_h"]) for row in TABLES["pip_sequence"]]
    printed = {row["internal_pip_before_hatch_h"].split("-")[0] for row in read(shared, "egg/pip_sequence.csv")}
    assert {f"{pip:g}" for pip in pips} == printed


def test_the_manual_names_every_table_status_shape_and_condition() -> None:
    page = (PACKAGE.parents[1] / "docs" / "manual" / "facts.rst").read_text(encoding="utf-8")
    named = set(re.findall(r"`([^`\s]+)`", page))
    assert set(facts.SPECS) <= named
    assert STATUSES | set(SHAPES) <= named
    conditions = {row["condition"] for row in TABLES["priors"] if row["condition"] and row["quantity"] != "correlation"}
    spans = {"h24", "h36", "h48", "open_to_half"}
    assert conditions - spans <= named
