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
# A page at 1280 px enlarged to 200 %.
TWICE = {"width": 640, "height": 450}
# Pages that are mostly text, of which the right of a wide screen would stay empty.
WITH_CONTENTS = ("data", "guides", "since", "track_record", "trade")
TEXTS = (*WITH_CONTENTS, "entry", "journal", "methods", "month", "origin", "search")


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
    # What is painted in no colour but the ground's, or in the black of what has no rule. A QR code has its own ground.
    shapes = "main svg:not(.qr) :is(path, rect, circle, line, text)"
    unseen = """(shapes) => [...document.querySelectorAll(shapes)].filter((drawn) => {
      const {fill, stroke, visibility} = getComputedStyle(drawn);
      const ground = getComputedStyle(document.body).backgroundColor, black = ground !== "rgb(255, 255, 255)";
      const paints = [fill, stroke].filter((paint) => !["none", "rgba(0, 0, 0, 0)", "transparent"].includes(paint));
      const painted = visibility === "visible" && drawn.getClientRects().length && paints.length;
      return painted && paints.every((paint) => paint === ground || (black && paint === "rgb(0, 0, 0)"));
    }).map((drawn) => drawn.outerHTML.slice(0, 120))"""
    for scheme, forced in (("light", "active"), ("dark", "active"), ("dark", "none")):
        seen(visited, DESK, color_scheme=scheme, forced_colors=forced)
        assert visited.evaluate(unseen, shapes) == [], (scheme, forced)


def test_every_control_is_reached_by_the_keys_and_shows_it(visited: Page) -> None:
    # What says that it can be clicked is a control or the label of one; each takes the focus, and shows that it has it.
    unreached = """(() => {
      const controls = "a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]";
      const shown = (element) => element.checkVisibility({visibilityProperty: true}) && !element.disabled;
      const dumb = [...document.querySelectorAll("body *")].filter((element) =>
        getComputedStyle(element).cursor === "pointer" && shown(element)
        && !element.closest(`${controls}, label, [data-drawn] svg`));
      const deaf = [...document.querySelectorAll(controls)].filter((element) => {
        if (!shown(element) || element.closest("[data-drawn] svg")) return false;
        element.focus();
        const marked = [element, document.querySelector(`label[for="${element.id || "-"}"]`), element.closest("label")];
        return element.tabIndex < 0 || document.activeElement !== element
          || !marked.some((each) => each && getComputedStyle(each).outlineStyle !== "none");
      });
      return [...dumb, ...deaf].map((element) => element.outerHTML.slice(0, 120));
    })()"""
    seen(visited, DESK).keyboard.press("Tab")
    assert visited.evaluate(unreached) == []


def test_the_tab_key_goes_on_from_stop_to_stop_in_the_order_of_reading(visited: Page) -> None:
    place = """(() => {
      const all = [...document.querySelectorAll("*")], {activeElement} = document;
      return activeElement.matches("body, .skip") ? -1 : all.indexOf(activeElement);
    })()"""
    seen(visited, DESK).evaluate("document.querySelector('.skip').focus()")
    stops: list[int] = []
    for _ in range(30):
        visited.keyboard.press("Tab")
        stop = visited.evaluate(place)
        if stop == -1:
            break
        # A day and its hour are several stops of one field.
        stops += [stop] if stops[-1:] != [stop] else []
    assert len(stops) > 8
    assert stops == sorted(set(stops))


def test_enlarged_to_twice_its_size_a_page_loses_nothing(visited: Page) -> None:
    # Source: WCAG 2.2, 1.4.4. The ways within the page, which lead to headings, are for who sees little of it at once.
    words = """[...document.querySelectorAll("body :not(svg *, .margin nav:not(.beside) *)")]
      .flatMap((element) => [...element.childNodes]).filter((node) => node.nodeType === Node.TEXT_NODE
        && node.parentElement.checkVisibility({visibilityProperty: true})).map((node) => node.data.trim())"""
    known = set(seen(visited, DESK).evaluate(words))
    assert len(known) > 20
    assert known <= {*seen(visited, TWICE).evaluate(words)}
    assert visited.evaluate("document.documentElement.scrollWidth") <= TWICE["width"]


def test_beside_a_text_on_a_wide_screen_stands_what_leads_on(visited: Page) -> None:
    kind = visited.evaluate("document.body.dataset.page")
    beside = """[...document.querySelectorAll("main :is(a, li, p, summary)")].filter((element) => {
      const box = element.getBoundingClientRect(), main = document.querySelector("main").getBoundingClientRect();
      return box.height && box.left > main.left + 0.55 * main.width;
    }).length"""
    ways = visited.locator(".margin nav:not(.beside)")
    for size in (DESK, {"width": 1920, "height": 1080}):
        assert kind not in TEXTS or seen(visited, size).evaluate(beside), size
        assert kind not in WITH_CONTENTS or ways.is_visible()
    for way in ways.locator("a").all():
        assert visited.locator(f"[id='{way.get_attribute('href')[1:]}']").count() == 1  # type: ignore[index]
    visited.emulate_media(media="print")
    assert not ways.is_visible()
    assert not seen(visited, PHONE).locator(".margin nav:not(.beside)").is_visible()


def test_without_scripts_every_number_is_there(visited: Page, browser: Browser) -> None:
    see_charts(seen(visited, DESK))
    with opened(browser, visited.url, java_script_enabled=False) as (page, noise):
        assert numbers(visited) <= numbers(page)
        assert page.locator("[data-chart]:not(:has(svg))").count() == 0
        assert not noise


def numbers(page: Page) -> set[str]:
    # The labels of a drawn chart's axes, and what its pointer reads, are its own.
    texts = """(() => {
      const walk = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
      const texts = [];
      while (walk.nextNode()) {
        if (!walk.currentNode.parentElement.closest("script, [data-drawn], output")) texts.push(walk.currentNode.data);
      }
      return texts;
    })()"""
    return {number for text in page.evaluate(texts) for number in _NUMBER.findall(text)}
