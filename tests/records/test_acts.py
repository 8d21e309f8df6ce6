"""Acts: whole or nothing, once by uid, undone by an act."""

import json
from typing import Any

import pytest
from django.apps import apps
from django.db import models

from chalaza.records import acts
from chalaza.records import models as m
from chalaza.records.acts import ActError, Entangled, Resting, act, undo

from .demo import NOW, put_all

pytestmark = pytest.mark.django_db


def _place(**more: Any) -> m.Place:
    return m.Place(**{"name": "Shed", "altitude_m": 120.0, "zone": "Europe/Berlin", **more})


def _machine(place: m.Place, **more: Any) -> m.Machine:
    return m.Machine(**{"place": place, "name": "Larder box", "airflow": "fan", **more})


def _keeper() -> m.Keeper:
    return m.Keeper.objects.the_one()


def _tables() -> dict[str, list[str]]:
    """Every record of the notebook as text, but the ledger and what is technical."""
    skipped = {"Act", "Change", "Answer", "Keeper"}
    found = {}
    for model in apps.get_app_config("records").get_models():
        if model._meta.object_name not in skipped:
            fields = [f.attname for f in model._meta.concrete_fields if f.attname not in ("revision", "data")]
            rows = model._default_manager.order_by("pk").values(*fields)
            found[str(model._meta.object_name)] = [json.dumps(row, sort_keys=True) for row in rows]
    return found


def test_an_act_keeps_rows_with_before_and_after() -> None:
    place = _place()
    act(_keeper(), "add", save=[place])
    place.name = "Barn"
    done = act(_keeper(), "change", save=[place])
    change = done.changes.get()
    assert (change.before["name"], change.after["name"]) == ("Shed", "Barn")
    assert [one.act.verb for one in acts.history("Place", place.uid)] == ["change", "add"]


def test_an_act_sent_twice_is_done_once() -> None:
    first = act(_keeper(), "add", save=[_place()], uid="twice")
    second = act(_keeper(), "add", save=[_place(name="Another")], uid="twice")
    assert first.pk == second.pk
    assert m.Place.objects.count() == 1


def test_a_refused_row_takes_the_whole_act_with_it() -> None:
    place = _place()
    with pytest.raises(ActError, match="volume_l"):
        act(_keeper(), "add", save=[place, _machine(place, volume_l=1e9)])
    assert m.Place.objects.count() == 0
    assert m.Act.objects.count() == 0


@pytest.mark.parametrize(("field", "value"), [("volume_l", float("nan")), ("volume_l", float("inf")), ("airflow", "wind"),
                                              ("name", ""), ("name", "a\x00b"), ("note", "\ud800")])  # fmt: skip
def test_what_cannot_be_kept_is_refused_by_name(field: str, value: object) -> None:
    place = _place()
    with pytest.raises(ActError) as refused:
        act(_keeper(), "add", save=[place, _machine(place, **{field: value})])
    assert list(refused.value.problems) == [field]


def test_times_that_overlap_are_refused_by_the_database() -> None:
    place = _place()
    machine, batch = _machine(place), m.Batch(name="Hens", kind="chicken", set_at=NOW)
    first = m.Stay(batch=batch, machine=machine, start=NOW, end=NOW + 1000)
    act(_keeper(), "add", save=[place, machine, batch, first])
    with pytest.raises(ActError, match="overlap"):
        act(_keeper(), "add", save=[m.Stay(batch=batch, machine=machine, start=NOW + 999, end=NOW + 2000)])
    act(_keeper(), "add", save=[m.Stay(batch=batch, machine=machine, start=NOW + 1000)])
    assert m.Stay.objects.count() == 2


def test_undo_writes_back_what_was_and_undoing_the_undo_does_it_again() -> None:
    place = _place()
    added = act(_keeper(), "add", save=[place])
    undone = undo(_keeper(), added)
    assert not m.Place.objects.exists()
    undo(_keeper(), undone)
    assert m.Place.objects.get().name == "Shed"


