"""The site in a wet hand: what can be hit, what can be read without scrolling sideways, what is cut off."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.visits import KINDS, PHONE, address, opened

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


@pytest.mark.parametrize("kind", ["today", "system"])
def test_a_day_in_a_link_stands_apart_from_the_word_before_it(browser: Browser, every_site: Path, kind: str) -> None:
    with opened(browser, address(every_site, kind), viewport=PHONE, has_touch=True) as (page, _):
        page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
        assert page.evaluate(_STUCK_DAYS) == []


@pytest.mark.parametrize("kind", KINDS)
def test_what_stands_alone_can_be_hit_with_a_thumb(browser: Browser, every_site: Path, kind: str) -> None:
    with opened(browser, address(every_site, kind), viewport=PHONE, has_touch=True) as (page, _):
        assert page.evaluate(_TOO_SMALL) == []


@pytest.mark.parametrize("kind", KINDS)
def test_no_letter_of_a_drawing_is_cut_off(browser: Browser, every_site: Path, kind: str) -> None:
    with opened(browser, address(every_site, kind), viewport=PHONE) as (page, _):
        assert page.evaluate(_CUT_OFF) == []


@pytest.mark.parametrize("kind", KINDS)
def test_a_tall_table_names_every_cell_and_needs_no_scrolling(browser: Browser, every_site: Path, kind: str) -> None:
    with opened(browser, address(every_site, kind), viewport=PHONE) as (page, _):
        assert page.evaluate(_UNNAMED) == []
        assert page.evaluate(_SIDEWAYS) == []
