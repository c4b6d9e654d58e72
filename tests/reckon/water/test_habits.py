"""What is poured by hand at a steady rhythm, and what follows if it goes on."""

from datetime import UTC

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.arrivals.observed import baseline_of, if_unchanged
from generator.reckon.attention.water import of_water
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.deliveries import LATE_BY, LATE_SHARE, Habit, changes_by_habit, habits
from generator.reckon.water.findings import Forecast
from generator.records.log import Dose, PumpRate, SystemLog, WaterChange
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, parse_quantity
from tests.reckon.water.journals import STRENGTH, VOLUME, here, levels, moment, readings, system


def poured(times, litres, solution: str = "balanced") -> SystemLog:
    amounts = np.broadcast_to(litres, len(times))
    return SystemLog(
        system="lagoon",
        doses=tuple(
            Dose(
                source=here(n),
                at=moment(float(at)),
                solution=solution,
                amount=parse_quantity(f"{each:.5f} L", "volume"),
            )
            for n, (at, each) in enumerate(zip(times, amounts, strict=True), 1)
        ),
    )


def the(log: SystemLog, at: float) -> Habit:
    (habit,) = habits(log, moment(at))
    return habit


def test_a_dose_every_other_evening_is_a_habit():
    habit = the(poured(np.arange(0.8, 21.0, 2.0), 0.025), 21.0)
    assert habit.days == pytest.approx(2.0)
    assert habit.litres == pytest.approx(0.025)
    assert habit.line == here(11)


def test_three_doses_and_doses_at_any_odd_time_are_none():
    assert not habits(poured([1.0, 2.0, 3.0], 0.025), moment(3.5))
    assert not habits(poured([1.0, 1.5, 6.0, 6.2, 14.0, 15.0, 24.0], 0.025), moment(24.5))


def test_what_is_poured_within_two_hours_is_one_pouring():
    twice = sorted([*np.arange(0.0, 10.0), *np.arange(0.05, 10.0)])
    habit = the(poured(twice, 0.010), 9.5)
    assert (habit.days, habit.litres) == pytest.approx((1.0, 0.020))


def test_a_holiday_and_one_great_correction_do_not_make_the_rhythm():
    amounts = np.full(11, 0.025)
    amounts[4] = 0.2
    habit = the(poured([*np.arange(0.0, 6.0), *np.arange(14.0, 19.0)], amounts), 18.5)
    assert (habit.days, habit.litres) == pytest.approx((1.0, 0.025))


def test_a_habit_ends_when_it_is_not_kept_or_a_pump_takes_over():
    log = poured(np.arange(0.0, 10.0), 0.025)
    assert the(log, 12.0)
    assert not habits(log, moment(13.0))
    pump = PumpRate(source=here(), at=moment(9.5), solution="balanced", rate=parse_quantity("25 mL/day", "rate"))
    assert not habits(replace(log, pumps=(pump,)), moment(10.0))


@pytest.mark.parametrize("pourings", [10_000, 5])
def test_what_will_be_poured_has_the_mean_and_the_spread_of_many_futures(pourings: int):
    # Gaps of 2 +- 0.4 days, amounts of 25 +- 5 mL, the last one half a day ago: drawn forty thousand times. Both means
    # are as unsure as so few pourings leave them.
    habit = Habit("soda", 0.025, 0.005, 2.0, 0.4, moment(9.5), here(), pourings)
    rng, futures = np.random.default_rng(3), 40_000
    gaps = (
        2.0 + 0.4 * rng.standard_normal((futures, 8)) + 0.4 / (pourings - 1) ** 0.5 * rng.standard_normal((futures, 1))
    )
    amounts = 0.025 + 0.005 * rng.standard_normal(gaps.shape)
    amounts += 0.005 / pourings**0.5 * rng.standard_normal((futures, 1))
    gaps[:, 0] -= 0.5
    litres = np.sum((np.cumsum(gaps, axis=1) <= 7.0) * amounts, axis=1)
    (mean,), (spread,) = habit.ahead(moment(10.0), np.array([7.0]))
    assert mean == pytest.approx(litres.mean(), rel=0.01)
    assert spread == pytest.approx(litres.std(), rel=0.03)


def test_a_pouring_that_is_overdue_is_due_now():
    # The next was due a day ago: it comes now, and another two days on.
    habit = Habit("soda", 0.025, 0.0, 2.0, 0.001, moment(7.0), here(), 10_000)
    assert habit.ahead(moment(10.0), np.array([1.0, 2.5]))[0] == pytest.approx([0.025, 0.050])


