"""The methods page: every number of nature and every published rate that the reckoning rests on, with its source."""

import pytest

from generator.reckon import constants, constants_of_coral, constants_of_solutions, constants_of_travel
from generator.reckon.arrivals.rates import RATES
from generator.reckon.methods import METHODS
from tests.render import sample
from tests.render.pages import drawn, elements, texts

PAGE = drawn(sample.built(sample.seen()))["methods.html"]
TEXTS = [text for _, text in texts(PAGE)]


@pytest.mark.parametrize("room", [constants, constants_of_coral, constants_of_solutions, constants_of_travel])
def test_every_number_of_nature_stands_there_with_its_source(room) -> None:
    for constant in room.ALL:
        assert constant.name in TEXTS
        assert constant.source in TEXTS


def test_every_published_rate_stands_there_with_its_range_and_source() -> None:
    rows = PAGE.partition('id="rates"')[2].count('<th scope="row">')
    assert rows == len(RATES) > 0
    for rate in RATES:
        assert rate.source in TEXTS
        assert any(f"{rate.value:.3g}\u00a0{rate.unit}" == text for text in TEXTS)


def test_every_method_can_be_pointed_to() -> None:
    ids = {attributes.get("id") for tag, attributes in elements(PAGE) if tag == "section"}
    assert set(METHODS) <= ids
