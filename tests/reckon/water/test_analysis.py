"""What is said of a system's water, from its records."""

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.findings import Calcification, Forecast
from generator.records.log import Event, PumpRate, SystemLog
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.reckon.water.journals import grams_per_day, here, log_of, moment, readings, system, taken_up
from tests.simulator.water import simulate_water


def analyse(log: SystemLog, days: float, of=None, past: bool = False):
    return analyse_water(of or system(), log, [], moment(days), past=past)


def grams(log: SystemLog, days: float, of=None, past: bool = False) -> Calcification:
    return taken_up(of or system(), log, moment(days), past=past)[1]


def half(finding: Finding) -> float:
    return (finding.estimate.high - finding.estimate.low) / 2.0


@pytest.fixture(scope="module")
def both_read():
    runs = [simulate_water(np.random.default_rng(seed), 45.0, calcium_every=1, drift=0.015) for seed in range(40)]
    return runs, [grams(log_of(run), run.end, past=True) for run in runs]


@pytest.mark.long
def test_reading_calcium_too_narrows_the_interval_of_calcification(both_read):
    _, found = both_read
    ratios = [half(f.grams_per_day) / half(f.from_alkalinity_alone) for f in found]
    assert max(ratios) < 1.0
    assert np.mean(ratios) < 0.92


@pytest.mark.long
def test_the_interval_of_grams_of_caco3_a_day_holds_the_truth(both_read):
    runs, found = both_read
    held = [
        f.grams_per_day.estimate.low <= grams_per_day(run.end_uptake) <= f.grams_per_day.estimate.high
        for run, f in zip(runs, found, strict=True)
    ]
    assert np.mean(held) >= 0.86


@pytest.mark.long
def test_alkalinity_that_calcification_explains_is_not_called_unexplained(both_read):
    _, found = both_read
    clear = [f.unexplained.estimate.low <= 0.0 <= f.unexplained.estimate.high for f in found]
    assert np.mean(clear) >= 0.86


@pytest.mark.long
def test_a_pump_that_gives_less_than_the_log_says_shows_as_alkalinity_unexplained():
    shown = []
    for seed in range(20):
        run = simulate_water(np.random.default_rng(seed), 45.0, calcium_every=1, drift=0.015, calcium_kit_error=5.0)
        log = log_of(run)
        # A second pump, of alkalinity alone, is in the log and not in the water.
        phantom = PumpRate(
            source=log.pumps[0].source, at=moment(0.0), solution="soda", rate=parse_quantity("0.16 L/day", "rate")
        )
        part = grams(replace(log, pumps=(*log.pumps, phantom)), run.end, system(calcium_kit="5 mg/L"))
        assert isinstance(part.unexplained, Finding)
        shown.append(part.unexplained.estimate.low > 0.0)
    assert np.mean(shown) >= 0.8


@pytest.mark.long
def test_an_unlogged_dose_is_shown_between_the_readings_it_fell_between():
    shown = []
    for seed in range(20):
        run = simulate_water(
            np.random.default_rng(seed),
            45.0,
            tests_every=(1.0, 2.0),
            calcium_every=2,
            drift=0.015,
            unlogged=((30.2, 1.2),),
        )
        shifts = grams(log_of(run), run.end, past=True).shifts
        shown.append(
            any(
                s.after <= moment(30.2) <= s.before <= moment(32.3) and s.size.low < 1.2 * MEQ_PER_DKH < s.size.high
                for s in shifts
            )
        )
    assert np.mean(shown) >= 0.8


