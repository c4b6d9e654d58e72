"""The site as a whole: addresses, links, and what is wrong in the keeper's texts."""

import posixpath

from msgspec.structs import replace

from generator.records.source import Source
from generator.render.base.links import relative
from generator.render.site.pages import PageMade, one_page_an_address
from tests.render import sample
from tests.render.pages import drawn, elements, links


def test_every_page_has_an_address_of_its_own() -> None:
    urls = [page.url for page in sample.built(sample.seen()).pages]
    assert len(urls) == len(set(urls))
    assert {"index.html", "systems/lagoon.html", "corals/tide-lantern-1.html", "404.html"} <= set(urls)


def test_a_coral_named_like_a_page_of_the_site_has_another_address() -> None:
    clash = sample.coral("lines")
    site = sample.built(sample.seen(corals={"lines": clash}, entries={}, trades={}))
    assert {"corals/lines.html", "corals/lines-.html"} <= {page.url for page in site.pages}


def test_two_claims_on_one_address_are_a_problem_that_names_both_files() -> None:
    first = PageMade("lines.html", "fixed", "lines.html", Source("journal.yaml", 1))
    second = PageMade("lines.html", "coral", "lines", Source("corals/lines.yaml", 1))
    pages, (problem,) = one_page_an_address([first, second])
    assert pages == {"lines.html": first}
    assert (problem.kind, problem.source, problem.also_at) == ("address-taken", second.source, first.source)
    assert "lines.html" in problem.wrong


def test_every_link_and_anchor_leads_somewhere() -> None:
    site = sample.built(sample.seen("own"))
    pages = drawn(site)
    there = {*pages, *site.files}
    ids = {url: {a["id"] for _, a in elements(html) if "id" in a} for url, html in pages.items()}
    for url, html in pages.items():
        for href in links(html):
            if href.startswith(("https:", "mailto:")) or "assets/" in href or "photos/" in href:
                continue
            path, _, fragment = href.partition("#")
            target = posixpath.normpath(posixpath.join(posixpath.dirname(url), path)) if path else url
            assert target in there, f"{url}: {href}"
            assert not fragment or fragment in ids[target], f"{url}: {href}"


def test_a_dead_link_in_an_entry_is_a_problem_at_its_file_and_line() -> None:
    entry = sample.entry(body="First.\n\nCut [it](coral:tide-latern-1) and\nthen [that](tank:lagoon).", body_line=6)
    site = sample.built(sample.seen(entries={entry.id: entry}))
    assert [str(problem) for problem in site.problems] == [
        "entries/2026-03-02-cut.md:8: there is no coral 'tide-latern-1' (did you mean coral:tide-lantern-1?)",
        "entries/2026-03-02-cut.md:9: links cannot start with 'tank:' (write https:, coral:, system: or entry:)",
    ]


def test_a_dead_link_in_a_story_is_told_with_the_storys_own_file() -> None:
    coral = sample.coral(story="See [it](entry:nothing).")
    site = sample.built(sample.seen(corals={coral.id: coral}, trades={}, entries={}))
    assert str(site.problems[0]).startswith("corals/tide-lantern-1.md:1: there is no entry 'nothing'")


def test_a_link_to_what_the_audience_may_not_see_keeps_its_words_only() -> None:
    page = drawn(sample.built(sample.seen()))["corals/tide-lantern-1.html"]
    assert "with another." in page


def test_links_are_relative_and_name_files() -> None:
    assert relative("index.html", "systems/lagoon.html#calcium") == "systems/lagoon.html#calcium"
    assert relative("systems/lagoon.html", "index.html") == "../index.html"
    assert relative("systems/lagoon.html", "systems/lagoon.html#calcium") == "#calcium"
    assert relative("corals/a.html", "corals/b.html") == "b.html"


def test_the_page_for_lost_addresses_begins_at_the_top_where_that_is_known() -> None:
    journal = sample.seen(settings=sample.settings(base_url="https://example.org/reef/"))
    lost = drawn(sample.built(journal))["404.html"]
    assert 'href="https://example.org/reef/assets/style.css"' in lost
    assert 'href="https://example.org/reef/systems/index.html"' in lost


def test_a_page_that_is_not_there_yet_is_in_no_menu() -> None:
    pages = drawn(sample.built(sample.seen(trades={})))
    assert "trades/index.html" not in pages
    assert not any("trades/" in href for href in links(pages["index.html"]))


def test_no_page_lists_all_pages() -> None:
    many = {f"piece-{n}": replace(sample.coral(f"piece-{n}", photos=(), story=""), parent=None) for n in range(60)}
    pages = drawn(sample.built(sample.seen(corals=many, trades={}, entries={})))
    to_corals = [href for href in links(pages["corals/piece-1.html"]) if "piece-" in href]
    assert len(to_corals) <= 1


def test_a_journal_with_nothing_in_it_is_a_site_too() -> None:
    nothing: dict[str, object] = {
        kind: {} for kind in ("systems", "logs", "corals", "trades", "partners", "entries", "plans")
    }
    for audience, said in (("own", "Nothing to do today"), ("public", "There is no system yet.")):
        site = sample.built(sample.seen(audience, **nothing))
        assert not site.problems
        assert said in drawn(site)["index.html"]


def test_only_the_keeper_is_told_what_needs_the_keeper():
    own = drawn(sample.built(sample.seen("own")))
    assert "things to do" in own["index.html"]
    for audience in ("partners", "public"):
        pages = drawn(sample.built(sample.seen(audience)))
        assert "From the journal" in pages["index.html"]
        assert not [url for url, html in pages.items() if 'class="matter ' in html]
