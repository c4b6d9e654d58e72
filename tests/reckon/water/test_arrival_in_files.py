"""The arrival of the estimator's tests as a keeper tells it: in a coral's file, or in a line of the log."""

from datetime import date
from math import hypot

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.deliveries import RATE_ERROR, STRENGTH_ERROR
from generator.records.coral import Arrival, Coral, Placement, Size
from generator.records.log import Event
from generator.records.system import Solution, System
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.reckon.water.journals import here, levels, log_of, moment, system, taken_up
from tests.reckon.water.runs import difference_of_the_last_two
from tests.reckon.water.test_estimate import ARRIVAL, arrival
from tests.simulator.water import CALCIUM_PER_DKH


def coral(id: str, came: date, across: str) -> Coral:
    return Coral(
        source=here(),
        id=id,
        name=id,
        species="Acropora millepora",
        line=id,
        form="branching",
        arrival=Arrival(source=here(), at=came, how="trade"),
        placements=(Placement(source=here(), since=came, system="lagoon"),),
        sizes=(Size(source=here(), at=came, length=parse_quantity(across, "length")),),
    )


CORALS = [coral("old", date(2024, 1, 1), "30 cm"), coral("new", moment(ARRIVAL).date(), "28 cm")]
# By how much what a pump gives may be off, of all causes, as a share.
DELIVERY_ERROR = hypot(STRENGTH_ERROR, RATE_ERROR)
EVENT = Event(source=here(9000), at=moment(ARRIVAL), what="arrival", coral=None, text="A large colony")


def as_written(seed: int) -> System:
    """The system of a keeper whose solution is weaker or stronger than written, as far as is usual."""
    home, off = system(), 1.0 + np.random.default_rng([seed, 1]).normal(0.0, DELIVERY_ERROR)
    declared = levels(alkalinity=f"{1000.0 / off:.2f} dKH", calcium=f"{1000.0 * CALCIUM_PER_DKH / off:.4f} mg/L")
    return replace(home, solutions=home.solutions | {"balanced": Solution(source=here(), declared=declared)})


@pytest.mark.long
@pytest.mark.parametrize(
    ("corals", "events", "seeds", "most"),
    [(CORALS, (), 120, 0.97), ([], (EVENT,), 40, 1.0)],
    ids=["its file", "a line of the log"],
)
def test_three_days_after_it_the_interval_holds_the_truth_and_beats_the_difference_of_two_readings(
    corals, events, seeds, most
):
    held, ours, usual = [], [], []
    for seed in range(seeds):
        run = arrival(seed)
        log = log_of(run, events, with_calcium=False)
        found, _ = taken_up(as_written(seed), log, moment(run.end), corals)
        uptake = found["alkalinity"].per_day.estimate.scaled(1.0 / MEQ_PER_DKH, "dKH/day")
        held.append(uptake.low <= run.end_uptake <= uptake.high)
        ours.append(uptake.value - run.end_uptake)
        usual.append(difference_of_the_last_two(run) - run.end_uptake)
    # Nine in ten are promised. A range that held nearly all of so many draws would be too wide to dose by.
    assert 0.85 <= np.mean(held) <= most
    assert np.sqrt(np.mean(np.square(ours))) <= 0.4 * np.sqrt(np.mean(np.square(usual)))


@pytest.mark.parametrize("past", [False, True], ids=["now", "with its past"])
@pytest.mark.parametrize(("corals", "events"), [(CORALS, ()), ([], (EVENT,))], ids=["its file", "a line of the log"])
def test_what_is_taken_up_is_the_same_beside_all_else_that_is_found(corals, events, past):
    run = arrival(2)
    log, at = log_of(run, events), moment(run.end)
    whole = analyse_water(as_written(2), log, corals, at, past=past)
    assert taken_up(as_written(2), log, at, corals, past) == (whole.uptake, whole.calcification)
    assert (
        whole.uptake["alkalinity"] != analyse_water(as_written(2), log_of(run), [], at, past=past).uptake["alkalinity"]
    )


@pytest.mark.parametrize(("corals", "events"), [(CORALS, ()), ([], (EVENT,))], ids=["its file", "a line of the log"])
def test_before_any_reading_an_arrival_may_take_much_more_and_hardly_less_than_nothing(corals, events):
    log = log_of(arrival(1), events, with_calcium=False).until(moment(ARRIVAL))
    before, after = (
        analyse_water(system(), each, by, moment(ARRIVAL), past=False).uptake["alkalinity"].per_day.estimate
        for each, by in ((replace(log, events=()), CORALS[:1]), (log, corals))
    )
    assert after.low >= 0.85 * before.low
    assert after.high >= 1.8 * before.high
