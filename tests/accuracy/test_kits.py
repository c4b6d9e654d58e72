"""The offset between two kits is told as well as the way in which they were read allows: a small run."""

import pytest

from tests.accuracy.kits import kits

pytestmark = pytest.mark.long


def test_how_far_two_kits_read_apart_is_told_the_better_the_more_often_both_are_read() -> None:
    rows = {row.name.removeprefix("kits "): row.value for row in kits(3, 12)}
    assert min(value for name, value in rows.items() if name.endswith("covers")) >= 0.75
    changed, beside, turns = (value for name, value in rows.items() if "off by" in name)
    assert turns < beside < changed < 0.3
