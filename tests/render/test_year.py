"""A year's page: what grew, what was cut and went to how many hands, and the water week by week."""

import re
from pathlib import Path


def test_a_year_says_what_grew_what_came_and_how_the_water_was(own_site: Path) -> None:
    page = (own_site / "journal" / "2026.html").read_text("utf-8").replace("\u00a0", " ")
    assert re.search(r"The Fore-reef</bdi></dt><dd><b>\d+ g</b> <small>likely \d+ to \d+ g</small>", page)
    assert re.search(r"Frags cut</dt><dd>\d+ frags cut, pieces to \d+ partners", page)
    assert re.search(
        r'<p class="lead">\d+ % of the weekly readings were in their bands of today; 4 corals arrived; ', page
    )
    for heading, coral in (("Arrived", "Ballast"), ("Lost", "Rainward 1")):
        told = re.search(rf"<dt>{heading}</dt><dd>(.*?)</dd>", page, re.DOTALL)
        assert told
        assert coral in told[1]
    counted = re.search(r"(\d+) of (\d+) were in their bands of today", page)
    assert counted
    assert int(counted[2]) == len(re.findall(r'class="w-(?:within|low|high)"', page))
    assert int(counted[1]) == page.count('class="w-within"')


def test_a_week_below_its_band_differs_by_its_place_and_not_by_colour_alone(own_site: Path) -> None:
    page = (own_site / "journal" / "2026.html").read_text("utf-8")
    heights = {
        look: set(re.findall(rf'class="w-{look}"[^>]* height="(\d+)"', page)) for look in ("within", "low", "high")
    }
    assert heights == {"within": {"16"}, "low": {"8"}, "high": {"8"}}


def test_a_photograph_of_each_month_is_the_one_marked_or_that_with_most_detail(own_site: Path) -> None:
    # Of August Tide Lantern 1 is marked; of October the handcart has more edges than the boulder.
    page = (own_site / "journal" / "2026.html").read_text("utf-8")
    assert "2026-08-29</span> · Tide Lantern 1<" in page
    assert "2026-10-04</span> · Drowned Orchard<" in page


def test_a_photograph_of_each_month_is_dated_by_itself_or_by_its_entry(own_site: Path) -> None:
    page = (own_site / "journal" / "2026.html").read_text("utf-8")
    said = re.findall(r"<figcaption><[^>]*>(\d{4}-\d\d-\d\d)</span> · ([^<]*)</figcaption>", page)
    assert ("2026-07-12", "The tube") in said
    months = [day[:7] for day, _ in said]
    assert months == sorted(set(months))
