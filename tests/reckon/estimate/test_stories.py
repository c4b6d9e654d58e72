"""Stories side by side, held against the exact posterior of every history there can be."""

from itertools import product

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.estimate import stories
from generator.reckon.estimate.kalman import Happened, Model, smooth
from generator.reckon.estimate.multiprocess import Branches, Process
from generator.reckon.estimate.stories import MOST_STORIES, follow

# A level and its rate, read daily; each reading may be wild, and the rate may step on the way to it.
WILD, STEP = 1, 2
ODDS = np.array([0.85, 0.05, 0.10])


def process(values: np.ndarray, considered: slice = slice(2, 2)) -> Process:
    count = len(values)
    F = np.tile(np.array([[1.0, -1.0], [0.0, 1.0]]), (count, 1, 1))
    F[0] = np.eye(2)
    model = Model(
        F=F,
        c=np.zeros((count, 2)),
        drift=np.tile(np.diag([0.0, 0.001]), (count, 1, 1)),
        fixed=np.zeros((count, 2, 2)),
        h=np.tile([1.0, 0.0], (count, 1)),
        y=values,
        noise=np.full(count, 0.02),
        widened=np.zeros(count),
        start=np.array([values[0], 0.5]),
        spread=np.diag([0.1, 0.05]),
    )
    branches = Branches(
        kind=np.array([0, WILD, STEP]),
        log_odds=np.log(ODDS),
        again=np.zeros(3),
        direction=np.array([[0.0, 0.0], [0.0, 0.0], [-0.5, 1.0]]),
        mean=np.zeros(3),
        spread=np.array([0.0, 0.0, 0.8]),
        by_rate=np.zeros(3, dtype=bool),
        blur=np.zeros(3),
        blurred=np.array([1.0, 0.0]),
        widened=np.array([0.0, 2.0, 0.0]),
    )
    times = np.arange(float(count))
    one = np.ones(1)
    return Process(
        model,
        (branches,) * count,
        times,
        one,
        one,
        np.zeros(1),
        1,
        1.0,
        1.0,
        1.0,
        considered,
        np.arange(2),
        np.arange(0),
    )


def exact(of: Process) -> tuple[np.ndarray, float, np.ndarray]:
    """Mean of the state at the end, the log-likelihood, the chance of each kind at each moment: by all histories."""
    count, logs, means, all_histories = len(of.times), [], [], list(product(range(3), repeat=len(of.times)))
    for history in all_histories:
        branches = of.branches[0]
        moved = {}
        widened = np.zeros((count, 1))
        for t, branch in enumerate(history):
            way = branches.direction[branch]
            moved[t] = (np.zeros((2, 1)), branches.spread[branch] ** 2 * np.outer(way, way)[:, :, None])
            widened[t] = branches.widened[branch]
        told = smooth(of.model, np.ones(1), np.ones(1), Happened(moved, widened, np.ones((count, 1))))
        logs.append(float(told.log_likelihood[0]) + float(np.log(ODDS)[list(history)].sum()))
        means.append([told.along(state)[0][-1, 0] for state in np.eye(2)])
    weights = np.exp(np.array(logs) - max(logs))
    whole = float(np.log(weights.sum()) + max(logs))
    weights /= weights.sum()
    kinds = np.array(all_histories)
    odds = np.array([[weights[kinds[:, t] == kind].sum() for kind in range(3)] for t in range(count)])
    return weights @ np.array(means), whole, odds


@pytest.mark.parametrize("values", [[8.0, 7.5, 7.0, 6.5], [8.0, 7.5, 5.5, 6.5], [8.0, 7.5, 6.2, 4.9, 3.7]])
def test_few_readings_give_the_posterior_of_every_history_there_can_be(values):
    of = process(np.array(values))
    followed = follow(of)
    mean, likelihood, odds = exact(of)
    assert followed.log_likelihood == pytest.approx(likelihood, abs=1e-3)
    np.testing.assert_allclose(followed.last.moments()[0], mean, atol=0.01)
    for kind in (WILD, STEP):
        np.testing.assert_allclose(followed.odds(kind), odds[:, kind], atol=0.02)


