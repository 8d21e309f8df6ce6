"""Sends entry forms as a browser does: with the uid, the session and the hour the page holds."""

import re
from typing import Any

from django.test import Client
from tests.pages.filled import _Form

HENS = "/batches/hens-batch/"
QUAIL = "/batches/quail-batch/"
DUCKS = "/batches/ducks-batch/"


class _Any(_Form):
    """The first form of a page that is sent by POST, whatever its class; not the bar that offers to undo."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "form" and "at-thumb" not in (given.get("class") or ""):
            attrs = [*attrs, ("class", "setup")]
        super().handle_starttag(tag, attrs)


def held(html: str) -> dict[str, str]:
    """What the form of a page holds."""
    form = _Any()
    form.feed(html)
    form.close()
    return form.values


def opened(pages: Client, url: str) -> dict[str, str]:
    """What the form of a page holds when it is opened."""
    return held(pages.get(url).content.decode())


def send(pages: Client, url: str, said: dict[str, Any] | None = None, **more: Any) -> Any:
    """The answer to a form with these fields written over."""
    return pages.post(url, {**opened(pages, url), **(said or {}), **more})


def by_script(pages: Client, url: str, said: dict[str, Any]) -> Any:
    """The answer to a form that a page's script sends."""
    return pages.post(url, said, headers={"outbox": "1"})


def done(answer: Any) -> str:
    """The uid of the act an answer leads on with."""
    found = re.search(r"[?&]done=([^&]+)", answer["Location"])
    assert found is not None, answer["Location"]
    return found[1]
