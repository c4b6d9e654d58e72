"""The site in a wet hand: what can be hit, what can be read without scrolling sideways, what is cut off or broken."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from generator.units.kinds import KINDS as QUANTITIES
from tests.browser.visits import (
    DESK,
    ENLARGED,
    KINDS,
    PAPER,
    PHONE,
    TABLET,
    VISITORS,
    address,
    opened,
    see_charts,
    seen,
)

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

# A number, or several from one to another, with its unit or the time it counts ("in" is more often a word). Lines of
# files may break anywhere, and what is for ears alone is not seen.
_SYMBOLS = {re.escape(unit.symbol) for kind in QUANTITIES.values() for unit in kind.units} - {"in"}
_UNITS = "|".join(
    sorted(_SYMBOLS | {"EUR", "cm²", "(?:day|week|month|year|hour)s?", "(?:Tag|Woche|Monat|Jahr|Stunde)e?n?"})
)
_BROKEN = r"""(units) => {
  const number = "[−-]?\\d(?:[\\d.,]*\\d)?", rate = "(?:\\s(?:a|am|im)\\s(?:day|year|Tag|Jahr))?";
  const several = `(?:[±≈<>] ?)?${number}(?:\\s?[–×+]\\s?${number})*`;
  const whole = new RegExp(`(?<![\\w.])${several}(?:\\s?%|\\s(?:${units})(?![\\w²³])${rate})?`, "g");
  const texts = new Map(), walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    let box = walk.currentNode.parentElement;
    if (box.closest("script, style, svg, pre, code, textarea, select") || !box.checkVisibility()) continue;
    while (/^(inline|contents)/.test(getComputedStyle(box).display)) box = box.parentElement;
    if (box.clientWidth > 1) texts.set(box, [...texts.get(box) ?? [], walk.currentNode]);
  }
  return [...texts.values()].flatMap((nodes) => {
    const spot = (at) => {
      const node = nodes.find(({length}) => (at -= length) < 0);
      return [node, at + node.length];
    };
    return [...nodes.map((node) => node.data).join("").matchAll(whole)].filter(({0: found, index}) => {
      const range = document.createRange(), [last, place] = spot(index + found.length - 1);
      range.setStart(...spot(index));
      range.setEnd(last, place + 1);
      const middles = [...range.getClientRects()].filter(({width}) => width).map(({top, bottom}) => (top + bottom) / 2);
      return Math.max(...middles) - Math.min(...middles) > 8;
    }).map(([found]) => found);
  });
}"""


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


def test_no_number_is_parted_from_its_unit_at_the_end_of_a_line(visited: Page) -> None:
    visited.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    for size in (DESK, PHONE):
        assert seen(visited, size).evaluate(_BROKEN, _UNITS) == [], size
    visited.set_viewport_size(PAPER)
    visited.emulate_media(media="print")
    assert visited.evaluate(_BROKEN, _UNITS) == [], "paper"
