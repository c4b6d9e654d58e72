"""Density and salinity against UNESCO 44, TEOS-10 and the library we rest on."""

from collections.abc import Callable

import gsw
import pytest

from generator.nature.methods import Pinned
from generator.reckon.water import seawater
from tests.published.table import checks, holds

# ITS-90 degrees are this much larger than those of IPTS-68, on which UNESCO 44 is written.
# Source: Saunders 1990, WOCE Newsletter 10 (from memory).
T68_PER_T90 = 1.00024


def _density(salinity: float, temperature: float | None = None, temperature_68: float = 0.0) -> float:
    return seawater.density(float(salinity), temperature_68 / T68_PER_T90 if temperature is None else temperature)


def _library_salinity(ratio: float, temperature_68: float, pressure: float) -> float:
    standard = gsw.C_from_SP(35.0, 15.0 / T68_PER_T90, 0.0)
    return gsw.SP_from_C(ratio * standard, temperature_68 / T68_PER_T90, pressure)


FUNCTIONS: dict[str, Callable[..., float]] = {
    "density": _density,
    "conductivity": lambda salinity: seawater.conductivity(float(salinity)),
    "salinity from conductivity": lambda millisiemens: seawater.salinity_from_conductivity(float(millisiemens)),
    "specific gravity": lambda salinity, pair: seawater.specific_gravity(float(salinity), pair),
    "salinity from specific gravity": seawater.salinity_from_specific_gravity,
    "library salinity from ratio": _library_salinity,
    "library salinity from conductivity": lambda millisiemens, temperature, pressure: gsw.SP_from_C(
        millisiemens, temperature, pressure
    ),
    "library conductivity": lambda salinity, temperature, pressure: gsw.C_from_SP(salinity, temperature, pressure),
    "library conductivity standard": lambda: gsw.C_from_SP(35.0, 15.0 / T68_PER_T90, 0.0),
}


@pytest.mark.parametrize("check", checks("seawater"))
def test_seawater_agrees_with_the_published_tables(check: Pinned):
    holds(check, FUNCTIONS[check.what](**check.inputs))
