"""A batch out as an open folder and in again: nothing is lost, what is shared is stored once, clashes are told."""

import io
from dataclasses import replace

import pytest

from chalaza import exchange
from chalaza.records import acts, answers, beliefs, folder, gather
from chalaza.records import models as m
from chalaza.scenario import demo
from chalaza.values.beliefs import Beliefs
from chalaza.values.evidence import Evidence

from .demo import NOW, put_all

pytestmark = pytest.mark.django_db


def _out(uid: str) -> tuple[Evidence, Beliefs | None]:
    target = io.BytesIO()
    folder.out(uid, target)
    return exchange.read_zip(target)


def _empty() -> None:
    """Everything but the keeper is taken away."""
    for model in (m.Change, m.Chunk, m.Reading, m.Lesson, m.Answer, m.Forecast, m.Candling, m.AirCellMark, m.Weighing,
                  m.Hatch, m.Breakout, m.Note, m.Event, m.Egg, m.Lot, m.Parents, m.Stay, m.Mount, m.ProbeCheck, m.Probe,
                  m.Machine, m.Place, m.Batch, m.Source):  # fmt: skip
        model.objects.all().delete()
    m.Act.objects.filter(undoes__isnull=False).delete()
    m.Act.objects.all().delete()
    answers.forget()


def _keeper() -> m.Keeper:
    return m.Keeper.objects.the_one()


@pytest.mark.parametrize("name", ["speckled-hens", "orchard-quail", "pond-ducks"])
def test_out_of_one_notebook_into_an_empty_one_gives_the_identical_assessment(name: str) -> None:
    uid = put_all()[name].uid
    before = answers.of(uid, NOW).assessment
    evidence, believed = _out(uid)
    assert evidence == gather.evidence(uid)
    _empty()
    folder.bring(_keeper(), evidence, believed, name=name)
    assert gather.evidence(uid) == evidence
    assert answers.of(uid, NOW).assessment == before


def test_the_assessment_stays_identical_after_ten_learnt_batches() -> None:
    uid = put_all()["speckled-hens"].uid
    taught = demo.batches(NOW)["orchard-quail"]
    for i in range(10):
        earlier = folder._with_names(taught, {("batch", taught.batch.uid): f"earlier-{i}"}
                                     | {(kind, row.uid): f"{row.uid}-{i}" for row in folder._all(taught)
                                        if (kind := type(row).__name__.lower()) not in ("batch", "place")})  # fmt: skip
        earlier = replace(earlier, batch=replace(earlier.batch, finished_at=NOW - 3600))
        folder.bring(_keeper(), earlier, None, name="earlier")
    learnt = beliefs.of(m.Batch.objects.get(uid=uid))
    assert len(beliefs.lessons_in_force()) == 10
    before = answers.of(uid, NOW).assessment
    evidence, believed = _out(uid)
    assert believed == learnt
    _empty()
    folder.bring(_keeper(), evidence, believed, name="hens")
    assert answers.of(uid, NOW).assessment == before


def test_undoing_an_import_takes_all_of_it_away_and_undoing_that_brings_it_back() -> None:
    evidence = demo.batches(NOW)["speckled-hens"]
    brought = folder.bring(_keeper(), evidence, None, name="hens")
    before = answers.of(brought.batch, NOW).assessment
    undone = acts.undo(_keeper(), brought.act)
    assert not m.Batch.objects.exists()
    assert not m.Probe.objects.exists()
    acts.undo(_keeper(), undone)
    answers.forget()
    m.Answer.objects.all().delete()
    assert answers.of(brought.batch, NOW).assessment == before


def test_two_batches_of_one_shed_share_what_is_theirs() -> None:
    made = demo.batches(NOW)
    folder.bring(_keeper(), made["orchard-quail"], None, name="quail")
    second = folder.bring(_keeper(), made["pond-ducks"], None, name="ducks")
    assert second.known == 2  # the shed and the small box
    assert m.Machine.objects.count() == 2
    assert m.Place.objects.count() == 1


def test_the_same_readings_from_two_folders_count_once() -> None:
    evidence = demo.batches(NOW)["speckled-hens"]
    folder.bring(_keeper(), evidence, None, name="first")
    again = folder._with_names(evidence, {("batch", "hens"): "hens-2"} | {
        (type(row).__name__.lower(), row.uid): f"{row.uid}-2" for row in folder._all(evidence)
        if type(row).__name__ in ("Batch", "Stay", "Lot", "Egg", "Weighing", "Candling", "AirCellMark", "Note")})  # fmt: skip
    brought = folder.bring(_keeper(), again, None, name="second")
    assert brought.doubled == brought.readings > 20_000
    assert gather.evidence(brought.batch).setting.series["p1"] == evidence.setting.series["p1"]


def test_a_row_that_says_something_else_is_a_clash_and_gets_a_name_of_its_own_on_the_keepers_word() -> None:
    made = demo.batches(NOW)
    folder.bring(_keeper(), made["orchard-quail"], None, name="quail")
    ducks = made["pond-ducks"]
    changed = replace(
        ducks, setting=replace(ducks.setting, machines=(replace(ducks.setting.machines[0], volume_l=19.0),))
    )
    with pytest.raises(folder.Clash, match="machine 'small-box'"):
        folder.bring(_keeper(), changed, None, name="ducks")
    assert m.Batch.objects.count() == 1
    brought = folder.bring(_keeper(), changed, None, name="ducks", rename=True)
    found = gather.evidence(brought.batch)
    assert found.setting.machines[0].volume_l == 19.0
    assert m.Machine.objects.get(uid="small-box").volume_l == 18.0


def test_a_batch_that_is_there_is_not_brought_in_twice() -> None:
    evidence = demo.batches(NOW)["pond-ducks"]
    folder.bring(_keeper(), evidence, None, name="ducks", uid="once")
    folder.bring(_keeper(), evidence, None, name="ducks", uid="once")
    with pytest.raises(exchange.FolderErrors.__base__, match="already"):
        folder.bring(_keeper(), evidence, None, name="ducks")
