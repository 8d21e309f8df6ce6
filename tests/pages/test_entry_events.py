"""What happened: to a machine and so to every batch in it, or to one batch."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import HENS, QUAIL, by_script, held, opened, send
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.pages.entry.events import OF_BATCH, OF_MACHINE
from chalaza.records import acts
from chalaza.records import models as m
from chalaza.values.evidence import EventSort
from chalaza.words.numbers import Preference

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]
EVENT = f"{HENS}event/"


def _newest() -> m.Event:
    return m.Event.objects.order_by("-id")[0]


def test_every_sort_of_event_is_a_machines_or_a_batchs_and_has_its_key(pages: Client, shown: Batches) -> None:
    assert sorted([*OF_MACHINE, *OF_BATCH]) == sorted(EventSort)
    html = pages.get(EVENT).content.decode()
    assert all(f'href="{EVENT}?sort={one.value}"' in html for one in EventSort)


@pytest.mark.parametrize(
    "sort", [one for one in EventSort if one not in (EventSort.MOVED, EventSort.REMOVED, EventSort.SET_POINT)]
)
def test_an_event_is_noted_where_it_belongs(pages: Client, shown: Batches, sort: EventSort) -> None:
    assert send(pages, f"{EVENT}?sort={sort.value}", {"note": "why"}).status_code == 303
    row = _newest()
    assert (row.sort, row.note, row.at) == (sort.value, "why", NOW - NOW % 60)
    assert (row.machine_id, row.batch_id) == (("larder-box", None) if sort in OF_MACHINE else (None, "hens-batch"))


def test_water_of_a_box_is_one_event_for_all_batches_in_it(pages: Client, shown: Batches) -> None:
    stay = m.Stay(batch_id="ducks-batch", machine_id="larder-box", start=NOW - 7200)
    m.Stay.objects.filter(batch__uid="ducks-batch").update(end=NOW - 7200)
    acts.act(m.Keeper.objects.the_one(), "move", save=[stay])
    before = dict(m.Batch.objects.values_list("uid", "revision"))
    url = f"{EVENT}?sort=water"
    assert "Speckled hens, Pond ducks" in text_of(pages.get(url).content.decode())
    send(pages, url)
    after = dict(m.Batch.objects.values_list("uid", "revision"))
    assert {uid for uid in after if after[uid] != before[uid]} == {"hens-batch", "ducks-batch"}
    assert m.Event.objects.filter(sort="water", at=NOW - NOW % 60).count() == 1


def test_a_set_point_in_the_wrong_unit_is_asked_about_and_offered_in_the_right_one(
    pages: Client, shown: Batches
) -> None:
    url = f"{EVENT}?sort=set_point"
    answer = send(pages, url, {"set_point_degc": "99.5"})
    html = answer.content.decode()
    assert answer.status_code == 422
    assert 'name="answer_set_point_degc" value="37.5"' in html
    assert "allowed: 20 to 45" in text_of(html)
    assert "keep_set_point_degc" not in html
    assert pages.post(url, {**held(html), "answer_set_point_degc": "37.5"}).status_code == 303
    assert _newest().set_point_degc == 37.5
    odd = send(pages, url, {"set_point_degc": "42"})
    assert 'name="keep_set_point_degc" value="42"' in odd.content.decode()


def test_a_keeper_of_fahrenheit_sets_in_fahrenheit(pages: Client, shown: Batches) -> None:
    keeper = m.Keeper.objects.the_one()
    m.Keeper.objects.filter(pk=keeper.pk).update(units=Preference.US)
    url = f"{EVENT}?sort=set_point"
    said = by_script(pages, url, {**opened(pages, url), "set_point_degc": "37.5"})
    assert said.json()["ways"][0]["value"] == "99.5"
    assert send(pages, url, {"set_point_degc": "99.5"}).status_code == 303
    assert _newest().set_point_degc == pytest.approx(37.5)


def test_a_power_cut_ends_after_it_began_and_not_in_the_future(pages: Client, shown: Batches) -> None:
    url = f"{EVENT}?sort=power_off"
    text = text_of(pages.get(url).content.decode())
    assert "open flame" in text
    assert "Generators" in text
    early = send(pages, url, {"at": "2026-04-17T10:00", "until": "2026-04-17T09:00"})
    assert "ended before it began" in text_of(early.content.decode())
    late = send(pages, url, {"at": "2026-04-17T10:00", "until": "2026-04-18T09:00"})
    assert "still to come" in text_of(late.content.decode())
    assert send(pages, url, {"at": "2026-04-17T10:00", "until": "2026-04-17T12:30"}).status_code == 303
    assert (_newest().until or 0) - _newest().at == 9000


def test_eggs_taken_out_are_chosen_and_undo_puts_them_back(pages: Client, shown: Batches) -> None:
    url = f"{EVENT}?sort=removed"
    assert "Nothing is thrown away on one look" in text_of(pages.get(url).content.decode())
    assert "Choose the eggs" in text_of(send(pages, url).content.decode())
    assert send(pages, url, {"eggs": ["ducks-egg1"]}).status_code == 422
    form = {**opened(pages, url), "eggs": ["hens-egg3", "hens-egg4"]}
    assert pages.post(url, form).status_code == 303
    assert m.Egg.objects.filter(removed_at=NOW - NOW % 60).count() == 2
    assert _newest().sort == "removed"
    acts.undo(m.Keeper.objects.the_one(), m.Act.objects.get(uid=form["uid"]))
    assert not m.Egg.objects.filter(batch__uid="hens-batch").exclude(removed_at=None).exists()


def test_a_move_leads_to_where_moves_are_noted(pages: Client, shown: Batches) -> None:
    answer = pages.get(f"{EVENT}?sort=moved")
    assert (answer.status_code, answer["Location"]) == (302, f"{HENS}move/")
    assert pages.get(answer["Location"]).status_code == 200


def test_an_hour_in_no_machine_is_told(pages: Client, shown: Batches) -> None:
    answer = send(pages, f"{QUAIL}event/?sort=water", {"at": "2026-01-05T10:00", "keep_at": "2026-01-05T10:00"})
    assert answer.status_code == 422
    assert "No stay says which machine" in text_of(answer.content.decode())


def test_a_machine_without_a_batch_has_its_events_too(pages: Client, shown: Batches) -> None:
    url = "/machines/larder-box/event/"
    html = pages.get(url).content.decode()
    assert f'href="{url}?sort=water"' in html
    assert "sort=misted" not in html
    answer = send(pages, f"{url}?sort=vents", {"note": "two open"})
    assert answer["Location"].startswith("/machines/larder-box/?done=")
    assert (_newest().machine_id, _newest().sort) == ("larder-box", "vents")


@pytest.mark.parametrize(
    "url",
    [f"{EVENT}?sort=flood", "/machines/nothing/event/", "/machines/larder-box/event/?sort=misted", "/batches/x/event/"],
)
def test_what_there_is_not_is_not_found(pages: Client, shown: Batches, url: str) -> None:
    assert pages.get(url).status_code == 404


def test_sent_twice_it_happened_once(pages: Client, shown: Batches) -> None:
    url = f"{EVENT}?sort=misted"
    form = opened(pages, url)
    assert pages.post(url, form)["Location"] == pages.post(url, form)["Location"]
    assert m.Event.objects.filter(sort="misted").count() == 1
