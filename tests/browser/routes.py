"""Every page of the notebook, found and not listed: links are followed from the page of the day, one page a route."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlsplit

from django.urls import Resolver404, URLPattern, URLResolver, get_resolver, resolve
from playwright.sync_api import Error, Page

#: Routes of which more than one page is opened: the five drawings of a batch differ.
EACH = {"batches/<uid:uid>/chart/<str:name>/": 5}
_FOUND = """() => [
  ...[...document.querySelectorAll("a[href]")].map(one => ["page", one.getAttribute("href")]),
  ...[...document.querySelectorAll("[hx-get]")].map(one => ["part", one.getAttribute("hx-get")]),
  ...[...document.querySelectorAll("form[action]")].map(one => ["form", one.getAttribute("action")]),
]"""


def routes(found: Iterable[Any] | None = None, stem: str = "") -> Iterator[str]:
    """Every route as it is written."""
    for one in get_resolver().url_patterns if found is None else found:
        route = stem + str(one.pattern)
        if isinstance(one, URLResolver):
            yield from routes(one.url_patterns, route)
        elif isinstance(one, URLPattern):
            yield route


def route_of(path: str) -> str | None:
    """The route that answers to a path; None for none."""
    try:
        return str(resolve(path).route)
    except Resolver404:
        return None


@dataclass(slots=True)
class Walk:
    """What was found on the way: pages opened (path -> route); routes of fragments, of forms, of files, and of what leads
    on to another page; dead links with the page they stand on."""

    pages: dict[str, str] = field(default_factory=dict)
    parts: set[str] = field(default_factory=set)
    forms: set[str] = field(default_factory=set)
    files: set[str] = field(default_factory=set)
    ways: set[str] = field(default_factory=set)
    dead: dict[str, str] = field(default_factory=dict)


def settled(page: Page) -> None:
    """Wait until everything that the page fetches by itself is in its place."""
    page.wait_for_selector("body:not(:has(.to-come)):not(:has(.htmx-request))", state="attached", timeout=20_000)


def walk(page: Page, base: str, starts: Iterable[str], look: Callable[[Page, str, str], None]) -> Walk:
    """Open one page for each route that a link leads to, beginning at `starts`; `look(page, route, path)` at each."""
    found, seen, known, waiting = Walk(), Counter[str](), set[str](), list(starts)
    while waiting:
        path = waiting.pop(0)
        plain = urlsplit(path).path
        route = route_of(plain)
        if route is None or plain in known or seen[route] >= EACH.get(route, 1):
            continue
        seen[route] += 1
        known.add(plain)
        if not opened(page, base + path):
            found.files.add(route)
            continue
        there = urlsplit(page.url).path
        if there != plain:
            found.ways.add(route)
            if there in known:
                continue
        known.add(there)
        path, route = (path, route) if there == plain else (there, route_of(there) or "")
        found.pages[path] = route
        look(page, route, path)
        waiting += _sorted(page, path, found)
    return found


def opened(page: Page, address: str) -> bool:
    """Open an address; False for what the browser takes as a file."""
    try:
        page.goto(address, wait_until="load")
    except Error as reason:
        if "Download is starting" not in str(reason):
            raise
        return False
    return True


def _sorted(page: Page, at: str, found: Walk) -> list[str]:
    """The addresses of a page, each put where it belongs; those of pages are given."""
    pages = []
    for sort, address in page.evaluate(_FOUND):
        if not address.startswith("/") or address.startswith("/static/"):
            continue
        route = route_of(urlsplit(address).path)
        if route is None:
            found.dead[address] = at
        elif sort == "form":
            found.forms.add(route)
        elif route and not route.endswith("/"):
            found.files.add(route)
        elif sort == "part":
            found.parts.add(route)
        else:
            pages.append(address.split("#")[0])
    return pages
