"""One browser and one served demonstration for the tests of a module, and phones to look at it with."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright
from tests.browser.served import chromium, served

#: How long a step may take on a busy machine.
PATIENCE_MS = 20_000
expect.set_options(timeout=PATIENCE_MS)
PHONE = {"width": 390, "height": 844}


@dataclass(frozen=True, slots=True)
class Served:
    """A notebook that is served: its address, and its tables to read beside the program."""

    base: str
    folder: Path

    def rows(self, question: str, *values: Any) -> list[tuple[Any, ...]]:
        """What the tables hold now."""
        path = next(self.folder.rglob("notebook.db"))
        with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=20)) as tables:
            return list(tables.execute(question, values))


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A real browser."""
    if (program := chromium()) is None:
        pytest.skip("there is no Chromium here: sh tools/browser.sh installs it where that is allowed")
    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield made
        made.close()


@pytest.fixture(scope="module")
def notebook(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demonstration as a keeper starts it, its clock stopped, in a folder of its own."""
    folder = tmp_path_factory.mktemp("notebook")
    with served(folder) as base:
        yield Served(base, folder)


@pytest.fixture
def phone(browser: Browser) -> Iterator[Callable[[], Page]]:
    """Makes pages of a phone that remembers nothing; what goes wrong in their scripts fails the test."""
    made: list[BrowserContext] = []
    faults: list[str] = []

    def page() -> Page:
        context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)  # type: ignore[arg-type]  # a size
        made.append(context)
        found = context.new_page()
        found.set_default_timeout(PATIENCE_MS)
        found.on("pageerror", lambda fault: faults.append(str(fault)))
        return found

    yield page
    for context in made:
        context.close()
    assert faults == []