@pytest.mark.parametrize(
    ("times", "at", "kept"),
    [
        ([0, 15, 30, 45], 46, True),  # every fifteen days is the rarest habit
        ([0, 15.1, 30.2, 45.3], 46, False),
        ([0, 1, 2, 3], 6.5, True),  # after three gaps and a half it has ended
        ([0, 1, 2, 3], 6.51, False),
        ([0, 1, 4, 5, 8, 9, 12], 13, True),  # gaps of 1 and 3 days: 2 +- 1
        ([0, 1, 4.02, 5.02, 8.04, 9.04, 12.06], 13, False),
        ([0, 2 / 24, 4 / 24, 6 / 24], 0.3, False),  # within two hours it is one pouring, and two are no rhythm
        ([0, 2.1 / 24, 4.2 / 24, 6.3 / 24], 0.3, True),
    ],
)
def test_a_rhythm_is_one_as_far_as_its_bounds(times, at: float, kept: bool):
    assert bool(habits(poured(times, 0.025), moment(at))) is kept


def test_an_amount_up_to_three_and_a_half_times_the_usual_counts_and_so_does_one_as_much_smaller():
    assert the(poured(range(5), [0.5, 0.5, 0.5, 0.5, 1.75]), 4.5).litres == pytest.approx(0.75)
    assert the(poured(range(5), [0.5, 0.5, 0.5, 0.5, 1.76]), 4.5).litres == pytest.approx(0.5)
    assert the(poured(range(5), [1.75, 1.75, 1.75, 1.75, 0.5]), 4.5).litres == pytest.approx(1.5)
    assert the(poured(range(5), [1.75, 1.75, 1.75, 1.75, 0.49]), 4.5).litres == pytest.approx(1.75)


def test_nobody_is_a_clock():
    habit = the(poured(range(0, 20, 2), 0.5), 19.0)
    assert (habit.days_stray, habit.litres_stray, habit.last_litres) == pytest.approx((0.1, 0.025, 0.5))
    habit = the(poured([0, 1.8, 4, 5.8, 8], [0.4, 0.6, 0.4, 0.6, 0.5]), 9.0)
    assert (habit.days, habit.days_stray) == pytest.approx((2.0, 0.2))
    assert (habit.litres, habit.litres_stray) == pytest.approx((0.5, 0.008**0.5))


def test_a_pump_set_at_the_last_pouring_takes_over_and_one_that_stands_does_not():
    log = poured(range(6), 0.025)
    for at, rate, kept in ((5.0, "25 mL/day", False), (4.9, "25 mL/day", True), (5.1, "0 mL/day", True)):
        pump = PumpRate(source=here(), at=moment(at), solution="balanced", rate=parse_quantity(rate, "rate"))
        assert bool(habits(replace(log, pumps=(pump,)), moment(5.5))) is kept
    other = PumpRate(source=here(), at=moment(5.2), solution="soda", rate=parse_quantity("25 mL/day", "rate"))
    assert habits(replace(log, pumps=(other,)), moment(5.5))


def test_a_pouring_is_missed_when_it_is_half_a_gap_late_or_by_twice_its_stray():
    evenly = Habit("soda", 0.025, 0.005, 2.0, 0.1, moment(8.0), here(), 10)
    assert [evenly.is_missed(moment(at)) for at in (11.0, 11.01)] == [False, True]
    by_mood = replace(evenly, days_stray=0.75)
    assert [by_mood.is_missed(moment(at)) for at in (11.5, 11.51)] == [False, True]


def test_if_what_is_poured_goes_on_the_level_stays_and_if_not_it_falls():
    # 1 dKH a day is taken up, and as much poured every day.
    log = poured(np.arange(0.1, 40.0), VOLUME / STRENGTH)
    times = np.arange(0.0, 40.0, 2.0)
    log = replace(log, readings=tuple(readings("alkalinity", "dKH", times, np.full(len(times), 8.2))))
    found = analyse_water(system(), log, (), moment(40.0))
    going_on, without = found.forecasts["alkalinity"], found.if_nothing_given["alkalinity"]
    assert isinstance(going_on, Forecast)
    in_three_days = [(each.track[6][1].value - each.track[0][1].value) / MEQ_PER_DKH for each in (going_on, without)]
    assert in_three_days[0] == pytest.approx(0.0, abs=0.3)
    assert in_three_days[1] == pytest.approx(-3.0, abs=0.3)
    assert without.leaves == "low"
    assert going_on.likely is None


def test_with_a_newcomer_too_the_level_falls_only_by_what_it_takes_where_pouring_goes_on():
    times = np.arange(0.0, 40.0, 2.0)
    read = tuple(readings("alkalinity", "dKH", times, np.full(len(times), 8.2)))
    log = replace(poured(np.arange(0.1, 40.0), VOLUME / STRENGTH), readings=read)
    step = Estimate(0.4, 0.1, 1.6, "meq/L/day")
    found = if_unchanged(baseline_of(system(), log, (), moment(40.0)), log, step)
    assert isinstance(found, Forecast)
    (_, now), (_, later) = found.track[0], found.track[6]
    assert later.value - now.value == pytest.approx(-3.0 * 0.4, abs=0.3 * MEQ_PER_DKH)
    assert later.value - later.low > 1.3 * (later.high - later.value), "it may take much more, and hardly less"


