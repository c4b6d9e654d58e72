"""What events did to the demand, on simulated systems whose steps are known."""

from math import hypot

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.arrivals.observed import Foreseen, observe
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.analysis import gather
from generator.reckon.water.demand_events import DemandEvent
from generator.units.kinds import MEQ_PER_DKH
from tests.reckon.water.journals import here, log_of, moment, system
from tests.simulator.water import simulate_water

pytestmark = pytest.mark.usefixtures("courses_kept")

DAY = 40.0


def event(day: float = DAY, what: str = "arrival", share: float = 0.9, coral: str = "thicket") -> DemandEvent:
    return DemandEvent(moment(day), share, what, coral, here(50), moment(day).date())


def observed(seed, size, days=10.0, events=None, foreseen=None, tests=None, matters=None):
    """Tests every two days before, daily after; one event at `DAY` (or `events`), whose true step is `size`."""
    rng = np.random.default_rng(seed)
    after = np.arange(1.0, days + 1.0) if tests is None else np.array(tests)
    at = np.concatenate([np.arange(0.0, DAY - 0.5, 2.0), DAY + after])
    run = simulate_water(rng, DAY + days, tests_at=at, uptake=1.0, drift=0.015, step=(DAY, size))
    events = events or [event()]
    log = log_of(run)
    evidence, found = gather(system(), log, events, moment(run.end))
    known, end = found["alkalinity"], moment(run.end)
    return observe(evidence["alkalinity"], known, events[0], events, foreseen or {}, end, matters)


def dkh(estimate):
    return tuple(value / MEQ_PER_DKH for value in (estimate.low, estimate.value, estimate.high))


@pytest.mark.long
def test_the_interval_of_what_a_newcomer_takes_holds_the_truth_nine_times_in_ten():
    held = []
    for seed in range(60):
        low, _, high = dkh(observed(seed, 0.8).step.estimate)
        held.append(low <= 0.8 <= high)
    assert 0.8 <= np.mean(held) <= 0.98


def test_uptake_before_and_after_lie_a_step_apart():
    found = observed(1, 0.8, days=4.0)
    rise = found.after.estimate.value - found.before.estimate.value
    assert rise == pytest.approx(found.step.estimate.value, abs=0.15 * MEQ_PER_DKH)


def test_a_newcomer_that_takes_much_is_almost_surely_said_to_matter_and_one_that_takes_nothing_is_not():
    assert observed(2, 0.8).chance > 0.99
    assert observed(2, 0.0).chance < 0.5


def test_a_loss_is_told_as_surely_as_an_arrival():
    found = observed(3, -0.5, events=[event(what="loss")])
    assert found.chance > 0.95
    assert found.step.estimate.high < 0.0


def test_what_was_foreseen_counts_most_at_first_and_hardly_at_all_later():
    wrong = Foreseen(0.3 * MEQ_PER_DKH, 0.2 * MEQ_PER_DKH)
    days = observed(4, 0.9, days=20.0, events=[event()], foreseen={event(): wrong}).days
    pulls = [abs(day.combined.value - day.measured.value) for day in days]
    assert pulls[0] > 3.0 * pulls[-1]


def test_of_readings_and_forecast_each_adds_to_the_error_by_its_weight():
    # Weighted mean of two: with weights 1/s², each adds s²/s_i to the error s. Source: JCGM 100:2008 (GUM), 5.1.2.
    error = 0.2 * MEQ_PER_DKH
    for days in (1.0, 4.0, 20.0):
        found = observed(4, 0.9, days=days, foreseen={event(): Foreseen(0.8 * MEQ_PER_DKH, error)}).combined
        whole = found.estimate.standard
        parts = {part.cause: part.standard for part in found.parts}
        assert hypot(*parts.values()) == pytest.approx(whole)
        assert parts["prediction"] == pytest.approx(whole**2 / error, abs=0.2 * whole)


def test_a_good_forecast_narrows_what_the_first_readings_tell():
    right = Foreseen(0.8 * MEQ_PER_DKH, 0.2 * MEQ_PER_DKH)
    first = observed(4, 0.8, days=20.0, events=[event()], foreseen={event(): right}).days[0]
    assert first.combined.high - first.combined.low < 0.8 * (first.measured.high - first.measured.low)


def test_before_the_first_reading_since_nothing_can_be_told_but_what_was_foreseen():
    foreseen = {event(): Foreseen(0.5 * MEQ_PER_DKH, 0.2 * MEQ_PER_DKH)}
    found = observed(5, 0.8, days=0.5, tests=[], foreseen=foreseen)
    assert isinstance(found.step, CannotTell)
    assert found.step.why == "no-reading-since"
    assert dkh(found.combined.estimate)[1] == pytest.approx(0.5, abs=0.02)


def test_two_events_on_neighbouring_days_cannot_be_told_apart_but_their_sum_can():
    both = [event(DAY, share=0.5), event(DAY + 0.5, share=0.5, coral="other")]
    found = observed(6, 0.8, events=both)
    assert isinstance(found.step, CannotTell)
    assert found.step.why == "too-close-together"
    low, _, high = dkh(found.together.sum)
    assert low < 0.8 < high
    # No reading lies between them, so no later reading can ever tell which of them it was.
    assert found.together.told_apart is None


def test_two_events_with_readings_between_them_are_told_apart():
    both = [event(DAY), event(DAY + 8.0, share=0.3, coral="other")]
    found = observed(7, 0.8, days=16.0, events=both)
    assert isinstance(found.step, Finding)
    low, _, high = dkh(found.step.estimate)
    assert low < 0.8 < high
    # The uptake just before the second is the 1.0 dKH of before with what the first added, and what it drifted.
    assert dkh(observed(7, 0.8, days=16.0, events=both[::-1]).before.estimate)[1] == pytest.approx(1.8, abs=0.3)


def told_apart_after(days: float) -> tuple[bool, float | None]:
    """Whether two doublings of one day are still told of together so many days later, and when they will not be."""
    both = [event(DAY), event(DAY + 0.8, coral="other")]
    found = observed(8, 0.8, days=days, tests=[0.7, *np.arange(1.0, days, 1.0)], events=both)
    apart = found.together.told_apart if found.together else None
    return found.together is not None, None if apart is None else (apart - moment(DAY)).total_seconds() / 86400.0


def test_a_second_event_close_by_will_be_told_from_the_first_by_a_day_that_is_named_and_then_is():
    together, day = told_apart_after(2.1)
    assert together
    assert day is not None
    assert 3.0 < day < 10.0
    assert told_apart_after(day) == (False, None)


def test_an_event_of_which_nothing_is_expected_counts_either_way():
    up = observed(9, 0.8, events=[replace(event(), what="light")])
    down = observed(9, -0.5, events=[replace(event(), what="light")])
    assert up.chance > 0.95
    assert down.chance > 0.95


def test_what_matters_is_what_the_keeper_wrote_and_a_tenth_of_the_demand_where_nothing_is_written():
    usual = observed(2, 0.3)
    assert usual.matters == pytest.approx(0.1 * usual.before.estimate.value)
    strict = observed(2, 0.3, matters=0.6 * MEQ_PER_DKH)
    assert strict.matters == pytest.approx(0.6 * MEQ_PER_DKH)
    assert strict.chance < 0.05 < 0.95 < usual.chance
