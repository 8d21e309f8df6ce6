"""The eggs of a batch as a table: sizes in every unit, eggs taken out and put back, more of them, rows that never were."""

import pytest
from django.test import Client
from tests.pages.filled import fields, form_of, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import models as m


@pytest.fixture
def url(shown: dict[str, m.Batch]) -> str:
    """The table of the ducks: nine eggs that nothing rests on yet."""
    return f"/batches/{shown['pond-ducks'].uid}/eggs/"


def _egg(shown: dict[str, m.Batch], label: str) -> m.Egg:
    return m.Egg.objects.get(batch__uid=shown["pond-ducks"].uid, label=label)


@pytest.mark.parametrize("units", ["both", "us"])
def test_the_table_sent_as_it_came_changes_nothing(
    pages: Client, shown: dict[str, m.Batch], url: str, units: str
) -> None:
    m.Egg.objects.filter(label="A1").update(length_mm=61.2345678, breadth_mm=43.3333)
    m.Keeper.objects.update(units=units)
    before = list(m.Egg.objects.order_by("id").values())
    response = send(pages, url)
    assert response.status_code == 303
    assert list(m.Egg.objects.order_by("id").values()) == before


def test_what_is_written_in_some_rows_is_one_act(pages: Client, shown: dict[str, m.Batch], url: str) -> None:
    one, two = _egg(shown, "A1"), _egg(shown, "A2")
    m.Keeper.objects.update(units="us")
    response = send(
        pages, url,
        **{f"e{one.pk}-length_mm": "2.5", f"e{one.pk}-breadth_mm": "1,8", f"e{one.pk}-position": "front",
           f"e{two.pk}-label": "Blue", f"e{two.pk}-shell": "dark"},
    )  # fmt: skip
    made = m.Act.objects.get(uid=response["Location"].partition("done=")[2])
    assert {change.row for change in made.changes.all()} == {one.uid, two.uid}
    one.refresh_from_db()
    two.refresh_from_db()
    assert (one.length_mm, one.breadth_mm, one.position) == (pytest.approx(63.5), pytest.approx(45.72), "front")
    assert (two.label, two.shell) == ("Blue", "dark")


def test_an_egg_is_taken_out_at_a_moment_and_put_back(pages: Client, shown: dict[str, m.Batch], url: str) -> None:
    egg = _egg(shown, "A3")
    send(pages, url, **{f"e{egg.pk}-out": "on", "out_at": "2026-04-17T12:00"})
    egg.refresh_from_db()
    assert egg.removed_at == NOW - 6 * 3600 - 40 * 60
    held = fields(pages, url)
    assert held[f"e{egg.pk}-out"] == "on"
    send(pages, url, out_at="2026-04-17T13:00")
    egg.refresh_from_db()
    assert egg.removed_at == NOW - 6 * 3600 - 40 * 60
    send(pages, url, **{f"e{egg.pk}-out": "-"})
    egg.refresh_from_db()
    assert egg.removed_at is None


@pytest.mark.parametrize("moment", ["2026-04-01T12:00", "2026-05-01T12:00", ""])
def test_an_egg_is_taken_out_while_it_was_in(pages: Client, shown: dict[str, m.Batch], url: str, moment: str) -> None:
    egg = _egg(shown, "A3")
    response = send(pages, url, **{f"e{egg.pk}-out": "on", "out_at": moment})
    assert response.status_code == 422
    assert "after the setting and not after now" in text_of(response.content.decode())


def test_more_eggs_are_labelled_on(pages: Client, shown: dict[str, m.Batch], url: str) -> None:
    before = set(m.Egg.objects.filter(batch__uid=shown["pond-ducks"].uid).values_list("label", flat=True))
    send(pages, url, uid="more", more="3", group="12", group_label="second tray")
    batch = shown["pond-ducks"]
    fresh = batch.eggs.filter(uid__startswith="more").order_by("id")
    assert [egg.label for egg in fresh] == ["B4", "B5", "B6", "second tray"]
    assert fresh.last().count == 12
    assert {egg.lot_id for egg in fresh} == {batch.lots.get().uid}
    assert before == {f"A{n}" for n in range(1, 7)} | {"B1", "B2", "B3"}
    html = pages.get(url).content.decode()
    assert f'name="e{fresh.last().pk}-count"' in html
    send(pages, url, **{f"e{fresh.last().pk}-count": "11"})
    assert batch.eggs.get(label="second tray").count == 11


