"""Published rates of calcification give back the published values they were taken from."""

from collections.abc import Callable
from math import pi

import pytest

from generator.nature.methods import Pinned
from generator.nature.rates import RATES, Rate
from generator.reckon.arrivals.colony import Colony, outline, surface
from generator.reckon.arrivals.published import rates_for
from generator.reckon.growth.measurements import Body
from generator.records.coral import Form
from tests.published.table import checks, holds

MG_A_DAY = 1000.0 / 365.25


def incubated(genus: str, form: Form) -> float:
    (speaking,) = [found for found in rates_for(genus, form) if found.study == "incubation"]
    assert speaking.closeness == "genus-and-form"
    (rate,) = speaking.rates
    return rate.value * 100.0**rate.exponent


def area(length: float, height: float, form: Form, genus: str = "Porites") -> float:
    body = Body(length, length, height)
    return surface(Colony(genus=genus, form=form, body=body), body).median


def half_circle() -> float:
    body = Body(2.0, 2.0, 1.0)
    return outline(Colony(genus="Porites", form="massive", body=body), body)


WAYS: dict[str, Callable[..., float]] = {
    "extension times density of massive corals": lambda extension, density: extension * density * MG_A_DAY,
    "calcification by incubation in light, kg/yr at 100 cm²": incubated,
    "surface, cm²": area,
    "outline of half a circle over its diameter": half_circle,
    "ReefBudget coefficient of massive corals": lambda extension, density: extension * density,
}


@pytest.mark.parametrize("check", checks("calcification"))
def test_a_published_way_gives_its_published_value(check: Pinned):
    holds(check, WAYS[check.what](**check.inputs))


@pytest.mark.parametrize("rate", RATES, ids=lambda r: f"{r.study} {r.basis} {r.genus} {' '.join(r.forms)}")
def test_a_rate_lies_in_its_range_and_names_its_source(rate: Rate):
    assert 0.0 < rate.low < rate.value < rate.high
    assert rate.source
    assert rate.unit
    assert 0.02 < rate.spread < 1.0


def test_a_hemisphere_of_massive_porites_by_extension_agrees_with_its_growing_shell():
    # Source: Perry et al. 2018: a dome of radius r growing by g a year lays down the shell between r and
    # r + g; per cm across, density · π/2 · ((r + g)² - r²) of half a ring.
    (speaking,) = [s for s in rates_for("Porites", "massive") if s.basis == "extension-density"]
    (rate,) = speaking.rates
    radius, extension, density = 10.0, 1.167, 1.264
    shell = density * pi / 2.0 * ((radius + extension) ** 2 - radius**2)
    assert rate.value * pi * radius + rate.edge == pytest.approx(shell, rel=0.01)
