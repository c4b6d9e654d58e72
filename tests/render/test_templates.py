"""Templates: they show all of their models and nothing else, with no style or script of their own."""

import re
import typing
from itertools import pairwise
from pathlib import Path

import pytest
from markupsafe import Markup
from msgspec import Struct

from generator.render.base import blocks
from generator.render.base.links import Cannot
from generator.render.base.page import Frame, Page
from tests.render import sample
from tests.render.pages import drawn, elements, texts

PAGES = (*sample.built(sample.seen("own")).pages, *sample.built(sample.seen()).pages)
HTML = drawn(sample.built(sample.seen("own")))
_ROOT = Path(__file__).parents[2]


def _fields_used(template: str, name: str) -> set[str]:
    """Every `field` of ``name.field`` in a template; `name` may have a point itself."""
    return set(re.findall(rf"\b{re.escape(name)}\.(\w+)", (_ROOT / "templates" / template).read_text()))


def _fields(of: type[Struct]) -> set[str]:
    return {*of.__struct_fields__}


def test_the_template_of_pages_uses_every_field_of_page_and_frame() -> None:
    # Addresses and texts are for the site and its search; the charts are named by the file beside them.
    assert _fields_used("page.html", "page") == _fields(Page) - {"text"} | {"styles", "in_columns", "unfolds"}
    assert _fields_used("page.html", "frame") == _fields(Frame)


def test_every_kind_of_block_has_its_macro_and_the_sample_draws_it() -> None:
    kinds = {kind for kind in typing.get_args(blocks.Block) if kind not in (type(None), Markup, blocks.Drawn)}
    macros = set(re.findall(r"macro (\w+)\(it, level", (_ROOT / "templates" / "blocks.html").read_text()))
    assert macros == {kind.__name__.lower() for kind in kinds}
    assert kinds <= {type(block) for page in PAGES for block in blocks.walk(page.blocks)} | {blocks.Why, Cannot}


def test_every_part_is_drawn_by_a_page_or_another_template() -> None:
    pages = "".join(path.read_text() for path in (_ROOT / "generator" / "render").rglob("*.py"))
    templates = "".join(path.read_text() for path in (_ROOT / "templates").rglob("*.html"))
    used = {*re.findall(r'Drawn\(\s*"(\w+)"', pages), *re.findall(r'"parts/(\w+)\.html"', templates)}
    assert used == {path.stem for path in (_ROOT / "templates" / "parts").glob("*.html")}


@pytest.mark.parametrize("url", sorted(HTML))
def test_a_page_has_no_style_or_script_of_its_own(url: str) -> None:
    for tag, attributes in elements(HTML[url]):
        assert tag != "style"
        assert "style" not in attributes, (tag, attributes)
        assert not [name for name in attributes if name.startswith("on")], attributes
        if tag == "script":
            assert "src" in attributes or attributes.get("type") == "application/json"
        for name in ("src", "href"):
            assert not attributes.get(name, "").startswith(("http:", "//", "data:", "javascript:"))


@pytest.mark.parametrize("url", sorted(HTML))
def test_a_page_forbids_what_it_does_not_need(url: str) -> None:
    policy = next(a["content"] for tag, a in elements(HTML[url]) if a.get("http-equiv") == "Content-Security-Policy")
    assert policy == (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; "
        "base-uri 'none'; form-action 'none'"
    )


@pytest.mark.parametrize("url", sorted(HTML))
def test_a_page_says_what_and_where_it_is(url: str) -> None:
    found = elements(HTML[url])
    tags = [tag for tag, _ in found]
    assert tags.count("h1") == 1
    assert tags.count("main") == 1
    assert next(a["lang"] for tag, a in found if tag == "html") == "en"
    headings = [int(tag[1]) for tag in tags if re.fullmatch("h[1-6]", tag)]
    assert all(later - earlier <= 1 for earlier, later in pairwise(headings)), headings
    ids = [a["id"] for _, a in found if "id" in a]
    assert len(ids) == len(set(ids))
    assert all(a["alt"].strip() for tag, a in found if tag == "img")
    menu = [a for tag, a in found if tag == "a" and "aria-current" in a]
    assert len(menu) == (0 if url in ("data/index.html", "404.html") else 1)


_DECIMAL = re.compile(r"\d\.\d+(?![\d.])")
_UNIT_FOLLOWS = re.compile(r"\d\.\d+(\u00a0\S| to [\d−.]+\u00a0\S| times its usual error)")


@pytest.mark.parametrize("url", sorted(set(HTML) - {"methods.html"}))
def test_no_decimal_number_stands_without_its_unit(url: str) -> None:
    # On the test log a unit has an element of its own: on paper the head of its column has it.
    for inside, text in texts(re.sub(r'<span class="unit">([^<]*)</span>', r"\1", HTML[url])):
        if {"script", "svg", "code", "title"} & set(inside) or "Corallite" in text:
            continue
        for number in _DECIMAL.finditer(text):
            assert _UNIT_FOLLOWS.match(text, number.start()), (text, inside)


def test_an_estimate_is_shown_with_its_interval_and_the_lines_behind_it() -> None:
    page = " ".join(text for _, text in texts(HTML["systems/lagoon.html"]))
    page = re.sub(r"[ \n]+", " ", page)
    assert "1.01\u00a0dKH\u00a0a\u00a0day likely 0.87 to 1.15\u00a0dKH\u00a0a\u00a0day" in page
    assert "Based on 16 lines of your files" in page
    assert "logs/lagoon/2026-03.yaml:12" in page
    assert "the exact water volume ±0.028\u00a0dKH\u00a0a\u00a0day" in page


def test_what_cannot_be_told_is_said_with_its_remedy() -> None:
    page = " ".join(text for _, text in texts(HTML["systems/lagoon.html"]))
    assert "There is only one reading. A change takes two." in page
    assert "Test calcium on the same days." in page


def test_the_days_page_orders_what_needs_a_person_and_shows_no_more_than_seven() -> None:
    page = HTML["index.html"]
    assert "things to do" in page
    assert [tag for tag, _ in elements(page)].count("article") == 0
    assert page.count('class="matter ') == 7
    assert page.index("Raise ") < page.index(" rising in ")


def test_what_a_keeper_writes_is_text_and_never_markup() -> None:
    wild = "<script>alert(1)</script>"
    coral = sample.coral(name=wild, species=wild, story=f"{wild} [x](javascript:alert(1))")
    system = sample.system(name=wild, about=wild)
    only = {"corals": {coral.id: coral}, "systems": {"lagoon": system}, "entries": {}, "trades": {}, "plans": {}}
    site = sample.built(sample.seen("own", **only))
    assert [problem.wrong for problem in site.problems] == ["links cannot start with 'javascript:'"]
    for url, html in drawn(site).items():
        assert "<script>alert" not in html, url
        assert "javascript:" not in html, url
