"""A system's page: its answers in the first screen, all quantities over one axis of time, and short enough to read."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.visits import DESK, PHONE, opened, pages_by_kind, seen

KILOBYTE = 1000


def busiest(site: Path) -> str:
    return pages_by_kind(site)["system"][0].as_uri()


def test_it_is_light_and_short_on_a_desk_and_on_a_telephone(any_fonts: Browser, own_site: Path) -> None:
    assert pages_by_kind(own_site)["system"][0].stat().st_size <= 110 * KILOBYTE
    for path in pages_by_kind(own_site)["system"]:
        with opened(any_fonts, path.as_uri(), java_script_enabled=False) as (page, _):
            for size, most in ((DESK, 4500), (PHONE, 7000)):
                assert seen(page, size).evaluate("document.documentElement.scrollHeight") <= most, path.name


@pytest.mark.parametrize("size", [DESK, PHONE], ids=("desk", "telephone"))
def test_the_first_screen_says_how_the_water_is_what_it_uses_and_what_to_do(
    any_fonts: Browser, own_site: Path, size: dict[str, int]
) -> None:
    with opened(any_fonts, busiest(own_site), size) as (page, _):
        for answer in page.locator(".answers dd").all():
            box = answer.bounding_box()
            assert box is not None
            assert box["y"] + box["height"] <= size["height"], answer.inner_text()


def drawn(page: Page) -> Page:
    page.locator("[data-chart]").scroll_into_view_if_needed()
    expect(page.locator("[data-chart]")).to_have_attribute("data-drawn", "", timeout=15_000)
    return page


def test_one_pointer_reads_all_quantities_and_so_do_the_arrow_keys(browser: Browser, own_site: Path) -> None:
    with opened(browser, busiest(own_site)) as (page, noise):
        told, day = drawn(page).locator(".chart-day output"), page.locator(".chart-day b")
        box = page.locator("[data-chart] > div svg").bounding_box()
        assert box is not None
        page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 30)
        said = told.locator("span").all_inner_texts()
        heads = page.locator("[data-chart] > svg .t-heading").all_text_contents()
        assert [line.partition(",")[0] for line in said] == [
            head.partition(",")[0].removesuffix(" uptake") for head in heads
        ]
        for told_as in ("Alkalinity, calculated level: ", "Alkalinity, uptake: ", "Temperature, last read 2026-"):
            expect(told).to_contain_text(told_as)
        assert told.evaluate("(box) => box.scrollHeight <= box.clientHeight + 1"), "all of it is in view"
        before = day.inner_text()
        page.locator(".chart-day input").focus()
        for _ in range(40):
            page.keyboard.press("ArrowLeft")
        assert day.inner_text() < before, "an earlier day"
        assert not noise


def test_a_range_is_chosen_with_the_keyboard_and_the_axis_follows(browser: Browser, own_site: Path) -> None:
    labels = "[...document.querySelectorAll('[data-chart] .role-axis-label text')].map((text) => text.textContent)"
    with opened(browser, busiest(own_site)) as (page, noise):
        drawn(page).locator(".chart-ranges input:checked").focus()
        seen_of = {}
        for name, key in (("month", "ArrowLeft"), ("week", "ArrowLeft"), ("all", "ArrowLeft")):
            page.keyboard.press(key)
            page.wait_for_timeout(400)
            days = [
                label for label in page.evaluate(labels) if label and not label.lstrip("−").replace(".", "").isdigit()
            ]
            assert len(days) == len(set(days)), (name, days)
            seen_of[name] = tuple(days)
        assert len(set(seen_of.values())) == 3
        assert not noise


def test_a_link_into_what_is_folded_unfolds_it(browser: Browser, own_site: Path) -> None:
    with opened(browser, f"{busiest(own_site)}#ledger", java_script_enabled=False) as (page, _):
        expect(page.locator("#ledger table").first).to_be_visible()
