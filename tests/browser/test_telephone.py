"""The site in a wet hand: what can be hit, what can be read without scrolling sideways, what is cut off."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from tests.browser.visits import DESK, ENLARGED, KINDS, PHONE, TABLET, VISITORS, address, opened, see_charts, seen

# What stands alone in its line or cell, by its height where a thumb can hit it. A box that is ticked has its label, and
# a link among other words keeps to their line. Source: WCAG 2.2, 2.5.5 (44 px), with its exception for sentences.
_TOO_SMALL = """[...document.querySelectorAll("a[href], button, summary, label:has(input)")].filter((aim) => {
  const box = aim.getBoundingClientRect();
  const alone = aim.parentElement.textContent.trim() === aim.textContent.trim();
  const inline = getComputedStyle(aim).display === "inline";
  return box.width && box.right > 0 && !aim.closest("svg, .prose") && (alone || !inline) && box.height < 43.5;
}).map((aim) => aim.outerHTML.slice(0, 120))"""
# Letters of a drawing beyond the edge of the screen, where nothing scrolls; half a letter may hang over.
_CUT_OFF = """[...document.querySelectorAll("svg text")].filter((text) => {
  const box = text.getBoundingClientRect();
  return box.width && !text.closest(".wide") && (box.left < -1 || box.right > innerWidth + 1);
}).map((text) => text.textContent)"""
_UNNAMED = (
    """[...document.querySelectorAll(".tall td:not([data-label])")].map((cell) => cell.outerHTML.slice(0, 120))"""
)
_SIDEWAYS = """[...document.querySelectorAll(".wide:has(> .tall)")].filter((place) =>
  place.scrollWidth > place.clientWidth + 1).map((place) => place.outerHTML.slice(0, 120))"""
# What lies beyond the edge of a box that does not scroll. (What is there for ears alone is a pixel wide.)
_CLIPPED = """[...document.querySelectorAll("body *")].filter((box) =>
  ["hidden", "clip"].includes(getComputedStyle(box).overflowX) && getComputedStyle(box).display !== "inline"
  && box.clientWidth > 1 && box.scrollWidth > box.clientWidth + 1).map((box) => box.outerHTML.slice(0, 120))"""
# A day in a link, held together, right after a word; nearer than a tenth of a letter it has lost the blank between.
_STUCK_DAYS = """[...document.querySelectorAll("a .whole")].filter((day) => {
  const before = day.previousSibling;
  if (before?.nodeType !== Node.TEXT_NODE || !before.data.endsWith(" ") || !before.data.trim()) return false;
  const range = document.createRange();
  range.setStart(before, 0);
  range.setEnd(before, before.data.trimEnd().length);
  const word = [...range.getClientRects()].at(-1), box = day.getBoundingClientRect();
  return word && box.width && Math.abs(word.top - box.top) < 4 && box.left - word.right < 1.5;
}).map((day) => day.parentElement.outerHTML.slice(0, 120))"""


# In German words are longer, which counts most in wide letters.
_WAYS = (("Liberation", "en"), ("DejaVu", "en"), ("DejaVu", "de"))


@pytest.fixture(
    scope="module",
    params=[(*way, kind) for way in _WAYS for kind in KINDS if way[1] == "en" or kind not in VISITORS],
    ids="-".join,
)
def visited(
    request: pytest.FixtureRequest,
    browser_with: Callable[[str], Browser],
    own_site: Path,
    german_site: Path,
    demo_site: Path,
) -> Iterator[Page]:
    """A page of each kind in the hand, in narrow fonts and in wide ones: one visit for all its tests."""
    family, language, kind = request.param
    site = demo_site if kind in VISITORS else own_site if language == "en" else german_site
    with opened(browser_with(family), address(site, kind), PHONE, has_touch=True) as (page, _):
        yield page


def test_what_stands_alone_can_be_hit_with_a_thumb(visited: Page) -> None:
    assert visited.evaluate(_TOO_SMALL) == []


def test_no_letter_of_a_drawing_is_cut_off(visited: Page) -> None:
    assert visited.evaluate(_CUT_OFF) == []


def test_a_tall_table_names_every_cell_and_needs_no_scrolling(visited: Page) -> None:
    assert visited.evaluate(_UNNAMED) == []
    assert visited.evaluate(_SIDEWAYS) == []


def test_a_page_loads_without_a_jump(visited: Page) -> None:
    see_charts(visited, 2)
    assert visited.evaluate("window.shifted") < 0.1


def test_nothing_lies_beyond_the_edge_at_any_width(visited: Page) -> None:
    for size in (PHONE, ENLARGED, TABLET, DESK):
        assert seen(visited, size).evaluate("document.documentElement.scrollWidth") <= size["width"]
        assert visited.evaluate(_CLIPPED) == [], size


def test_a_day_in_a_link_stands_apart_from_the_word_before_it(visited: Page) -> None:
    visited.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    assert visited.evaluate(_STUCK_DAYS) == []
