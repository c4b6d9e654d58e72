"""What holds for every kind of page, in a real browser: for everyone's eyes, hands and devices."""

import re
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.browser.visits import DESK, KINDS, PHONE, TABLET, address, opened, see_charts

_NUMBER = re.compile(r"[\d.,−]*\d\u00a0[^\s,;)]+")
# A page at 1280 px enlarged to 400 % has the width of 320. Source: WCAG 2.2, 1.4.10.
_ENLARGED = {"width": 320, "height": 256}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_page_is_quiet_steady_and_open_to_everyone_at_every_width(
    browser: Browser, every_site: Path, kind: str, scheme: Any
) -> None:
    with opened(browser, address(every_site, kind), color_scheme=scheme, viewport=DESK) as (page, noise):
        see_charts(page, 2)
        page.evaluate("window.scrollTo(0, 0)")
        for size in (DESK, TABLET, PHONE):
            page.set_viewport_size(size)
            assert violations(page) == []
            assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert page.locator("h1").count() == 1
        assert page.evaluate("window.shifted") < 0.1
        assert not noise


def violations(page: Page) -> list[str]:
    # Fetching the stylesheets once more, as axe would, is what the page's policy forbids.
    found = Axe().run(page, options={"preload": False, "resultTypes": ["violations"]}).response["violations"]
    return [f"{rule['id']}: {node['html'][:200]} {node['failureSummary']}" for rule in found for node in rule["nodes"]]


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_loads_without_a_jump_on_a_telephone(browser: Browser, every_site: Path, kind: str) -> None:
    with opened(browser, address(every_site, kind), viewport=PHONE) as (page, _):
        see_charts(page, 2)
        assert page.evaluate("window.shifted") < 0.1


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_enlarged_four_times_needs_no_scrolling_sideways(browser: Browser, every_site: Path, kind: str) -> None:
    with opened(browser, address(every_site, kind), viewport=_ENLARGED) as (page, _):
        assert page.evaluate("document.documentElement.scrollWidth") <= _ENLARGED["width"]


@pytest.mark.parametrize("kind", KINDS)
def test_without_scripts_every_number_is_there(browser: Browser, every_site: Path, kind: str) -> None:
    where = address(every_site, kind)
    with opened(browser, where) as (page, _):
        see_charts(page)
        # The labels of a drawn chart's axes are its own, made anew by the library.
        page.evaluate("document.querySelectorAll('[data-drawn]').forEach((chart) => chart.remove())")
        shown = numbers(page)
    with opened(browser, where, java_script_enabled=False) as (page, noise):
        assert shown <= numbers(page)
        assert page.locator("[data-chart]:not(:has(svg))").count() == 0
        assert not noise


def numbers(page: Page) -> set[str]:
    texts = """(() => {
      const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
      const texts = [];
      while (walk.nextNode()) {
        if (walk.currentNode.parentElement.localName !== "script") texts.push(walk.currentNode.data);
      }
      return texts;
    })()"""
    return {number for text in page.evaluate(texts) for number in _NUMBER.findall(text)}


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_keeps_still_for_who_asks_for_it(browser: Browser, every_site: Path, kind: str) -> None:
    moving = """[...document.querySelectorAll("*")].filter((element) => {
      const style = getComputedStyle(element);
      const moves = [style.transitionDuration, style.animationDuration].some((time) => parseFloat(time) > 0);
      return moves || style.scrollBehavior === "smooth";
    }).map((element) => element.outerHTML.slice(0, 80))"""
    with opened(browser, address(every_site, kind), reduced_motion="reduce") as (page, _):
        assert page.evaluate(moving) == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_sign_and_drawing_is_seen_in_the_readers_own_colours(
    browser: Browser, every_site: Path, kind: str
) -> None:
    unseen = """[...document.querySelectorAll(".sign, .gauge .value, .gauge .band")].filter((drawn) => {
      const {fill, stroke} = getComputedStyle(drawn);
      const ground = getComputedStyle(document.body).backgroundColor;
      return [fill, stroke].every((paint) => paint === "none" || paint === ground);
    }).map((drawn) => drawn.outerHTML.slice(0, 80))"""
    with opened(browser, address(every_site, kind), forced_colors="active") as (page, _):
        assert page.evaluate(unseen) == []
