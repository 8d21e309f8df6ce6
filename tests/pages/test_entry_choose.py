"""What is to be written: every running batch, every entry."""

from collections.abc import Mapping

import pytest
from django.test import Client
from tests.pages.entering import HENS
from tests.pages.pseudo import keepers_words, speak_pseudo, unmarked
from tests.pages.reading import text_of
from tests.records.demo import NOW

from chalaza.pages.entry.choose import ENTRIES
from chalaza.records import acts
from chalaza.records import models as m

pytestmark = pytest.mark.django_db

Batches = Mapping[str, m.Batch]


def test_every_running_batch_leads_to_every_entry(pages: Client, shown: Batches) -> None:
    html = pages.get("/write/").content.decode()
    for batch in shown.values():
        for part, _ in ENTRIES:
            href = f"/batches/{batch.uid}/{part}"
            assert f'href="{href}"' in html
            assert pages.get(href).status_code == 200


def test_a_finished_batch_is_left_out_and_an_empty_notebook_leads_to_the_first(pages: Client, shown: Batches) -> None:
    for batch in shown.values():
        batch.finished_at = NOW
        acts.act(m.Keeper.objects.the_one(), "finish", save=[batch])
    html = pages.get("/write/").content.decode()
    assert "nothing to write about yet" in text_of(html)
    assert 'href="/begin/"' in html


@pytest.mark.parametrize(
    "part",
    [*(part for part, _ in ENTRIES), "weigh/together/", "open/counted/", "event/?sort=water", "event/?sort=set_point",
     "event/?sort=removed", "event/?sort=power_off", "turn/"],
)  # fmt: skip
def test_every_entry_speaks_the_keepers_language(pages: Client, shown: Batches, part: str) -> None:
    speak_pseudo()
    assert unmarked(pages.get(f"{HENS}{part}").content.decode(), *keepers_words()) == []
    assert unmarked(pages.post(f"{HENS}{part}", {}).content.decode(), *keepers_words()) == []


def test_the_page_to_choose_speaks_the_keepers_language(pages: Client, shown: Batches) -> None:
    speak_pseudo()
    assert unmarked(pages.get("/write/").content.decode(), *keepers_words()) == []
