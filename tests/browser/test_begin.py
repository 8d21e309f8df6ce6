"""The first visit: an empty notebook leads to the first batch, on a phone, with what is usual shown while one types."""

import re
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, Route, expect
from tests.browser.conftest import PHONE, Served
from tests.browser.served import served

pytestmark = pytest.mark.browser

Phone = Callable[[], Page]


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """An empty notebook, served."""
    folder = tmp_path_factory.mktemp("empty")
    with served(folder, "serve") as base:
        yield Served(base, folder)


def test_what_is_usual_is_shown_as_soon_as_the_kind_is_named(phone: Phone, empty: Served) -> None:
    page = phone()
    page.goto(f"{empty.base}/")
    page.click("main a[href='/begin/']")
    expect(page.locator("#usual")).to_contain_text("Name the kind of bird")
    page.fill("#id_kind", "Pekin")
    page.locator("#id_eggs").focus()
    expect(page.locator("#usual")).to_contain_text("is planned, usual for this kind with a fan.")
    page.check("input[name=airflow][value=still]")
    expect(page.locator("#usual")).to_contain_text("Level with the egg tops")


def _without_a_zone(route: Route) -> None:
    """The page as a computer gives it that does not know its own zone."""
    answer = route.fetch()
    route.fulfill(response=answer, body=re.sub(r'(name="zone") value="[^"]*"', r"\1", answer.text()))


def test_a_device_tells_its_zone_where_the_computer_does_not(browser: Browser, empty: Served) -> None:
    context = browser.new_context(viewport=PHONE, timezone_id="Asia/Tokyo")  # type: ignore[arg-type]  # a size
    page = context.new_page()
    page.route("**/begin/", _without_a_zone)
    page.goto(f"{empty.base}/begin/")
    expect(page.locator("#id_zone")).to_have_value("Asia/Tokyo")
    expect(page.locator("[data-zone-device]")).to_be_visible()
    context.close()


def test_a_slip_is_asked_about_and_answered_by_a_touch_and_the_batch_is_there(phone: Phone, empty: Served) -> None:
    page = phone()
    page.goto(f"{empty.base}/begin/")
    typed = {"kind": "hen", "eggs": "240", "batch_name": "Spring hens", "parents": "Yard flock", "altitude_m": "460 ft",
             "machine_name": "Larder box", "zone": "Europe/Berlin", "set_at": "2026-04-17T17:00"}  # fmt: skip
    for name, value in typed.items():
        page.fill(f"#id_{name}", value)
    page.check("input[name=airflow][value=fan]")
    page.check("input[name=probe_sort][value=display]")
    page.click("#more summary")
    page.fill("#id_tray", "4x7")
    page.keyboard.press("Enter")
    expect(page.locator(".ask")).to_contain_text("240 eggs, but a tray of 4x7 has 28 places.")
    assert not empty.rows("select uid from records_batch")
    page.tap("button[name=answer_eggs]")
    page.wait_for_url("**/batches/*/*")
    expect(page.locator("h1")).to_have_text("Spring hens")
    assert empty.rows("select count(*), min(label), max(label) from records_egg") == [(28, "A1", "D7")]
    expect(page.locator(".undo")).to_contain_text("Began: Spring hens")
