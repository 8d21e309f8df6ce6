"""All pages of setting up alike: what is not there is not found, looking changes nothing, nonsense is answered in words."""

from typing import Any

import pytest
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.pages.filled import fields, form_of, send

from chalaza.records import models as m
from chalaza.records.acts import as_json

#: Pages without a row in their address.
PLAIN = (
    "/begin/", "/begin/usual/", "/batches/new/", "/machines/", "/machines/new/", "/places/new/", "/probes/new/", "/parents/",
    "/parents/new/", "/reading/", "/facts/", "/facts/chicken/", "/sources/",
)  # fmt: skip
#: Pages of a row: address with a hole, and the model of the row.
OF_ROWS: tuple[tuple[str, Any], ...] = (
    ("/machines/{}/", m.Machine), ("/machines/{}/edit/", m.Machine), ("/places/{}/", m.Place), ("/probes/{}/", m.Probe),
    ("/probes/{}/edit/", m.Probe), ("/probes/{}/hang/", m.Probe), ("/probes/{}/check/", m.Probe),
    ("/probes/{}/check/?sort=compare", m.Probe), ("/probes/{}/check/?sort=salt", m.Probe),
    ("/probes/{}/check/?sort=boil", m.Probe), ("/probes/{}/check/?sort=ice", m.Probe),
    ("/probes/{}/check/?sort=dry_box", m.Probe), ("/mounts/{}/", m.Mount), ("/parents/{}/", m.Parents),
    ("/lots/{}/", m.Lot), ("/stays/{}/", m.Stay), ("/batches/{}/edit/", m.Batch), ("/batches/{}/lots/new/", m.Batch),
    ("/batches/{}/move/", m.Batch), ("/batches/{}/eggs/", m.Batch),
)  # fmt: skip
READ_ONLY = ("/begin/usual/", "/machines/", "/parents/", "/facts/", "/facts/chicken/", "/sources/")
#: Strings that break what is careless with them.
NASTY = ("\x00", "{", "{0}", "%s", "<script>", "'; --", "🥚" * 20, "\u202e", "1e999", "nan", "-inf", "0x10", " ")


def _everything() -> list[Any]:
    models = [model for model in m.Act._meta.apps.get_app_config("records").get_models() if model is not m.Chunk]
    return [
        as_json(row) if hasattr(row, "uid") else row.pk
        for model in models
        for row in model._default_manager.order_by("pk")
    ]


def _row(model: Any) -> str:
    return str(model._default_manager.order_by("id").first().uid)


def _addresses() -> list[str]:
    return [*PLAIN, *(address.format(_row(model)) for address, model in OF_ROWS)]


def test_looking_at_any_page_changes_nothing(pages: Client, shown: dict[str, m.Batch]) -> None:
    before = _everything()
    for address in _addresses():
        response = pages.get(address)
        assert response.status_code in (200, 302), address
        assert pages.head(address).status_code == response.status_code
    assert _everything() == before


def test_other_methods_are_refused(pages: Client, shown: dict[str, m.Batch]) -> None:
    for address in _addresses():
        for send_ in (pages.put, pages.delete, pages.patch):
            assert send_(address).status_code == 405, address
    for address in READ_ONLY:
        assert pages.post(address).status_code == 405, address


@pytest.mark.parametrize(("address", "model"), OF_ROWS, ids=[address for address, _ in OF_ROWS])
def test_a_row_that_is_not_there_is_not_found(
    pages: Client, shown: dict[str, m.Batch], address: str, model: Any
) -> None:
    for uid in ("nothing", "%00", "a%00b", "%7E", "..", "x" * 500, "%F0%9F%A5%9A"):
        assert pages.get(address.format(uid)).status_code == 404, uid
        assert pages.post(address.format(uid), {"away": "1"}).status_code in (404, 405), uid


def test_a_row_whose_name_has_a_slash_has_its_pages(pages: Client, shown: dict[str, m.Batch]) -> None:
    m.Machine.objects.create(uid="a/b~c", place_id="shed", name="Odd", airflow="fan")
    html = pages.get("/machines/").content.decode()
    assert 'href="/machines/a~sb~tc/"' in html
    assert pages.get("/machines/a~sb~tc/").status_code == 200
    assert send(pages, "/machines/a~sb~tc/edit/", name="Odder").status_code == 303


def test_a_form_sent_twice_does_it_once(pages: Client, shown: dict[str, m.Batch]) -> None:
    for address, model in (("/machines/new/", m.Machine), ("/probes/new/", m.Probe), ("/parents/new/", m.Parents)):
        data = {
            **fields(pages, address), "name": "Twice", "airflow": "fan", "sort": "glass", "where": "",
        }  # fmt: skip
        before = model._default_manager.count()
        first, second = pages.post(address, data), pages.post(address, data)
        assert first["Location"] == second["Location"]
        assert model._default_manager.count() == before + 1


def test_a_form_sent_again_with_other_words_changes_the_same_row(pages: Client, shown: dict[str, m.Batch]) -> None:
    data = {**fields(pages, "/parents/new/"), "name": "Once"}
    pages.post("/parents/new/", data)
    pages.post("/parents/new/", {**data, "name": "Once, put right"})
    names = set(m.Parents.objects.values_list("name", flat=True))
    assert "Once, put right" in names
    assert "Once" not in names


