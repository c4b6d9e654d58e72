"""How numbers are made, in every language: all of it, with the same numbers, wherever a page says it."""

import ast
import re
from collections import Counter
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest

from generator.nature.constants import ALL, LIGHT_RISE_PER_WEEK
from generator.nature.methods import CHAPTERS, METHODS, Method, chapter, method
from generator.nature.rates import RATES
from generator.render.base.words import words_of
from tests.modules import HOUSE, MODULES, nodes
from tests.render import sample
from tests.render.pages import drawn, elements, texts

ROOT = Path(__file__).parents[2]
CATALOGUES = ROOT / "templates" / "words"
OTHERS = sorted(path.stem for path in CATALOGUES.glob("*.yaml") if path.stem != "en")
GERMAN = drawn(sample.built(sample.seen("own", settings=sample.settings(language="de"))))

# Numbers that are written out; a language says each in one of these ways.
WRITTEN_OUT = {
    "de": {
        "nought": "null",
        "half": "halb|hälfte",
        "two": "zwei",
        "three": "drei",
        "third": "drittel",
        "four": "vier",
        "quarter": "viertel",
        "five": "fünf",
        "fifth": "fünftel",
        "nine": "neun",
        "tenth": "zehntel",
        "fortnight": "zwei wochen",
        "million": "million",
    }
}


def _told(each: Method) -> list[str]:
    return [each.name, each.paragraph, *each.assumptions]


def _numbers(text: str, language: str) -> Counter[str]:
    decimal = re.escape(words_of(language)("numbers.decimal"))
    return Counter(re.sub(decimal, ".", number) for number in re.findall(rf"\d+(?:{decimal}\d+)?", text))


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("id", METHODS)
def test_a_method_is_told_whole_and_in_its_own_words(language: str, id: str) -> None:
    english, other = method(id, "en"), method(id, language)
    assert len(other.assumptions) == len(english.assumptions)
    assert other.sources == english.sources
    assert not set(_told(other)) & set(_told(english))
    assert all(_told(other))


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("id", METHODS)
def test_a_threshold_that_changes_shows_where_a_language_still_says_the_old_one(language: str, id: str) -> None:
    for english, other in zip(_told(method(id, "en")), _told(method(id, language)), strict=True):
        assert _numbers(english, "en") == _numbers(other, language), other
        for word, way in WRITTEN_OUT[language].items():
            said = re.search(rf"\b{word}s?\b", english.casefold())
            assert not said or re.search(way, other.casefold()), (word, other)


@pytest.mark.parametrize("language", OTHERS)
def test_a_number_of_nature_keeps_the_numbers_in_its_name(language: str) -> None:
    for constant in ALL:
        english, name = constant.name["en"], constant.name[language]
        assert name != english
        assert _numbers(english, "en") == _numbers(name, language), name


def test_no_page_of_a_german_site_says_in_english_how_numbers_are_made() -> None:
    english = {text for id in METHODS for text in _told(method(id, "en"))} | {each.name["en"] for each in ALL}
    for url, html in GERMAN.items():
        assert english & {text.strip() for _, text in texts(html)} == set(), url


def test_a_figure_names_its_method_in_the_language_of_the_site() -> None:
    page = GERMAN["systems/lagoon.html"]
    assert 'So wird sie berechnet: <a href="../methods.html#uptake">Verbrauch am Tag</a>' in page
    # One behind a single figure, one below a whole section.
    assert page.count(">Verbrauch am Tag</a>") > 1
    assert re.search(r'So wird sie berechnet: <a href="methods.html#[a-z-]+">', GERMAN["index.html"])


def test_on_the_methods_page_only_sources_are_marked_as_english() -> None:
    page = GERMAN["methods.html"]
    assert {tag for tag, each in elements(page) if each.get("lang") == "en"} == {"span"}
    sources = {source for id in METHODS for source in method(id, "de").sources}
    sources |= {
        quoted.source for quoted in (*ALL, *RATES, *(check for name in CHAPTERS for check in chapter(name).checks))
    }
    said = {unescape(text) for text in re.findall(r'<span lang="en">([^<]+)</span>', page)}
    # A page breaks no line between a number and its unit.
    assert {text.replace("\u00a0", " ") for text in said} == {text.replace("\u00a0", " ") for text in sources}


def test_the_list_of_methods_goes_by_the_alphabet_of_the_reader() -> None:
    rooms = GERMAN["methods.html"].split('id="of-')[1:-1]
    names = [[unescape(name) for name in re.findall(r"<summary><h3>([^<]+)</h3></summary>", room)] for room in rooms]
    assert sorted(name for room in names for name in room) == sorted(method(id, "de").name for id in METHODS)
    # An umlaut stands with its vowel, as in a German register (DIN 5007-1).
    plain = str.maketrans("äöüÄÖÜ", "aouAOU")
    assert [sorted(room, key=lambda name: name.translate(plain).casefold()) for room in names] == names
    assert any(room != sorted(room) for room in names), "by letters alone an umlaut would stand last"


def named_as_methods(node: ast.AST) -> Iterator[ast.expr]:
    """What a line of reckoning gives a method's name to, or gives a finding as its method."""
    if isinstance(node, ast.Assign) and any(isinstance(to, ast.Name) and "METHOD" in to.id for to in node.targets):
        yield node.value
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Finding":
        yield from (*node.args[1:2], *(each.value for each in node.keywords if each.arg == "method"))


def test_what_a_finding_names_as_its_method_is_explained() -> None:
    of_reckoning = (node for path in MODULES if HOUSE / "reckon" in path.parents for node in nodes(path))
    given = [each for node in of_reckoning for each in named_as_methods(node)]
    named = {each.value for each in given if isinstance(each, ast.Constant)}
    assert len(named) >= 12
    assert named <= set(METHODS)


@pytest.mark.parametrize("language", ["en", *OTHERS])
def test_a_text_says_the_number_that_calculations_use(language: str) -> None:
    every = " ".join(text for id in METHODS for text in _told(method(id, language)))
    assert "{" not in every
    light = method("light-steps", language).paragraph
    assert f"{100 * LIGHT_RISE_PER_WEEK.value:.0f} %" in light
