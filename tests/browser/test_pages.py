"""Pages in a real browser, opened from a folder under their own strict policy: the ways they answer their readers."""

import re
from pathlib import Path

from playwright.sync_api import Browser, Route, expect

from tests.browser.visits import address, opened
from tests.conftest import ROOT

BASE = str(re.search(r"^base_url: (\S+)", (ROOT / "content" / "journal.yaml").read_text("utf-8"), re.MULTILINE)[1])  # type: ignore[index]


def test_the_page_for_a_wrong_address_looks_the_same_at_any_depth(browser: Browser, demo_site: Path) -> None:
    def from_folder(route: Route) -> None:
        path = demo_site / route.request.url.removeprefix(BASE)
        route.fulfill(path=path if path.is_file() else demo_site / "404.html")

    with browser.new_context() as context:
        page = context.new_page()
        noise: list[str] = []
        page.on("console", lambda message: noise.append(message.text))
        page.route(f"{BASE}**", from_folder)
        page.goto(f"{BASE}corals/no/such/coral.html")
        assert not noise
        page.locator("nav a").first.click()
        expect(page.locator("[aria-current=true]").first).to_be_visible()
        assert page.url == f"{BASE}index.html"


def test_the_chart_is_there_without_scripts_and_so_are_its_numbers(browser: Browser, demo_site: Path) -> None:
    with opened(browser, address(demo_site, "system"), java_script_enabled=False) as (page, noise):
        chart = page.locator("figure:has(> [data-chart])").first
        expect(chart.locator("svg.timeline")).to_be_visible()
        chart.locator("summary").click()
        expect(chart.locator("table")).to_be_visible()
        assert not noise


def test_with_scripts_a_chart_answers_the_pointer(browser: Browser, demo_site: Path) -> None:
    with opened(browser, address(demo_site, "system")) as (page, _):
        chart = page.locator("[data-chart]").first
        chart.scroll_into_view_if_needed()
        expect(chart).to_have_attribute("data-drawn", "", timeout=15_000)
        expect(chart.locator("svg.timeline")).not_to_be_visible()
        chart.locator("[aria-label*='dKH'][aria-roledescription='point']").last.hover()
        expect(page.locator("#vg-tooltip-element")).to_contain_text("dKH")


def test_no_chart_is_loaded_before_it_comes_into_view(browser: Browser, demo_site: Path) -> None:
    page_uri = address(demo_site, "system")
    with browser.new_context(viewport={"width": 1200, "height": 300}) as context:
        page = context.new_page()
        asked: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.goto(page_uri)
        page.wait_for_timeout(300)
        assert not [url for url in asked if "vega" in url]
        page.locator("[data-chart]").first.scroll_into_view_if_needed()
        expect(page.locator("[data-chart]").first).to_have_attribute("data-drawn", "", timeout=15_000)
        assert len([url for url in asked if "vega" in url]) == 1


def test_a_reader_in_another_time_zone_sees_the_keepers_days(browser: Browser, demo_site: Path) -> None:
    seen = []
    for zone in ("Europe/Lisbon", "Pacific/Kiritimati", "America/Los_Angeles"):
        with opened(browser, address(demo_site, "system"), timezone_id=zone) as (page, _):
            chart = page.locator("[data-chart]").first
            chart.scroll_into_view_if_needed()
            expect(chart).to_have_attribute("data-drawn", "", timeout=15_000)
            seen.append(chart.locator("svg").first.inner_html())
    assert seen[0] == seen[1] == seen[2]


def test_a_page_turns_dark_with_the_readers_wish(browser: Browser, demo_site: Path) -> None:
    shades = []
    for scheme in ("light", "dark"):
        with opened(browser, address(demo_site, "front"), color_scheme=scheme) as (page, _):
            shade = page.evaluate("getComputedStyle(document.body).backgroundColor.match(/\\d+/g).map(Number)")
            shades.append(sum(shade[:3]))
    assert shades[0] > 600
    assert shades[1] < 150
