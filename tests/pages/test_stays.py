"""Where a batch lies: moved in one act, put right afterwards, never in two machines at once."""

from django.test import Client
from tests.pages.filled import again, form_of, send
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.records import models as m


def test_moved_to_the_hatching_box_one_stay_ends_and_the_next_begins(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["speckled-hens"]
    url = f"/batches/{batch.uid}/move/"
    assert "They lie in Larder box now." in text_of(pages.get(url).content.decode())
    response = send(pages, url, uid="moved", machine="hatching-box", at="2026-04-17T17:00")
    assert response["Location"].split("?")[0] == f"/batches/{batch.uid}/"
    made = m.Act.objects.get(uid=response["Location"].partition("done=")[2])
    assert (made.verb, {change.model for change in made.changes.all()}) == ("move", {"Stay"})
    first, second = batch.stays.order_by("start")
    assert first.end == second.start == NOW - 6_000
    assert (second.machine_id, second.end) == ("hatching-box", None)


def test_they_cannot_move_to_where_they_are(pages: Client, shown: dict[str, m.Batch]) -> None:
    response = send(pages, f"/batches/{shown['speckled-hens'].uid}/move/", machine="larder-box")
    assert "Choose one of the list." in text_of(response.content.decode())


def test_a_move_before_they_came_is_refused_and_one_to_come_is_asked_about(
    pages: Client, shown: dict[str, m.Batch]
) -> None:
    url = f"/batches/{shown['speckled-hens'].uid}/move/"
    early = send(pages, url, machine="hatching-box", at="2026-03-01T17:00")
    assert "The eggs came where they are only at" in text_of(early.content.decode())
    late = send(pages, url, machine="hatching-box", at="2026-05-01T17:00")
    assert "is still to come. When were they moved?" in text_of(late.content.decode())
    (value,) = [value for name, value in form_of(late.content.decode()).buttons if name == "answer_at"]
    assert again(pages, url, late, answer_at=value).status_code == 303


def test_a_stay_is_put_right_and_does_not_overlap(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["orchard-quail"]
    first, second = batch.stays.order_by("start")
    before = m.Stay.objects.values().get(uid=first.uid)
    assert send(pages, f"/stays/{first.uid}/").status_code == 303
    assert m.Stay.objects.values().get(uid=first.uid) == before
    open_ended = send(pages, f"/stays/{first.uid}/", end="")
    assert open_ended.status_code == 422
    backwards = send(pages, f"/stays/{first.uid}/", end="2020-01-01T00:00")
    assert "moved out after they moved in" in text_of(backwards.content.decode())
    assert pages.post(f"/stays/{second.uid}/", {"away": "1"}).status_code == 303
    assert batch.stays.count() == 1


def test_every_word_can_be_translated(pages: Client, shown: dict[str, m.Batch]) -> None:
    batch = shown["orchard-quail"]
    speak_pseudo()
    for url in (f"/batches/{batch.uid}/move/", *(f"/stays/{stay.uid}/" for stay in batch.stays.all())):
        assert unmarked(pages.get(url).content.decode(), *keepers_words()) == [], url