def test_a_calcium_dose_nobody_logged_does_not_bend_the_grams():
    moved = []
    for seed in range(6):
        run = simulate_water(
            np.random.default_rng(seed),
            45.0,
            tests_every=(1.0, 2.0),
            calcium_every=1,
            drift=0.015,
            calcium_kit_error=5.0,
        )
        of = system(calcium_kit="5 mg/L")
        log = log_of(run)
        # 60 mg/L of calcium chloride on day 38 that is in the water and not in the log.
        poured = tuple(
            replace(r, value=parse_quantity(f"{r.value.value + 60.0:.3f} mg/L", "calcium"))
            if r.kind == "calcium" and r.at > moment(38.0)
            else r
            for r in log.readings
        )
        plain = grams(log, run.end, of).grams_per_day
        bent = grams(replace(log, readings=poured), run.end, of).grams_per_day
        moved.append(abs(bent.estimate.value - plain.estimate.value) / half(plain))
    assert np.mean(moved) < 0.4


def test_a_kit_nobody_described_blurs_the_grams_as_one_described_as_it_is():
    ratios = []
    for seed in range(8):
        run = simulate_water(np.random.default_rng(seed), 60.0, tests_every=(1.0, 2.0), kit_error=0.45, drift=0.015)
        log = log_of(run, with_calcium=False)
        unknown = replace(log, readings=tuple(replace(r, kit=None) for r in log.readings))
        told = grams(log, run.end, system(kit="0.45 dKH")).from_alkalinity_alone
        learned = grams(unknown, run.end).from_alkalinity_alone
        ratios.append(half(learned) / half(told))
    assert np.mean(ratios) == pytest.approx(1.0, abs=0.1)


def test_uptake_by_amount_is_the_exact_grams_of_the_published_stoichiometry():
    # 1 g CaCO3 a day in 200 L takes 0.28014 dKH a day (arithmetic from standard atomic weights).
    run = simulate_water(np.random.default_rng(5), 45.0, calcium_every=1)
    found = analyse(log_of(run), run.end)
    amount, per_day = found.uptake["alkalinity"].amount, found.uptake["alkalinity"].per_day
    assert amount.estimate.value == pytest.approx(per_day.estimate.value * 400.0)
    assert amount.estimate.value * 0.0500430 == pytest.approx(
        per_day.estimate.value / MEQ_PER_DKH / 0.28014 * 2.0, rel=1e-4
    )


def test_a_volume_known_to_a_twentieth_widens_the_uptake_of_a_dosed_system_but_hardly_its_grams():
    run = simulate_water(np.random.default_rng(6), 60.0, tests_every=(1.0, 1.5), change_every=None)
    sure, unsure = (analyse(log_of(run), run.end, of, past=True) for of in (None, system(uncertainty="20 L")))
    assert half(unsure.uptake["alkalinity"].per_day) > half(sure.uptake["alkalinity"].per_day)
    per_day = unsure.uptake["alkalinity"].per_day
    of_volume = {part.cause: part.standard for part in per_day.parts}["water-volume"]
    assert of_volume == pytest.approx(0.05 * per_day.estimate.value, rel=0.3)
    parts = {part.cause: part.standard for part in unsure.uptake["alkalinity"].amount.parts}
    # What is dosed to hold the level is the amount, however much water there is.
    assert parts["water-volume"] < 0.02 * unsure.uptake["alkalinity"].amount.estimate.value
    grams = unsure.calcification.grams_per_day
    assert {p.cause: p.standard for p in grams.parts}["water-volume"] < 0.02 * grams.estimate.value
    now = unsure.uptake["alkalinity"].track[-1].per_day
    assert (now.low, now.high) == (pytest.approx(per_day.estimate.low), pytest.approx(per_day.estimate.high))


def test_the_volume_counts_in_what_stays_unexplained_as_reckoning_with_more_water_does():
    run = simulate_water(np.random.default_rng(2), 45.0, calcium_every=1, drift=0.015, calcium_kit_error=5.0)
    log = log_of(run)
    phantom = PumpRate(
        source=log.pumps[0].source, at=moment(0.0), solution="soda", rate=parse_quantity("0.16 L/day", "rate")
    )
    log = replace(log, pumps=(*log.pumps, phantom))
    unsure = system(uncertainty="20 L", calcium_kit="5 mg/L")
    less, more = (
        replace(unsure, water=replace(unsure.water, volume=parse_quantity(volume, "volume")))
        for volume in ("360 L", "440 L")
    )
    fallen, found, risen = (grams(log, run.end, of).unexplained for of in (less, unsure, more))
    of_volume = {part.cause: part.standard for part in found.parts}["water-volume"]
    assert of_volume == pytest.approx(abs(risen.estimate.value - fallen.estimate.value) / 4.0, rel=0.3)
    assert of_volume > 0.0


