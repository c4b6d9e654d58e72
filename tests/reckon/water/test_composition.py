"""Salts judged after their salinity is taken out."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.reckon.estimate.uncertainty import Measured
from generator.reckon.finding import CannotTell, Finding, OutsideRange
from generator.reckon.water.salts import REFERENCE, IonStanding, composition, normalised, reference_concentration
from generator.reckon.water.seawater import density
from generator.records.source import Source


def _diluted(kind: str, salinity: float, temperature: float = 25.0) -> float:
    """What natural seawater of this salinity has in a litre."""
    return float(REFERENCE[kind].value * salinity / 35.0 * density(salinity, temperature))


@given(st.floats(1.0, 3000.0), st.floats(20.0, 42.0), st.floats(20.0, 30.0))
def test_normalising_twice_is_the_same_as_once(concentration: float, salinity: float, temperature: float):
    once = normalised(concentration, salinity, temperature)
    assert normalised(once, 35.0, temperature) == pytest.approx(once, rel=1e-12)


@given(st.sampled_from(sorted(REFERENCE)), st.floats(20.0, 42.0), st.floats(20.0, 30.0))
def test_the_sea_at_any_salinity_is_still_the_sea(kind: str, salinity: float, temperature: float):
    at_35 = normalised(_diluted(kind, salinity, temperature), salinity, temperature)
    assert at_35 == pytest.approx(reference_concentration(kind, temperature), rel=1e-12)


def _one(kind: str, measured: Measured, salinity: Measured | None) -> IonStanding:
    (found,) = composition({kind: measured}, salinity)
    return found


def test_low_salinity_makes_magnesium_look_low_until_it_is_normalised():
    read = _diluted("magnesium", 32.0)
    found = _one("magnesium", Measured(read, 15.0), Measured(32.0, 0.3))
    assert read < 0.92 * found.reference
    assert isinstance(found.ratio, Finding)
    assert found.ratio.estimate.value == pytest.approx(1.0, abs=1e-12)
    assert isinstance(found.normalised, Finding)
    assert found.normalised.estimate.low < found.reference < found.normalised.estimate.high


def test_the_uncertainty_of_the_salinity_reading_is_carried():
    sure = _one("calcium", Measured(420.0, 10.0), Measured(35.0, 0.0)).normalised
    unsure = _one("calcium", Measured(420.0, 10.0), Measured(35.0, 1.0)).normalised
    assert isinstance(sure, Finding)
    assert isinstance(unsure, Finding)
    assert {part.cause for part in sure.parts} == {"concentration"}
    parts = {part.cause: part.standard for part in unsure.parts}
    # One in 35 of salinity is 1/35 of the calcium, and a little for the weight of the salt itself.
    assert parts["salinity"] == pytest.approx(420.0 / 35.0, rel=0.03)
    assert parts["concentration"] == pytest.approx(10.0)
    assert unsure.estimate.high - unsure.estimate.low > sure.estimate.high - sure.estimate.low


def test_ratio_and_level_say_the_same():
    found = _one("potassium", Measured(350.0, 8.0), Measured(34.0, 0.4))
    assert isinstance(found.ratio, Finding)
    assert isinstance(found.normalised, Finding)
    scaled = found.normalised.estimate.scaled(1.0 / found.reference, "× sea")
    assert found.ratio.estimate.value == pytest.approx(scaled.value)
    assert found.ratio.estimate.low == pytest.approx(scaled.low)


def test_without_a_salinity_nothing_is_claimed():
    for salinity in (None, Measured(0.0, 0.3)):
        found = _one("calcium", Measured(420.0, 10.0), salinity)
        assert isinstance(found.ratio, CannotTell)
        assert found.ratio.why == "no-salinity"


def test_only_what_was_measured_is_judged_and_each_names_its_lines():
    at = {"calcium": (Source("a.yaml", 3),), "salinity": (Source("a.yaml", 9),)}
    found = composition({"calcium": Measured(420.0, 10.0), "nitrate": Measured(5.0, 1.0)}, Measured(35.0), inputs=at)
    assert [each.kind for each in found] == ["calcium"]
    assert isinstance(found[0].ratio, Finding)
    assert found[0].ratio.inputs == (Source("a.yaml", 3), Source("a.yaml", 9))


def test_a_salinity_no_reef_has_leaves_nothing_to_compare():
    for salinity in (0.0, 4.9, 42.1, float("nan")):
        found = composition({"calcium": Measured(420.0, 10.0)}, Measured(salinity, 0.5))
        assert isinstance(found[0].ratio, CannotTell)
        with pytest.raises(OutsideRange, match="salinity of"):
            normalised(420.0, salinity)
    for salinity in (5.0, 42.0):
        # At an end the spread to the side that holds counts.
        found = composition({"calcium": Measured(420.0, 10.0)}, Measured(salinity, 0.5))
        assert isinstance(found[0].ratio, Finding)
        assert {part.cause for part in found[0].ratio.parts} == {"concentration", "salinity"}
