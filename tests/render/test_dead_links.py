"""Every link inside the site leads somewhere, and all that do not are told at once."""

import pytest

from generator.render.base.links import dead_links

SITE = {
    "index.html": b'<a href="systems/reef.html#alkalinity">a</a><img src="photos/a.webp" srcset="photos/a.webp 480w">',
    "systems/reef.html": b'<h2 id="alkalinity">b</h2><a href="../index.html">home</a><a href="#alkalinity">c</a>'
    b'<a href="https://example.org/paper">source</a><a href="mailto:me@example.org">me</a>',
    "photos/a.webp": b"",
}


def test_a_site_whose_links_all_lead_somewhere_has_nothing_to_say() -> None:
    assert dead_links(SITE) == []


@pytest.mark.parametrize(
    ("html", "said"),
    [
        ('<a href="reef.html">', "'reef.html' leads to reef.html, which is not in the site"),
        ('<a href="systems/reef.html#calcium">', "leads to an anchor that systems/reef.html does not have"),
        ('<a href="#nothing">', "leads to an anchor that page.html does not have"),
        ('<img src="photos/b.webp">', "leads to photos/b.webp, which is not in the site"),
        ('<img src="photos/a.webp" srcset="photos/a.webp 1x, photos/b.webp 2x">', "leads to photos/b.webp"),
        ('<a href="/index.html">', "has no root"),
        ('<script src="//example.org/x.js">', "leaves the site"),
        ('<a href="http://example.org">', "leaves the site"),
        ('<a href="javascript:alert(1)">', "leaves the site"),
        ('<p id="a"><p id="a">', "two elements have the id 'a'"),
        ('<a href="systems/">', "leads to systems, which is not in the site"),
    ],
)
def test_a_link_that_leads_nowhere_is_told_with_its_page(html: str, said: str) -> None:
    (told,) = dead_links({**SITE, "page.html": html.encode()})
    assert told.startswith("page.html: ")
    assert said in told


def test_all_dead_links_are_told_at_once() -> None:
    pages = {f"{n}.html": b'<a href="x.html">1</a><a href="y.html">2</a>' for n in range(3)}
    assert len(dead_links(pages)) == 6


def test_words_that_look_like_a_link_are_not_one() -> None:
    assert dead_links({"a.html": b"<p>write href=&quot;b.html&quot; or &lt;a href=&#34;c.html&#34;&gt;</p>"}) == []
