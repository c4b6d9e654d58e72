"""Propagation of uncertainty against the worked examples of the guide that defines it."""

from collections.abc import Callable
from math import sqrt

import numpy as np
import pytest

from generator.nature.methods import Pinned
from generator.reckon.estimate.uncertainty import Measured, contributions
from tests.published.table import checks, holds

# Annex H.1: an end gauge of nominally 50 mm against a standard of the same length; nm and °C.
GAUGE = {
    "standard": Measured(50_000_623.0, 25.0),
    "difference": Measured(215.0, 9.7),
    "expansion_difference": Measured(0.0, 0.58e-6),
    "expansion": Measured(11.5e-6, 1.2e-6),
    "deviation": Measured(-0.1, 0.41),
    "temperature_difference": Measured(0.0, 0.029),
}


def gauge(
    standard: float,
    difference: float,
    expansion_difference: float,
    expansion: float,
    deviation: float,
    temperature_difference: float,
) -> float:
    return standard + difference - standard * (expansion_difference * deviation + expansion * temperature_difference)


# Annex H.3, table H.6: readings of the thermometer and their corrections, °C.
READ = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTION = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


def thermometer() -> tuple[dict[str, Measured], float]:
    """The fitted line about the mean of the readings, where its two parameters are independent (H.3.5)."""
    t, b = np.array(READ), np.array(CORRECTION)
    about = t - t.mean()
    slope = float(about @ b / (about @ about))
    left = b - b.mean() - slope * about
    s = sqrt(float(left @ left) / (len(t) - 2))
    return {
        "middle": Measured(float(b.mean()), s / sqrt(len(t))),
        "slope": Measured(slope, s / sqrt(float(about @ about))),
    }, float(t.mean())


def at_thirty(middle: float, slope: float) -> float:
    return middle + slope * (30.0 - thermometer()[1])


def combined(function: Callable[..., float], inputs: dict[str, Measured]) -> float:
    return sqrt(sum(part**2 for part in contributions(function, inputs).values()))


def value(function: Callable[..., float], inputs: dict[str, Measured]) -> float:
    return function(**{name: measured.value for name, measured in inputs.items()})


EXAMPLES: dict[str, Callable[[], float]] = {
    "combined uncertainty of the end gauge, nm": lambda: combined(gauge, GAUGE),
    "length of the end gauge, mm": lambda: value(gauge, GAUGE) / 1e6,
    "correction of the thermometer at 30 °C, °C": lambda: value(at_thirty, thermometer()[0]),
    "uncertainty of the correction at 30 °C, °C": lambda: combined(at_thirty, thermometer()[0]),
}


@pytest.mark.parametrize("check", checks("gum"))
def test_uncertainty_is_carried_as_the_guide_carries_it(check: Pinned):
    holds(check, EXAMPLES[check.what]())


def test_each_cause_of_the_gauge_carries_what_the_guide_says():
    # Source: JCGM 100:2008, H.1.3: 25, 9.7, 0, 0 (first order), 2.9 and 16.6 nm; from memory.
    parts = contributions(gauge, GAUGE)
    found = [parts[name] for name in ("standard", "difference", "expansion_difference", "temperature_difference")]
    assert found == pytest.approx([25.0, 9.7, 2.9, 16.6], abs=0.1)
    assert parts["expansion"] == parts["deviation"] == pytest.approx(0.0)
