"""What hangs by the tank, as the browser prints it."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.visits import address, opened, see_charts

_SHEET = re.compile(rb"/Type\s*/Page(?!s)")
# The two sizes of office paper. Source: ISO 216; ANSI/ASME Y14.1.
_SIZES = ("A4", "Letter")


@pytest.mark.parametrize("size", _SIZES)
@pytest.mark.parametrize(("kind", "most"), [("log_sheet", 1), ("dosing", 1), ("sheet", 1), ("coral", 2), ("system", 4)])
def test_a_paper_fits_its_sheets(any_fonts: Browser, own_site: Path, kind: str, most: int, size: str) -> None:
    margin = dict.fromkeys(("top", "right", "bottom", "left"), "10mm")
    with opened(any_fonts, address(own_site, kind)) as (page, _):
        assert len(_SHEET.findall(page.pdf(format=size, margin=margin))) <= most


def test_a_corals_card_on_paper_says_where_it_is_on_the_web(browser: Browser, demo_site: Path) -> None:
    with opened(browser, address(demo_site, "coral")) as (page, _):
        assert not page.locator(".on-paper").is_visible()
        page.emulate_media(media="print")
        assert page.locator(".on-paper").is_visible()
        assert page.locator(".on-paper").inner_text() == page.locator("link[rel=canonical]").get_attribute("href")


def test_a_chart_drawn_for_the_screen_stays_in_its_frame_on_paper(browser: Browser, demo_site: Path) -> None:
    # As when a sheet is laid out: narrower at once, with no time to draw anew.
    outside = """[...document.querySelectorAll("[data-drawn]")].filter((area) => {
      area.style.width = "300px";
      return area.querySelector("svg").getBoundingClientRect().width > 301;
    }).length"""
    with opened(browser, address(demo_site, "coral")) as (page, _):
        see_charts(page)
        page.emulate_media(media="print")
        assert page.locator("[data-drawn]").count() > 0
        assert page.evaluate(outside) == 0
