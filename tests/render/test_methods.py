"""The methods page: every number of nature and every published rate that the reckoning rests on, with its source."""

import re

from generator.nature.constants import ALL
from generator.nature.methods import CHAPTERS, METHODS, chapter
from generator.nature.rates import RATES
from generator.render.base.words import words_of
from tests.conftest import ROOT
from tests.render import sample
from tests.render.pages import drawn, elements, texts

PAGE = drawn(sample.built(sample.seen()))["methods.html"]
TEXTS = [text.replace("\u00a0", " ") for _, text in texts(PAGE)]


def test_every_number_of_nature_stands_there_with_its_source() -> None:
    for constant in ALL:
        assert constant.name["en"].replace("\u00a0", " ") in TEXTS
        assert constant.source.replace("\u00a0", " ") in TEXTS


def test_every_published_rate_stands_there_with_its_range_and_source() -> None:
    rates = PAGE.partition('id="rates"')[2].partition("</section>")[0]
    rows = rates.count('<th scope="row">')
    assert rows == len(RATES) > 0
    for rate in RATES:
        assert rate.source.replace("\u00a0", " ") in TEXTS
        unit = words_of("en").unit(rate.unit).replace("\u00a0", " ")
        assert f"{rate.value:.3g} {unit}" in TEXTS


def test_every_published_value_that_the_tests_compare_with_is_counted_there_with_its_source_and_a_method() -> None:
    table = PAGE.partition('id="checked"')[2].partition("</section>")[0]
    counted = 0
    for name in CHAPTERS:
        held = chapter(name)
        assert held.method in METHODS
        assert f'<a href="#{held.method}"><bdi>{held.name["en"]}</bdi></a>' in table
        assert {check.source.replace("\u00a0", " ") for check in held.checks} <= set(TEXTS)
        counted += len(held.checks)
    assert sum(map(int, re.findall(r"<td[^>]*>(\d+)</td>", table))) == counted > 250
    assert {path.stem for path in (ROOT / "generator/nature/published").glob("*.yaml")} == set(CHAPTERS)


def test_every_method_can_be_pointed_to() -> None:
    ids = {attributes.get("id") for _, attributes in elements(PAGE)}
    assert set(METHODS) <= ids


def test_every_safe_distance_stands_there_and_the_keepers_own_go_before_the_usual() -> None:
    own = {"galaxea": sample.of(25, "cm", "length", 0)}
    page = drawn(sample.built(sample.seen(settings=sample.settings(safe_distances=own))))["methods.html"]
    told_there = [text.replace("\u00a0", " ") for _, text in texts(page)]
    rows = told_there[told_there.index("Safe gap") :]
    told = {rows[at]: tuple(rows[at + 1 : at + 3]) for at in range(len(rows) - 2)}
    assert told["Galaxea"] == ("25 cm", "declared in journal.yaml")
    assert told["Goniopora"] == ("10 cm", "common practice, no source")
    assert told["other stony corals"] == ("5 cm", "common practice, no source")
    assert rows.count("Galaxea") == 1