def test_no_reading_is_no_number():
    found = analyse(SystemLog(system="lagoon"), 10.0)
    assert isinstance(found.uptake["alkalinity"].per_day, CannotTell)
    assert found.uptake["alkalinity"].per_day.why == "no-readings"
    assert isinstance(found.calcification.grams_per_day, CannotTell)
    assert isinstance(found.forecasts["alkalinity"], CannotTell)
    assert found.latest == {}


def test_one_reading_tells_a_level_but_no_uptake():
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", [1.0], [8.1])))
    found = analyse(log, 5.0)
    assert found.uptake["alkalinity"].per_day.why == "one-reading"
    assert found.latest["alkalinity"].value == pytest.approx(8.1 * MEQ_PER_DKH)


def test_readings_all_at_one_time_tell_no_uptake():
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", [1.0, 1.0, 1.0], [8.1, 8.0, 8.2])))
    assert analyse(log, 5.0).uptake["alkalinity"].per_day.why == "one-time"


def test_two_readings_a_day_apart_tell_an_uptake_with_the_width_it_deserves():
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", [1.0, 2.0], [8.4, 8.0])))
    found = analyse(log, 2.0).uptake["alkalinity"].per_day
    assert found.estimate.value / MEQ_PER_DKH == pytest.approx(0.4, abs=0.01)
    # A little wider than two kit errors under the root: either may be wrong.
    assert 1.0 <= half(found) / MEQ_PER_DKH / (1.645 * 0.15 * 2**0.5) <= 1.2


def test_two_readings_minutes_apart_are_no_uptake_worth_a_number():
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", [1.0, 1.01], [8.4, 8.0])))
    assert analyse(log, 1.1).uptake["alkalinity"].per_day.why == "interval-too-wide"


def test_two_equal_readings_six_hours_apart_are_none_either():
    # Two kit errors of 0.15 dKH over a quarter of a day are 1.4 dKH a day: several times any demand they show.
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", [1.0, 1.25], [8.1, 8.1])))
    assert analyse(log, 1.3).uptake["alkalinity"].per_day.why == "interval-too-wide"


@pytest.mark.parametrize("kit", [0.05, 0.15, 0.4])
def test_what_a_kit_nobody_described_strays_by_is_learned_from_its_readings(kit):
    learned = []
    for seed in range(6):
        run = simulate_water(np.random.default_rng(seed), 60.0, tests_every=(1.0, 2.0), kit_error=kit, drift=0.015)
        log = log_of(run, with_calcium=False)
        unknown = replace(log, readings=tuple(replace(r, kit=None) for r in log.readings))
        found = taken_up(system(), unknown, moment(run.end))[0]["alkalinity"].kit_error
        assert found.known == "learned"
        learned.append(found.value / MEQ_PER_DKH)
    assert np.mean(learned) == pytest.approx(kit, rel=0.35)


def test_the_longer_ago_the_last_reading_the_wider_the_interval():
    run = simulate_water(np.random.default_rng(8), 40.0)
    widths = [half(analyse(log_of(run), 40.0 + wait).uptake["alkalinity"].per_day) for wait in (0.0, 10.0, 60.0)]
    assert widths[0] < widths[1] < widths[2]


def test_nothing_after_the_moment_asked_about_counts():
    run = simulate_water(np.random.default_rng(9), 60.0)
    early = analyse(log_of(run), 30.0)
    shortened = analyse(log_of(run).until(moment(30.0)), 30.0)
    assert early.uptake["alkalinity"].per_day == shortened.uptake["alkalinity"].per_day


