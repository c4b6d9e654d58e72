"""Uncertainty carried from what went in to what came out."""

import pytest

from generator.reckon.estimate.uncertainty import Measured, contributions
from generator.units.quantity import coverage_factor


def test_a_sum_carries_each_uncertainty_by_its_weight():
    found = contributions(lambda a, b: 3.0 * a - 2.0 * b, {"a": Measured(1.0, 0.1), "b": Measured(5.0, 0.2)})
    assert found == pytest.approx({"a": 0.3, "b": 0.4})


def test_a_product_carries_the_shares():
    found = contributions(lambda a, b: a * b, {"a": Measured(10.0, 0.1), "b": Measured(4.0, 0.2)})
    assert found == pytest.approx({"a": 0.4, "b": 2.0})


def test_a_curve_counts_on_both_sides():
    # Central difference over one standard uncertainty: (1.5² - 0.5²) / 2.
    assert contributions(lambda a: a * a, {"a": Measured(1.0, 0.5)}) == pytest.approx({"a": 1.0})


def test_what_is_exact_contributes_nothing():
    assert contributions(lambda a, b: a * b, {"a": Measured(10.0), "b": Measured(4.0, 0.2)}) == pytest.approx(
        {"b": 2.0}
    )


@pytest.mark.parametrize(("level", "factor"), [(0.90, 1.645), (0.95, 1.960), (0.99, 2.576)])
def test_the_coverage_factor_is_that_of_the_guide(level: float, factor: float):
    # Source: JCGM 100:2008 (GUM), Table G.1.
    assert coverage_factor(level) == pytest.approx(factor, abs=5e-4)
