"""What a page needs to keep entries: a fresh token, and the name of the notebook they are for."""

import re

import pytest
from django.conf import settings
from django.test import Client
from tests.browser import Browser
from tests.pages.pseudo import speak_pseudo

pytestmark = pytest.mark.django_db


def test_the_token_is_one_a_form_can_be_sent_with(empty: None) -> None:
    browser = Browser(enforce_csrf_checks=True)
    assert browser.post("/done/", {"key": "x"}).status_code == 403
    answer = browser.get("/form-token/")
    assert answer["Cache-Control"] == "no-store"
    token = answer.json()["token"]
    assert settings.CSRF_COOKIE_NAME in answer.cookies
    assert browser.post("/done/", {"key": "x", "csrfmiddlewaretoken": token}).status_code == 404


def test_only_asking_is_allowed(pages: Client) -> None:
    assert pages.post("/form-token/").status_code == 405


def test_every_page_names_its_notebook_without_telling_its_secret(pages: Client) -> None:
    html = pages.get("/history/").content.decode()
    found = re.search(r'data-notebook="([0-9a-f]{12})"', html)
    assert found is not None
    assert found[1] not in settings.SECRET_KEY
    assert 'aria-live="polite"' in html


def test_what_the_script_says_is_in_the_keepers_language(pages: Client) -> None:
    speak_pseudo()
    html = pages.get("/history/").content.decode()
    said = re.findall(r'data-(?:one|many|fleeting|refused|gone|again|discard)="([^"]*)"', html)
    assert len(said) == 7
    assert all(text.startswith("⟦") for text in said)
    assert "{n}" in said[0]
