"""Blocks: each is drawn once, escaped, with what those need who do not see it, and not at all when it is empty."""

import pytest
from markupsafe import Markup, escape

from generator.render.base.blocks import (
    Block,
    CauseSize,
    Drawn,
    Facts,
    Figure,
    Fold,
    Group,
    Items,
    Line,
    Paragraph,
    Photos,
    Picture,
    Section,
    Table,
    Why,
    facts,
    figures,
    group,
    items,
    row,
    section,
    walk,
)
from generator.render.base.links import Cannot, Inline, Link, Phrase, Span, bold, code, joined, plain_text, small
from generator.render.base.numbers import Moment, Shown
from generator.render.base.page import environment
from tests.render.pages import elements, texts

WILD = '<b onclick=x>"&'
TAME = "&lt;b onclick=x&gt;&#34;&amp;"
UNKNOWN = Cannot("There is only one reading.", "Test again.", "Cannot tell:")


def drawn(block: Block, level: int = 2) -> str:
    return str(environment("en").globals["draw"]((block,), level))


def figure(**given: object) -> Figure:
    return Figure(**{"label": "Uptake", "shown": Shown("1 dKH", "0 to 2"), "why": None, "cannot": None, **given})


def why(**given: object) -> Why:
    parts, newest = (CauseSize("test error", "±0.1"),), (Line("log.yaml:3", "8 dKH"),)
    return Why(
        **{"method": Link("Uptake", "m.html"), "parts": parts, "count": "", "newest": newest, "older": (), **given}
    )


@pytest.mark.parametrize(
    ("inline", "html"),
    [
        (WILD, TAME),
        (Link(WILD, WILD), f'<a href="{TAME}"><bdi>{TAME}</bdi></a>'),
        (Link("Lagoon"), "<bdi>Lagoon</bdi>"),
        (Moment("22 Nov", "2026-11-22"), '<time datetime="2026-11-22">22 Nov</time>'),
        (Shown(WILD, WILD), f"<b>{TAME}</b> <small>{TAME}</small>"),
        (Shown("8 dKH"), "<b>8 dKH</b>"),
        (Cannot(WILD, WILD, WILD), f"<strong>{TAME}</strong> {TAME} {TAME}"),
        (Span(WILD, look="off", id="a", lang="en"), f'<span class="off" id="a" lang="en">{TAME}</span>'),
        (Phrase((WILD, bold(WILD))), f"{TAME}<b>{TAME}</b>"),
        (code(WILD), f"<code>{TAME}</code>"),
    ],
)
def test_what_stands_in_a_line_is_escaped(inline: Inline, html: str) -> None:
    assert escape(inline) == html


def test_parts_are_joined_without_those_that_say_nothing() -> None:
    assert escape(joined("a", "", small("b"), Phrase(), "c", by=", ")) == "a, <small>b</small>, c"
    assert not joined("", "")


def test_the_text_of_a_head_is_its_words_alone() -> None:
    assert plain_text("a & b") == "a & b"
    assert plain_text(Phrase(("Moved to ", Link("the <Lagoon>", "x.html")))) == "Moved to the <Lagoon>"


HOLDS_WILD: list[Block] = [
    section(WILD, Paragraph(WILD), lead=WILD),
    Paragraph(WILD),
    facts((WILD, WILD)),
    items(WILD),
    row(Link(WILD, "x.html")),
    Table(WILD, (WILD, WILD), ((WILD, WILD),), "tall"),
    figures(figure(label=WILD, shown=Shown(WILD, WILD), note=WILD)),
    Fold(WILD, (Paragraph(WILD),)),
    Picture(Markup("<svg></svg>"), WILD),
    why(of=WILD, newest=(Line(WILD, WILD),)),
    Cannot(WILD, WILD, WILD),
]


