"""The pages an hour before and an hour after an arrival: what rests on a prediction says so, and nothing else does."""

import re
from datetime import datetime

import pytest

from generator.reckon.attention import alerts
from generator.reckon.finding import Finding
from generator.records.past import as_it_stood
from generator.render.audience import view
from generator.render.base import links
from generator.render.base.numbers import display_of, say_per_day
from generator.render.base.words import words_of
from generator.render.site.site_map import site
from tests.reckon.arrivals.test_hour import HOME, HOUR, arrival, at, demo
from tests.render.pages import drawn, texts

__all__ = ["arrival", "at", "demo"]

Pages = dict[str, str]


def said(html: str) -> str:
    return re.sub(r"\s+", " ", " ".join(text for _, text in texts(html)).replace("\u00a0", " "))


@pytest.fixture(scope="module")
def pages(demo, arrival, at: datetime) -> tuple[Pages, Pages]:
    before, after, journal = arrival
    then = as_it_stood(demo, at - HOUR)
    made = []
    for stood, found in ((then, before), (journal, after)):
        built = site(view(stood, "own"), found, alerts(stood, found), found.as_of, {})
        made.append({url: said(html) for url, html in drawn(built).items() if not url.startswith("journal/")})
    return made[0], made[1]


OF_HOME = (links.page_of("system", HOME), links.dosing_of(HOME), links.shares_of(HOME))


def test_before_no_page_takes_anything_for_predicted(pages) -> None:
    assert [url for url, text in pages[0].items() if "Predicted: Lot 19" in text] == []


@pytest.mark.parametrize("url", OF_HOME)
def test_after_every_page_of_the_water_says_that_its_numbers_are_predicted(pages, url: str) -> None:
    assert "Predicted: Lot 19, which nobody drew is here since" in pages[1][url]


def test_after_the_day_names_it_and_no_page_says_that_demand_has_risen(pages) -> None:
    assert "Test alkalinity in The Fore-reef: Lot 19, which nobody drew has arrived" in pages[1][links.HOME]
    for url in (links.HOME, *OF_HOME):
        assert not re.search(r"Check the alkalinity dose in The Fore-reef: uptake", pages[1][url])


def test_after_every_page_tells_the_same_uptake(pages, arrival, demo) -> None:
    _, after, _ = arrival
    answer = after.water[HOME].uptake["alkalinity"].per_day
    assert isinstance(answer, Finding)
    display = display_of(demo.settings, demo.systems, demo.logs)
    value = say_per_day(display, words_of("en"), "alkalinity", answer.estimate).value.replace("\u00a0", " ")
    assert value in pages[1][links.page_of("system", HOME)]
    assert value in pages[1][links.dosing_of(HOME)]


def test_the_newcomer_has_a_page_a_trade_and_no_sheet_any_more(pages) -> None:
    assert links.page_of("coral", "lot-19") not in pages[0]
    assert links.page_of("coral", "lot-19") in pages[1]
    assert links.page_of("trade", "2026-11-24-lot-19") in pages[1]
    assert links.page_of("plan", "lot-19") in pages[0]
    assert links.page_of("plan", "lot-19") not in pages[1]
