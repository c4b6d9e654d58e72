"""Oxygen, cooling and lifting against published check values, and against the library for seawater."""

from collections.abc import Callable

import gsw
import numpy as np
import pytest

from generator.nature.constants import SEAWATER_HEAT_CAPACITY
from generator.nature.methods import Pinned
from generator.reckon.trade import carrying
from tests.published.table import checks, holds

CM_PER_INCH = 2.54
KG_PER_LB = 0.45359237


def _limit_in_pounds(reach: float, from_height: float, rise: float) -> float:
    return carrying.recommended_limit(*(CM_PER_INCH * each for each in (reach, from_height, rise))) / KG_PER_LB


FUNCTIONS: dict[str, Callable[..., float]] = {
    "oxygen": carrying.solubility,
    "oxygen of the library": carrying.solubility,
    "oxygen mg/L": carrying.saturation,
    "temperature after": carrying.temperature_after,
    "lifting limit": carrying.recommended_limit,
    "lifting limit lb": _limit_in_pounds,
    "heat capacity": lambda: SEAWATER_HEAT_CAPACITY.value,
}


@pytest.mark.parametrize("check", checks("travel"))
def test_travel_agrees_with_the_published_values(check: Pinned):
    holds(check, FUNCTIONS[check.what](**check.inputs))


def test_oxygen_agrees_with_the_library_over_the_range_of_reefs():
    for salinity in np.linspace(25, 40, 7):
        for temperature in np.linspace(15, 32, 9):
            expected = gsw.O2sol_SP_pt(salinity, temperature)
            # The library converts to the temperature scale of 1968 first: 5e-5 at 10 °C, 1e-4 at 30 °C.
            assert carrying.solubility(salinity, temperature) == pytest.approx(expected, rel=2e-4)
