"""All that is said of a system's dosing at once."""

from datetime import timedelta

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.dosing.analysis import analyse_dosing
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.stocks import Recipe, Stock
from generator.reckon.finding import CannotTell
from generator.reckon.water.analysis import analyse_water
from generator.records.log import Filling, SystemLog
from generator.units.quantity import parse_quantity
from tests.reckon.dosing.systems import AS_OF, TWO_PART, dosed, log
from tests.reckon.dosing.systems import found as water_of
from tests.reckon.water.journals import here, levels, readings


def running() -> SystemLog:
    """Two-part pumps that hold the water: a reading every other day shows the same."""
    times = np.arange(0.0, 60.0, 2.0)
    steady = readings("alkalinity", "dKH", times, np.full(len(times), 8.25))
    calcium = readings("calcium", "mg/L", times, np.full(len(times), 430.0), 1000)
    return replace(
        log({"soda": "100 mL/day", "chloride": "100 mL/day"}),
        readings=tuple(sorted([*steady, *calcium], key=lambda reading: reading.at)),
    )


def analyse(log, **changed):
    system = replace(dosed(TWO_PART), **changed)
    return analyse_dosing(system, log, analyse_water(system, log, (), AS_OF), AS_OF)


def test_what_holds_the_water_is_what_runs_and_the_stock_lasts_by_that():
    found = analyse(running())
    assert isinstance(found.plan, Plan)
    soda = next(dose for dose in found.plan.phases[-1].doses if dose.supply == "soda")
    assert soda.rate.estimate.low < 0.1 < soda.rate.estimate.high
    stock = found.stocks["soda"]
    assert isinstance(stock, Stock)
    assert stock.full_lasts.value == stock.size / soda.rate.estimate.value


def test_a_container_that_was_filled_says_when_it_is_empty():
    amount = parse_quantity("4 L", "volume")
    filling = Filling(source=here(), at=AS_OF - timedelta(days=10), solution="soda", amount=amount)
    found = analyse(replace(running(), fillings=(filling,))).stocks["soda"]
    assert found.left.value == pytest.approx(3.0)
    assert found.lasts.value == pytest.approx(found.full_lasts.value * 3.0 / found.size)
    assert found.empty == AS_OF + timedelta(days=found.lasts.value)


def test_the_last_filling_counts_and_none_from_a_later_day():
    amount = parse_quantity("5 L", "volume")
    at = (AS_OF - timedelta(days=10), AS_OF - timedelta(days=1), AS_OF + timedelta(days=1))
    fillings = tuple(Filling(source=here(), at=on, solution="soda", amount=amount) for on in at)
    assert analyse(replace(running(), fillings=fillings)).stocks["soda"].left.value == pytest.approx(4.9)


def test_every_stock_with_a_compound_has_its_recipe():
    found = analyse(running()).recipes["soda"]
    assert isinstance(found, Recipe)
    solution = TWO_PART["soda"]
    assert found.grams == pytest.approx(solution.strength.canonical() * solution.stock.canonical())


def test_new_water_pulls_every_quantity_towards_the_mix_by_its_share():
    mixes = {"sea": levels(alkalinity="7.25 dKH", salinity="35 psu")}
    [found] = analyse(running(), mixes=mixes).new_water
    assert found.fraction == pytest.approx(0.10), "the usual tenth where none was ever made"
    [effect] = found.effects
    assert effect.after.value == pytest.approx(0.9 * effect.before.value + 0.1 * effect.mix)


@pytest.mark.parametrize(("uptake_dkh", "brings_salt"), [(0.9, True), (0.001, False)])
def test_salinity_rises_only_where_something_is_dosed(uptake_dkh: float, brings_salt: bool):
    pumps, water = log({"soda": "100 mL/day"}), water_of(uptake_dkh=uptake_dkh, half_width_dkh=0.0001)
    found = analyse_dosing(dosed(TWO_PART), pumps, water, AS_OF)
    assert isinstance(found.plan, Plan)
    assert any(dose.supply == "soda" for dose in found.plan.phases[-1].doses), "it runs now"
    assert (found.salinity_drift is not None) == brings_salt


def test_without_readings_nothing_is_recommended_and_it_says_what_to_read():
    found = analyse(log({"soda": "100 mL/day"}))
    assert isinstance(found.plan, CannotTell)
    assert found.plan.what_would_tell == "read-twice"
    assert found.salinity_drift is None
    assert "maker-and-local-codes" in found.cautions, "the stocks must be handled all the same"
