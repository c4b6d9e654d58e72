"""Doses by hand: so many millilitres on which days, at the keeper's own rhythm."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from generator.reckon.dosing.needs import MOST_A_DAY
from generator.reckon.dosing.phases import Phase
from generator.reckon.water.habits import habits
from generator.reckon.water.solutions import per_litre
from generator.records.log import SystemLog
from generator.records.system import System

# A solution poured without a rhythm of its own is poured every day. Common practice, no source.
USUAL_DAYS = 1


@dataclass(frozen=True, slots=True)
class Pouring:
    """A solution by hand: `litres` at each moment of `at`, one every so many `days`."""

    solution: str
    litres: float
    days: int
    at: tuple[datetime, ...]


def pourings(
    system: System, log: SystemLog, phases: Sequence[Phase], as_of: datetime, until: datetime
) -> tuple[Pouring, ...]:
    """The doses by hand of a plan's phases up to a moment, of each solution so given.

    The rhythm is the keeper's, in whole days, but never so rare that one pouring raises a level by more than the
    daily cap, nor longer than the phase. A phase that begins later than the moment is not told, nor a dose that may
    be nothing.
    """
    usual = {habit.solution: habit for habit in habits(log, as_of)}
    found, start = [], as_of
    for phase in phases:
        end = start + timedelta(days=phase.days) if phase.days else max(until, start + timedelta(days=1))
        for dose in phase.doses:
            rate = dose.rate.estimate.value
            if dose.how == "hand" and dose.rate.estimate.low > 0.0:
                habit = usual.get(dose.supply)
                days = min(round(habit.days) if habit else USUAL_DAYS, _rarest(system, dose.supply, rate))
                days = max(min(days, phase.days or days), 1)
                due = habit.last + timedelta(days=days) if habit and start == as_of else start
                found.append(Pouring(dose.supply, rate * days, days, _moments(max(due, start), end, days)))
        if end >= until:
            break
        start = end
    return tuple(found)


def _moments(first: datetime, end: datetime, days: int) -> tuple[datetime, ...]:
    moments = [first]
    while moments[-1] + timedelta(days=days) < end:
        moments.append(moments[-1] + timedelta(days=days))
    return tuple(moments)


def _rarest(system: System, solution: str, rate: float) -> int:
    """How many days' dose may be poured at once."""
    volume = system.water.volume.canonical()
    a_day = {kind: rate * per_litre(system.solutions[solution], kind) / volume for kind in MOST_A_DAY}
    return min((int(MOST_A_DAY[kind] / rise) for kind, rise in a_day.items() if rise > 0.0), default=1)
