"""What hangs by the tank, as the browser prints it."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from generator.__main__ import main
from tests.browser.visits import address, opened, see_charts
from tests.commands.two_tanks import coral, write

_SHEET = re.compile(rb"/Type\s*/Page(?!s)")
# The two sizes of office paper. Source: ISO 216; ANSI/ASME Y14.1.
_SIZES = ("A4", "Letter")


@pytest.mark.parametrize("size", _SIZES)
@pytest.mark.parametrize(
    ("kind", "most"), [("log_sheet", 2), ("dosing", 1), ("sheet", 1), ("coral", 2), ("system", 4), ("year", 2)]
)
def test_a_paper_fits_its_sheets(any_fonts: Browser, own_site: Path, kind: str, most: int, size: str) -> None:
    margin = dict.fromkeys(("top", "right", "bottom", "left"), "10mm")
    with opened(any_fonts, address(own_site, kind)) as (page, _):
        assert len(_SHEET.findall(page.pdf(format=size, margin=margin))) <= most


@pytest.fixture(scope="module")
def whole_tank(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The sheet of a tank of eight corals that moves, with the way between."""
    folder = write(tmp_path_factory.mktemp("whole-tank"), "all-move")
    with (folder / "plans/all-move.yaml").open("a") as plan:
        plan.write("travel: {container: vat, water: 40 L, duration: 2 h}\n")
    for n, (x, y) in enumerate(((8, 8), (40, 8), (55, 8), (80, 8), (8, 42), (40, 42)), start=2):
        text = coral("Porites lutea", "massive", (9, 8, 6), "bay", (x, y))
        (folder / f"corals/boulder-{n}.yaml").write_text(text, encoding="utf-8")
    site = tmp_path_factory.mktemp("whole-tank-site") / "site"
    words = ["build", "--content", str(folder), "--site", str(site), "--audience", "own", "--as-of", "2026-10-29"]
    assert main(words) == 0
    return (site / "coming/all-move.html").as_uri()


@pytest.mark.parametrize("size", _SIZES)
def test_the_move_of_a_whole_tank_fits_one_side_of_paper(any_fonts: Browser, whole_tank: str, size: str) -> None:
    margin = dict.fromkeys(("top", "right", "bottom", "left"), "10mm")
    with opened(any_fonts, whole_tank) as (page, _):
        assert page.locator("table").first.locator("tbody tr").count() == 8
        assert len(_SHEET.findall(page.pdf(format=size, margin=margin))) == 1


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


# Letters of charts and drawings, as they come to lie on the sheet: 9 pt are 12 px, and a line of text is 1.14 of it in
# the narrow font (Liberation Sans: ascent 0.905, descent 0.212, from its metrics).
_SMALL = """[...document.querySelectorAll(":is(.timeline, .weeks, .rings, .ranges, .tree, .floor) text")]
  .filter((text) => text.checkVisibility() && text.textContent.trim())
  .map((text) => [text.textContent, text.getBoundingClientRect().height]).filter(([, height]) => height < 12 * 1.1)"""


@pytest.mark.parametrize("kind", ["system", "coral", "lines", "plan", "shares", "travel", "year"])
def test_letters_of_pictures_are_nine_points_on_paper(browser: Browser, own_site: Path, kind: str) -> None:
    # As wide as A4 within its margins: 190 mm.
    with opened(browser, address(own_site, kind), {"width": 718, "height": 1000}, java_script_enabled=False) as (
        page,
        _,
    ):
        page.emulate_media(media="print")
        assert page.evaluate(_SMALL) == []
