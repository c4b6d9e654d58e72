"""How long a stock lasts."""

import math
from datetime import timedelta

import pytest
from msgspec.structs import replace

from generator.reckon.dosing.stocks import Stock, drawn, stock
from generator.reckon.finding import CannotTell
from generator.records.log import Dose, MeasuredRate, PumpRate
from generator.units.quantity import Estimate, parse_quantity
from tests.reckon.dosing.systems import AS_OF, LIME, TWO_PART, dosed, log
from tests.reckon.water.journals import here, moment

RUNNING = log({"soda": "100 mL/day"})
PLANNED = Estimate(0.125, 0.1, 0.15, "L/day")


def lasting(answer: Stock | CannotTell) -> Stock:
    assert isinstance(answer, Stock), answer
    return answer


def test_five_litres_at_a_hundred_millilitres_a_day_last_fifty_days():
    found = lasting(stock(dosed(TWO_PART), RUNNING, "soda", None, AS_OF))
    assert found.full_lasts.value == pytest.approx(50.0)
    assert found.left is None
    assert found.empty is None
    assert lasting(
        stock(dosed(TWO_PART), RUNNING, "soda", None, AS_OF, planned=PLANNED)
    ).full_lasts.value == pytest.approx(40.0)


def test_a_stock_lasts_as_surely_as_its_dose_is_known():
    # GUM 5.1: the ends of the rate, and 5 % that a pump strays (common practice, no source), in squares.
    planned = lasting(stock(dosed(TWO_PART), RUNNING, "soda", None, AS_OF, planned=PLANNED)).full_lasts
    assert planned.low == pytest.approx(40.0 - math.hypot(40.0 - 5.0 / 0.15, 1.645 * 0.05 * 40.0), rel=1e-3)
    assert planned.high == pytest.approx(40.0 + math.hypot(5.0 / 0.1 - 40.0, 1.645 * 0.05 * 40.0), rel=1e-3)
    maybe_none = Estimate(0.003, 0.0, 0.007, "L/day")
    endless = lasting(stock(dosed(TWO_PART), RUNNING, "soda", None, AS_OF, planned=maybe_none)).full_lasts
    assert endless.high == math.inf


def test_what_is_left_is_as_sure_as_what_the_pump_drew():
    found = lasting(stock(dosed(TWO_PART), RUNNING, "soda", AS_OF - timedelta(days=20), AS_OF))
    assert found.left.high - found.left.value == pytest.approx(1.645 * 0.05 * 2.0, rel=1e-3)
    assert found.lasts.low < found.lasts.value < found.lasts.high


@pytest.mark.parametrize("rate", ["0 mL/day", "0.001 mL/day"])
def test_a_pump_that_stands_or_hardly_moves_empties_nothing(rate):
    found = stock(dosed(TWO_PART), log({"soda": rate}), "soda", AS_OF - timedelta(days=20), AS_OF)
    assert isinstance(found, CannotTell)
    assert found.why == "nothing-runs"


def test_a_stock_lasts_by_what_its_pump_was_measured_to_give():
    def given(rate: str, at: float) -> MeasuredRate:
        return MeasuredRate(source=here(), at=moment(at), solution="soda", rate=parse_quantity(rate, "rate"))

    # For the last ten of twenty days half of the 100 mL a day it is set to.
    half = replace(RUNNING, measured_rates=(given("50 mL/day", 50.0),))
    found = lasting(stock(dosed(TWO_PART), half, "soda", AS_OF - timedelta(days=20), AS_OF))
    assert found.left.value == pytest.approx(5.0 - 10 * 0.1 - 10 * 0.05)
    assert found.lasts.value == pytest.approx(3.5 / 0.05)
    # A pump set to what is planned gives half of that.
    planned = lasting(stock(dosed(TWO_PART), half, "soda", None, AS_OF, planned=PLANNED))
    assert planned.full_lasts.value == pytest.approx(80.0)
    clogged = replace(RUNNING, measured_rates=(given("0 mL/day", 50.0),))
    assert isinstance(stock(dosed(TWO_PART), clogged, "soda", None, AS_OF), CannotTell)
    assert drawn(clogged, "soda", moment(40.0), AS_OF) == pytest.approx(1.0)


