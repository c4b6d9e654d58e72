"""A water's past: each half-year that is over is told by itself, and what is new by what still counts."""

from datetime import UTC, date, datetime
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from msgspec.structs import replace

from generator.nature.methods import method
from generator.reckon.arrivals.known import water_with
from generator.reckon.water.analysis import analyse_water, stretch_told
from generator.reckon.water.estimate import (
    LEAST_READ,
    LOOKS_BACK,
    SETTLES,
    STRETCH_LOOKS_BACK,
    Stretch,
    counting_for_stretch,
    lately,
    stretches_told,
)
from generator.records.log import Dose, PumpRate, Reading, SystemLog
from generator.units.quantity import parse_quantity
from tests.reckon.water.journals import here, moment, readings, system

pytestmark = pytest.mark.usefixtures("courses_kept")

# dKH a day; a litre of 1000 dKH in 400 L is 2.5 dKH.
UPTAKE, KIT = 0.6, 0.15
DAYS = 900
NOW = moment(DAYS + 0.1)


@cache
def a_long_log(seed: int = 1, every: float = 3.0, last: float = 0.0) -> SystemLog:
    """Readings of two and a half years of a water whose uptake wanders; the very last is off by so much."""
    rng = np.random.default_rng(seed)
    times = np.arange(0.0, DAYS, every)
    uptake = UPTAKE * np.exp(np.cumsum(rng.normal(0.0, 0.02 * every**0.5, len(times))))
    levels = 8.2 + np.cumsum((UPTAKE - uptake) * every)
    # However the uptake wanders, the level stays near where a keeper holds it.
    levels = 8.2 + (levels - levels.mean()) * 0.3 / max(levels.std(), 0.3)
    values = levels + rng.normal(0.0, KIT, len(times))
    values[-1] += last
    pump = PumpRate(
        source=here(), at=moment(-1), solution="soda", rate=parse_quantity(f"{UPTAKE / 2.5:.6f} L/day", "rate")
    )
    return SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", times, values)), pumps=(pump,))


TANK = system(kit=f"{KIT} dKH")


@cache
def in_stretches(**of_log: float):
    return water_with(TANK, a_long_log(**of_log), (), NOW)


@cache
def whole_log(seed: int = 1):
    return analyse_water(TANK, a_long_log(seed=seed), (), NOW)


@pytest.mark.parametrize("seed", range(4))
def test_what_is_taken_up_today_is_told_as_by_the_whole_log(seed):
    whole = whole_log(seed).uptake["alkalinity"].per_day.estimate
    in_stretches_ = in_stretches(seed=seed).uptake["alkalinity"].per_day.estimate
    assert in_stretches_.value == pytest.approx(whole.value, abs=0.25 * whole.standard)
    assert in_stretches_.standard == pytest.approx(whole.standard, rel=0.25)


def test_the_past_is_told_as_by_the_whole_log():
    whole = {p.at: p.per_day for p in whole_log().uptake["alkalinity"].track}
    track = in_stretches(seed=1).uptake["alkalinity"].track
    assert [point.at for point in track] == sorted(whole)
    off = [abs(point.per_day.value - whole[point.at].value) / whole[point.at].standard for point in track]
    assert np.quantile(off, 0.95) < 0.3
    assert max(off) < 1.0


def test_a_new_reading_changes_nothing_of_a_half_year_that_is_told():
    zone = NOW.tzinfo
    first, *_ = stretches_told(a_long_log(), NOW.date(), zone)
    logs = [counting_for_stretch(a_long_log(last=last), first, zone) for last in (0.0, 2.0)]
    told = [stretch_told(TANK, log, (), first, zone) for log in logs]
    assert told[0] == told[1]
    _, before = first.moments(zone)
    parts = [[p for p in in_stretches(last=last).uptake["alkalinity"].track if p.at < before] for last in (0.0, 2.0)]
    assert parts[0] == parts[1] != []


def test_the_half_years_and_what_is_new_make_up_the_whole_ledger():
    whole, in_stretches_ = (each.ledger for each in (whole_log(), in_stretches(seed=1)))
    for cause in ("pump", "uptake"):
        sums = [sum(line.change for line in lines if line.cause == cause) for lines in (whole, in_stretches_)]
        assert sums[1] == pytest.approx(sums[0], rel=1e-3)
    for before, after in pairwise(in_stretches_):
        if (before.kind, before.cause, after.cause) == (after.kind, "pump", "pump"):
            assert before.until == after.at


def test_what_was_paid_in_long_before_the_first_reading_is_in_the_ledger():
    pump = replace(a_long_log().pumps[0], at=moment(0.0))
    early = Dose(source=here(), at=moment(-300.0), solution="soda", amount=parse_quantity("0.1 L", "volume"))
    log = replace(a_long_log(), pumps=(pump,), doses=(early,))
    assert early.at in [line.at for line in water_with(TANK, log, (), NOW).ledger if line.cause == "dose"]


def test_every_reading_stands_in_one_half_year():
    told = in_stretches(seed=1)
    assert [reading for reading, _ in told.readings] == list(a_long_log().readings)
    places = [(each.reading.at, each.days) for each in told.replayed]
    assert len(places) == len(set(places))


def test_a_year_is_told_once_it_is_over_for_a_month_and_its_first_half_before():
    log = a_long_log()
    begun = log.readings[0].at
    assert begun.month <= 6
    half, first, second = (Stretch(begun.year, whole=False), Stretch(begun.year), Stretch(begun.year + 1))
    assert stretches_told(log, date(begun.year, 7, 30), UTC) == ()
    assert stretches_told(log, date(begun.year, 7, 31), UTC) == (half,)
    assert stretches_told(log, date(begun.year + 1, 1, 30), UTC) == (half,)
    assert stretches_told(log, date(begun.year + 1, 1, 31), UTC) == (first,)
    assert stretches_told(log, date(begun.year + 2, 2, 1), UTC) == (first, second)
    late = replace(log, readings=tuple(each for each in log.readings if each.at.date() >= date(begun.year, 7, 1)))
    assert stretches_told(late, date(begun.year, 12, 1), UTC) == ()
    assert stretches_told(SystemLog("lagoon"), date(begun.year + 9, 1, 31), UTC) == ()
    assert half.moments(UTC) == (first.moments(UTC)[0], datetime(begun.year, 7, 1, tzinfo=UTC))


def test_of_what_is_seldom_read_the_last_dozen_readings_count_however_old():
    seldom = tuple(readings("magnesium", "mg/L", np.arange(0.0, DAYS, 60.0), np.full(15, 1300.0)))
    log = replace(a_long_log(), readings=tuple(sorted(a_long_log().readings + seldom, key=_at)))
    kept = lately(log, NOW)
    assert [reading for reading in kept.readings if reading.kind == "magnesium"] == list(seldom[-LEAST_READ:])
    assert all(r.at >= NOW - LOOKS_BACK for r in kept.readings if r.kind == "alkalinity")
    assert kept.pumps == log.pumps


def _at(reading: Reading) -> datetime:
    return reading.at


def test_the_methods_page_says_what_counts():
    said = " ".join(method("uptake", "en").assumptions)
    assert f"{SETTLES.days} days after its end, and its first half {SETTLES.days} days after June, each with" in said
    assert f"its readings and those of the {STRETCH_LOOKS_BACK.days} days before it" in said
    assert f"since then and of the {LOOKS_BACK.days} days before" in said
    assert f"the last {LEAST_READ} readings" in said
