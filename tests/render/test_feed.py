"""The feeds, as a general-purpose feed library reads them, and what stands for a shared link."""

import feedparser

from generator.records.settings import Publish
from generator.records.source import Source
from tests.render import sample
from tests.render.pages import Site, drawn, elements

BASE = "https://example.org/reef/"


def built(**given: object) -> Site:
    return sample.built(sample.seen(**given))


def read(site: Site, address: str) -> feedparser.FeedParserDict:
    told = feedparser.parse(site.files[address])
    assert not told.bozo, told.get("bozo_exception")
    assert told.version == "atom10"
    return told


def test_the_feed_has_what_a_feed_must_have() -> None:
    told = read(built(), "feed.xml")
    # RFC 4287, 4.1.1: id, title, updated; an author for the feed or for each entry.
    assert told.feed.title == "Two tanks"
    assert told.feed.author == "Wren Halloway"
    assert told.feed.id.startswith("tag:example.org,")
    assert told.feed.updated == "2026-03-02T00:00:00+00:00"
    assert {link.rel: link.href for link in told.feed.links} == {
        "self": f"{BASE}feed.xml",
        "alternate": f"{BASE}index.html",
    }
    assert len({entry.id for entry in told.entries}) == len(told.entries) == 1


def test_an_entry_leads_to_its_page_and_so_do_the_links_in_it() -> None:
    (entry,) = read(built(), "feed.xml").entries
    assert entry.id == "tag:example.org,2026-03-02:reef/journal/2026-03-02-cut.html"
    assert entry.link == f"{BASE}journal/2026-03-02-cut.html"
    assert entry.summary == "What was cut"
    assert f'<a href="{BASE}corals/tide-lantern-1.html">the lantern</a>' in entry.content[0].value
    assert "<table>" in entry.content[0].value


def test_a_new_title_is_the_same_entry() -> None:
    changed = sample.entry(title="Another title", body="Other words.")
    ids = [read(built(**given), "feed.xml").entries[0].id for given in ({}, {"entries": {changed.id: changed}})]
    assert ids[0] == ids[1]


def test_a_system_has_a_feed_of_what_is_about_it() -> None:
    other = sample.entry("2026-03-04-other", systems=(), corals=(), body="Of nothing here.")
    entries = {each.id: each for each in (sample.entry(), other)}
    site = built(entries=entries)
    assert len(read(site, "feed.xml").entries) == 2
    (of_lagoon,) = read(site, "systems/lagoon.xml").entries
    assert of_lagoon.title == "A cut"
    assert "the lantern</a>" in of_lagoon.content[0].value, "the whole text, as in the feed of all"


def test_what_a_keeper_writes_stays_text_in_a_feed() -> None:
    wild = sample.entry(title="<b>&amp; ]]></b>", summary="<i>", body="<script>alert(1)</script>")
    (entry,) = read(built(entries={wild.id: wild}), "feed.xml").entries
    assert entry.content[0].value == "<p>&lt;script&gt;alert(1)&lt;/script&gt;</p>"


def test_without_an_address_there_is_no_feed_and_the_keeper_is_told_why() -> None:
    site = sample.built(sample.seen(settings=sample.settings(base_url=None)))
    assert not [address for address in site.files if address.endswith(".xml")]
    assert [str(problem) for problem in site.problems] == [
        "journal.yaml:1: warning: the site has no address, so it has no feed and no cards for shared links "
        "(write where you will publish it, for example base_url: https://example.org/reef/)"
    ]


def test_no_site_but_the_public_one_has_feeds_and_addresses() -> None:
    site = sample.built(sample.seen("own"))
    assert not [address for address in site.files if address.endswith(".xml")]
    assert not site.problems
    assert not [a for _, a in elements(drawn(site)["index.html"]) if a.get("rel") == "canonical"]


def shared(site: Site, url: str) -> dict[str, str]:
    return {a["property"]: a["content"] for tag, a in elements(drawn(site)[url]) if tag == "meta" and "property" in a}


def test_a_shared_link_shows_title_words_and_picture() -> None:
    site = built()
    coral = shared(site, "corals/tide-lantern-1.html")
    # Open Graph: title, type, image and url are what every page must have.
    assert coral["og:title"] == "Tide Lantern 1"
    assert coral["og:url"] == f"{BASE}corals/tide-lantern-1.html"
    assert coral["og:image"] == f"{BASE}photos/lantern-480.webp"
    assert shared(site, "systems/lagoon.html")["og:image"] == f"{BASE}cards/lagoon.png"
    assert "og:url" not in shared(site, "404.html")


def test_a_card_shows_the_water_of_the_last_months_within_its_frame() -> None:
    card = built().cards["cards/lagoon.png"]
    assert (card.site, card.title, card.value) == ("Two tanks", "Lagoon", "Alkalinity 7.6\u00a0dKH")
    assert all(0 <= part <= 1 for point in (*card.line, *card.dots) for part in point)
    assert card.band
    assert card.band[0] < card.band[1]
    # 9.9, 8.2, 7.6 dKH: what was read higher stands higher.
    heights = [y for _, y in sorted(card.dots)]
    assert heights[1] > heights[0] > heights[2]


def test_a_journal_may_put_what_changed_in_each_week_into_its_feed() -> None:
    """The sample's day is Tuesday, 10 March 2026; a frag's cut and the readings of 2 to 8 March are in that week."""
    publish = Publish(source=Source("journal.yaml"), weeks=True)
    site = built(settings=sample.settings(publish=publish))
    week = next(entry for entry in read(site, "feed.xml").entries if entry.link == f"{BASE}since.html")
    assert week.id == "tag:example.org,2026-03-09:reef/since.html"
    assert week.title == "The week of 2 Mar 2026 to 8 Mar 2026".replace(" Mar", "\u00a0Mar")
    assert week.updated == "2026-03-09T00:00:00+00:00"
    assert f'<a href="{BASE}systems/lagoon.html">' in week.content[0].value
    assert "CANARY" not in week.content[0].value
    assert "since.html" in {page.url for page in site.pages}
    assert "since.html" not in {page.url for page in built().pages}
