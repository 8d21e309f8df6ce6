"""Addresses: whatever name a row has, its page is found; every form a job can ask for has a place."""

from urllib.parse import unquote

import pytest
from django.test import Client
from django.urls import resolve, reverse

from chalaza.pages import links
from chalaza.pages.uids import Uid
from chalaza.words.measures import CHECKS
from chalaza.words.numbers import Voice

NAMES = ["hens", "a/b", "~", "~s", "a~t/b", "ü", "50%", "a?b#c", "x'\"<&>"]


@pytest.mark.parametrize("uid", NAMES)
def test_any_name_finds_its_own_page(uid: str) -> None:
    assert Uid().to_python(Uid().to_url(uid)) == uid
    assert "/" not in Uid().to_url(uid)
    address = links.batch(uid)
    assert unquote(address) == unquote(reverse("batch", args=[uid]))
    assert resolve(unquote(address)).kwargs == {"uid": uid}


@pytest.mark.parametrize("form", ["weigh", "candle", "mark", "hatch", "open", "event:water", "check:ice", "mount"])
def test_every_form_of_a_job_has_an_address(form: str) -> None:
    for probe in (None, "probe-1"):
        found = links.form(Voice(), "hens", form, probe)
        assert found is not None
        assert found.href.startswith(("/batches/hens/", "/probes/probe-1/", "/machines/"))
        assert found.label
    assert links.form(Voice(), "hens", "") is None


def test_every_check_that_can_be_offered_has_a_form() -> None:
    assert set(links.OFFERS) == set(CHECKS)
    assert all(links.form(Voice(), "hens", form, "p") for form in links.OFFERS.values())


@pytest.mark.django_db
def test_the_sort_of_an_event_goes_along(pages: Client) -> None:
    found = links.form(Voice(), "hens", "event:turning_stopped")
    assert found is not None
    assert found.href == "/batches/hens/event/?sort=turning_stopped"