def test_a_reading_far_off_is_wild_once_the_next_is_back_and_a_step_once_it_is_not():
    back = follow(process(np.array([8.0, 7.5, 7.0, 4.5, 6.0, 5.5])))
    gone = follow(process(np.array([8.0, 7.5, 7.0, 4.5, 2.6, 0.7])))
    assert back.odds(WILD)[3] > 0.9
    assert gone.odds(WILD)[3] < 0.1
    # The rate stepped before this reading or the one before it.
    assert gone.odds(STEP)[2:4].sum() > 0.8


def test_what_may_have_happened_stays_as_likely_when_stories_that_say_the_same_are_made_one(monkeypatch):
    values = 8.0 - 0.5 * np.arange(24.0) + np.random.default_rng(3).normal(0.0, 0.14, 24)
    values[6] += 0.75
    monkeypatch.setattr(stories, "REMEMBERED", 2.0)
    joined = follow(process(values))
    assert sum(joined.odds(kind) for kind in range(3)) == pytest.approx(1.0)
    # As it is where none are made one: neither sure nor gone.
    monkeypatch.setattr(stories, "SAME_WITHIN", 0.0)
    monkeypatch.setattr(stories, "MOST_STORIES", 1000)
    apart = follow(process(values[:16]))
    assert 0.3 < apart.odds(WILD)[6] < 0.6
    assert joined.odds(WILD)[6] == pytest.approx(apart.odds(WILD)[6], abs=0.05)


def test_stories_come_from_the_heaviest_on_at_every_moment():
    values = 8.0 - 0.5 * np.arange(40.0) + np.random.default_rng(5).normal(0.0, 0.14, 40)
    values[[9, 20]] += 0.8
    told = follow(process(values))
    for each in (*told.after, told.last):
        assert (np.diff(each.weights) <= 0.0).all()
        assert each.weights.sum() == pytest.approx(1.0)


def test_what_is_not_known_of_the_moment_counts_for_a_level_that_nothing_moves():
    of = process(np.array([8.0, 7.5, np.nan]))
    (branches,) = {id(each): each for each in of.branches}.values()
    rate_alone = replace(branches, direction=np.where([True, False], 0.0, branches.direction))
    vague = replace(rate_alone, blur=np.array([0.0, 0.0, 0.3]))
    sure, unsure = (follow(replace(of, branches=(branches, branches, each))).last for each in (rate_alone, vague))
    step = np.argmax(np.abs(unsure.variance[:, 0, 0] - sure.variance[:, 0, 0]))
    # Where the rate, 1 a day at least, stepped: (0.3 days)^2.
    assert unsure.variance[step, 0, 0] - sure.variance[step, 0, 0] == pytest.approx(0.3**2)


def test_however_long_the_series_no_more_stories_are_told_than_allowed():
    rng = np.random.default_rng(2)
    values = 8.0 - 0.5 * np.arange(60.0) + rng.normal(0.0, 0.14, 60)
    followed = follow(process(values))
    assert all(len(turn.parent) <= MOST_STORIES for turn in followed.turns)
    assert followed.last.weights.sum() == pytest.approx(1.0)


def test_what_is_only_considered_keeps_its_mean_and_its_variance():
    followed = follow(process(np.array([8.0, 7.2, 6.1, 5.2]), considered=slice(1, 2)))
    assert followed.last.mean[:, 1] == pytest.approx(0.5, abs=0.02)
    quiet = followed.kinds[:, 0] == 0
    if quiet.all():
        assert followed.last.variance[0, 1, 1] >= 0.05


def test_a_step_that_one_reading_alone_tells_counts_less_for_the_middle_until_the_next():
    of = process(np.array([8.0, 7.5, 7.0, 5.9, 4.7]))
    by_share = replace(of.branches[0], by_rate=np.array([False, False, True]))
    told = [follow(replace(of, branches=(by_share,) * 5, fresh=fresh)) for fresh in (1.0, 0.4)]
    (value, *ends), (firm, *same) = (each.after[3].of(np.array([0.0, 1.0])).interval() for each in told)
    assert firm < value
    assert same == ends
    # Two readings tell of it now, and a step since the first of them is not called for.
    (value, *_), (firm, *_) = (each.last.of(np.array([0.0, 1.0])).interval() for each in told)
    assert firm == pytest.approx(value, abs=0.05)
