"""What the first words of a page say: what changed most comes first, and whether predictions held."""

import re
from pathlib import Path

from tests.render.pages import texts


def said(site: Path, address: str) -> str:
    html = (site / address).read_text("utf-8")
    return re.sub(r"\s+([ .,])", r"\1", " ".join(text for _, text in texts(html)).replace("\n", " "))


def test_of_a_week_the_water_that_changed_most_comes_first(own_site: Path) -> None:
    html = (own_site / "since.html").read_text("utf-8")
    drawn = re.findall(r"<h3>(?:<a[^>]*>)?<bdi>(The [\w-]+(?: Room)?)</bdi>", html.split("Alkalinity uptake then")[0])
    told = said(own_site, "since.html").split("Changed most:")[1].split("The water then and now")[0]
    names = re.findall(r"(The [\w-]+(?: Room)?) ?:", told)
    assert names
    assert drawn[: len(names)] == names


def test_the_track_record_says_first_where_ranges_held_and_how_many_predictions_came_true(own_site: Path) -> None:
    first = said(own_site, "track-record.html").split("Every reading is compared")[0]
    assert re.search(r"Likely ranges held in (The .+)\.", first)
    found = re.search(r"Of (\d+) predictions of .+ (\d+) agree with what was found\. Those that did not: (.+)\.", first)
    assert found
    assert int(found[1]) - int(found[2]) == sum(int(n) for n in re.findall(r"(\d+) of \d+", found[3]))


def test_trades_say_in_words_who_owes_what_next(own_site: Path) -> None:
    first = said(own_site, "trades/index.html").split("Who gave and who owes what")[0]
    assert "One promise is overdue · they owe: " in first
    assert re.search(r"We owe 3 things; next: .+, Ilo Marchetti-Ruan, 2026-12-31\.", first)
    assert re.search(r"We are owed 3 things; next: .+, Brask & Daughter, coral growers, 2026-12-15\.", first)
