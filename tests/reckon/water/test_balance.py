"""The ledger of the last days adds up to what the level did, though its last reading is long past."""

from types import SimpleNamespace

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.replay import Balance, _level_error, balance
from generator.records.log import SystemLog
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate
from tests.reckon.water.journals import here, log_of, moment, readings, system
from tests.simulator.water import simulate_water

END, DAYS = 45, 30


def run_with(seed: int, unread: tuple[float, ...]):
    """A run read every other day, the log of which lacks some of its readings, with the balance of its last days."""
    run = simulate_water(np.random.default_rng(seed), float(END), tests_at=np.arange(1.0, END, 2.0), drift=0.015)
    log = log_of(run, with_calcium=False)
    kept = tuple(r for r in log.readings if not any(abs((r.at - moment(at)).days) < 1 for at in unread))
    found = analyse_water(system(), replace(log, readings=kept), [], moment(END))
    return run, balance(found, system().water, "alkalinity", DAYS)


def holds(interval, value: float) -> bool:
    return interval.low <= value * MEQ_PER_DKH <= interval.high


@pytest.mark.long
@pytest.mark.parametrize("unread", [(), tuple(range(29, END)), tuple(range(11, 20))])
def test_the_change_of_the_level_holds_the_truth_about_nine_times_in_ten(unread):
    # All read; the last two weeks not read; the days about the ledger's start not read.
    held, every = [], 25
    for seed in range(every):
        run, found = run_with(seed, unread)
        assert isinstance(found.change, Finding)
        at_start = run.alkalinity.levels[list(run.alkalinity.times).index(float(END - DAYS))]
        held.append(holds(found.change.estimate, run.end_level - at_start))
    assert sum(held) / every >= 0.8


def told(found: Balance) -> tuple[Finding, Finding]:
    assert isinstance(found.taken_up, Finding)
    assert isinstance(found.change, Finding)
    return found.taken_up, found.change


def test_what_was_paid_and_what_was_taken_up_make_the_change_of_the_level():
    _, found = run_with(3, tuple(range(25, END)))
    taken, change = told(found)
    assert sum(found.paid.values()) + taken.estimate.value == pytest.approx(change.estimate.value)
    # The demand is near 0.9 dKH a day, as the simulator begins it: of 30 days, also of the 20 nobody read.
    assert 18.0 < -taken.estimate.value / MEQ_PER_DKH < 36.0


def test_each_cause_has_the_lines_it_adds_up():
    _, found = run_with(3, ())
    assert set(found.inputs["pump"]) == {here(3000)}
    assert set(found.inputs["water-change"]) == {here(4000)}
    # Read on the odd days from the first: line 108 is the reading of day 17, the first after the ledger's start.
    assert found.inputs["uptake"][0] == here(108)
    assert len(found.inputs["uptake"]) == 14


def test_an_uptake_is_as_unsure_as_the_water_is():
    run = simulate_water(np.random.default_rng(4), float(END), tests_at=np.arange(1.0, END, 2.0))
    unsure = system(uncertainty="20 L")
    found = balance(analyse_water(unsure, log_of(run), [], moment(END)), unsure.water, "alkalinity", DAYS)
    taken, _ = told(found)
    of_volume = {part.cause: part.standard for part in taken.parts}["water-volume"]
    assert of_volume == pytest.approx(0.05 * abs(sum(found.paid.values())))


def test_where_the_uptake_cannot_be_told_the_ledger_says_so():
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", [1.0], [8.1])))
    found = balance(analyse_water(system(), log, [], moment(END)), system().water, "alkalinity", DAYS)
    assert isinstance(found.taken_up, CannotTell)
    assert isinstance(found.change, CannotTell)


def test_a_level_is_as_unsure_as_at_its_nearest_reading_and_by_what_may_have_come_since():
    # Source: the integral of a random walk over d days has the variance q² d³ / 3; Durbin & Koopman 2012, 3.2.
    exact, unsure = Estimate.normal(2.9, 0.03, "meq/L"), Estimate.normal(0.3, 0.02, "meq/L/day")
    track = [SimpleNamespace(at=moment(at), level=exact, per_day=unsure) for at in (0.0, 10.0)]
    uptake = SimpleNamespace(track=track, drift=SimpleNamespace(value=0.01))
    assert _level_error(uptake, moment(10.0)) == pytest.approx(0.03)
    for at in (7.0, 13.0):
        assert _level_error(uptake, moment(at)) == pytest.approx(np.sqrt(0.03**2 + 0.06**2 + 0.01**2 * 9.0))
