"""What a colony that is yet to come will add to the doses."""

import pytest

from generator.reckon.dosing.phases import added_doses
from tests.reckon.dosing.systems import AS_OF, LIME, TWO_PART, about, dosed, log


def test_sixteen_grams_a_day_more_take_their_equivalents_of_both_parts():
    # 16 g of CaCO3 are 319.7 meq and 6407 mg of calcium (100.086 g/mol): 282.4 mL of soda at 60 g/L and
    # 293.8 mL of chloride at 80 g/L.
    found = added_doses(dosed(TWO_PART), log({"soda": "100 mL/day"}), about(16.0, 8.0, "g/day"), AS_OF)
    rates = {dose.supply: dose.rate.estimate for dose in found.doses}
    assert rates["soda"].value == pytest.approx(16.0 / 100.086 * 105.988 / 60.0, rel=1e-4)
    assert rates["chloride"].value == pytest.approx(16.0 / 100.086 * 147.008 / 80.0, rel=1e-4)
    assert rates["soda"].low == pytest.approx(rates["soda"].value / 2.0)
    assert rates["soda"].high == pytest.approx(rates["soda"].value * 1.5)


def test_limewater_that_already_runs_is_not_counted_twice():
    system = dosed({"lime": LIME, **TWO_PART}, "3 L/day")
    found = added_doses(system, log(top_off=("2 L/day", "lime")), about(16.0, 1.0, "g/day"), AS_OF)
    rates = {dose.supply: dose.rate.estimate.value for dose in found.doses}
    assert rates["lime"] == pytest.approx(1.0)