def test_an_entry_that_others_rest_on_names_the_later_one() -> None:
    place = _place()
    added = act(_keeper(), "add", save=[place])
    place.name = "Barn"
    later = act(_keeper(), "change", save=[place])
    with pytest.raises(Entangled) as held:
        undo(_keeper(), added)
    assert held.value.later == later
    undo(_keeper(), later)
    undo(_keeper(), added)
    assert not m.Place.objects.exists()


def test_what_others_point_to_cannot_be_taken_away() -> None:
    place = _place()
    act(_keeper(), "add", save=[place, _machine(place)])
    with pytest.raises(ActError, match="others rest on it"):
        act(_keeper(), "remove", delete=[place])


def test_an_egg_that_a_weighing_names_cannot_be_taken_away() -> None:
    put_all()
    weighing = m.Weighing.objects.exclude(eggs="all").order_by("id").first()
    assert weighing is not None
    egg = m.Egg.objects.get(uid=weighing.eggs.split()[0])
    m.Candling.objects.filter(egg=egg).delete()
    with pytest.raises(Resting) as held:
        act(_keeper(), "remove", delete=[egg])
    assert weighing in held.value.rows
    assert m.Egg.objects.filter(uid=egg.uid).exists()


def test_a_broken_rule_of_the_notebook_is_told_in_words() -> None:
    batch = put_all()["speckled-hens"]
    other = m.Machine.objects.exclude(uid="larder-box").order_by("id").first()
    assert other is not None
    with pytest.raises(ActError, match=r"^The eggs can only be in one machine now"):
        act(_keeper(), "move", save=[m.Stay(batch=batch, machine=other, start=NOW)])


def test_what_a_form_remembers_holds_no_undo_and_is_kept_by_it() -> None:
    keeper = _keeper()
    keeper.zone = "Europe/Berlin"
    begun = act(keeper, "begin", save=[keeper])
    keeper = _keeper()
    keeper.remembered = {"scale": "g:0.1"}
    act(keeper, "remember", save=[keeper])
    undo(_keeper(), begun)
    assert (_keeper().zone, _keeper().remembered) == ("UTC", {"scale": "g:0.1"})


def test_a_change_raises_the_revision_of_the_batches_it_reaches_and_of_no_other() -> None:
    batches = put_all()
    before = dict(m.Batch.objects.values_list("uid", "revision"))
    machine = m.Machine.objects.get(uid="larder-box")
    machine.note = "moved to the window"
    act(_keeper(), "change", save=[machine])
    after = dict(m.Batch.objects.values_list("uid", "revision"))
    moved = {uid for uid in after if after[uid] != before[uid]}
    assert moved == {batches["speckled-hens"].uid}


@pytest.mark.parametrize("seed", range(3))
def test_random_acts_undone_in_reverse_leave_the_tables_as_they_were(seed: int) -> None:
    import random

    put_all()
    before, rng, done = _tables(), random.Random(seed), []
    for _ in range(25):
        done.append(_random_act(rng))
    assert _tables() != before
    for one in reversed(done):
        undo(_keeper(), one)
    assert _tables() == before


def _random_act(rng: "Any") -> m.Act:
    batch = rng.choice(list(m.Batch.objects.all()))
    eggs = list(m.Egg.objects.filter(batch=batch))
    what = rng.randrange(5)
    save: list[models.Model] = []
    delete: list[models.Model] = []
    if what == 0:
        save = [m.Candling(egg=egg, at=NOW, finding=rng.choice(["live", "clear"])) for egg in rng.sample(eggs, 3)]
    elif what == 1:
        save = [m.Weighing(batch=batch, at=NOW, eggs=eggs[0].uid, gross_g=rng.uniform(10, 80))]
    elif what == 2:
        egg = rng.choice(eggs)
        egg.note = str(rng.random())
        save = [egg]
    elif what == 3:
        machine = m.Machine.objects.order_by("uid").first()
        machine.volume_l = rng.uniform(10, 90)
        save = [machine, m.Note(batch=batch, at=NOW, text="seen")]
    else:
        delete = list(m.Weighing.objects.filter(batch=batch).order_by("-id")[:1])
        save = [m.Done(key=str(rng.random()), at=NOW)]
    return act(_keeper(), "try", save=save, delete=delete)
