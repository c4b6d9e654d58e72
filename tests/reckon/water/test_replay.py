"""The track record: what was predicted of each reading from the lines before it, and how often that held."""

from statistics import NormalDist

import numpy as np
import pytest

from generator.reckon.estimate.uncertainty import Mixture
from generator.reckon.water.analysis import analyse_water, gather
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.dynamics import LOGGED
from generator.reckon.water.replay import ENOUGH, HORIZONS, nearest_predictions, replay, track_records, widening
from generator.reckon.water.state_estimate import StateEstimate
from generator.records.log import PumpRate, SystemLog
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.reckon.water.journals import here, moment, readings, system

UPTAKE = 0.6  # dKH a day, and as much is given: 1 L of 1000 dKH in 400 L is 2.5 dKH
KIT = 0.15


def replayed(values: np.ndarray, every: float = 2.0):
    pump = PumpRate(
        source=here(), at=moment(-1), solution="soda", rate=parse_quantity(f"{UPTAKE / 2.5:.6f} L/day", "rate")
    )
    times = np.arange(len(values)) * every
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", times, values)), pumps=(pump,))
    return analyse_water(system(kit=f"{KIT} dKH"), log, (), moment(float(times[-1]) + 0.1)).replayed


def steady(seed: int, count: int = 60) -> np.ndarray:
    return 8.2 + np.random.default_rng(seed).normal(0.0, KIT, count)


def test_about_nine_in_ten_readings_of_a_steady_water_fall_where_they_were_expected():
    held = [each.inside for seed in range(6) for each in nearest_predictions(replayed(steady(seed)))]
    assert len(held) > 300
    assert 0.86 < np.mean(held) < 0.98


def test_a_reading_is_predicted_by_what_was_read_before_it_and_by_nothing_later():
    values = steady(1)
    changed = values.copy()
    changed[40:] -= 2.0
    first, other = (
        {(each.reading.at, each.days): each.predicted for each in replayed(v) if each.reading.at < moment(79.0)}
        for v in (values, changed)
    )
    assert first.keys() == other.keys()
    for key, predicted in first.items():
        # Only the scale of the drift is taken from all readings.
        assert other[key].value == pytest.approx(predicted.value, abs=0.3 * KIT * MEQ_PER_DKH)


def carried(found: StateEstimate, start: int, until: int) -> Mixture:
    """What the heaviest stories of a moment expect of a reading, each carried there from moment to moment."""
    model, process, now = found.laid.model, found.followed.process, found.followed.after[start].heaviest(6)
    mean, variance, q2 = now.mean, now.variance, process.q2[now.candidate]
    for t in range(start + 1, until + 1):
        F, noise = model.F[t], (q2 * process.pace(mean[:, process.rate]))[:, None, None]
        mean, variance = mean @ F.T + model.c[t], F @ variance @ F.T + noise * model.drift[t] + model.fixed[t]
        branches = found.laid.branches[t]
        if branches is not None and branches.kind[0] >= LOGGED:
            odds, ways = np.exp(branches.log_odds), branches.mean[:, None] * branches.direction
            mean = mean + np.average(ways, axis=0, weights=odds)
            own = np.einsum("b,bi,bj->ij", odds * branches.spread**2, branches.direction, branches.direction)
            variance = variance + own + np.cov(ways.T, aweights=odds, ddof=0)
    read = variance[:, 0, 0] + model.noise[until] * process.r2[now.candidate]
    return Mixture(now.weights, mean[:, 0], np.sqrt(read))


@pytest.mark.parametrize("settles", [0.0, 10.0])
def test_a_prediction_is_what_carrying_each_story_on_through_all_that_is_logged_gives(settles):
    times = np.cumsum(np.random.default_rng(5).uniform(0.4, 2.5, 40))
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", times, 10.0 - 0.05 * times)))
    arrivals = [
        DemandEvent(moment(day), 0.3, "arrival", None, here(), day=moment(day).date(), settles=settles)
        for day in (20.2, 22.9)
    ]
    evidence, found = gather(system(kit=f"{KIT} dKH"), log, arrivals, moment(60.0))
    known = found["alkalinity"]
    told = replay(evidence["alkalinity"], known)
    assert {each.days for each in told} == set(HORIZONS)
    for each in told:
        until = int(known.readings[evidence["alkalinity"].readings.index(each.reading)])
        start = int(np.searchsorted(known.laid.times, known.laid.times[until] - each.days, side="right")) - 1
        value, low, high = carried(known, start, until).interval()
        assert (each.predicted.value, each.predicted.low, each.predicted.high) == pytest.approx((value, low, high))


def test_it_does_not_matter_how_many_predictions_are_made_at_once(monkeypatch):
    at_once = [each.predicted for each in replayed(steady(2))]
    monkeypatch.setattr("generator.reckon.water.replay._AT_ONCE", 7)
    few_by_few = [each.predicted for each in replayed(steady(2))]
    assert len(few_by_few) > 70
    for one, other in zip(at_once, few_by_few, strict=True):
        assert (one.value, one.low, one.high) == pytest.approx((other.value, other.low, other.high), rel=1e-9)


def test_a_prediction_counts_for_a_horizon_only_if_it_was_made_about_so_long_before():
    found = {each.days for each in replayed(steady(2), every=2.0)}
    assert found == set(HORIZONS)
    assert {each.days for each in replayed(steady(2, 30), every=7.0)} == {7.0}


def test_each_reading_counts_once_by_its_nearest_prediction():
    every = replayed(steady(3))
    once = nearest_predictions(every)
    assert len({each.reading for each in every}) == len(once)
    assert {each.days for each in once} == {1.0}


def test_a_quantity_that_was_hardly_read_has_no_record():
    assert replayed(steady(4, 4)) == ()
    assert track_records(()) == ()


def test_ranges_half_as_wide_as_they_should_be_ask_to_be_doubled():
    rng = np.random.default_rng(5)
    right, narrow = widening(list(rng.normal(0.0, 1.0, 400))), widening(list(rng.normal(0.0, 2.0, 400)))
    assert right is not None
    assert narrow is not None
    assert right.low < 1.0 < right.high
    assert narrow.low < 2.0 < narrow.high
    assert narrow.low > 1.2
    assert widening([0.0] * (ENOUGH - 1)) is None


def test_scores_that_lie_just_as_a_normal_distribution_has_them_need_no_correction():
    n = 999
    scores = [NormalDist().inv_cdf((place + 1) / (n + 1)) for place in range(n)]
    found = widening(scores)
    assert found is not None
    assert found.value == pytest.approx(1.0, abs=0.01)
