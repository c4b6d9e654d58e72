import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statsmodels.duration.survfunc import SurvfuncRight

from generator.reckon.estimate.uncertainty import kaplan_meier

lives = st.lists(st.tuples(st.integers(1, 40), st.booleans()), min_size=1, max_size=60)
late_lives = st.lists(
    st.tuples(st.integers(1, 40), st.booleans(), st.integers(0, 39)).map(
        lambda each: (each[0], each[1], min(each[2], each[0] - 1))
    ),
    min_size=1,
    max_size=60,
)


@settings(max_examples=100)
@given(late_lives)
def test_any_group_has_the_curve_and_the_errors_statsmodels_finds(group):
    times, fell, entered = zip(*group, strict=True)
    ours = kaplan_meier(times, fell, entered)
    theirs = SurvfuncRight(np.array(times), np.array(fell, dtype=int), entry=np.array(entered))
    # Its table also holds times at which some only left.
    at = {float(t): i for i, t in enumerate(theirs.surv_times)}
    for step in ours.steps:
        index = at[step.time]
        assert step.at_risk == theirs.n_risk[index]
        assert step.events == theirs.n_events[index]
        assert step.survival == pytest.approx(theirs.surv_prob[index], abs=1e-12)
        if step.survival > 0.0:
            assert step.standard == pytest.approx(theirs.surv_prob_se[index], rel=1e-9, abs=1e-12)


@given(lives, st.sampled_from([0.5, 0.9, 0.95]), st.sampled_from(["plain", "log-log"]))
def test_the_curve_only_falls_and_its_interval_holds_it(group, level, scale):
    curve = kaplan_meier([float(time) for time, _ in group], [fell for _, fell in group])
    last = 1.0
    for time in range(0, 45, 5):
        share, _ = curve.survival(time)
        low, high = curve.interval(time, level, scale)
        assert 0.0 <= low <= share <= high <= 1.0
        assert share <= last
        last = share


def test_with_nobody_leaving_early_it_is_the_share_that_is_left():
    curve = kaplan_meier([1.0, 2.0, 3.0, 4.0], [True] * 4)
    assert [step.survival for step in curve.steps] == pytest.approx([0.75, 0.5, 0.25, 0.0])
    # Greenwood's error is then the binomial one.
    assert curve.steps[1].standard == pytest.approx((0.5 * 0.5 / 4) ** 0.5)


def test_one_that_leaves_when_another_falls_was_still_at_risk():
    assert kaplan_meier([5.0, 5.0], [False, True]).steps[0].survival == 0.5


def test_where_none_fell_the_interval_is_the_exact_one():
    # Source: Clopper & Pearson 1934; ten of ten: 90 % interval from 0.05**(1/10) = 0.741.
    curve = kaplan_meier([100.0] * 10, [False] * 10)
    assert curve.survival(50.0) == (1.0, 0.0)
    assert curve.interval(50.0) == pytest.approx((0.7411, 1.0), abs=1e-4)
    assert curve.at_risk(100.0) == 10
    assert curve.at_risk(101.0) == 0


def test_where_none_is_left_the_interval_reaches_up():
    low, high = kaplan_meier([10.0] * 4, [True] * 4).interval(20.0)
    assert low == 0.0
    assert high == pytest.approx(1.0 - 0.05**0.25)


def test_those_that_entered_once_none_was_left_do_not_make_that_surer():
    # Three fell on day 10, all that were watched. Of twenty that came long before, one fell on day 60.
    times, fell = [10.0] * 3 + [60.0] + [90.0] * 19, [True] * 4 + [False] * 19
    curve = kaplan_meier(times, fell, [0.0] * 3 + [50.0] * 20)
    assert curve.interval(80.0) == kaplan_meier([10.0] * 3, [True] * 3).interval(80.0)


def test_those_lost_before_anyone_watched_do_not_make_the_rest_look_hardier():
    """Half of them came up to 120 days before anyone watched, and are known only if they lived that long."""
    rng = np.random.default_rng(11)
    death, entered = rng.exponential(300.0, 4000), np.where(np.arange(4000) % 2, rng.uniform(0.0, 120.0, 4000), 0.0)
    known = (death > entered) | (entered == 0.0)
    times, fell = np.minimum(death, 400.0)[known], (death <= 400.0)[known]
    true = np.exp(-0.3)
    assert kaplan_meier(times, fell, entered[known]).survival(90.0)[0] == pytest.approx(true, abs=0.02)
    assert kaplan_meier(times, fell).survival(90.0)[0] > true + 0.03


def test_the_interval_holds_the_true_share_nine_times_in_ten():
    rng = np.random.default_rng(9)
    held = 0
    for _ in range(500):
        death, leaving = rng.exponential(300.0, 30), rng.uniform(50.0, 500.0, 30)
        curve = kaplan_meier(np.minimum(death, leaving), death <= leaving)
        low, high = curve.interval(90.0)
        held += low <= np.exp(-0.3) <= high
    assert 0.87 <= held / 500 <= 0.96
