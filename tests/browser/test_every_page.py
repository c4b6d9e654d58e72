"""What holds for every kind of page, in a real browser: for everyone's eyes, hands and devices."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from tests.browser.visits import DESK, KINDS, PHONE, TABLET, VISITORS, address, opened, see_charts, seen

_NUMBER = re.compile(r"[\d.,−]*\d\u00a0[^\s,;)]+")
# A scheme changes colours and nothing else, and no colour hangs on the width (tests/render/test_look.py): in the dark
# only axe's rules about colours are asked, and where the page is widest and narrowest.
_COLOURS = {"runOnly": ["color-contrast", "link-in-text-block"]}
_AXE = Axe().axe_script


@pytest.fixture(scope="module", params=KINDS)
def visited(request: pytest.FixtureRequest, browser: Browser, own_site: Path, demo_site: Path) -> Iterator[Page]:
    """A page of each kind at a desk, quiet from beginning to end: one visit for all that is asked of it."""
    site = demo_site if request.param in VISITORS else own_site
    with opened(browser, address(site, request.param)) as (page, noise):
        yield page
        assert not noise


def test_a_page_loads_without_a_jump_and_has_one_heading(visited: Page) -> None:
    see_charts(visited, 2)
    visited.evaluate("window.scrollTo(0, 0)")
    assert visited.evaluate("window.shifted") < 0.1
    assert visited.locator("h1").count() == 1


def test_a_page_is_open_to_everyone_at_every_width(visited: Page) -> None:
    for size in (DESK, TABLET, PHONE):
        assert violations(seen(visited, size), {}) == [], size
    assert visited.evaluate("window.shifted") < 0.1


def test_in_the_dark_it_is_as_easy_to_read(visited: Page) -> None:
    for size in (DESK, PHONE):
        assert violations(seen(visited, size, color_scheme="dark"), _COLOURS) == [], size


def violations(page: Page, rules: dict[str, Any]) -> list[str]:
    # Fetching the stylesheets once more, as axe would, is what the page's policy forbids.
    options = {"preload": False, "resultTypes": ["violations"], **rules}
    if not page.evaluate("'axe' in window"):
        page.evaluate(_AXE)
    found = page.evaluate("(options) => axe.run(document, options).then(({violations}) => violations)", options)
    return [f"{rule['id']}: {node['html'][:200]} {node['failureSummary']}" for rule in found for node in rule["nodes"]]


def test_a_page_keeps_still_for_who_asks_for_it(visited: Page) -> None:
    moving = """[...document.querySelectorAll("*")].filter((element) => {
      const style = getComputedStyle(element);
      const moves = [style.transitionDuration, style.animationDuration].some((time) => parseFloat(time) > 0);
      return moves || style.scrollBehavior === "smooth";
    }).map((element) => element.outerHTML.slice(0, 80))"""
    assert seen(visited, DESK, reduced_motion="reduce").evaluate(moving) == []


def test_every_sign_and_drawing_is_seen_in_the_readers_own_colours(visited: Page) -> None:
    unseen = """[...document.querySelectorAll(".sign, .gauge .value, .gauge .band")].filter((drawn) => {
      const {fill, stroke} = getComputedStyle(drawn);
      const ground = getComputedStyle(document.body).backgroundColor;
      return [fill, stroke].every((paint) => paint === "none" || paint === ground);
    }).map((drawn) => drawn.outerHTML.slice(0, 80))"""
    assert seen(visited, DESK, forced_colors="active").evaluate(unseen) == []


def test_without_scripts_every_number_is_there(visited: Page, browser: Browser) -> None:
    see_charts(seen(visited, DESK))
    with opened(browser, visited.url, java_script_enabled=False) as (page, noise):
        assert numbers(visited) <= numbers(page)
        assert page.locator("[data-chart]:not(:has(svg))").count() == 0
        assert not noise


def numbers(page: Page) -> set[str]:
    # The labels of a drawn chart's axes are its own, made anew by the library.
    texts = """(() => {
      const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
      const texts = [];
      while (walk.nextNode()) {
        if (!walk.currentNode.parentElement.closest("script, [data-drawn]")) texts.push(walk.currentNode.data);
      }
      return texts;
    })()"""
    return {number for text in page.evaluate(texts) for number in _NUMBER.findall(text)}
