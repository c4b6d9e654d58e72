from datetime import timedelta

import numpy as np
import pytest
import scipy.stats

from generator.reckon.growth.health import _Fit, _instrument, _knots, _quantile_of_t, _share, decline
from generator.reckon.growth.measurements import Point
from tests.reckon.growth.corals import day, here


def spreading(rng, before: float, after: float, turn: int, days=range(0, 720, 30), noise: float = 0.05):
    """Radii (cm) that grow by `before` cm a day, and by `after` from the day of the turn on."""
    radii = [4.0 + before * min(at, turn) + after * max(0, at - turn) for at in days]
    return tuple(
        Point(day(at), radius + float(rng.normal(0.0, noise)), noise, here(at))
        for at, radius in zip(days, radii, strict=True)
    )


def test_growth_that_halves_is_found_with_the_day_it_began():
    rng = np.random.default_rng(1)
    found = [decline([spreading(rng, 0.01, 0.004, 400)], "radius") for _ in range(100)]
    told = [each for each in found if each is not None]
    assert len(told) >= 95
    assert np.mean([each.earliest <= day(400) <= each.latest for each in told]) > 0.85
    assert np.mean([each.fell_by.low <= 60.0 <= each.fell_by.high for each in told]) > 0.8
    assert np.mean([each.after.value for each in told]) == pytest.approx(0.004 * 365.25, rel=0.1)


def test_even_growth_is_rarely_called_a_decline():
    rng = np.random.default_rng(2)
    assert sum(decline([spreading(rng, 0.01, 0.01, 400)], "radius") is not None for _ in range(300)) <= 15


def test_growth_that_quickens_is_no_decline():
    rng = np.random.default_rng(3)
    assert all(decline([spreading(rng, 0.004, 0.01, 400)], "radius") is None for _ in range(50))


def test_a_large_coral_that_spreads_evenly_does_not_decline_though_it_gains_less_of_its_mass():
    # A hemisphere that grows by 1 cm a year: its specific growth rate falls to a third in these six years.
    days = range(0, 2200, 60)
    masses = [2.0 / 3.0 * np.pi * (3.0 + at / 365.25) ** 3 for at in days]
    block = tuple(Point(day(at), mass, 0.3, here(at)) for at, mass in zip(days, masses, strict=True))
    assert decline([block], "mass") is None


def test_a_coral_weighed_often_shows_its_fall_in_percent_a_day():
    days = range(0, 400, 20)
    roots = [4.0 + 0.005 * min(at, 200) + 0.001 * max(0, at - 200) for at in days]
    block = tuple(Point(day(at), root**3, 0.3, here(at)) for at, root in zip(days, roots, strict=True))
    found = decline([block], "mass")
    assert found is not None
    assert found.began == day(200)
    assert found.fell_by.value == pytest.approx(80.0, abs=1.0)
    assert found.before.unit == "%/day"
    assert found.before.value == pytest.approx(300.0 * 0.005 / 5.0, rel=0.02)


def test_a_cut_is_not_taken_for_a_decline():
    rng = np.random.default_rng(5)
    whole = spreading(rng, 0.01, 0.01, 400)
    after_cut = tuple(Point(p.at, p.value - 3.0, p.standard, p.source) for p in whole[12:])
    assert decline([whole[:12], after_cut], "radius") is None


def test_a_fall_that_came_with_a_cut_is_seen_across_it():
    rng = np.random.default_rng(6)
    whole = spreading(rng, 0.01, 0.002, 360)
    after_cut = tuple(Point(p.at, p.value - 3.0, p.standard, p.source) for p in whole[12:])
    found = decline([whole[:12], after_cut], "radius")
    assert found is not None
    assert abs(found.began - day(360)) <= timedelta(days=90)


def test_few_measurements_show_no_decline():
    assert decline([], "radius") is None
    rng = np.random.default_rng(7)
    assert decline([spreading(rng, 0.01, 0.0, 60, days=(0, 30, 60, 90))], "radius") is None


@pytest.mark.parametrize("freedom", [3, 5, 10, 30])
@pytest.mark.parametrize("probability", [0.95, 0.99, 0.995])
def test_the_quantile_of_t_is_scipys(freedom: int, probability: float):
    assert _quantile_of_t(probability, freedom) == pytest.approx(scipy.stats.t.ppf(probability, freedom), rel=0.05)


def test_the_share_lost_is_as_unsure_as_its_two_slopes_and_how_they_go_together_make_it():
    slope, bend, covariance = 0.01, -0.004, np.array([[4e-7, -5e-7], [-5e-7, 9e-7]])
    share, variance = _share(_Fit(0, slope, bend, covariance, 0.0, 10, 0.0))
    drawn = np.random.default_rng(5).multivariate_normal([slope, bend], covariance / 100.0, 200_000)
    assert share == pytest.approx(0.4)
    assert variance / 100.0 == pytest.approx(np.var(-drawn[:, 1] / drawn[:, 0]), rel=0.03)


def test_the_error_of_a_mass_is_a_third_of_its_share_of_the_cube_root():
    # Source: JCGM 100:2008 (GUM) 5.1.2: u(∛m) = u(m) / (3 m^⅔); of 8 g known to 0.3 g: 0.025.
    block = [Point(day(0), 8.0, 0.3, here()), Point(day(9), 27.0, 0.0, here())]
    assert _instrument([block], "mass") == pytest.approx(0.025**2 / 2.0)
    assert _instrument([block], "radius") == pytest.approx(0.3**2 / 2.0)


def test_a_turn_needs_three_steps_of_growth_before_it_and_two_after():
    six = spreading(np.random.default_rng(4), 0.01, 0.004, 90, range(0, 180, 30))
    assert _knots([six]) == [day(90).toordinal()], "the fourth of six measurements, and no other"
    assert _knots([six[:5]]) == []