def test_a_pouring_that_is_late_beyond_its_habit_is_missed_and_names_the_line_of_the_last():
    log = poured(np.arange(0.8, 21.0, 2.0), 0.025)

    def missed(at: float):
        found = of_water(system(), analyse_water(system(), log, (), moment(at)), moment(at), UTC)
        return [alert for alert in found if alert.kind == "missed-dose"]

    assert not missed(22.9)
    (alert,) = missed(24.0)
    assert alert.inputs == (here(11),)
    assert str(alert.facts["amount"]) == "25 mL"
    assert alert.facts["since"] == moment(22.8).date()


def changed(times, litres: str = "40 L", mix: str | None = "sea") -> SystemLog:
    volume = parse_quantity(litres, "volume")
    changes = (WaterChange(source=here(n), at=moment(float(at)), volume=volume, mix=mix) for n, at in enumerate(times))
    return SystemLog(system="lagoon", water_changes=tuple(changes))


def test_water_changed_every_other_day_for_a_week_is_a_habit_and_four_days_of_it_are_a_measure():
    (habit,) = changes_by_habit(changed(np.arange(0.0, 9.0, 2.0)), moment(9.0))
    assert (habit.solution, habit.days, habit.litres) == ("sea", pytest.approx(2.0), pytest.approx(40.0))
    assert changes_by_habit(changed(np.arange(0.0, 8.0)), moment(8.0))
    assert not changes_by_habit(changed(np.arange(0.0, 7.0)), moment(7.0))


def test_if_water_is_changed_as_before_the_level_goes_on_as_before():
    # A tenth of the water at 12 dKH every 2 days: 0.18 dKH a day beside the 8.4 that it is changed at.
    at, level = np.arange(0.5, 40.0, 2.0), 8.4
    log = replace(changed(at), readings=tuple(readings("alkalinity", "dKH", at, np.full(len(at), level))))
    home = replace(system(), mixes={"sea": levels(alkalinity="12 dKH")})
    found = analyse_water(home, log, (), moment(40.0))
    going_on, without = found.forecasts["alkalinity"], found.if_nothing_given["alkalinity"]
    in_twenty_days = [(each.track[40][1].value - each.track[0][1].value) / MEQ_PER_DKH for each in (going_on, without)]
    assert in_twenty_days == [pytest.approx(0.0, abs=0.3), pytest.approx(-3.6, abs=0.4)]


def test_three_pourings_to_come_for_sure_are_as_unsure_as_their_amounts_and_the_mean_of_four():
    # Var(N x̄ + errors) = N σ² + N² σ²/n: what each strays, and what the mean of n = 4 is off by.
    habit = Habit("soda", 0.025, 0.005, 2.0, 1e-6, moment(9.0), here(), 4)
    (mean,), (spread,) = habit.ahead(moment(10.0), np.array([6.0]))
    assert mean == pytest.approx(3 * 0.025)
    assert spread == pytest.approx(0.005 * np.sqrt(3 + 9 / 4))


@pytest.mark.parametrize(("at", "missed"), [(11.99, False), (12.01, True)])
def test_a_pouring_is_missed_once_it_is_late_by_half_a_gap(at: float, missed: bool):
    steady = Habit("soda", 0.025, 0.0, 2.0, 0.0, moment(9.0), here(), 4)
    assert LATE_SHARE * 2.0 == 1.0
    assert steady.is_missed(moment(at)) is missed
    stray = replace(steady, days_stray=0.6)
    assert not stray.is_missed(moment(11.0 + LATE_BY * 0.6 - 0.01))
    assert stray.is_missed(moment(11.0 + LATE_BY * 0.6 + 0.01))


def test_after_four_pourings_their_means_leave_what_is_to_come_less_sure():
    # The same futures, each with a mean gap and a mean amount of its own: of three gaps and four amounts.
    habit = Habit("soda", 0.025, 0.005, 2.0, 0.4, moment(9.5), here(), 4)
    rng = np.random.default_rng(4)
    gaps = 2.0 + 0.4 * (rng.standard_normal((20_000, 12)) + rng.standard_normal((20_000, 1)) / np.sqrt(3.0))
    gaps[:, 0] -= 0.5
    come = np.cumsum(gaps, axis=1) <= 14.0
    each = 0.025 + 0.005 * (rng.standard_normal(come.shape) + rng.standard_normal((20_000, 1)) / 2.0)
    litres = np.sum(come * each, axis=1)
    (mean,), (spread,) = habit.ahead(moment(10.0), np.array([14.0]))
    assert mean == pytest.approx(litres.mean(), rel=0.03)
    assert spread == pytest.approx(litres.std(), rel=0.1)
