"""The page of colonies under consideration: which place, what must move, where that can go."""

from datetime import date, datetime
from pathlib import Path

import pytest

from generator.read.load import load
from generator.reckon.survey import survey
from generator.records.past import as_it_stood
from generator.render import links
from generator.render.audience import Audience, view
from generator.render.site_map import Site, site
from tests.render import sample
from tests.render.pages import drawn, texts

CONTENT = Path(__file__).parents[2] / "content"


def _said(html: str) -> str:
    return " ".join(" ".join(text for _, text in texts(html)).replace("\u00a0", " ").split())


@pytest.fixture(scope="module")
def own() -> str:
    loaded = load(CONTENT, date(2026, 11, 24)).journal
    assert loaded is not None
    at = datetime(2026, 11, 24, 20, 0, tzinfo=loaded.settings.time_zone)
    journal = as_it_stood(loaded, at)
    made = site(view(journal, "own"), survey(journal, at), (), at, {})
    pages = {page.url: page for page in made.pages}
    only = Site((pages[links.CONSIDERED],), {}, {}, ())
    return _said(drawn(only)[links.CONSIDERED])


def test_the_page_says_which_place_what_must_move_and_where_that_can_go(own: str) -> None:
    assert "48 cm × 40 cm × 18 cm, tabling" in own
    assert "250–350 PAR, strong flow" in own
    assert "The Fore-reef, table-head its middle 24 cm from the left and 20 cm from the front" in own
    assert "Long Table → nowhere without moving more" in own
    assert "stands 9 cm out of the vessel, unless the place is lowered" in own
    assert "Grey Heron 2 → The Fore-reef, crest, its middle 3 cm from the left and 2 cm from the front" in own


def test_the_page_says_what_it_would_take_and_what_that_adds_to_the_doses(own: str) -> None:
    takes = own.split("What it would take in The Fore-reef")[1].split("What it would take in")[0]
    assert "14 g a day most likely between 7 and 28 g a day" in takes
    assert "0.9 dKH a day most likely between 0.5 and 1.8 dKH a day" in takes
    assert "soda Na2CO3, 60 g/L 252 mL a day" in takes


@pytest.mark.parametrize("audience", ["public", "partners", "own"])
def test_others_see_only_what_is_marked_for_them_and_never_the_note(audience: Audience) -> None:
    html = drawn(sample.built(sample.seen(audience)))
    said = _said(html[links.CONSIDERED])
    assert "The shared table" in said
    assert ("CANARY-colony" in said) == ("CANARY-consideration" in said) == (audience == "own")
    assert "Under consideration" in _said(html[links.CORALS])


def test_where_nothing_is_considered_there_is_no_page_and_no_way_to_it() -> None:
    html = drawn(sample.built(sample.seen("public", considered=(sample.considered(),))))
    assert links.CONSIDERED not in html
    assert "Under consideration" not in _said(html[links.CORALS])
