"""From an empty notebook to a batch that is assessed: few fields, each default with its source, slips asked about."""

import re
from html.parser import HTMLParser

import pytest
from django.test import Client

from chalaza import facts
from chalaza.records import answers
from chalaza.records import models as m

#: Sat 11 April 2026, 12:00 in Berlin.
NOW = 1_775_901_600
FIRST = {
    "uid": "first", "kind": "hen", "eggs": "24", "set_at": "2026-04-10T18:00", "batch_name": "Spring hens",
    "parents": "Yard flock", "machine_name": "Larder box", "airflow": "fan", "probe_sort": "display",
    "place_name": "Home", "altitude_m": "140", "zone": "Europe/Berlin",
}  # fmt: skip


@pytest.fixture(autouse=True)
def stopped_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """The notebook's clock stands still."""
    monkeypatch.setenv("CHALAZA_CLOCK", str(NOW))


class _Needed(HTMLParser):
    """Names of the fields that must be filled in."""

    def __init__(self) -> None:
        super().__init__()
        self.names: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        if tag in ("input", "select", "textarea") and "required" in found:
            self.names.add(str(found.get("name")))


def _needed(html: str) -> set[str]:
    parser = _Needed()
    parser.feed(html)
    return parser.names


def test_the_first_batch_asks_for_twelve_things_at_most(pages: Client) -> None:
    names = _needed(pages.get("/begin/").content.decode())
    assert 0 < len(names) <= 12
    assert names == set(FIRST) - {"uid"}


def test_an_empty_notebook_leads_to_a_batch_that_is_assessed(pages: Client) -> None:
    response = pages.post("/begin/", FIRST)
    assert (response.status_code, response["Location"].split("?")[0]) == (303, "/batches/first/")
    batch = m.Batch.objects.get(uid="first")
    assert (batch.name, batch.kind, batch.zone) == ("Spring hens", "chicken", "Europe/Berlin")
    assert batch.set_at == 1_775_836_800  # 18:00 in Berlin is 16:00 UTC in summer
    assert [egg.label for egg in batch.eggs.order_by("id")][5:8] == ["A6", "B1", "B2"]
    stay = batch.stays.get()
    assert (stay.start, stay.machine.name, stay.machine.place.altitude_m) == (batch.set_at, "Larder box", 140.0)
    mount = stay.machine.mounts.get()
    assert (mount.probe.sort, mount.probe.name, mount.start) == ("display", "Display of Larder box", batch.set_at)
    assert batch.lots.get().parents.name == "Yard flock"
    assessed = answers.of("first", NOW).assessment
    assert assessed.count.set == 24
    half = assessed.clock.half_hatched
    assert half.low < half.value < half.high
