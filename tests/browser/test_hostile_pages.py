"""Whatever stands in a journal, its pages say it and run none of it: payloads in every field of text, in a browser.

The words planted by tests/canaries.txt, one in each field, are followed here by what would run, or leave the page, if
any page took a keeper's text for its own. A text that becomes markup shows twice: the policy's refusal is on the
console, and what it asks for is heard.
"""

import json
import re
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, expect

from generator.__main__ import main
from tests.browser.visits import opened, pages_by_kind, see_charts
from tests.conftest import made_once
from tests.test_who_sees import FLAGS, PARTNER, PLANTED

# What breaks out of an element, an attribute, a script, a comment, a template, a link or an address.
PAYLOADS = (
    "<script>ran=1</script>",
    "\"'><img src=x onerror=ran=1>",
    "--></title></textarea><svg onload=ran=1>",
    "{{ran=1}}${ran=1}[a](javascript:ran=1)",
)
SITES = ("own", "public", f"partner:{PARTNER}")
# A value that is one planted word, which is no name of a file or an id.
WORD = re.compile(r"(?m)(?<=: )(Kanari\w+)(?: the gardener)?(?=$|[,}\]])")
MARKDOWN = re.compile(r"(?m)^(Kanari\w+)$")
NOT_OURS = "[onerror], [onload], [href^='javascript:' i], svg[onload], script:not([src]):not([type*=json])"


def hostile(text: str) -> tuple[str, int]:
    """The journal with a payload of each kind behind every planted word, and in how many fields."""
    said = " ".join(PAYLOADS)
    text, values = WORD.subn(lambda word: json.dumps(f"{word[1]} {said}"), text)
    # Of a post, check itself refuses such a link.
    text, bodies = MARKDOWN.subn(lambda word: f"{word[1]} {said.replace('](', '] (')}", text)
    return text, values + bodies


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A site for each audience of a journal whose every text is hostile."""

    def build(folder: Path) -> None:
        from tests.archive import write_archive

        text, fields = hostile(PLANTED)
        assert fields * len(PAYLOADS) >= 150
        on = ", ".join(f"{flag}: true" for flag in FLAGS)
        text = text.replace("shows: []", "shows: [name, trades, photos]").replace(
            "units: {", f"publish: {{{on}}}\nunits: {{"
        )
        write_archive(text, folder / "content")
        (folder / "content" / "photos").mkdir()
        for name in set(re.findall(r"Kanari\w+\.png", text)):
            Image.new("RGB", (60, 40), "navy").save(folder / "content" / "photos" / name)
        for site in SITES:
            words = [
                f"--content={folder / 'content'}",
                f"--site={folder / site.partition(':')[0]}",
                f"--audience={site}",
            ]
            assert main(["build", "--as-of=2026-03-05", *words]) == 0

    return made_once(tmp_path_factory, "hostile-sites", build)


def test_no_word_of_a_journal_runs_paints_or_leads_away(browser: Browser, sites: Path) -> None:
    visited: set[str] = set()
    for site in SITES:
        kinds = pages_by_kind(sites / site.partition(":")[0])
        # Two pages of each kind of the keeper's own site, and of the others one of each kind that it has not.
        chosen = [path for kind in {*kinds} - visited for path in kinds[kind][: 2 if site == "own" else 1]]
        visited |= {*kinds}
        for path in chosen:
            if path.name == "404.html":
                continue
            with opened(browser, path.as_uri()) as (page, noise):
                see_charts(page, 1)
                assert page.evaluate(
                    "[window.ran, document.querySelectorAll(" + json.dumps(NOT_OURS) + ").length]"
                ) == [None, 0], path
                if path.name == "search.html":
                    page.locator("#asked").fill("Kanari")
                    expect(page.locator("#found a").first).to_be_visible()
                    assert page.evaluate("window.ran") is None
                assert not noise, path
    assert len(visited) > 20
    html = "".join(path.read_text("utf-8") for path in sites.rglob("*.html"))
    shown = set(re.findall(r"(Kanari\w+) &lt;script&gt;ran=1&lt;/script&gt;", html))
    assert len(shown) * len(PAYLOADS) >= 150, "what is written is shown"


def test_the_payloads_would_run_if_a_page_took_them_for_its_own(browser: Browser, tmp_path: Path) -> None:
    (tmp_path / "page.html").write_text(f"<title>a</title><p>{' '.join(PAYLOADS[:3])}</p>")
    with opened(browser, (tmp_path / "page.html").as_uri()) as (page, noise):
        assert page.evaluate("window.ran") == 1
        assert page.locator(NOT_OURS).count() == 3
        assert any("x" in each for each in noise)
