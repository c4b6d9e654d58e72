"""Going on as before: the forecast if what is poured or changed at a steady rhythm is poured or changed again."""

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from generator.reckon.estimate.mixture import Array
from generator.reckon.finding import CannotTell
from generator.reckon.water.account import Account, Paid, Renewal
from generator.reckon.water.canonical import band, canonical_value
from generator.reckon.water.evidence import Evidence
from generator.reckon.water.findings import Forecast
from generator.reckon.water.forecast import days_ahead, forecast
from generator.reckon.water.habits import Habit
from generator.reckon.water.ledger import MIX_ERROR, in_days
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.stoichiometry import per_litre
from generator.records.system import System


def renews(system: System, changing: Sequence[Habit], kind: str) -> tuple[tuple[Habit, float], ...]:
    """The habits of changing water that move a kind, each with its level in the mix (canonical)."""
    levels = ((habit, system.mixes[habit.solution].of(kind)) for habit in changing if habit.solution in system.mixes)
    return tuple((habit, canonical_value(level)) for habit, level in levels if level is not None)


def going_on(
    evidence: Evidence,
    found: StateEstimate | None,
    system: System,
    habits: Sequence[Habit],
    changing: Sequence[Habit],
    as_of: datetime,
) -> tuple[Forecast | CannotTell, Forecast | None]:
    """The forecast with the pourings and water changes to come, step by step as they are likely, and as unsure.

    A pouring to come is as strong as those before it, whatever that is. The second answer is the forecast without
    them (None: there are none, or nothing can be told).
    """
    ends = band(system, evidence.kind)
    without, renewed = forecast(evidence, found, *ends, as_of), renews(system, changing, evidence.kind)
    poured = [(habit, raises) for habit in habits if (raises := _raises(system, habit, evidence.kind))]
    if isinstance(without, CannotTell) or not (poured or renewed):
        return without, None
    days, paid, renewals, variance = days_ahead(), [], [], np.zeros(len(days_ahead()))
    at, now = in_days(as_of) + days[:-1], 0.0 if found is None else float(found.now.of(found.stands).moments()[0])
    for habit, raises in poured:
        factors = evidence.deliveries.by.get((habit.solution, "dose"), ())
        each, stray = coming(habit, as_of, days)
        paid += [Paid(float(when), raises * float(more), factors) for when, more in zip(at, np.diff(each), strict=True)]
        variance += (raises * stray) ** 2
    for habit, level in renewed:
        each, stray = (litres / system.water.volume.canonical() for litres in coming(habit, as_of, days))
        renewals += [
            Renewal(float(when), min(float(more), 1.0), level, MIX_ERROR * level)
            for when, more in zip(in_days(as_of) + days[1:], np.diff(each), strict=True)
        ]
        variance += ((level - now) * stray) ** 2
    more = Account(doses=tuple(paid), renewals=tuple(renewals))
    return forecast(evidence, found, *ends, as_of, (more, np.sqrt(variance))), without


def coming(habit: Habit, as_of: datetime, days: Array) -> tuple[Array, Array]:
    """The litres to come by habit within each number of days, and their standard deviation (T,)."""
    litres, stray = np.array([habit.ahead(as_of, float(day)) for day in days]).T
    return litres, stray


def _raises(system: System, habit: Habit, kind: str) -> float:
    """By how much a litre raises a level."""
    return per_litre(system.solutions[habit.solution], kind) / system.water.volume.canonical()
