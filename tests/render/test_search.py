"""What can be found, and the index of it."""

import json

import pytest

from generator.render.pages.search import Indexed, findable, index, words_in
from tests.render import sample


def indexed(documents: list[Indexed]) -> tuple[str, dict[str, bytes]]:
    return index([findable(each) for each in documents])


def piece(files: dict[str, bytes], name: str) -> object:
    text = next(content for address, content in files.items() if address.endswith(f"/{name}.js")).decode()
    assert text.startswith(f'searchPiece("{name}",')
    return json.loads(text.removeprefix(f'searchPiece("{name}",').removesuffix(")\n"))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Tide Lantern 2", ["tide", "lantern", "2"]),
        ("Überlingen, Ärger!", ["uberlingen", "arger"]),
        ("25.3 °C", ["25", "3", "c"]),
        ("...", []),
    ],
)
def test_words_are_compared_without_capitals_accents_and_signs(text: str, words: list[str]) -> None:
    assert words_in(text) == words


def test_the_index_leads_from_each_word_to_its_documents_and_where_in_them_it_stands() -> None:
    folder, files = indexed(
        [
            Indexed("a.html", "coral", "Lantern", "tide", "tide again"),
            Indexed("b.html", "entry", "A walk", "", "to the lantern"),
        ]
    )
    assert all(address.startswith(folder) for address in files)
    vocabulary = piece(files, "words")
    assert isinstance(vocabulary, dict)
    hits = piece(files, "hits-0")
    assert isinstance(hits, list)
    at = vocabulary["words"].split(" ").index("lantern")
    # Document 0 in its title, then one further on in its text.
    assert hits[at] == [0 * 4 + 3, 1 * 4 + 1]
    assert piece(files, "documents-0") == [["coral", "Lantern", "a.html", "tide"], ["entry", "A walk", "b.html", ""]]


def test_a_large_index_is_split_so_that_an_answer_needs_little_of_it() -> None:
    folder, files = indexed([Indexed(f"{n}.html", "entry", f"Day {n}", "", f"word{n % 97} cut") for n in range(3000)])
    vocabulary = piece(files, "words")
    assert isinstance(vocabulary, dict)
    assert len(vocabulary["starts"]) > 1
    assert max(len(content) for address, content in files.items() if "/words" not in address) < 60_000
    found = [piece(files, f"hits-{n}") for n in range(len(vocabulary["starts"]))]
    assert sum(len(hits) for hits in found if isinstance(hits, list)) == len(vocabulary["words"].split(" "))
    assert (
        folder == indexed([Indexed(f"{n}.html", "entry", f"Day {n}", "", f"word{n % 97} cut") for n in range(3000)])[0]
    )


def found(audience: str) -> set[tuple[str, str]]:
    site = sample.built(sample.seen(audience))
    pieces = {address: content for address, content in site.files.items() if address.startswith("search/")}
    shown = piece(pieces, "documents-0")
    assert isinstance(shown, list)
    return {(kind, title) for kind, title, _, _ in shown}


def test_every_page_can_be_found_and_so_can_lines_and_partners() -> None:
    site = sample.built(sample.seen("own"))
    titles = {page.frame.title for page in site.pages if page.url not in ("404.html", "search.html")}
    assert titles <= {title for _, title in found("own")}
    assert {("line", "CANARY-back-coral"), ("partner", "CANARY-name")} <= found("own")


def test_nothing_can_be_found_that_the_audience_may_not_see() -> None:
    site = sample.built(sample.seen())
    for address, content in site.files.items():
        assert b"canary" not in content.lower(), address


def test_a_page_is_found_by_what_it_says() -> None:
    site = sample.built(sample.seen())
    entry = next(page for page in site.pages if page.url == "journal/2026-03-02-cut.html")
    assert "Cut the lantern" in entry.text