def test_what_was_drawn_since_it_was_filled_is_gone():
    found = lasting(stock(dosed(TWO_PART), RUNNING, "soda", AS_OF - timedelta(days=20), AS_OF))
    assert found.left.value == pytest.approx(3.0)
    assert found.empty == AS_OF + timedelta(days=30)


def test_a_container_that_was_not_filled_to_the_top_is_empty_sooner():
    start = AS_OF - timedelta(days=20)
    found = lasting(stock(dosed(TWO_PART), RUNNING, "soda", start, AS_OF, held=4.0))
    assert found.left.value == pytest.approx(2.0)
    assert found.empty == AS_OF + timedelta(days=20)


def test_a_dose_by_hand_comes_out_of_the_same_container():
    dose = Dose(source=here(), at=moment(50.0), solution="soda", amount=parse_quantity("500 mL", "volume"))
    by_hand = replace(RUNNING, doses=(dose,))
    found = lasting(stock(dosed(TWO_PART), by_hand, "soda", AS_OF - timedelta(days=20), AS_OF))
    assert found.left.value == pytest.approx(2.5)


def test_a_pump_counts_at_the_rate_it_had():
    slower = PumpRate(source=here(), at=moment(55.0), solution="soda", rate=parse_quantity("40 mL/day", "rate"))
    other = PumpRate(source=here(), at=moment(57.0), solution="chloride", rate=parse_quantity("9 mL/day", "rate"))
    changed = replace(RUNNING, pumps=(*RUNNING.pumps, slower, other))
    assert drawn(changed, "soda", moment(50.0), moment(60.0)) == pytest.approx(5 * 0.100 + 5 * 0.040)
    assert lasting(stock(dosed(TWO_PART), changed, "soda", None, AS_OF)).full_lasts.value == pytest.approx(125.0)


def test_only_what_was_poured_from_it_since_it_was_filled_counts():
    def dose(day: float, solution: str, millilitres: int) -> Dose:
        amount = parse_quantity(f"{millilitres} mL", "volume")
        return Dose(source=here(), at=moment(day), solution=solution, amount=amount)

    poured = (dose(50.0, "soda", 1), dose(50.1, "soda", 20), dose(55.0, "chloride", 300), dose(60.0, "soda", 4000))
    by_hand = replace(log(), doses=(*poured, dose(60.1, "soda", 50_000)))
    assert drawn(by_hand, "soda", moment(50.0), moment(60.0)) == pytest.approx(4.020)


def test_a_pump_set_anew_this_minute_counts_as_it_is_set_now():
    slower = PumpRate(source=here(), at=AS_OF, solution="soda", rate=parse_quantity("40 mL/day", "rate"))
    now = replace(RUNNING, pumps=(*RUNNING.pumps, slower))
    assert lasting(stock(dosed(TWO_PART), now, "soda", None, AS_OF)).full_lasts.value == pytest.approx(125.0)


def test_limewater_is_drawn_by_the_top_off():
    lime = replace(LIME, stock=parse_quantity("20 L", "volume"))
    found = lasting(stock(dosed({"lime": lime}), log(top_off=("2 L/day", "lime")), "lime", None, AS_OF))
    assert found.full_lasts.value == pytest.approx(10.0)


def test_a_stock_drawn_dry_is_empty_now():
    found = lasting(stock(dosed(TWO_PART), RUNNING, "soda", moment(1.0), AS_OF))
    assert found.left.value == 0.0
    assert found.empty == AS_OF


def test_without_a_size_or_a_pump_nothing_is_told():
    unsized = replace(TWO_PART["soda"], stock=None)
    assert isinstance(stock(dosed({"soda": unsized}), RUNNING, "soda", None, AS_OF), CannotTell)
    assert isinstance(stock(dosed(TWO_PART), log(), "soda", None, AS_OF), CannotTell)
