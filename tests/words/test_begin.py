"""The day of setting in words: plans of the tables with their sources, what is asked, what is minded."""

import pytest

from chalaza import facts
from chalaza.facts.kinds import usual_temp
from chalaza.values.evidence import Airflow
from chalaza.words.basis import STATUSES
from chalaza.words.begin import asked, minded, plans
from chalaza.words.cautions import ALWAYS, cautions
from chalaza.words.numbers import Preference, Voice


@pytest.mark.parametrize("airflow", list(Airflow))
@pytest.mark.parametrize("key", sorted(facts.kinds()))
def test_every_plan_is_a_figure_of_the_tables_with_its_sources(key: str, airflow: Airflow) -> None:
    kind = facts.kind(key)
    temp, rh = plans(Voice(units=Preference.METRIC), kind, airflow)
    band = usual_temp(kind, airflow)
    if band is None:
        assert "none is published" in temp.words
        assert temp.sources == ()
    else:
        assert f"{band.typical:.1f}" in temp.words
        assert tuple(one.key for one in temp.sources) == band.sources
        assert any(row["quantity"] == temp.quantity and row["kind"] == key for row in facts.table("kind_values"))
    assert f"{100 * kind.rh_setting.typical:.0f}\u00a0%" in rh.words
    assert (rh.quantity, rh.standing) == ("rh_setting", STATUSES[kind.rh_setting.status])


def test_only_what_is_missing_is_asked_for() -> None:
    assert [one.column for one in asked(Voice(), Airflow.STILL, None, None)] == ["height_mm", "laid_first, laid_last"]
    assert [one.column for one in asked(Voice(), Airflow.FAN, None, 1)] == []
    assert asked(Voice(), Airflow.STILL, None, 1)[0].sources


@pytest.mark.parametrize(
    ("key", "posted", "keys"),
    [
        ("chicken", False, ("homes", ALWAYS)),
        ("chicken", True, ("homes", "movement_ban", ALWAYS)),
        ("pheasant", False, ("homes", "licences", ALWAYS)),
        ("coturnix", False, ("homes", ALWAYS)),
        ("pigeon", False, ("homes", "hand_fed", ALWAYS)),
    ],
)
def test_what_is_minded_depends_on_the_kind(key: str, posted: bool, keys: tuple[str, ...]) -> None:
    found = minded(facts.kind(key), posted=posted)
    assert found == keys
    assert all(cautions(Voice(), found))
