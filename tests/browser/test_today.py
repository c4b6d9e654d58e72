"""The day's page on a telephone: all that needs a person, and what to do, in one screen."""

from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from tests.browser.visits import PHONE, address, opened


def all_in_one_screen(page: Page) -> None:
    matters = page.locator(".matter")
    assert matters.count() == 7
    for matter in matters.all():
        box = matter.bounding_box()
        assert box is not None
        assert box["y"] + box["height"] <= PHONE["height"], matter.inner_text()
        for part in ("h3 a", ".size b", ".size .interval", ":scope > .settle"):
            for seen in matter.locator(part).all():
                assert seen.is_visible()


def test_seven_matters_with_size_interval_and_what_to_do_fit_one_screen_of_a_telephone(
    any_fonts: Browser, own_site: Path
) -> None:
    with opened(any_fonts, address(own_site, "today"), PHONE, java_script_enabled=False) as (page, _):
        all_in_one_screen(page)


def test_they_fit_in_german_too(any_fonts: Browser, german_site: Path) -> None:
    with opened(any_fonts, address(german_site, "today"), PHONE) as (page, _):
        expect(page.locator("h1")).to_contain_text("sind zu tun")
        all_in_one_screen(page)


def test_why_unfolds_with_the_lines_behind_it(browser: Browser, own_site: Path) -> None:
    with opened(browser, address(own_site, "today"), PHONE, java_script_enabled=False) as (page, _):
        first, second = page.locator(".matter").first, page.locator(".matter.check").first
        assert first.locator(".reason").is_visible(), "what calls for action says why"
        assert not second.locator(".reason").is_visible()
        second.locator("summary").click()
        expect(second.locator(".reason")).to_be_visible()
        expect(second.locator("code").first).to_be_visible()


def test_a_matters_heading_is_the_way_to_its_evidence(browser: Browser, own_site: Path) -> None:
    with opened(browser, address(own_site, "today"), PHONE) as (page, _):
        page.locator('.matter h3 a[href*="#"]').first.click()
        expect(page.locator(":target")).to_be_visible()


def test_on_paper_every_matter_says_what_would_settle_it_and_shows_the_lines_that_were_asked_for(
    browser: Browser, own_site: Path
) -> None:
    with opened(browser, address(own_site, "today"), PHONE) as (page, _):
        page.locator(".matter summary").first.click()
        page.emulate_media(media="print")
        for seen in page.locator(".matter .settle").all():
            expect(seen).to_be_visible()
        assert page.locator(".matter:has(details code:visible)").count() == 1


def test_what_a_system_takes_up_leads_straight_to_why(browser: Browser, own_site: Path) -> None:
    with opened(browser, address(own_site, "today"), java_script_enabled=False) as (page, _):
        page.locator(".takes a").first.click()
        opened_by_the_way = page.locator("details[open]")
        expect(opened_by_the_way.locator(":target")).to_be_in_viewport()
        expect(opened_by_the_way.locator("code").first).to_be_visible()
        expect(page.locator(".number:has(:target) .value")).to_be_in_viewport()


def test_a_mark_has_the_colour_of_its_word(browser: Browser, own_site: Path) -> None:
    with opened(browser, address(own_site, "today")) as (page, _):
        perhaps = page.locator(".strips li:has(> .off.edge)").first
        word = perhaps.locator(".off").evaluate("(word) => getComputedStyle(word).color")
        assert perhaps.locator(".gauge path.value").evaluate("(mark) => getComputedStyle(mark).fill") == word
