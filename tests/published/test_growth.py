"""Growth against published weighings, formulas and certified data."""

from datetime import date, timedelta

import pytest

from generator.nature.methods import Pinned
from generator.reckon.finding import Finding, OutsideRange
from generator.reckon.growth.mass import skeleton_from_buoyant
from generator.reckon.growth.measurements import Point, surface_area
from generator.reckon.growth.pace import DAYS_PER_YEAR, LENGTH, MASS, Course, PaceKind, extension, specific_growth_rate
from generator.reckon.growth.spots import daily_light
from generator.reckon.water.seawater import density
from generator.records.source import Source
from tests.published.table import checks, holds


def _skeleton_in_water(buoyant: float, salinity: float, temperature: float, skeleton: float) -> float:
    return skeleton_from_buoyant(buoyant, density(salinity, temperature), skeleton)


def _course(days, values, kind: PaceKind) -> Course:
    start = date(2023, 2, 11)
    measured = tuple(
        Point(start + timedelta(days=at), value, 0.0, Source("corals/one.yaml"))
        for at, value in zip(days, values, strict=True)
    )
    return Course([measured], kind, measured[-1].at, ())


def _rate(days, masses) -> float:
    found = specific_growth_rate(_course(days, masses, MASS))
    assert isinstance(found, Finding)
    return found.estimate.value


RECKON = {
    "skeleton_from_buoyant": skeleton_from_buoyant,
    "skeleton_in_water": _skeleton_in_water,
    "factor": lambda water, skeleton: skeleton_from_buoyant(1.0, water, skeleton),
    "specific_growth_rate": _rate,
    "surface_area": surface_area,
    "daily_light": daily_light,
}


@pytest.mark.parametrize("check", checks("growth"))
def test_growth_is_reckoned_as_published(check: Pinned):
    holds(check, RECKON[check.what](**check.inputs))


@pytest.mark.parametrize(
    ("water", "skeleton", "what"),
    [
        (0.9899, 2.9, "water"),
        (1.0401, 2.9, "water"),
        (float("nan"), 2.9, "water"),
        (1.02, 2.499, "skeleton"),
        (1.02, 3.001, "skeleton"),
        (1.02, float("nan"), "skeleton"),
    ],
)
def test_no_skeleton_is_told_of_densities_that_neither_water_nor_coral_has(water: float, skeleton: float, what: str):
    with pytest.raises(OutsideRange, match=f"density of .*{what}"):
        skeleton_from_buoyant(5.0, water, skeleton)
    assert skeleton_from_buoyant(5.0, 0.99, 2.5) < skeleton_from_buoyant(5.0, 1.04, 2.5)


def test_the_extension_of_nists_certified_line_holds_its_slope():
    # Source: NIST StRD Norris, certified slope 1.00211681802045; days are whole, so a tenth of an x is a day.
    row = next(p.values[0] for p in checks("robust_slope") if len(p.values[0].inputs["x"]) == 36)
    points = sorted(zip(row.inputs["x"], row.inputs["y"], strict=True))
    found = extension(_course([round(10 * x) for x, _ in points], [y for _, y in points], LENGTH))
    assert isinstance(found, Finding)
    slope = 1.00211681802045 / 10 * DAYS_PER_YEAR
    assert found.estimate.low < slope < found.estimate.high
    assert found.estimate.value == pytest.approx(slope, rel=2e-3)
