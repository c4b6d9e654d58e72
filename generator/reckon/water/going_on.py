"""Going on as before: the forecast if what is poured by hand at a steady rhythm is poured again."""

from collections.abc import Sequence
from datetime import datetime

import numpy as np

from generator.reckon.finding import CannotTell
from generator.reckon.water.account import Paid
from generator.reckon.water.evidence import Evidence
from generator.reckon.water.findings import Forecast
from generator.reckon.water.forecast import days_ahead, forecast
from generator.reckon.water.habits import Habit
from generator.reckon.water.ledger import in_days
from generator.reckon.water.solutions import per_litre
from generator.reckon.water.state_estimate import StateEstimate
from generator.records.system import System


def pours(system: System, habits: Sequence[Habit], kind: str) -> bool:
    """Whether any habit brings a kind."""
    return any(_raises(system, habit, kind) > 0.0 for habit in habits)


def going_on(
    evidence: Evidence,
    found: StateEstimate | None,
    system: System,
    habits: Sequence[Habit],
    ends: tuple[float | None, float | None],
    as_of: datetime,
) -> Forecast | CannotTell:
    """The forecast with the pourings to come, step by step as they are likely, and as unsure as they are.

    `ends` are the band's. A pouring to come is as strong as those before it, whatever that is.
    """
    days, paid, variance = days_ahead(), [], 0.0
    for habit in habits:
        raises, factors = (
            _raises(system, habit, evidence.kind),
            evidence.deliveries.by.get((habit.solution, "dose"), ()),
        )
        poured, stray = np.array([habit.ahead(as_of, float(day)) for day in days]).T
        paid += [
            Paid(in_days(as_of) + float(day), raises * float(more), factors)
            for day, more in zip(days[:-1], np.diff(poured), strict=True)
        ]
        variance = variance + (raises * stray) ** 2
    return forecast(evidence, found, *ends, as_of, (paid, np.sqrt(variance)))


def _raises(system: System, habit: Habit, kind: str) -> float:
    """By how much a litre raises a level."""
    return per_litre(system.solutions[habit.solution], kind) / system.water.volume.canonical()
