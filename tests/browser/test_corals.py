"""The corals' pages in a real browser: what they answer with scripts, and without."""

from pathlib import Path

from playwright.sync_api import Browser, expect

from tests.browser.visits import DESK, PAPER, PHONE, TABLET, opened, seen


def test_the_plan_shows_a_later_day_without_any_script(browser: Browser, demo_site: Path) -> None:
    with opened(browser, (demo_site / "plans" / "fore-reef.html").as_uri(), java_script_enabled=False) as (page, _):
        corals = page.locator(".stages .p-coral:visible").count()
        assert corals > 5
        assert page.locator(".stage:visible").count() == 0
        assert page.locator(".today:visible").count()
        assert not page.locator(".later:visible").count()
        page.get_by_text("In 12 months").click()
        expect(page.locator(".in-12").first).to_be_visible()
        assert page.locator(".stage:visible").count() == page.locator(".floor").count(), "from above and from the front"
        assert page.locator(".in-12 .p-will").count() == corals
        assert page.locator(".later:visible").count()
        assert not page.locator(".today:visible").count()


def test_a_slider_goes_through_the_coming_two_years(browser: Browser, demo_site: Path) -> None:
    with opened(browser, (demo_site / "plans" / "fore-reef.html").as_uri()) as (page, noise):
        page.locator(".slide input").first.focus()
        for months in range(3, 27, 3):
            page.keyboard.press("ArrowRight")
            expect(page.locator(f".in-{min(months, 24)}").first).to_be_visible()
            assert page.locator(".stage:visible").count() == page.locator(".floor").count()
        assert not noise


def test_the_whole_tank_is_in_view_on_a_telephone(any_fonts: Browser, demo_site: Path) -> None:
    with opened(any_fonts, (demo_site / "plans" / "raceway.html").as_uri(), PHONE) as (page, _):
        for tank in page.locator(".floor").all():
            box = tank.bounding_box()
            assert box is not None
            assert box["x"] >= 0
            assert box["x"] + box["width"] <= PHONE["width"]
        for number in page.locator(".stages .p-number").all():
            size = number.bounding_box()
            assert size is not None
            assert size["height"] >= 11, number.inner_text()


def test_what_a_place_says_stays_within_it(any_fonts: Browser, demo_site: Path) -> None:
    outside = """[...document.querySelectorAll(".p-words:has(tspan)")].filter((words) => {
      const box = words.getBoundingClientRect();
      const places = [...words.closest("svg").querySelectorAll(".p-place, .p-shelf")];
      return !places.map((place) => place.getBoundingClientRect()).some((place) =>
        place.left - 3 <= box.left && box.right <= place.right + 3);
    }).map((words) => words.textContent)"""
    with opened(any_fonts, (demo_site / "plans" / "lagoon.html").as_uri()) as (page, _):
        assert page.locator(".p-words:has(tspan)").count() == 6
        for size in (DESK, PHONE, TABLET):
            assert seen(page, size).evaluate(outside) == [], size
        page.set_viewport_size(PAPER)
        page.emulate_media(media="print")
        assert page.evaluate(outside) == [], "paper"


def test_a_coral_in_the_plan_leads_to_its_page(browser: Browser, demo_site: Path) -> None:
    with opened(browser, (demo_site / "plans" / "fore-reef.html").as_uri()) as (page, _):
        page.locator(".floor a").first.click()
        expect(page.locator("h1")).to_have_text("Grey Heron 1")


def test_the_gallery_finds_by_any_part_of_a_name_and_hides_empty_groups(browser: Browser, demo_site: Path) -> None:
    with opened(browser, (demo_site / "corals" / "index.html").as_uri()) as (page, _):
        everything = page.locator(".coral:visible").count()
        page.fill("#filter", "lantern acropora")
        assert 0 < page.locator(".coral:visible").count() < everything
        assert all("Tide Lantern" in words for words in page.locator(".coral:visible").all_inner_texts())
        expect(page.locator("[role=status]")).to_contain_text("shown")
        page.fill("#filter", "no such coral")
        assert page.locator(".coral:visible").count() == 0
        assert page.locator("main > section:visible").count() == 0


def test_without_scripts_the_gallery_is_a_whole_list_and_no_dead_form(browser: Browser, demo_site: Path) -> None:
    with opened(browser, (demo_site / "corals" / "index.html").as_uri(), java_script_enabled=False) as (page, _):
        assert page.locator("#filter:visible").count() == 0
        assert page.locator(".coral:visible").count() == page.locator(".coral").count() > 40


def test_growth_is_drawn_anew_for_the_pointer(browser: Browser, demo_site: Path) -> None:
    with opened(browser, (demo_site / "corals" / "slate-garden-2.html").as_uri()) as (page, _):
        chart = page.locator("[data-chart]").first
        expect(chart.locator("svg.timeline")).to_be_attached()
        chart.scroll_into_view_if_needed()
        expect(chart).to_have_attribute("data-drawn", "", timeout=15_000)
        assert chart.locator("[aria-roledescription='point']").count() >= 9
