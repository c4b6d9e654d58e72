"""The robust slope's laws, and its honesty with few points."""

import numpy as np
import pytest

from generator.reckon.estimate.slopes import _variance_of_kendall, robust_slope

RNG = np.random.default_rng(20260301)


def _noisy_line(n: int = 30) -> tuple[np.ndarray, np.ndarray]:
    x = np.sort(RNG.uniform(0.0, 90.0, n))
    return x, 5.0 + 0.04 * x + RNG.normal(0.0, 0.5, n)


def test_a_wild_point_in_ten_does_not_bend_the_slope():
    x, y = _noisy_line(40)
    before = robust_slope(x, y)
    wild = y.copy()
    wild[::10] += 50.0
    after = robust_slope(x, wild)
    assert before is not None
    assert after is not None
    assert abs(after.slope - before.slope) < (before.high - before.low) / 2.0


def test_the_order_of_the_points_does_not_matter():
    x, y = _noisy_line()
    shuffled = RNG.permutation(len(x))
    assert robust_slope(x, y) == robust_slope(x[shuffled], y[shuffled])


def test_the_slope_follows_scale_and_shift():
    x, y = _noisy_line()
    plain, moved = robust_slope(x, y), robust_slope(x + 1000.0, 2.0 * y + 7.0)
    assert plain is not None
    assert moved is not None
    assert (moved.slope, moved.low, moved.high) == pytest.approx((2 * plain.slope, 2 * plain.low, 2 * plain.high))


def test_the_interval_holds_the_true_slope_nine_times_in_ten():
    held = 0
    for _ in range(500):
        x, y = _noisy_line(15)
        found = robust_slope(x, y, 0.90)
        assert found is not None
        held += found.low <= 0.04 <= found.high
    # Four standard deviations of a count at 90 % are 27.
    assert 423 <= held <= 480


@pytest.mark.parametrize("x", [[], [1.0], [1.0, 2.0], [1.0, 2.0, 3.0], [5.0] * 8])
def test_too_few_points_or_all_at_one_place_have_no_slope(x: list[float]):
    assert robust_slope(np.array(x), np.arange(float(len(x))), 0.90) is None


def test_four_points_in_a_row_are_the_fewest_at_nine_in_ten():
    found = robust_slope(np.arange(4.0), np.array([0.0, 1.0, 3.0, 6.0]), 0.90)
    assert found is not None
    # No interval is wider than from the least to the greatest slope between two points.
    assert (found.low, found.high) == (1.0, 3.0)


def test_pairs_at_the_same_place_have_no_slope_and_do_not_count():
    x, y = np.array([0.0, 0.0, 1.0, 1.0, 2.0, 2.0]), np.array([0.0, 100.0, 1.0, 101.0, 2.0, 102.0])
    found = robust_slope(x, y)
    assert found is not None
    assert found.slope == pytest.approx(1.0)


def test_a_level_line_has_no_slope():
    found = robust_slope(np.arange(10.0), np.full(10, 3.0))
    assert found is not None
    assert (found.slope, found.low, found.high) == (0.0, 0.0, 0.0)


def test_measurements_of_one_day_take_from_the_variance_of_kendall_s_sum():
    # n(n-1)(2n+5) less t(t-1)(2t+5) of each tie, over 18 (Kendall 1970, from memory): 300, 18 and 66 by hand.
    days = np.array([0.0, 1.0, 1.0, 2.0, 3.0])
    assert _variance_of_kendall(days, np.arange(5.0)) == pytest.approx((300.0 - 18.0) / 18.0)
    assert _variance_of_kendall(days, np.array([1.0, 1.0, 1.0, 2.0, 3.0])) == pytest.approx(
        (300.0 - 18.0 - 66.0) / 18.0
    )
