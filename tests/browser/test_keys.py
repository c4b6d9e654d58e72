"""The main tasks with the keys alone, as on a tablet with a keyboard beside the tank."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.visits import PHONE, address, opened


@pytest.fixture
def today(browser: Browser, own_site: Path) -> Iterator[Page]:
    with opened(browser, address(own_site, "today")) as (page, noise):
        yield page
        assert not noise


def tab_to(page: Page, selector: str, most: int = 80) -> None:
    """Press Tab until the focus is on something; every stop on the way shows that it has the focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        focused = page.evaluate_handle("document.activeElement")
        has = focused.evaluate("(element, selector) => element.matches(selector)", selector)
        outline = focused.evaluate("(element) => getComputedStyle(element).outlineStyle")
        assert outline != "none"
        if has:
            return
    raise AssertionError(f"{most} presses of Tab do not lead to {selector}")


def test_the_first_stop_skips_to_the_content(today: Page) -> None:
    today.keyboard.press("Tab")
    expect(today.locator(".skip")).to_be_focused()
    expect(today.locator(".skip")).to_be_in_viewport()
    today.keyboard.press("Enter")
    tab_to(today, ".matter h3 a", most=1)


def test_from_what_needs_me_to_the_lines_behind_it_and_to_the_evidence(today: Page) -> None:
    tab_to(today, "main summary")
    today.keyboard.press("Enter")
    expect(today.locator(".matter details[open] code").first).to_be_visible()
    # The first card leads to the plan of its doses, the next to corals, the third to a quantity on its system's page.
    for _ in range(2):
        tab_to(today, "main summary", most=20)
    today.keyboard.press("Enter")
    tab_to(today, ".matter .onward a[href*='#']", most=10)
    today.keyboard.press("Enter")
    expect(today.locator("h1")).to_be_visible()
    expect(today.locator(":target")).to_be_visible()


def test_from_a_number_to_why_it_is_so_and_to_its_method(today: Page) -> None:
    tab_to(today, ".card a")
    today.keyboard.press("Enter")
    expect(today.locator("h2").first).to_be_visible()
    tab_to(today, ".number summary", most=200)
    today.keyboard.press("Space")
    tab_to(today, ".why[open] a", most=3)
    today.keyboard.press("Enter")
    expect(today.locator("details[open] :target")).to_be_visible()


def test_a_table_that_is_wider_than_the_page_scrolls_by_the_keys(browser: Browser, own_site: Path) -> None:
    with opened(browser, address(own_site, "log_sheet"), PHONE) as (page, _):
        table = page.locator(".wide").last
        table.focus()
        page.keyboard.press("ArrowRight")
        page.wait_for_timeout(300)
        assert table.evaluate("(wide) => wide.scrollLeft") > 0
