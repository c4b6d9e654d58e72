"""The first screen of each page answers its question with a picture, on a desk and on a telephone."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.browser.visits import DESK, PHONE, address, opened, pages_by_kind, seen


@pytest.mark.parametrize("screen", [DESK, PHONE], ids=["desk", "phone"])
def test_the_first_screen_answers(browser: Browser, own_site: Path, screen: dict[str, int]) -> None:
    answers = {
        "today": ".matter",
        "system": ".answers",
        "coral": ".portrait .facts",
        "shares": ".range",
        "dosing": ".range",
        "change": ".range",
        "lines": ".holds circle",
        "plan": ".floor",
        "survival": "main svg",
        "travel": ".range",
        "trades": ".timeline",
        "sheet": ".answers",
        "planned": ".range",
        "year": ".weeks",
        "track_record": "main svg",
        "offers": ".passes",
        "since": ".gauge .was",
    }
    below = {}
    for kind, answer in answers.items():
        with opened(browser, address(own_site, kind), screen, java_script_enabled=False) as (page, _):
            box = page.locator(answer).first.bounding_box()
            if box is None or box["y"] + min(box["height"], 60) > screen["height"]:
                below[kind] = box
    assert below == {}


def test_the_first_of_a_coral_is_how_it_is_and_how_long_it_has_room(browser: Browser, own_site: Path) -> None:
    with opened(browser, (own_site / "corals/slate-garden-2.html").as_uri(), DESK, java_script_enabled=False) as (
        page,
        _,
    ):
        said = page.locator(".portrait dt").all_inner_texts()
        assert said[:2] == ["Health", "Size"]
        assert "Room" in said
        assert said[-1] == "To do"


@pytest.mark.parametrize(
    ("kind", "desk", "phone"),
    [("coral", 4500, 7000), ("lines", 3500, 4500), ("offers", 2500, 4000), ("sheet", 4500, 7100)],
)
def test_a_page_is_short_enough_to_read(browser: Browser, own_site: Path, kind: str, desk: int, phone: int) -> None:
    for path in pages_by_kind(own_site)[kind][:6]:
        with opened(browser, path.as_uri(), java_script_enabled=False) as (page, _):
            for size, most in ((DESK, desk), (PHONE, phone)):
                assert seen(page, size).evaluate("document.documentElement.scrollHeight") <= most, path.name


def test_a_coral_without_a_photo_shows_its_outline_beside_how_it_is(browser: Browser, own_site: Path) -> None:
    with opened(browser, (own_site / "corals/slate-garden-2.html").as_uri(), DESK) as (page, _):
        drawn, said = (page.locator(f".portrait {each}").bounding_box() for each in (".rings", ".facts"))
        assert drawn is not None
        assert said is not None
        assert drawn["x"] + drawn["width"] <= said["x"]
        assert drawn["y"] < said["y"] + said["height"]
