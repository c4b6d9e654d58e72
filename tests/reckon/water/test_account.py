"""What is paid into a water, and when it counts."""

import numpy as np
import pytest

from generator.reckon.estimate.kalman import Transition
from generator.reckon.water.account import Account, Paid, Renewal, SteadyInflow, transitions
from generator.reckon.water.dynamics import Dynamics, OneLevel, TwoLevels, flows

RESTS = OneLevel(0.04)
BOTH = TwoLevels(0.04, 7.147, 0.1, 30.0)


def flow(dynamics: Dynamics, days: float, inflow: np.ndarray) -> Transition:
    """The transition over one stretch."""
    return flows(dynamics, np.array([days]), inflow[None])[0]


def carried(steps: list[Transition], level: float, uptake: float = 0.0) -> list[float]:
    """The level at each moment, from a level and an uptake at the first."""
    state, found = np.array([level, uptake, 0.0]), []
    for step in steps:
        state = step.F @ state + step.c
        found.append(float(state[0]))
    return found


def levels(account: Account, moments: list[float], level: float = 8.0, uptake: float = 0.0) -> list[float]:
    return carried(transitions(RESTS, [account], [], moments), level, uptake)


def test_what_is_taken_up_leaves_the_level():
    assert levels(Account(), [0.0, 1.0, 3.0], uptake=0.4) == pytest.approx([8.0, 7.6, 6.8])


def test_uptake_that_grows_takes_more_each_day():
    # Level falls by u t + g t²/2: elementary kinematics.
    state = transitions(RESTS, [Account()], [], [0.0, 4.0])[1].F @ np.array([8.0, 0.4, 0.05])
    assert state == pytest.approx([8.0 - 1.6 - 0.4, 0.6, 0.05])


def test_a_steady_inflow_counts_only_while_it_runs():
    account = Account(steady=(SteadyInflow(0.5, 2.5, 1.0), SteadyInflow(2.0, float("inf"), 0.2)))
    assert levels(account, [0.0, 1.0, 2.0, 4.0]) == pytest.approx([8.0, 8.5, 9.5, 10.4])


def test_a_dose_between_two_readings_lifts_the_second():
    assert levels(Account(doses=(Paid(0.5, 0.7),)), [0.0, 1.0, 2.0]) == pytest.approx([8.0, 8.7, 8.7])


def test_a_dose_written_with_a_reading_was_given_after_it():
    # Common practice, no source: a keeper reads, and doses because of what was read.
    assert levels(Account(doses=(Paid(1.0, 0.7),)), [0.0, 1.0, 2.0]) == pytest.approx([8.0, 8.0, 8.7])
    assert levels(Account(doses=(Paid(0.0, 0.7),)), [0.0, 1.0]) == pytest.approx([8.0, 8.7])


def test_two_kits_read_the_water_before_the_dose_of_their_moment():
    assert levels(Account(doses=(Paid(1.0, 0.7),)), [0.0, 1.0, 1.0, 2.0]) == pytest.approx([8.0, 8.0, 8.0, 8.7])


def test_what_was_paid_in_before_the_first_moment_is_in_its_level():
    assert levels(Account(doses=(Paid(-1.0, 0.7),)), [0.0, 1.0]) == pytest.approx([8.0, 8.0])


def test_a_water_change_leaves_the_rest_of_the_excess():
    account = Account(renewals=(Renewal(0.5, 0.25, 8.0, 0.2),))
    step = transitions(RESTS, [account], [], [0.0, 1.0])[1]
    assert carried([step], 10.0) == pytest.approx([9.5])
    # A quarter of new water known to 0.2 blurs the whole by a quarter of that.
    assert step.fixed[0, 0] == pytest.approx(0.05**2, rel=1e-3)


def test_doses_before_a_water_change_are_thinned_by_it_and_those_after_are_not():
    change = (Renewal(0.5, 0.5, 8.0, 0.0),)
    assert levels(Account(doses=(Paid(0.4, 1.0),), renewals=change), [0.0, 1.0]) == pytest.approx([8.0, 8.5])
    assert levels(Account(doses=(Paid(0.6, 1.0),), renewals=change), [0.0, 1.0]) == pytest.approx([8.0, 9.0])


def test_what_was_paid_between_two_moments_is_doses_and_running_pumps():
    account = Account((SteadyInflow(0.0, 3.0, 1.0),), (Paid(1.0, 0.5), Paid(2.0, 0.25)))
    assert account.paid_between(1.0, 2.0) == pytest.approx(1.5)
    assert account.paid_between(2.0, 9.0) == pytest.approx(1.25)


def test_in_more_water_everything_counts_less():
    account = Account((SteadyInflow(0.0, 2.0, 1.0),), (Paid(1.0, 0.5),), (Renewal(1.0, 0.4, 8.0, 0.1),)).scaled(0.5)
    assert account == Account((SteadyInflow(0.0, 2.0, 0.5),), (Paid(1.0, 0.25),), (Renewal(1.0, 0.2, 8.0, 0.1),))
    assert account.scaled(10.0).renewals[0].fraction == 1.0


@pytest.mark.parametrize("dynamics", [RESTS, BOTH])
def test_an_opening_frees_the_uptake_and_no_level(dynamics: Dynamics):
    accounts = [Account()] * dynamics.levels
    quiet = transitions(dynamics, accounts, [], [0.0, 1.0])[1].fixed
    opened = transitions(dynamics, accounts, [(1.0, 0.0, 0.5)], [0.0, 1.0])[1].fixed
    expected = np.zeros_like(quiet)
    expected[dynamics.levels, dynamics.levels] = 0.5
    np.testing.assert_allclose(opened - quiet, expected)


def test_calcification_takes_calcium_with_alkalinity_and_other_uptake_takes_none():
    # Source: stoichiometry of CaCO3, 7.147 mg/L of calcium with each dKH (reference weights).
    state = np.array([8.0, 420.0, 1.0, 0.0, 0.0])
    after = flow(BOTH, 2.0, np.array([0.5, 3.0])).F @ state + flow(BOTH, 2.0, np.array([0.5, 3.0])).c
    assert after[:2] == pytest.approx([8.0 - 2.0 + 1.0, 420.0 - 14.294 + 6.0])
    other = flow(BOTH, 2.0, np.zeros(2)).F @ np.array([8.0, 420.0, 0.0, 0.0, 0.1])
    # It forgets itself: what is left of it after t days is exp(-t/30), and what it took its integral.
    assert other[[0, 1, 4]] == pytest.approx(
        [8.0 - 0.1 * 30.0 * (1.0 - np.exp(-2.0 / 30.0)), 420.0, 0.1 * np.exp(-2.0 / 30.0)]
    )


def test_the_other_uptake_keeps_its_spread_however_long_one_waits():
    # A stationary Ornstein-Uhlenbeck process: what is forgotten and what is added balance.
    step = flow(BOTH, 7.0, np.zeros(2))
    assert step.F[4, 4] ** 2 * BOTH.other**2 + step.fixed[4, 4] == pytest.approx(BOTH.other**2)


def test_a_walk_of_the_uptake_leaves_the_variances_of_its_integral():
    # Of a Wiener process W over t: Var W = t, Var ∫W = t³/3, Cov = t²/2. Source: any textbook of stochastic processes.
    drift = flow(RESTS, 3.0, np.zeros(1)).drift / 0.04**2
    assert drift[:2, :2] == pytest.approx(np.array([[9.0, -4.5], [-4.5, 3.0]]))
    assert drift[2] == pytest.approx(np.zeros(3))
