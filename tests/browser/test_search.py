"""Searching in a real browser, from a folder, among five thousand documents."""

import random
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import quote

import pytest
from playwright.sync_api import Browser, Page, expect

from generator.render.pages.search import Indexed, findable, index
from tests.browser.visits import opened

_GENERA = ("Acropora", "Montipora", "Pocillopora", "Seriatopora", "Stylophora", "Pavona", "Euphyllia", "Goniopora")
_SAID = ("cut", "moved", "pale", "tips", "broke", "glue", "healed", "lamp", "flow", "slime", "grew", "shelf", "photo")


def library() -> list[Indexed]:
    """A decade's journal: 1,000 corals, 4,000 entries, and a few that the questions are about."""
    chance = random.Random(6)
    corals = [
        Indexed(f"corals/piece-{n}.html", "coral", f"Piece {n}", f"{chance.choice(_GENERA)} species{n % 40}")
        for n in range(1000)
    ]
    entries = [
        Indexed(f"journal/day-{n}.html", "entry", f"Day {n}", "", " ".join(chance.choices(_SAID, k=40)))
        for n in range(3997)
    ]
    named = [
        Indexed("corals/tide-lantern-1.html", "coral", "Tide Lantern 1", "Acropora millepora", "grown from a stub"),
        Indexed("journal/storm.html", "entry", "Ein Sturm über Überlingen", "", "the generator held for a night"),
        Indexed("partners/wren.html", "partner", "Wren Halloway", "", ""),
    ]
    return [*corals, *entries, *named]


@pytest.fixture(scope="module")
def searching(browser: Browser, demo_site: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    """The demo's search page over that library."""
    folder = tmp_path_factory.mktemp("search")
    where, pieces = index(list(map(findable, library())))
    page = (demo_site / "search.html").read_text("utf-8")
    (folder / "search.html").write_text(re.sub(r'data-search="[^"]*"', f'data-search="{where}"', page), "utf-8")
    shutil.copytree(demo_site / "assets", folder / "assets")
    for name, content in pieces.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    with opened(browser, (folder / "search.html").as_uri()) as (opened_page, noise):
        yield opened_page
        assert not noise


def first_found(page: Page, question: str) -> str:
    page.locator("#asked").fill(question)
    # The question stands in the address once it is answered.
    expect(page).to_have_url(re.compile(f"#{re.escape(quote(question))}$"))
    return page.locator("#found a").first.inner_text()


@pytest.mark.parametrize(
    ("question", "answer"),
    [
        ("tide lantern", "Tide Lantern 1"),
        ("lant", "Tide Lantern 1"),
        ("tide latern", "Tide Lantern 1"),  # a letter left out
        ("lnatern", "Tide Lantern 1"),  # two letters swapped
        ("mileppora", "Tide Lantern 1"),  # two slips in a long word
        ("halowa", "Wren Halloway"),  # a slip in a word not yet typed to its end
        ("uberlingen", "Ein Sturm über Überlingen"),
        ("generator night", "Ein Sturm über Überlingen"),
        ("piece 777", "Piece 777"),
    ],
)
def test_what_was_meant_stands_first_among_five_thousand(searching: Page, question: str, answer: str) -> None:
    assert first_found(searching, question) == answer


def test_a_short_word_is_taken_as_it_is_written(searching: Page) -> None:
    searching.locator("#asked").fill("xyz")
    expect(searching.locator("#told")).to_have_text("Nothing was found.")


def test_an_answer_says_how_many_there_are_and_shows_the_first(searching: Page) -> None:
    searching.locator("#asked").fill("montipora")
    expect(searching.locator("#told")).to_contain_text("pages found. Showing the first 20.")
    expect(searching.locator("#found li")).to_have_count(20)


def test_only_the_pieces_an_answer_needs_are_loaded(searching: Page) -> None:
    first_found(searching, "halloway")
    loaded = searching.evaluate("[...document.scripts].filter((script) => script.src.includes('/search/')).length")
    assert loaded < len(index(list(map(findable, library())))[1])


def test_the_keys_alone_lead_from_the_question_to_the_page(browser: Browser, demo_site: Path) -> None:
    with opened(browser, (demo_site / "search.html").as_uri()) as (page, noise):
        expect(page.locator("#asked")).to_be_focused()
        page.keyboard.type("wet slipwya 2")
        expect(page.locator("#found a").first).to_have_text("Wet Slipway 2")
        page.keyboard.press("ArrowDown")
        expect(page.locator("#found a").first).to_be_focused()
        page.keyboard.press("Escape")
        expect(page.locator("#asked")).to_be_focused()
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Enter")
        expect(page.locator("h1")).to_have_text("Wet Slipway 2")
        page.go_back()
        expect(page.locator("#found a").first).to_have_text("Wet Slipway 2")
        assert not noise


def test_without_scripts_the_search_page_leads_to_the_lists(browser: Browser, demo_site: Path) -> None:
    with opened(browser, (demo_site / "search.html").as_uri(), java_script_enabled=False) as (page, noise):
        expect(page.locator("#asked")).to_be_hidden()
        expect(page.get_by_text("Search needs a script")).to_be_visible()
        page.locator("main").get_by_role("link", name="Corals").click()
        expect(page.locator("h1")).to_have_text("Corals")
        assert not noise