def test_rows_that_never_were_eggs_go_and_strangers_are_told(
    pages: Client, shown: dict[str, m.Batch], url: str
) -> None:
    eggs = m.Egg.objects.filter(batch__uid=shown["pond-ducks"].uid)
    before = set(eggs.values_list("label", flat=True))
    send(pages, url, more="2")
    added = sorted(set(eggs.values_list("label", flat=True)) - before)
    told = send(pages, url, never=f"{added[0]}, C99")
    assert "No egg is called C99." in text_of(told.content.decode())
    assert eggs.count() == len(before) + 2
    send(pages, url, never=", ".join(added))
    assert set(eggs.values_list("label", flat=True)) == before


def test_an_egg_that_was_weighed_stays_for_its_weighings_name_it(
    pages: Client, shown: dict[str, m.Batch], url: str
) -> None:
    told = send(pages, url, never="B3")
    assert told.status_code == 422
    assert "this rests on it: weighing Pond ducks" in text_of(told.content.decode())
    assert m.Egg.objects.filter(batch__uid=shown["pond-ducks"].uid, label="B3").exists()


def test_an_egg_that_was_looked_at_stays(pages: Client, shown: dict[str, m.Batch]) -> None:
    url = f"/batches/{shown['speckled-hens'].uid}/eggs/"
    response = send(pages, url, never="A1")
    assert response.status_code == 422
    assert "this rests on it: weighing" in text_of(response.content.decode())


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("length_mm", "long", "is no length of an egg"),
        ("length_mm", "900", "allowed: 8 to 200 mm"),
        ("label", "", "This is needed."),
        ("label", "A2", "Another egg has this label already."),
    ],
)
def test_what_is_wrong_in_a_row_is_told_and_nothing_is_kept(
    pages: Client, shown: dict[str, m.Batch], url: str, field: str, typed: str, says: str
) -> None:
    one, other = _egg(shown, "A1"), _egg(shown, "A4")
    response = send(pages, url, **{f"e{one.pk}-{field}": typed, f"e{other.pk}-length_mm": "60"})
    html = response.content.decode()
    assert response.status_code == 422
    assert says in text_of(html)
    assert form_of(html).values[f"e{one.pk}-{field}"] == typed
    assert form_of(html).values[f"e{other.pk}-length_mm"] == "60"
    other.refresh_from_db()
    assert other.length_mm is None


def test_an_egg_broader_than_long_is_told(pages: Client, shown: dict[str, m.Batch], url: str) -> None:
    one = _egg(shown, "A1")
    response = send(pages, url, **{f"e{one.pk}-length_mm": "43", f"e{one.pk}-breadth_mm": "61"})
    assert "longer than broad" in text_of(response.content.decode())


def test_a_group_wants_a_name_and_a_number(pages: Client, shown: dict[str, m.Batch], url: str) -> None:
    assert "wants a name" in text_of(send(pages, url, group="12").content.decode())
    assert "How many eggs" in text_of(send(pages, url, group_label="second").content.decode())
    assert "this label already" in text_of(send(pages, url, group="2", group_label="A1").content.decode())


def test_two_lots_are_chosen_from(pages: Client, shown: dict[str, m.Batch], url: str) -> None:
    batch, egg = shown["pond-ducks"], _egg(shown, "A1")
    send(pages, f"/batches/{batch.uid}/lots/new/", uid="two", parents="Other ducks")
    assert "Other ducks" in pages.get(url).content.decode()
    send(pages, url, **{f"e{egg.pk}-lot": "two"})
    egg.refresh_from_db()
    assert egg.lot_id == "two"
    send(pages, url, **{f"e{egg.pk}-lot": ""})
    egg.refresh_from_db()
    assert egg.lot_id is None


def test_every_word_can_be_translated(pages: Client, shown: dict[str, m.Batch], url: str) -> None:
    speak_pseudo()
    assert unmarked(pages.get(url).content.decode(), *keepers_words()) == []
