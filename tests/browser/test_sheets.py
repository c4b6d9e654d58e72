"""What hangs by the tank, as the browser prints it."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser

from generator.__main__ import main
from tests.browser.visits import KINDS, PAPER, VISITORS, address, opened, see_charts
from tests.commands.two_tanks import coral, write
from tests.test_first_days import BEGUN, LANTERNS, page_of, read

_SHEET = re.compile(rb"/Type\s*/Page(?!s)")
# The two sizes of office paper. Source: ISO 216; ANSI/ASME Y14.1.
_SIZES = ("A4", "Letter")


@pytest.mark.parametrize("size", _SIZES)
@pytest.mark.parametrize(
    ("kind", "most"),
    [("log_sheet", 2), ("dosing", 1), ("sheet", 2), ("coral", 2), ("system", 4), ("today", 2), ("year", 2)],
)
def test_a_paper_fits_its_sheets(any_fonts: Browser, own_site: Path, kind: str, most: int, size: str) -> None:
    margin = dict.fromkeys(("top", "right", "bottom", "left"), "10mm")
    with opened(any_fonts, address(own_site, kind)) as (page, _):
        assert len(_SHEET.findall(page.pdf(format=size, margin=margin))) <= most


LOT = """\
since: 2026-10-20
date: 2026-11-20 14:00
partner: lowell
travel: {container: vat, water: 40 L, duration: 2 h}
coming:
"""


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sheets of a tank of eight corals that moves, and of a lot of fourteen that comes, with the ways between."""
    folder = write(tmp_path_factory.mktemp("whole-tank"), "all-move")
    with (folder / "plans/all-move.yaml").open("a") as plan:
        plan.write("travel: {container: vat, water: 40 L, duration: 2 h}\n")
    for n, (x, y) in enumerate(((8, 8), (40, 8), (55, 8), (80, 8), (8, 42), (40, 42)), start=2):
        text = coral("Porites lutea", "massive", (9, 8, 6), "bay", (x, y))
        (folder / f"corals/boulder-{n}.yaml").write_text(text, encoding="utf-8")
    of_lot = (
        f"  - {{coral: lot-{n}, name: Lot {n}, species: {species}, "
        f"length: {n + 3} cm, width: {n + 2} cm, height: 6 cm}}\n"
        for n in range(1, 15)
        for species in (("Acropora millepora, form: branching", "Porites lutea, form: massive")[n % 2],)
    )
    (folder / "plans/lot.yaml").write_text(LOT + "".join(of_lot), encoding="utf-8")
    site = tmp_path_factory.mktemp("whole-tank-site") / "site"
    words = ["build", "--content", str(folder), "--site", str(site), "--audience", "own", "--as-of", "2026-10-29"]
    assert main(words) == 0
    return site / "coming"


@pytest.mark.parametrize("size", _SIZES)
@pytest.mark.parametrize(("plan", "corals", "sides"), [("all-move", 8, 4), ("lot", 14, 4)])
def test_the_day_of_a_whole_tank_fits_two_leaves_of_paper(
    any_fonts: Browser, sheets: Path, size: str, plan: str, corals: int, sides: int
) -> None:
    margin = dict.fromkeys(("top", "right", "bottom", "left"), "10mm")
    with opened(any_fonts, (sheets / f"{plan}.html").as_uri()) as (page, _):
        assert page.locator("table").first.locator("tbody tr").count() == corals
        assert len(_SHEET.findall(page.pdf(format=size, margin=margin))) <= sides


def test_a_sheet_of_many_names_each_once_for_what_is_asked_of_all(browser: Browser, sheets: Path) -> None:
    with opened(browser, (sheets / "lot.html").as_uri()) as (page, _):
        assert page.locator("h1").inner_text() == "Coming: Lot 1, Lot 2, Lot 3 and 11 more"
        said = page.locator("main").inner_text()
        assert said.count("no permit or source code recorded") == 1
        # Fourteen colonies of 4 x 3 to 17 x 16 cm do not stand side by side on 50 x 40 cm.
        assert "They do not fit side by side: take at least 2 such containers." in said
        places = page.locator("table").nth(1).locator("tbody tr td:nth-child(3)").all_inner_texts()
        assert len(places) == len(set(places)) == 14, "no two at one spot"


def test_a_corals_card_on_paper_says_where_it_is_on_the_web(browser: Browser, demo_site: Path) -> None:
    with opened(browser, address(demo_site, "coral")) as (page, _):
        assert not page.locator(".on-paper").is_visible()
        page.emulate_media(media="print")
        assert page.locator(".on-paper").is_visible()
        address_of = page.locator("link[rel=canonical]").get_attribute("href")
        assert (
            page.locator(".on-paper").inner_text()
            == f"What unfolds, such as the evidence, is not on paper. It is at {address_of}"
        )


