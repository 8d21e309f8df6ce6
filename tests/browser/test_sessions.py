"""A phone in one hand: a tray weighed and candled on one screen each, also where the computer cannot be reached."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from tests.browser.conftest import Served

pytestmark = pytest.mark.browser

HENS = "/batches/hens-batch/"
EGGS = 24
Phone = Callable[[], Page]


def _hoped(page: Page) -> str:
    """The middle of what is expected of the egg at hand, as its figures are typed."""
    low, high = re.findall(r"\d+\.\d", page.inner_text("[data-facts]").rsplit("expect", 1)[1])
    return f"{(float(low) + float(high)) / 2:.1f}".replace(".", "")


def _type(page: Page, figures: str) -> None:
    for figure in figures:
        page.tap(f"[data-key='{figure}']")


def _weigh(page: Page) -> str:
    figures = _hoped(page)
    _type(page, figures)
    page.tap("[data-key=next]")
    return f"{figures[:-1]}.{figures[-1]}"


def _waiting(page: Page) -> None:
    page.wait_for_selector("#outbox .waiting")


def _sent(page: Page) -> None:
    page.wait_for_selector("#outbox", state="hidden")


def test_a_tray_is_weighed_on_one_screen_and_nothing_entered_without_reception_is_lost(
    phone: Phone, notebook: Served
) -> None:
    page = phone()
    page.goto(f"{notebook.base}{HENS}weigh/?new=1")
    page.wait_for_selector(".live")
    typed: dict[str, str] = {}
    for n in range(EGGS):
        if n == 8:
            expect(page.locator("[data-so-far]")).to_contain_text("from 8 eggs")
            page.context.set_offline(True)
        if n == 16:
            expect(page.locator("#outbox")).to_contain_text("8 entries waiting")
            page.context.set_offline(False)
            _sent(page)
        egg = page.inner_text("[data-at-hand]")
        typed[egg] = _weigh(page)
    expect(page.locator("[data-done]")).to_have_text(str(EGGS))
    expect(page.locator("[data-so-far]")).to_contain_text("Lost so far")
    expect(page.locator("[data-so-far]")).to_contain_text(f"from {EGGS} eggs")
    stored = notebook.rows(
        "select e.label, w.gross_g, w.session, w.at from records_weighing w join records_egg e on e.uid = w.eggs "
        "where w.session = (select session from records_weighing order by id desc limit 1)"
    )
    assert {label: f"{mass:.1f}" for label, mass, _, _ in stored} == typed
    assert len(stored) == EGGS
    page.tap("[data-finish]")
    page.wait_for_url(f"**{HENS}")


def test_swapped_figures_are_questioned_at_the_egg_and_the_likely_ones_are_one_tap_away(
    phone: Phone, notebook: Served
) -> None:
    page = phone()
    page.goto(f"{notebook.base}{HENS}weigh/?new=1")
    page.wait_for_selector(".live")
    figures = _hoped(page)
    egg = page.inner_text("[data-at-hand]")
    _type(page, figures[1] + figures[0] + figures[2])
    page.tap("[data-key=next]")
    page.wait_for_selector("#ask .choices")
    assert page.is_disabled("[data-key=next]")
    assert page.inner_text("[data-at-hand]") == egg
    meant = f"{figures[:-1]}.{figures[-1]}"
    page.tap("#ask .choices button:first-child")
    page.wait_for_selector("#ask", state="hidden")
    expect(page.locator("[data-undo]")).to_contain_text(f"{egg}, {meant}")
    _type(page, "351")
    page.tap("[data-key=next]")
    page.tap("#ask button:has-text('Keep 35.1')")
    page.wait_for_selector("#ask", state="hidden")
    with page.expect_response("**/undo/**"):
        page.tap("[data-undo]")
    expect(page.locator("[data-done]")).to_have_text("1")
    expect(page.locator("[data-undo]")).to_contain_text(f"{egg}, {meant}")
    page.reload()
    page.wait_for_selector(".live")
    expect(page.locator("[data-done]")).to_have_text("1")


def test_a_tray_is_candled_by_taps_and_a_page_left_without_reception_sends_later_once(
    phone: Phone, notebook: Served
) -> None:
    page = phone()
    page.goto(f"{notebook.base}{HENS}candle/?new=1")
    page.wait_for_selector(".live")
    marks = ["live"] * 18 + ["unsure", "dead", "clear", "live", "live", "live"]
    for n, mark in enumerate(marks):
        if n == 12:
            expect(page.locator("[data-so-far]")).to_contain_text("12 alive")
            page.context.set_offline(True)
        page.tap(f"[data-mark={mark}]")
    _waiting(page)
    expect(page.locator("#outbox")).to_contain_text("12 entries waiting")
    expect(page.locator("[data-done]")).to_have_text(str(EGGS))
    other = page.context.new_page()  # the page is left while it waits; another one of this browser sends
    page.close()
    page.context.set_offline(False)
    other.goto(f"{notebook.base}/history/")
    _sent(other)
    other.goto(f"{notebook.base}{HENS}candle/")
    other.wait_for_selector(".live")
    expect(other.locator("[data-done]")).to_have_text(str(EGGS))
    stored = notebook.rows("select finding, count(*), count(distinct egg_id) from records_candling "
                           "where uid like (select substr(uid, 1, 16) from records_candling order by id desc limit 1) || '-%' "
                           "group by finding order by finding")  # fmt: skip
    assert stored == [("clear", 1, 1), ("dead", 1, 1), ("live", 21, 21), ("unsure", 1, 1)]


def test_an_egg_tapped_on_the_map_is_put_right_and_the_last_mark_is_undone(phone: Phone, notebook: Served) -> None:
    page = phone()
    page.goto(f"{notebook.base}{HENS}candle/?new=1")
    page.wait_for_selector(".live")
    for mark in ("live", "live", "clear"):
        page.tap(f"[data-mark={mark}]")
    page.tap("[data-jump='hens-egg1']")
    expect(page.locator("[data-at-hand]")).to_have_text("A1")
    page.tap("[data-mark=unsure]")
    expect(page.locator("[data-at-hand]")).to_have_text("A4")
    expect(page.locator("[data-jump='hens-egg1']")).to_have_attribute("aria-label", "A1, Unsure")
    page.tap("[data-undo]")
    expect(page.locator("[data-jump='hens-egg1']")).to_have_attribute("aria-label", "A1, Alive")
    expect(page.locator("[data-so-far]")).to_contain_text("2 alive, 1 clear")


def test_what_is_refused_later_stays_with_its_reason_until_it_is_answered(phone: Phone, notebook: Served) -> None:
    page = phone()
    page.goto(f"{notebook.base}{HENS}weigh/?new=1")
    page.wait_for_selector(".live")
    figures = _hoped(page)
    page.context.set_offline(True)
    _type(page, figures[1] + figures[0] + figures[2])
    page.tap("[data-key=next]")
    page.tap("#ask button:has-text('Keep')")
    _waiting(page)
    before = notebook.rows("select count(*) from records_weighing")
    page.context.set_offline(False)
    _sent(page)
    assert notebook.rows("select count(*) from records_weighing") == [
        (before[0][0] + 1,)
    ]  # the keeper had said it stands
    page.goto(f"{notebook.base}{HENS}note/")
    page.fill("textarea", "kept while away")
    page.fill("[name=at]", "2026-04-18T10:00")
    page.context.set_offline(True)
    page.tap(".plain .press")
    _waiting(page)
    assert page.input_value("textarea") == ""
    page.context.set_offline(False)
    page.wait_for_selector(".refused-entry")
    assert "still to come" in page.inner_text(".refused-entry")
    page.goto(f"{notebook.base}/history/")
    page.wait_for_selector(".refused-entry")
    page.tap(".refused-entry .choices button:first-child")
    _sent(page)
    assert notebook.rows("select count(*) from records_note where text = 'kept while away'") == [(1,)]


def test_a_plain_form_goes_on_to_the_batch_with_the_bar_that_undoes_it(phone: Phone, notebook: Served) -> None:
    page = phone()
    page.goto(f"{notebook.base}{HENS}note/")
    page.tap(".plain .press")
    page.wait_for_selector(".wrongsay")
    page.fill("textarea", "by thumb")
    page.tap(".plain .press")
    page.wait_for_selector(".undo.at-thumb")
    assert "by thumb" in page.inner_text(".undo")
    page.tap(".undo button")
    page.wait_for_selector(".undo:has-text('Do it after all')")
    assert notebook.rows("select count(*) from records_note where text = 'by thumb'") == [(0,)]


def test_without_a_script_the_same_page_is_a_form_of_lines(browser: object, notebook: Served) -> None:
    context = browser.new_context(java_script_enabled=False)  # type: ignore[attr-defined]  # a browser
    page = context.new_page()
    page.goto(f"{notebook.base}{HENS}weigh/?new=1")
    assert page.is_visible("[name='g-hens-egg1']")
    assert not page.is_visible(".keys")
    page.fill("[name='g-hens-egg1']", page.inner_text("[data-egg=hens-egg1] .facts b:last-child").split("–")[0])
    page.click("text=Store what is written")
    assert "done=" in page.url
    assert page.is_visible(".undo.at-thumb")
    context.close()
