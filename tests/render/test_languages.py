"""A site in another language: its words, its signs, and its machine-readable files as before."""

import json
import re

from generator.nature.constants import ALL
from generator.nature.methods import CHAPTERS, METHODS, chapter, method
from generator.nature.rates import RATES
from generator.render.base.page import specification_in_words
from generator.render.base.words import words_of
from tests.render import sample
from tests.render.pages import drawn, elements, texts

ENGLISH = sample.built(sample.seen("own"))
GERMAN = sample.built(sample.seen("own", settings=sample.settings(language="de")))
PAGES = drawn(GERMAN)
SOURCES = {source for id in METHODS for source in method(id, "en").sources} | {
    quoted.source for quoted in (*ALL, *RATES, *(check for name in CHAPTERS for check in chapter(name).checks))
}


def words(url: str) -> str:
    return " ".join(" ".join(text.split(" ")) for _, text in texts(PAGES[url])).replace("\n", " ")


def test_every_page_says_what_language_it_speaks() -> None:
    for url, html in PAGES.items():
        assert [a["lang"] for tag, a in elements(html) if tag == "html"] == ["de"], url


def test_numbers_have_the_decimal_sign_of_the_language() -> None:
    page = re.sub(r" +", " ", words("systems/lagoon.html"))
    assert "1,01\u00a0dKH\u00a0am\u00a0Tag wahrscheinlich 0,87 bis 1,15\u00a0dKH\u00a0am\u00a0Tag" in page


def test_no_number_keeps_another_languages_sign() -> None:
    for url, html in PAGES.items():
        for inside, text in texts(html):
            # Where a line stands, what a program is called and what a keeper typed are not ours to rewrite.
            if {"code", "script", "title"} & set(inside) or "Corallite" in text or "log of" in text:
                continue
            assert text.replace("\u00a0", " ") in SOURCES or not re.search(r"\d\.\d", text), (url, text)


def test_days_stand_in_the_languages_order_and_months() -> None:
    assert "2.\u00a0März 2026" in words("journal/2026-03-02-cut.html")


def test_the_files_for_machines_are_the_same_in_every_language() -> None:
    tables = [address for address in ENGLISH.files if address.endswith(".csv")]
    assert len(tables) > 5
    assert all(GERMAN.files[address] == ENGLISH.files[address] for address in tables)


def test_a_charts_axes_speak_the_language() -> None:
    made = specification_in_words("water", words_of("de"))
    locale = made["config"]["locale"]
    assert locale["number"]["decimal"] == ","
    assert locale["time"]["shortMonths"][2] == "März"
    # d3-time-format counts days from Sunday.
    assert locale["time"]["days"][0] == "Sonntag"
    assert "'%-d. %b'" in json.dumps(made)
    assert "'%-d %b'" in json.dumps(specification_in_words("water", words_of("en")))
