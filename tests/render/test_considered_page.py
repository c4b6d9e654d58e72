"""The page of colonies under consideration: which place, what must move, where that can go."""

import re
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
    assert "46 cm × 37 cm × 24 cm, branching" in own
    assert "210–280 PAR, strong flow" in own
    assert "The Fore-reef, east-stand its middle 23 cm from the left and 18 cm from the front" in own
    assert "Ballast → nowhere without moving more" in own
    assert "sticks 15 cm out of the tank unless the place is lowered" in own
    assert "Grey Heron 2 → The Fore-reef, crest, its middle 3 cm from the left and 32 cm from the front" in own


def test_a_size_written_in_inches_is_shown_as_written_and_finds_its_places(own: str) -> None:
    assert "5.5 in × 5 in × 3 in, massive, 0.82 kg" in own
    # 5.5 in are 14.0 cm by definition of the inch, so its middle is 7 cm from an edge it stands at.
    assert "The Waiting Room, bare-shelf its middle 7 cm from the left" in own
    assert "10 PAR too dim" in own


def test_the_page_says_what_it_would_take_and_what_that_adds_to_the_doses(own: str) -> None:
    takes = own.split("Predicted uptake in The Fore-reef")[1].split("Predicted uptake in")[0]
    ranged = r"([\d.]+) {unit} a day likely ([\d.]+) to ([\d.]+) {unit} a day"
    grams, alkalinity = (re.search(ranged.format(unit=unit), takes) for unit in ("g", "dKH"))
    soda = re.search(r"soda Na2CO3, 60 g/L (\d+) mL a day", takes)
    assert grams is not None
    assert alkalinity is not None
    assert soda is not None
    for found in (grams, alkalinity):
        value, low, high = map(float, found.groups())
        assert low < value < high
    # A gram of CaCO3 takes 19.98 meq (100.086 g a mole, 2 eq), in 1150 L at 2.80385 dKH a meq/L; a litre of soda
    # at 60 g/L gives 1132.2 meq (105.988 g a mole, 2 eq). Abridged atomic weights.
    assert float(alkalinity[1]) == pytest.approx(float(grams[1]) * 19.98 / 1150.0 * 2.80385, rel=0.1)
    assert float(soda[1]) == pytest.approx(float(grams[1]) * 19.98 / 1.1322, rel=0.1)


@pytest.mark.parametrize("audience", ["public", "partners", "own"])
def test_others_see_only_what_is_marked_for_them_and_never_the_note(audience: Audience) -> None:
    html = drawn(sample.built(sample.seen(audience)))
    said = _said(html[links.CONSIDERED])
    assert "The shared boulder" in said
    assert ("CANARY-colony" in said) == ("CANARY-consideration" in said) == (audience == "own")
    assert "Under consideration" in _said(html[links.CORALS])


def test_where_nothing_is_considered_there_is_no_page_and_no_way_to_it() -> None:
    html = drawn(sample.built(sample.seen("public", considered=(sample.considered(),))))
    assert links.CONSIDERED not in html
    assert "Under consideration" not in _said(html[links.CORALS])