@pytest.mark.parametrize("block", HOLDS_WILD, ids=lambda block: type(block).__name__)
def test_a_block_escapes_all_that_is_written(block: Block) -> None:
    html = drawn(block)
    assert WILD not in html
    assert TAME in html
    assert not [tag for tag, given in elements(html) if "onclick" in given]


EMPTY: list[Block] = [
    section("Heading", Paragraph(""), items(), None, lead="what there would be"),
    group("caution", row(None)),
    Fold("More", (facts(("term", "")),)),
    Table("Doses", ("Solution",), ()),
    figures(None),
    Photos(()),
    Drawn("ranges", ()),
    Markup(""),
]


@pytest.mark.parametrize("block", EMPTY, ids=lambda block: type(block).__name__)
def test_a_block_that_holds_nothing_is_not_drawn(block: Block) -> None:
    assert not block
    html = drawn(section("Heading", block, Paragraph("stays")))
    assert [text.strip() for _, text in texts(html)] == ["Heading", "stays"]
    assert list(walk((block,))) == []


def test_a_section_has_its_id_and_headings_go_one_level_down_with_each() -> None:
    html = drawn(section("Water", section("Salts", Paragraph("p")), id="water"), 2)
    found = elements(html)
    assert ("section", {"id": "water"}) in found
    assert [tag for tag, _ in found if tag.startswith("h")] == ["h2", "h3"]


def test_a_table_names_itself_its_heads_and_its_rows_and_can_be_scrolled_by_keyboard() -> None:
    html = drawn(Table("Doses", ("Solution", "Now"), (("soda", "40 mL"),)))
    found = elements(html)
    assert ("div", {"class": "wide", "tabindex": "0", "role": "region", "aria-label": "Doses"}) in found
    assert [given["scope"] for tag, given in found if tag == "th"] == ["col", "col", "row"]
    assert "data-label" not in html


def test_in_a_tall_table_each_cell_names_its_column_in_plain_text() -> None:
    heads = ("Coral", Phrase(("Moved to ", Link("Raceway", "r.html"))))
    cells = [given for tag, given in elements(drawn(Table("", heads, (("a", "b"),), "tall"))) if tag == "td"]
    assert cells == [{"data-label": "Moved to Raceway"}]


def test_a_row_with_too_few_cells_ends_in_a_wide_one_and_rows_have_their_looks() -> None:
    found = elements(drawn(Table("", ("1", "2", "3"), (("a", "b"), ("a", "b", "c")), looks=("now", ""))))
    assert [given.get("colspan") for tag, given in found if tag == "td"] == ["2", None, None]
    assert [given for tag, given in found if tag == "tr"] == [{}, {"class": "now"}, {}]
    with pytest.raises(ValueError, match="longer"):
        drawn(Table("", ("1", "2"), (("a", "b"), ("c", "d")), looks=("now",)))


def test_numbers_that_cannot_be_told_for_one_reason_are_told_once() -> None:
    html = drawn(figures(figure(), *(figure(label=name, shown=None, cannot=UNKNOWN) for name in ("A", "B"))))
    assert html.count(UNKNOWN.reason) == 1
    assert "A · B" in html


def test_the_evidence_of_a_number_can_be_linked_to() -> None:
    html = drawn(figures(figure(id="uptake", why=why())))
    assert {"id": "why-uptake"} in [given for tag, given in elements(html) if tag == "p"]
    assert "8 dKH <code>log.yaml:3</code>" in html


def test_an_item_may_bring_its_own_element() -> None:
    html = drawn(Items(("a", Span("b", "li", "overdue", "b")), "plain", ordered=True))
    assert elements(html) == [("ol", {"class": "plain"}), ("li", {}), ("li", {"class": "overdue", "id": "b"})]


def test_a_walk_meets_all_that_is_drawn_inside_others() -> None:
    deep = Paragraph("deep")
    blocks = (Section("a", (Group("g", (Fold("f", (deep, None)),)),)), Facts((("t", "x"),)))
    assert [type(block) for block in walk(blocks)] == [Section, Group, Fold, Paragraph, Facts]
