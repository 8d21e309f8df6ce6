"""A batch just set: every table is there, plans are those of the facts, and it comes back from disk as it was."""

from pathlib import Path

import pytest
from tests.factory import SET_AT

from chalaza import facts
from chalaza.assess import assess, prior_beliefs
from chalaza.exchange import Start, begun, read, write_folder
from chalaza.exchange.begin import label_of
from chalaza.exchange.schema import TABLES
from chalaza.facts.kinds import usual_temp
from chalaza.values.evidence import Airflow, LaidAt, Origin, ProbeSort


def start(**changes: object) -> Start:
    """A start of twelve hens' eggs."""
    plain: dict[str, object] = {
        "uid": "b1", "name": "Hens", "kind": "chicken", "eggs": 12, "set_at": SET_AT, "zone": "UTC", "parents": "yard",
    }  # fmt: skip
    return Start(**(plain | changes))  # type: ignore[arg-type]


def test_labels_run_six_to_a_row_and_go_on_past_the_alphabet() -> None:
    labels = [label_of(n) for n in range(1000)]
    assert labels[:8] == ["A1", "A2", "A3", "A4", "A5", "A6", "B1", "B2"]
    assert labels[25 * 6 : 26 * 6 + 2] == ["Z1", "Z2", "Z3", "Z4", "Z5", "Z6", "AA1", "AA2"]
    assert labels[52 * 6] == "BA1"
    assert len(set(labels)) == 1000
    assert [label_of(n, in_a_row=7) for n in (0, 6, 7, 27)] == ["A1", "A7", "B1", "D7"]


@pytest.mark.parametrize("airflow", list(Airflow))
@pytest.mark.parametrize("kind", list(facts.kinds()))
def test_every_kind_begins_comes_back_and_is_planned_by_its_facts(kind: str, airflow: Airflow, tmp_path: Path) -> None:
    made = begun(start(kind=kind, airflow=airflow))
    write_folder(tmp_path / "b", made)
    again, beliefs = read(tmp_path / "b")
    assert (again, beliefs) == (made, None)
    assert {path.name for path in (tmp_path / "b").iterdir()} == {
        "datapackage.json", "readings_display.csv", *(table.file for table in TABLES.values())
    }  # fmt: skip
    found = facts.kind(kind)
    temp = usual_temp(found, airflow)
    assert made.batch.planned_temp_degc == (None if temp is None else temp.typical)
    assert made.batch.planned_rh == found.rh_setting.typical


def test_the_plan_written_out_gives_the_answers_of_no_plan_at_all() -> None:
    """What is written as planned is what would be taken anyway: writing it decides nothing."""
    from dataclasses import replace

    made = begun(start())
    bare = replace(made, batch=replace(made.batch, planned_rh=None, planned_temp_degc=None))
    now = SET_AT + 5 * 86_400
    answers = [assess(prior_beliefs("chicken"), one, now) for one in (made, bare)]
    assert answers[0].clock == answers[1].clock
    assert answers[0].water == answers[1].water


def test_counted_eggs_are_one_row() -> None:
    (row,) = begun(start(eggs=60, counted=True)).eggs
    assert (row.count, row.uid) == (60, "tray")
    assert len(begun(start(eggs=13)).eggs) == 13


def test_posted_eggs_come_from_an_altitude_nobody_knows() -> None:
    (own,), (posted,) = begun(start()).lots, begun(start(posted=True)).lots
    assert (own.origin, own.laid_at) == (Origin.OWN, LaidAt.HERE)
    assert (posted.origin, posted.laid_at) == (Origin.POSTED, LaidAt.UNKNOWN)


def test_boxes_of_other_names_share_neither_uid_nor_display() -> None:
    plain, named = begun(start()), begun(start(box="Larder box №2"))
    assert (plain.setting.machines[0].uid, plain.setting.probes[0].uid) == ("box", "display")
    machine = named.setting.machines[0]
    assert (machine.uid, machine.name) == ("larder-box-2", "Larder box №2")
    assert [one.uid for one in named.setting.probes] == ["larder-box-2-display"]
    assert named.stays[0].machine == named.setting.mounts[0].machine == machine.uid
    digital = begun(start(box="Larder box", probe=ProbeSort.DIGITAL)).setting
    assert [one.uid for one in digital.probes] == ["digital"]  # it may hang in another box next time
    assert begun(start(box="箱")).setting.machines[0].uid == "box"


def test_what_is_said_stands_in_the_rows() -> None:
    made = begun(
        start(
            airflow=Airflow.STILL, probe=ProbeSort.GLASS, height_mm=12.0, altitude_m=140.0, wanted=8, laid_last=SET_AT
        )
    )
    assert made.setting.machines[0].airflow is Airflow.STILL
    assert (made.setting.probes[0].sort, list(made.setting.series)) == (ProbeSort.GLASS, ["glass"])
    assert made.setting.mounts[0].height_mm == 12.0
    assert made.setting.place.altitude_m == 140.0
    assert made.batch.wanted_young == 8
    assert made.lots[0].laid_last == SET_AT