def test_the_ledger_adds_up_to_the_level_the_readings_show():
    run = simulate_water(np.random.default_rng(10), 45.0, tests_every=(1.0, 2.0), kit_error=0.02)
    found = analyse(log_of(run), run.end, system(kit="0.02 dKH"), past=True)
    track = found.uptake["alkalinity"].track
    first, last = track[0], track[-2]
    change = 0.0
    for line in found.ledger:
        if line.kind == "alkalinity" and line.at < last.at and line.until > first.at:
            span = (line.until - line.at).total_seconds()
            inside = (min(line.until, last.at) - max(line.at, first.at)).total_seconds()
            change += line.change * (inside / span if span else 1.0)
    assert change == pytest.approx(last.level.value - first.level.value, abs=0.03)
    changed = [line.at for line in found.ledger if (line.kind, line.cause) == ("alkalinity", "water-change")]
    assert changed == [each.at for each in log_of(run).water_changes]
    assert len(changed) > 2


def test_a_dose_that_stops_makes_the_forecast_leave_the_band_at_its_low_end():
    times = np.arange(0.0, 20.0, 1.0)
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", times, 8.9 - 0.05 * times)))
    found = analyse(log, 19.0).forecasts["alkalinity"]
    assert isinstance(found, Forecast)
    assert found.leaves == "low"
    # From 7.95 dKH at 0.05 a day the band's end at 7.5 dKH lies nine days off.
    assert 6.0 < (found.likely - moment(19.0)).total_seconds() / 86400 < 12.0
    assert found.earliest < found.likely


def test_a_level_held_by_its_dose_stays_in_its_band():
    times = np.arange(0.0, 40.0, 1.0)
    log = SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", times, np.full(40, 8.2))))
    found = analyse(log, 39.0, system(kit="0.05 dKH")).forecasts["alkalinity"]
    assert found.likely is None


def test_a_dosed_system_of_uncertain_volume_is_not_foreseen_to_wander_off():
    # More water weakens the dose and the uptake found from it alike, so the level ahead hardly depends on it.
    run = simulate_water(np.random.default_rng(6), 60.0, tests_every=(1.0, 1.5), change_every=None)
    sure, unsure = (analyse(log_of(run), run.end, of, past=True) for of in (None, system(uncertainty="40 L")))
    ends = [found.forecasts["alkalinity"].track[-1][1] for found in (sure, unsure)]
    assert ends[1].high - ends[1].low < 1.1 * (ends[0].high - ends[0].low)


def test_each_finding_names_the_lines_it_rests_on():
    run = simulate_water(np.random.default_rng(11), 45.0, calcium_every=3)
    found = analyse(log_of(run), run.end, past=True)
    lines = {source.line for source in found.uptake["alkalinity"].per_day.inputs}
    assert {r.source.line for r in log_of(run).readings if r.kind == "alkalinity" and r.at > moment(20.0)} <= lines
    assert 3000 in lines


def test_a_finding_names_the_water_changes_and_events_it_rests_on_and_no_older_ones():
    arrival = [
        Event(source=here(line), at=moment(at), what="arrival", coral=None, text=None)
        for line, at in ((5001, 2.0), (5002, 40.0))
    ]
    remark = Event(source=here(5003), at=moment(41.0), what="other", coral=None, text=None)
    log = log_of(simulate_water(np.random.default_rng(11), 45.0, calcium_every=3), events=(*arrival, remark))
    changes = [
        replace(log.water_changes[0], source=here(line), at=moment(at)) for line, at in ((4001, 3.0), (4002, 39.0))
    ]
    found = analyse(replace(log, water_changes=tuple(changes)), 45.0, past=True)
    for finding in (found.uptake["alkalinity"].per_day, found.calcification.grams_per_day):
        assert {source.line for source in finding.inputs} & {4001, 4002, 5001, 5002, 5003} == {4002, 5002}
