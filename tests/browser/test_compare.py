"""Two photographs of a coral over each other: with a finger, a key, or simply side by side."""

from pathlib import Path

from playwright.sync_api import Browser, Page, expect

from tests.browser.visits import PHONE, opened


def edge(page: Page) -> float:
    clip = page.locator(".two img").nth(1).evaluate("(image) => image.style.clipPath")
    return float(clip.split("%")[0].split(" ")[-1])


def test_a_finger_and_a_key_move_the_edge_between_any_two_photographs(browser: Browser, own_site: Path) -> None:
    with opened(browser, (own_site / "corals" / "ballast-1.html").as_uri(), PHONE) as (page, noise):
        box = page.locator(".two").bounding_box()
        assert box is not None
        assert edge(page) == 50
        page.locator(".two").click(position={"x": box["width"] * 0.25, "y": 40})
        assert 23 <= edge(page) <= 27
        page.locator(".slide input").focus()
        page.keyboard.press("ArrowRight")
        assert 24 <= edge(page) <= 28
        first = page.locator(".two img").first.get_attribute("src")
        page.locator(".compare select").first.select_option("1")
        assert page.locator(".two img").first.get_attribute("src") != first
        assert page.locator(".strip li:visible").count() == 1, (
            "what lies under the slider does not stand below it again"
        )
        assert not noise


def test_without_scripts_they_stand_side_by_side_in_order_of_days(browser: Browser, own_site: Path) -> None:
    with opened(browser, (own_site / "corals" / "ballast-1.html").as_uri(), java_script_enabled=False) as (page, _):
        assert not page.locator(".compare").is_visible()
        days = [text[:10] for text in page.locator(".strip figcaption").all_inner_texts()]
        assert days == sorted(days)
        assert len(days) == 2
        for photo in page.locator(".strip img").all():
            expect(photo).to_be_visible()