def test_of_a_chart_drawn_for_the_screen_the_still_picture_is_printed_in_its_frame(
    browser: Browser, demo_site: Path
) -> None:
    # As when a sheet is laid out: narrower at once, with no time to draw anew.
    outside = """[...document.querySelectorAll("[data-drawn]")].filter((area) => {
      area.style.width = "300px";
      return area.querySelector("svg").getBoundingClientRect().width > 301;
    }).length"""
    with opened(browser, address(demo_site, "coral")) as (page, _):
        see_charts(page)
        page.emulate_media(media="print")
        assert page.locator("[data-drawn] > svg:visible").count() == page.locator("[data-drawn]").count() > 0
        assert page.locator("[data-drawn] > div:visible").count() == 0
        assert page.evaluate(outside) == 0


# Letters as they come to lie on the sheet: 9 pt are 12 px. Those of a drawing are measured by their line, which is 1.14
# of it in the narrow font (Liberation Sans: ascent 0.905, descent 0.212, from its metrics).
_SMALL = """[...document.querySelectorAll("body *")].filter((element) => element.checkVisibility()
    && [...element.childNodes].some((node) => node.nodeType === Node.TEXT_NODE && node.data.trim()))
  .map((element) => [element.textContent.slice(0, 60), element.closest("svg")
    ? element.getBoundingClientRect().height / 1.1
    : parseFloat(getComputedStyle(element).fontSize) * element.currentCSSZoom])
  .filter(([, size]) => size < 11.99)"""


def test_letters_are_nine_points_on_paper(browser: Browser, own_site: Path) -> None:
    # Where a page is wider than its sheet a browser makes letters smaller.
    for kind in (kind for kind in KINDS if kind not in VISITORS):
        with opened(browser, address(own_site, kind), PAPER, java_script_enabled=False) as (page, _):
            page.emulate_media(media="print")
            assert page.evaluate(_SMALL) == [], kind
            assert page.evaluate("document.documentElement.scrollWidth") <= PAPER["width"], kind


def test_on_paper_a_heading_and_the_name_of_a_group_stay_with_what_follows(browser: Browser, own_site: Path) -> None:
    loose = """(names) => [...document.querySelectorAll(names)].filter((each) => each.checkVisibility()
        && getComputedStyle(each).breakAfter !== "avoid").map((each) => each.textContent)"""
    seen = 0
    for kind in ("offers", "system", "trades", "methods"):
        with opened(browser, address(own_site, kind), PAPER) as (page, _):
            page.emulate_media(media="print")
            assert page.evaluate(loose, "h2, h3, .kind, .folded > details > summary") == [], kind
            seen += page.locator(".kind").count()
    assert seen >= 3, "ready and on offer, ready, not ready yet"


def test_on_paper_the_offers_have_every_name_of_a_rule_whole_and_what_is_folded(
    browser: Browser, own_site: Path
) -> None:
    with opened(browser, address(own_site, "offers"), PAPER) as (page, _):
        page.emulate_media(media="print")
        names = page.locator(".holds thead th:not(:first-child)")
        assert names.count() == 7
        # A name that stands upright is as wide as its letters are high, and is in no second line.
        for name in names.all():
            lines = "(cell) => { const all = document.createRange(); all.selectNodeContents(cell);"
            assert name.evaluate(f"{lines} return new Set([...all.getClientRects()].map((box) => box.x)).size }}") == 1
            assert name.evaluate("(cell) => cell.scrollHeight <= cell.clientHeight")
        folds = page.locator(".folded")
        assert folds.count() == 3
        for fold in folds.all():
            assert fold.evaluate("(it) => it.getBoundingClientRect().height > 60")
            assert fold.evaluate(
                "(it) => it.querySelector('details > div').checkVisibility({contentVisibilityAuto: true})"
            )


def test_a_note_keeps_its_distance_from_the_rule_over_the_next_heading(browser: Browser, own_site: Path) -> None:
    # A lot of which no container is known ends its papers in a note.
    with opened(browser, (own_site / "coming/lot-19.html").as_uri()) as (page, _):
        gap = """(note) => note.nextElementSibling.getBoundingClientRect().top - note.getBoundingClientRect().bottom"""
        assert page.locator(".day-sheet > .note").evaluate(gap) >= 16


def test_each_change_that_is_only_predicted_is_folded_on_screen_and_told_on_paper(
    browser: Browser, tmp_path: Path
) -> None:
    page_of(tmp_path, read(1, 3, 5, 7), BEGUN.replace("--- logs", f"{LANTERNS}--- logs"))
    seen = """[...document.querySelectorAll(".predicted > *")].filter((each) => each.checkVisibility())
      .map((each) => each.tagName)"""
    with opened(browser, (tmp_path / "site/systems/reef.html").as_uri(), PAPER) as (page, _):
        assert page.evaluate(seen) == ["SUMMARY"]
        page.emulate_media(media="print")
        assert page.evaluate(seen) == ["SUMMARY", "P", "P"]
