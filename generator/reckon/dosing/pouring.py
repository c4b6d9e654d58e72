"""Doses without a pump: by hand at the keeper's own rhythm, by water changes, and how a reactor is to be set."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from math import ceil, hypot, inf

from msgspec import Struct

from generator.reckon.dosing.outlook import MOST_A_DAY
from generator.reckon.dosing.phases import Phase
from generator.reckon.dosing.supplies import BY_SOLUTION, REACTOR, last_to_run
from generator.reckon.water.canonical import band
from generator.reckon.water.deliveries import STRENGTH_ERROR, Habit, habits, per_litre
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.forecast import renews
from generator.reckon.water.ledger import MIX_ERROR
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate, coverage_factor

# Effluents told beside the one expected, as shares of how much stronger than the water it is. A choice of ours.
BESIDE = (0.8, 0.9, 1.0, 1.1, 1.2)
# At a lower flow an effluent is at most so many times as much stronger than the water. An assumption of ours.
MOST_STRONGER = 2.0


class ReactorSetting(Struct, frozen=True):
    """Flows in L/day, alkalinities in meq/L.

    `expected` is what the effluent should read once the flow is set, and `settings` pairs what it may read instead
    with the flow that then brings as much.
    """

    flow_now: float
    flow: float
    expected: Estimate
    settings: tuple[tuple[float, float], ...]


def reactor_setting(
    system: System, log: SystemLog, phase: Phase, level: float, as_of: datetime
) -> ReactorSetting | None:
    """The setting that a phase asks for, in water held at a level.

    None where a solution gives what a reactor does not, or its effluent is no stronger than the water. With a higher
    flow than it was measured at the effluent weakens, with a lower one it gets stronger. It stays as strong where the
    chamber holds enough medium and CO2, and brings as much as before where those are what limits it (`MOST_STRONGER`);
    what it should read lies between the two, and the middle is told, never surer than a strength is known. Source:
    conservation of mass; common practice, no source for where between.
    """
    log = log.until(as_of)
    flow = next((dose.rate.estimate.value for dose in phase.doses if dose.supply == REACTOR), 0.0)
    by_solution = any(
        per_litre(system.solutions[dose.supply], "alkalinity") for dose in phase.doses if dose.how in BY_SOLUTION
    )
    if (last := last_to_run(log)) is None or not flow or by_solution:
        return None
    strength = last.alkalinity.canonical()
    if (over := strength - level) <= 0.0:
        return None
    limited = level + over * min(last.flow.canonical() / flow, MOST_STRONGER)
    middle = (strength + limited) / 2.0
    half = max(abs(strength - limited) / 2.0, coverage_factor() * STRENGTH_ERROR * strength)
    settings = tuple((level + share * over, flow / share) for share in BESIDE)
    expected = Estimate(middle, middle - half, middle + half, "meq/L")
    return ReactorSetting(log.effluents[-1].flow.canonical(), flow, expected, settings)


# A solution poured without a rhythm of its own is poured every day. Common practice, no source.
USUAL_DAYS, LONGEST = 1, 14
# Between two pourings a level falls by no more than this share of its band, and no portion raises it by more than that;
# nobody pours more than so many portions a day. Choices of ours.
MOST_FALL, MOST_RISE, MOST_PORTIONS = 0.5, 0.25, 4


class Pouring(Struct, frozen=True):
    """A solution by hand: `litres` on each day of `at`, one every so many `days`, in `portions` over the day."""

    solution: str
    litres: float
    days: int
    at: tuple[datetime, ...]
    portions: int = 1


def pourings(
    system: System, log: SystemLog, phases: Sequence[Phase], as_of: datetime, until: datetime
) -> tuple[Pouring, ...]:
    """The doses by hand of a plan's phases up to a moment, of each solution so given.

    The rhythm is the keeper's, in whole days, but never so rare that a level falls or rises too far
    (`pouring_rhythm`), nor longer than the phase. A phase that begins later than the moment is not told, nor a dose
    that may be nothing.
    """
    usual = {habit.solution: habit for habit in habits(log, as_of)}
    found, start = [], as_of
    for phase in phases:
        end = start + timedelta(days=phase.days) if phase.days else max(until, start + timedelta(days=1))
        poured = {each.supply: each.rate.estimate.value for each in phase.doses if each.how == "hand"}
        for dose in phase.doses:
            rate = dose.rate.estimate.value
            if dose.how == "hand" and dose.rate.estimate.low:
                habit = usual.get(dose.supply)
                usual_days = min(round(habit.days) if habit else USUAL_DAYS, phase.days or LONGEST)
                days, portions = pouring_rhythm(system, _rises_with_others(system, poured, dose.supply), usual_days)
                # What was poured last is there for as long as it takes to be taken up, and no longer than the rhythm.
                lasts = min(days, habit.last_litres / rate) if habit else 0.0
                due = habit.last + timedelta(days=lasts) if habit and start == as_of else start
                found.append(Pouring(dose.supply, rate * days, days, _moments(max(due, start), end, days), portions))
        if end >= until:
            break
        start = end
    return tuple(found)


def _moments(first: datetime, end: datetime, days: int) -> tuple[datetime, ...]:
    moments = [first]
    while moments[-1] + timedelta(days=days) < end:
        moments.append(moments[-1] + timedelta(days=days))
    return tuple(moments)


def rises(system: System, solution: str, rate: float) -> dict[str, float]:
    """By how much so many litres a day of a solution raise each level a day."""
    volume = system.water.volume.canonical()
    return {kind: rate * per_litre(system.solutions[solution], kind) / volume for kind in MOST_A_DAY}


def _rises_with_others(system: System, poured: Mapping[str, float], solution: str) -> dict[str, float]:
    """By how much all that is `poured` (L a day) raises a day each level that a solution raises: days may coincide."""
    every = {each: rises(system, each, rate) for each, rate in poured.items()}
    return {kind: sum(each[kind] for each in every.values()) for kind, own in every[solution].items() if own > 0.0}


def pouring_rhythm(system: System, a_day: Mapping[str, float], usual: int) -> tuple[int, int]:
    """Days between pourings, and the portions of each, for what raises levels by so much `a_day`: `usual` at most.

    The rarest by which no level is raised by more than the daily cap, nor falls by more than `MOST_FALL`.
    """
    days, portions = max(usual, 1), 1
    widths = {}
    for kind in a_day:
        low, high = band(system, kind)
        if low is not None and high is not None:
            widths[kind] = high - low
    for kind, rise in a_day.items():
        if rise > 0.0:
            days = min(days, max(int(min(MOST_A_DAY[kind], MOST_FALL * widths.get(kind, inf)) / rise), 1))
    for kind, width in widths.items():
        portions = max(portions, min(ceil(a_day[kind] * days / (MOST_RISE * width) - 1e-9), MOST_PORTIONS))
    return days, portions


def rise_at_once(system: System, kind: str, a_day: float, usual: int) -> float:
    """By how much a portion raises a level of which so much a day is poured."""
    days, portions = pouring_rhythm(system, {kind: a_day}, usual)
    return a_day * days / portions


class Counted(Struct, frozen=True):
    """Water changes by habit that a plan counts on, and the alkalinity they bring a day (meq/L; None: not known)."""

    habit: Habit
    per_day: Estimate | None


def brought_by_habits(system: System, water: WaterFindings, level: float) -> tuple[Counted, ...]:
    """What each habit of changing water brings a day to water held at a level of alkalinity.

    The uncertainty is that of the rhythm's means and of the mix.
    """
    known, litres = {each.solution: mix for each, mix in renews(system, water.changing, "alkalinity")}, system.water
    found = []
    for habit in water.changing:
        mix, share = known.get(habit.solution), habit.per_day / litres.volume.canonical()
        if mix is None:
            found.append(Counted(habit, None))
            continue
        of_rhythm = hypot(habit.litres_stray / habit.litres, habit.days_stray / habit.days) / habit.pourings**0.5
        error = share * hypot((mix - level) * of_rhythm, MIX_ERROR * mix)
        found.append(Counted(habit, Estimate.normal(share * (mix - level), error, "meq/L/day")))
    return tuple(found)
