"""The journal's years and months, and the ways between what was written and what it is about."""

from datetime import date

from msgspec.structs import replace

from generator.records.log import Note
from tests.render import sample
from tests.render.pages import drawn, elements, links, texts


def entries() -> dict[str, object]:
    first = sample.entry("2025-12-30-first", at=date(2025, 12, 30), title="First", body="Tide Lantern 1 is here.")
    second = sample.entry(corals=(), body="As [before](entry:2025-12-30-first).")
    third = sample.entry("2026-03-04-third", at=date(2026, 3, 4), title="Third", systems=(), corals=(), body="")
    return {each.id: each for each in (first, second, third)}


def log(private: bool = False) -> dict[str, object]:
    note = Note(source=sample.line(10), at=sample.ago(3), text="Glued one piece <anew>.", private=private)
    return {"lagoon": replace(sample.log(), notes=(note,))}


PAGES = drawn(sample.built(sample.seen("own", entries=entries(), logs=log())))


def words(url: str) -> str:
    return " ".join(" ".join(text.split()) for _, text in texts(PAGES[url]))


def test_each_month_has_a_page_with_its_entries_and_the_words_of_its_logs() -> None:
    assert [url for url in PAGES if url.startswith("journal/20") and url.count("-") < 2] == [
        "journal/2025.html",
        "journal/2026.html",
        "journal/2025-12.html",
        "journal/2026-03.html",
    ]
    assert "A cut" in words("journal/2026-03.html")
    assert "7 Mar 2026, 20:00 Lagoon Glued one piece <anew>. logs/lagoon/2026-03.yaml:10" in words(
        "journal/2026-03.html"
    )
    assert "First" in words("journal/2025-12.html")
    assert "Glued" not in words("journal/2025-12.html")


def test_a_year_leads_to_its_months_and_to_its_neighbours() -> None:
    assert {"2025-12.html", "2026.html", "2025-12-30-first.html"} <= set(links(PAGES["journal/2025.html"]))
    assert [a["href"] for _, a in elements(PAGES["journal/2026-03.html"]) if a.get("rel") == "prev"] == ["2025-12.html"]
    assert not [a for _, a in elements(PAGES["journal/2026-03.html"]) if a.get("rel") == "next"]


def test_an_entry_stands_between_the_one_before_and_the_one_after() -> None:
    beside = [a["href"] for _, a in elements(PAGES["journal/2026-03-02-cut.html"]) if a.get("rel") in ("prev", "next")]
    assert beside == ["2025-12-30-first.html", "2026-03-04-third.html"]


def test_what_is_named_in_an_entry_names_the_entry() -> None:
    assert "../journal/2025-12-30-first.html" in links(PAGES["corals/tide-lantern-1.html"])
    assert "Where this is mentioned" in words("journal/2025-12-30-first.html")
    assert "2026-03-02-cut.html" in links(PAGES["journal/2025-12-30-first.html"])
    assert "../journal/2026-03-02-cut.html" in links(PAGES["systems/lagoon.html"])


def test_the_index_stays_short_however_much_is_written() -> None:
    many = {
        f"2024-0{n % 9 + 1}-1{n % 10}-day-{n}": sample.entry(
            f"2024-0{n % 9 + 1}-1{n % 10}-day-{n}", at=date(2024, n % 9 + 1, 10 + n % 10), corals=(), body=""
        )
        for n in range(60)
    }
    page = drawn(sample.built(sample.seen("own", entries=many)))["journal/index.html"]
    assert len([href for href in links(page) if "day-" in href]) == 12
    assert len([href for href in links(page) if href.startswith("2024-")]) == 12 + 9


def test_a_private_note_stands_on_nobody_elses_page() -> None:
    public = drawn(sample.built(sample.seen(logs=log(private=True))))
    assert not [url for url, html in public.items() if "Glued" in html]