def test_undoing_what_was_made_leads_to_a_page_that_is_there(pages: Client, shown: dict[str, m.Batch]) -> None:
    for address, model, more in (
        ("/machines/new/", m.Machine, {}), ("/probes/new/", m.Probe, {}), ("/parents/new/", m.Parents, {}),
        ("/places/new/", m.Place, {"altitude_m": "0"}),
        ("/batches/new/", m.Batch, {"machine": "small-box", "kind": "hen", "eggs": "3", "batch_name": "x", "parents": "y"}),
    ):  # fmt: skip
        before = model._default_manager.count()
        made = send(pages, address, name="Slip", airflow="fan", sort="glass", **more)
        page = pages.get(made["Location"])
        assert page.status_code == 200
        data = {"back": made["Location"].split("?")[0]}
        undone = pages.post(f"/undo/{made['Location'].partition('done=')[2]}/", data)
        assert model._default_manager.count() == before
        assert pages.get(undone["Location"], follow=True).status_code == 200, address


def test_every_page_has_one_heading_and_every_field_a_label(pages: Client, shown: dict[str, m.Batch]) -> None:
    for address in _addresses():
        html = pages.get(address, follow=True).content.decode()
        if "<html" not in html:
            continue
        assert html.count("<h1") == 1, address
        for name in form_of(html).names - {"csrfmiddlewaretoken", "uid"}:
            if f'type="hidden" name="{name}"' not in html:
                assert f'for="id_{name}' in html, (address, name)


def test_no_style_and_no_script_stands_in_a_page(pages: Client, shown: dict[str, m.Batch]) -> None:
    for address in _addresses():
        html = pages.get(address, follow=True).content.decode()
        assert " style=" not in html, address
        assert "<style" not in html, address
        assert "<script>" not in html, address
        assert " onclick" not in html, address


def test_careless_strings_are_answered_in_words(pages: Client, shown: dict[str, m.Batch]) -> None:
    for address in _addresses():
        html = pages.get(address, follow=True).content.decode()
        for nasty in NASTY:
            data = {name: nasty for name in form_of(html).names if name not in ("csrfmiddlewaretoken", "uid")}
            if data:
                response = pages.post(address, {**data, "uid": nasty})
                assert response.status_code in (303, 422), (address, nasty)
        query = {
            "q": nasty,
            "sort": nasty,
            "kind": nasty,
            "airflow": nasty,
            "machine": nasty,
            "where": nasty,
            "done": nasty,
        }
        assert pages.get(address, query).status_code in (200, 302, 404), address


def test_bytes_that_are_no_letters_are_answered_too(pages: Client, shown: dict[str, m.Batch]) -> None:
    sent = b"name=%ED%A0%80%FF&airflow=fan&place=shed"
    response = pages.post("/machines/new/", sent, content_type="application/x-www-form-urlencoded")
    assert response.status_code in (303, 422)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(st.data())
def test_whatever_is_typed_into_any_form_it_is_answered(
    pages: Client, shown: dict[str, m.Batch], data: st.DataObject
) -> None:
    addresses = _addresses()
    address = data.draw(st.sampled_from(addresses))
    form = form_of(pages.get(address, follow=True).content.decode())
    names = sorted(form.names - {"csrfmiddlewaretoken"})
    if not names:
        return
    for name in data.draw(st.lists(st.sampled_from(names), min_size=1, max_size=4, unique=True)):
        form.values[name] = data.draw(st.text(max_size=60))
    response = pages.post(address, form.values)
    assert response.status_code in (303, 422), (address, form.values)


def test_what_another_page_wrote_in_the_meantime_is_kept(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["speckled-hens"]
    address = f"/batches/{batch.uid}/edit/"
    early = fields(pages, address)
    assert send(pages, address, name="Hens of spring").status_code == 303
    assert pages.post(address, {**early, "note": "in the shed"}).status_code == 303
    batch.refresh_from_db()
    assert (batch.name, batch.note) == ("Hens of spring", "in the shed")


def test_a_table_of_eggs_that_lay_open_takes_nothing_back(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["pond-ducks"]
    first, second = batch.eggs.order_by("id")[:2]
    address = f"/batches/{batch.uid}/eggs/"
    early = fields(pages, address)
    sizes = {f"e{first.pk}-length_mm": "66", f"e{first.pk}-breadth_mm": "47", f"e{first.pk}-out": "on"}
    assert send(pages, address, **sizes).status_code == 303
    late = {f"e{first.pk}-shell": "dark", f"e{second.pk}-length_mm": "65"}
    assert pages.post(address, {**early, **late}).status_code == 303
    first.refresh_from_db()
    second.refresh_from_db()
    assert (first.length_mm, first.breadth_mm, first.shell, second.length_mm) == (66.0, 47.0, "dark", 65.0)
    assert first.removed_at is not None


@pytest.mark.parametrize("sent", ["", "x", "-1", "9" * 40, "٣", "\x00"])
def test_a_strange_word_for_when_a_page_was_made_is_no_word(
    pages: Client, shown: dict[str, m.Batch], sent: str
) -> None:
    address = f"/batches/{shown['speckled-hens'].uid}/edit/"
    assert send(pages, address, note="kept", began=sent).status_code == 303
