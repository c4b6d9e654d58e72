"""Both answers about growth, and the newcomer's prior, hold the truth as often as they say: a small run of each."""

from functools import cache

import pytest

from tests.accuracy.experiment import Row
from tests.accuracy.growth import growth
from tests.accuracy.priors import priors

pytestmark = pytest.mark.long


@cache
def of_growth() -> tuple[Row, ...]:
    return tuple(growth(3, 25))


def test_what_is_required_of_growth_and_of_the_prior_holds() -> None:
    rows = [*of_growth(), *priors(3, 25)]
    assert [row.name for row in rows if not row.holds] == []
    assert sum(row.least is not None for row in rows) == 16


def test_intervals_of_calm_growth_are_narrow_and_of_two_weighings_wide() -> None:
    widths = {row.name: row.value for row in of_growth() if "half width" in row.name}
    calm = next(value for name, value in widths.items() if "calm" in name)
    two, six = (next(value for name, value in widths.items() if name.startswith(f"grew, {n} w")) for n in (2, 6))
    assert calm < 0.15
    assert six < 0.1 < two
    assert all(value < 0.6 for value in widths.values())
