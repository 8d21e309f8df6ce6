"""Every page, in a real browser, on a phone and on a desk: nothing from elsewhere, nothing refused, nothing in the way."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from tests.browser.conftest import Served
from tests.browser.routes import Walk, route_of, routes, settled, walk

pytestmark = pytest.mark.browser

PHONE, DESK = 390, 1280
SEEN = (Path(__file__).parent / "seen.js").read_text(encoding="utf-8")
#: Where the walk begins: what links lead to is found from there.
STARTS = (
    "/",
    "/batches/hens-batch/",
    *(f"/batches/hens-batch/chart/{name}/" for name in ("warmth", "water", "clock", "count", "eggs")),
    "/patterns/",
)
#: Routes that no page of the demonstration leads to, with the reason.
NO_PAGE = {
    "batches/<uid:uid>/line/": "a page of the day fetches it for a batch whose answer is stale",
    "form-token/": "entries that waited for reception fetch it",
    "let-in/<slug:code>/": "a phone opens it by the code it was shown",
    "phones/list/": "the page of phones fetches it while a code is shown",
    "phones/<uid:uid>/put-out/": "there is no phone in the demonstration",
    "bring/<uid:uid>/clash/": "a batch from elsewhere leads to it, when things of its names are here already",
    "bring/<uid:uid>/renamed/": "that page sends it",
    "doing/<uid:uid>/cancel/": "work that is under way offers it; here it is over before one can look",
    "logs/<uid:uid>/take-again/": "the page of a withdrawn log sends it",
    "probes/": "leads on to the machines, for who types it",
    "notebook/copies/<str:name>/put-back/": "there is no copy in the demonstration",
}
#: A log whose clock is a question: twelve days, an hour apart.
LOG = "Date,Time,T1 (C),RH\n" + "".join(
    f"{day:02d}/04/2026,{hour:02d}:00,{37.2 + 0.1 * (hour % 5):.1f},{40 + hour % 7}\n"
    for day in range(1, 13)
    for hour in range(24)
)
_AXE = Axe()


@dataclass(slots=True)
class Visit:
    """What one page showed at one width; `faults` are sentences of what is wrong."""

    path: str
    title: str
    faults: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Found:
    """The walk, and what each page showed by its width."""

    base: str
    walk: Walk = field(default_factory=Walk)
    visits: dict[int, list[Visit]] = field(default_factory=dict)


@pytest.fixture(scope="module")
def demo(notebook: Served) -> str:
    """The address of the demonstration."""
    return notebook.base


@pytest.fixture(scope="module")
def found(browser: Browser, demo: str) -> Found:
    """Every page visited once, as wide as a phone and then as wide as a desk."""
    out = Found(demo, visits={PHONE: [], DESK: []})
    page = browser.new_page(viewport={"width": PHONE, "height": 844})
    heard = _listen(page, demo)

    def look(page: Page, route: str, path: str) -> None:
        for width, visits in out.visits.items():
            page.set_viewport_size({"width": width, "height": 844})
            visits.append(_visit(page, path, width, heard))
        page.set_viewport_size({"width": PHONE, "height": 844})

    written = []
    for state in _write(page, demo):
        look(page, "", state)
        written.append(page.url)
    there = [urlsplit(one).path for one in written if page.request.get(one).ok]
    out.walk = walk(page, demo, [*STARTS, *there], look)
    page.close()
    return out


def _write(page: Page, base: str) -> Iterator[str]:
    """Write in the notebook as a keeper does; the address of each page that follows and is in a state of its own."""
    page.goto(base + "/begin/")
    page.locator("form.setup button.press").click()
    page.wait_for_selector(".wrongsay")
    yield "a form sent empty"
    page.goto(base + "/batches/hens-batch/note/")
    page.locator("textarea").fill("A hairline crack in B2.")
    page.locator("form .press").first.click()
    page.wait_for_selector(".undo")
    yield "the bar after a note"
    page.goto(base + "/probes/p1/check/?sort=ice")
    page.locator("#id_reading").fill("0.3")
    page.locator("form .press").first.click()
    page.wait_for_selector(".undo")
    yield "the bar after a check"
    _send(page, base, "march.csv")
    yield "a question about a log"
    page.locator("select").first.select_option(index=1)
    page.locator("button[name=read]").click()
    page.wait_for_url("**/logs/*/?done=*", timeout=30_000)
    yield "a log that was taken in"
    _send(page, base, "april.csv")
    yield "another question about a log"
    whole = page.request.get(base + "/batches/hens-batch/folder.zip").body()
    page.goto(base + "/bring/")
    page.set_input_files("input[type=file]", {"name": "hens.zip", "mimeType": "application/zip", "buffer": whole})
    page.locator("form .press").first.click()
    page.wait_for_selector("main [role=alert]", timeout=30_000)
    yield "slow work that is refused"


def _send(page: Page, base: str, name: str) -> None:
    page.goto(base + "/logs/")
    log = LOG.replace("/04/", "/03/") if name == "march.csv" else LOG
    page.set_input_files("input[type=file]", {"name": name, "mimeType": "text/csv", "buffer": log.encode()})
    page.locator("form .press").first.click()
    page.wait_for_url("**/logs/waiting/**")


def _listen(page: Page, base: str) -> list[str]:
    """What the browser complains of, and what it asks elsewhere, from now on."""
    heard: list[str] = []
    # A form that is refused comes back as 422; the browser tells of it as of a fault.
    page.on(
        "console",
        lambda one: (
            heard.append(f"console: {one.text}")
            if one.type in ("error", "warning") and "status of 422" not in one.text
            else None
        ),
    )
    page.on("pageerror", lambda one: heard.append(f"script: {one}"))
    page.on(
        "request", lambda one: None if one.url.startswith(base + "/") else heard.append(f"asked elsewhere: {one.url}")
    )
    page.on(
        "response",
        lambda one: heard.append(f"{one.status} {one.url}") if one.status >= 400 and one.status != 422 else None,
    )
    return heard


def _visit(page: Page, path: str, width: int, heard: list[str]) -> Visit:
    """Look at the page that is open; what was heard before is forgotten."""
    settled(page)
    seen = page.evaluate(SEEN)
    visit = Visit(path, seen["title"], list(heard))
    heard.clear()
    if seen["h1"] != 1 or seen["main"] != 1:
        visit.faults.append(f"{seen['h1']} h1, {seen['main']} main")
    if not seen["lang"] or not seen["title"]:
        visit.faults.append(f"lang {seen['lang']!r}, title {seen['title']!r}")
    if width == PHONE and seen["wide"] > 0:
        visit.faults.append(f"{seen['wide']} px wider than the phone: {seen['over']}")
    visit.faults += [f"too small to press: {one}" for one in seen["sizes"][:4]]
    visit.faults += [f"too small to read: {one}" for one in seen["small"][:4]]
    visit.faults += [f"a link without words: {one}" for one in seen["empty"]]
    visit.faults += [f"style or script in the page: {one}" for one in seen["styled"]]
    # Colours do not depend on the width, and measuring them takes most of the time: once is enough.
    visit.faults += _axe(page, {} if width == PHONE else {"rules": {"color-contrast": {"enabled": False}}})
    return visit


def _axe(page: Page, more: dict[str, Any]) -> list[str]:
    """What axe finds: the rule, and where."""
    options = {"resultTypes": ["violations"]} | more
    said = _AXE.run(page, options=options).response["violations"]
    return [f"axe {one['id']}: {[node['html'][:120] for node in one['nodes'][:3]]}" for one in said]


def _faults(visits: list[Visit]) -> str:
    return "\n".join(f"{one.path}: {fault}" for one in visits for fault in one.faults)


@pytest.mark.parametrize("width", [PHONE, DESK])
def test_every_page_can_be_read_pressed_and_trusted(found: Found, width: int) -> None:
    assert len(found.visits[width]) > 5
    if faults := _faults(found.visits[width]):
        pytest.fail(faults, pytrace=False)


def test_every_page_has_a_title_of_its_own(found: Found) -> None:
    titles: dict[str, list[str]] = {}
    for one in found.visits[PHONE]:
        if one.path.startswith("/"):
            titles.setdefault(one.title, []).append(one.path)
    if same := {title: paths for title, paths in titles.items() if len(paths) > 1}:
        pytest.fail("\n".join(f"{title}: {' '.join(paths)}" for title, paths in same.items()), pytrace=False)


def test_every_link_leads_somewhere(found: Found) -> None:
    if dead := found.walk.dead:
        pytest.fail("\n".join(f"{path} from {at}" for path, at in dead.items()), pytrace=False)


def test_every_route_is_reached(found: Found) -> None:
    walk = found.walk
    reached = {*walk.pages.values(), *walk.parts, *walk.forms, *walk.files, *walk.ways, *NO_PAGE}
    if lost := set(routes()) - reached:
        pytest.fail("\n".join(sorted(lost)), pytrace=False)


@pytest.mark.parametrize("path", ["/", "/batches/hens-batch/", "/batches/hens-batch/weigh/", "/patterns/"])
def test_words_can_be_read_in_a_dim_room(browser: Browser, demo: str, path: str) -> None:
    page = browser.new_page(viewport={"width": DESK, "height": 844}, color_scheme="dark")
    page.goto(demo + path)
    settled(page)
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(21, 18, 14)"
    assert _axe(page, {"runOnly": ["color-contrast"]}) == []
    page.close()


def test_the_keyboard_skips_to_the_page_and_reaches_the_first_tick_soon(browser: Browser, demo: str) -> None:
    page = browser.new_page(viewport={"width": PHONE, "height": 844})
    page.goto(demo + "/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.getAttribute('href')") == "#main"
    assert page.evaluate("document.activeElement.getBoundingClientRect().left") >= 0.0
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "main"
    steps = 0
    while not page.evaluate("document.activeElement.matches('.todo .tick, .todo .tick *')"):
        page.keyboard.press("Tab")
        steps += 1
        assert steps <= 3, "three steps from the beginning of the page to the first job"
    assert page.evaluate("getComputedStyle(document.activeElement).outlineWidth") == "3px"
    page.close()


def test_nothing_lies_under_the_pages_at_the_foot_of_a_phone(browser: Browser, demo: str) -> None:
    page = browser.new_page(viewport={"width": PHONE, "height": 844})
    page.goto(demo + "/")
    page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
    foot = page.evaluate("document.querySelector('.foot').getBoundingClientRect().bottom")
    nav = page.evaluate("document.querySelector('.nav').getBoundingClientRect().top")
    assert foot <= nav
    page.close()


def test_the_undo_bar_lies_above_the_pages_and_covers_no_last_word(browser: Browser, demo: str) -> None:
    page = browser.new_page(viewport={"width": PHONE, "height": 844})
    page.goto(demo + "/batches/ducks-batch/note/")
    page.locator("textarea").fill("The bar is looked at.")
    page.locator("form .press").first.click()
    page.wait_for_selector(".at-thumb")
    page.evaluate("window.scrollTo(0, document.documentElement.scrollHeight)")
    where = "document.querySelector('{}').getBoundingClientRect().{}"
    foot, top, bottom, nav = (
        page.evaluate(where.format(*each))
        for each in ((".foot", "bottom"), (".at-thumb", "top"), (".at-thumb", "bottom"), (".nav", "top"))
    )
    assert foot <= top < bottom <= nav
    page.close()


def test_paper_is_black_on_white_and_without_anything_to_press(browser: Browser, demo: str) -> None:
    page = browser.new_page(viewport={"width": 718, "height": 1000}, color_scheme="dark")
    page.goto(demo + "/batches/hens-batch/")
    settled(page)
    page.emulate_media(media="print", color_scheme="dark")
    pressed = "nav, form, button, input, select, summary, .press"
    assert (
        page.evaluate(f"[...document.querySelectorAll('{pressed}')].filter(one => one.checkVisibility()).length") == 0
    )
    assert page.evaluate("getComputedStyle(document.body).color") == "rgb(0, 0, 0)"
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(255, 255, 255)"
    assert page.evaluate("document.documentElement.scrollWidth") <= 718
    page.close()


def test_a_route_is_known_by_its_path() -> None:
    assert route_of("/batches/hens-batch/") == "batches/<uid:uid>/"
    assert route_of("/nowhere/at/all/") is None
