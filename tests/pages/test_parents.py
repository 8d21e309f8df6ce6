"""Parents: flocks and pairs with the batches of their eggs; a name stands once."""

from django.test import Client
from tests.pages.filled import fields, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of

from chalaza.records import models as m


def test_each_flock_shows_the_batches_of_its_eggs(pages: Client, shown: dict[str, m.Batch]) -> None:
    html = pages.get("/parents/").content.decode()
    for batch in shown.values():
        assert f'href="/batches/{batch.uid}/"' in html
    for parents in m.Parents.objects.all():
        assert parents.name in text_of(html)


def test_an_empty_notebook_says_where_they_come_from(pages: Client, empty: None) -> None:
    assert "They come with the first batch." in text_of(pages.get("/parents/").content.decode())


def test_a_flock_is_kept_and_comes_back_unchanged(pages: Client, empty: None) -> None:
    assert (
        send(pages, "/parents/new/", uid="yard", name="Yard flock", kind="guineas", note="Five hens").status_code == 303
    )
    row = m.Parents.objects.get(uid="yard")
    assert (row.name, row.kind, row.note) == ("Yard flock", "guinea", "Five hens")
    assert fields(pages, "/parents/yard/")["kind"] == "Helmeted guinea fowl"
    before = m.Parents.objects.values().get(uid="yard")
    send(pages, "/parents/yard/")
    assert m.Parents.objects.values().get(uid="yard") == before
    send(pages, "/parents/yard/", kind="")
    assert m.Parents.objects.get(uid="yard").kind == ""


def test_a_name_stands_once(pages: Client, shown: dict[str, m.Batch]) -> None:
    response = send(pages, "/parents/new/", name="Speckled hens")
    assert response.status_code == 422
    assert "already" in text_of(response.content.decode())


def test_parents_with_eggs_stay_and_those_without_go(pages: Client, shown: dict[str, m.Batch]) -> None:
    held = m.Parents.objects.get(name="Speckled hens")
    assert pages.post(f"/parents/{held.uid}/", {"away": "1"}).status_code == 409
    send(pages, "/parents/new/", uid="none", name="No eggs")
    assert pages.post("/parents/none/", {"away": "1"}).status_code == 303


def test_every_word_can_be_translated(pages: Client, shown: dict[str, m.Batch]) -> None:
    held = m.Parents.objects.get(name="Speckled hens")
    speak_pseudo()
    for url in ("/parents/", "/parents/new/", f"/parents/{held.uid}/"):
        assert unmarked(pages.get(url).content.decode(), *keepers_words()) == [], url
