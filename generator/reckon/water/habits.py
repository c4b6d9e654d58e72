"""Habits: what a keeper pours or changes at a steady rhythm, and so will most likely pour or change again."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil, sqrt
from statistics import NormalDist, fmean, median, pstdev

from generator.records.log import SystemLog
from generator.records.source import Source

# A rhythm is read off the last so many pourings, of which there must be so many at least. Choices of ours.
LOOKED_AT = 12
LEAST_POURINGS = 4
# What is poured within so short a time is one pouring.
TOGETHER = timedelta(hours=2)
# A gap or an amount more than so many times the usual one (or less than one so-many-th of an amount) is an exception: a
# holiday, a correction. It does not count. After so many gaps without a pouring the habit has ended. A choice of ours.
EXCEPTION = 3.5
# Gaps that stray by more than this share of their mean (one standard deviation) are no rhythm; a habit rarer than this
# is none to count on. Choices of ours.
STEADY = 0.5
RAREST_DAYS = 15.0
# Water changed for fewer days than this is a measure, not a habit: a plan lowers a level so. A choice of ours.
CHANGED_FOR = timedelta(days=7)
# Gaps and amounts stray by this share at least, even where the log shows none: nobody is a clock. A choice of ours.
LEAST_STRAY = 0.05
# A pouring is missed when it is late by so many standard deviations of the gaps, and by this share of one at least.
LATE_BY, LATE_SHARE = 2.0, 0.5
# Pourings so many gaps beyond the days asked for no longer count.
_FAR = 4.0


@dataclass(frozen=True, slots=True)
class Habit:
    """A solution poured by hand, or a mix that water is changed with: `litres` every `days`.

    Each has one standard deviation between pourings. `last` is the last pouring with its line and `last_litres`,
    `pourings` how many the rhythm is read off, `inputs` their lines. A mix that was not named is "".
    """

    solution: str
    litres: float
    litres_stray: float
    days: float
    days_stray: float
    last: datetime
    line: Source
    pourings: int
    inputs: tuple[Source, ...]
    last_litres: float = 0.0

    @property
    def per_day(self) -> float:
        """Litres a day."""
        return self.litres / self.days

    def ahead(self, as_of: datetime, days: float) -> tuple[float, float]:
        """The litres that will most likely be poured within so many days, and their standard deviation.

        The k-th pouring to come is due k gaps after the last (the first not before now), as unsure as k gaps and
        their mean are; P(N >= k) is the chance that it has come, so that N has mean sum P(N >= k) and second moment
        sum (2 k - 1) P(N >= k). Every amount strays by itself, their mean by its own error.
        """
        since = (as_of - self.last).total_seconds() / 86400.0
        due, known = max(self.days - since, 0.0), self.pourings - 1
        mean = second = 0.0
        for k in range(1, ceil((days - due) / self.days + _FAR * (1.0 + self.days_stray / self.days)) + 1):
            centre, error = due + (k - 1) * self.days, self.days_stray * sqrt(k + k * k / known)
            come = NormalDist(centre, error).cdf
            chance = (come(days) - come(0.0)) / (1.0 - come(0.0))
            mean, second = mean + chance, second + (2 * k - 1) * chance
        stray = self.litres**2 * max(second - mean**2, 0.0) + mean * self.litres_stray**2
        return self.litres * mean, sqrt(stray + (mean * self.litres_stray) ** 2 / self.pourings)

    def is_missed(self, as_of: datetime) -> bool:
        """Whether the pouring that was due is late beyond what is usual."""
        late = (as_of - self.last).total_seconds() / 86400.0 - self.days
        return late > max(LATE_BY * self.days_stray, LATE_SHARE * self.days)


def habits(log: SystemLog, as_of: datetime) -> tuple[Habit, ...]:
    """Each solution that is poured by hand at a steady rhythm, as the log stands at a moment.

    One that runs by pump or with the top-off since, or was not poured for `EXCEPTION` gaps, is a habit no more.
    """
    log = log.until(as_of)
    doses = [_Poured(dose.solution, dose.at, dose.amount.canonical(), dose.source) for dose in log.doses]
    return tuple(habit for habit in _kept(doses, as_of) if not _runs_since(log, habit))


def changes_by_habit(log: SystemLog, as_of: datetime) -> tuple[Habit, ...]:
    """Each mix that water is changed with at a steady rhythm, for `CHANGED_FOR` at least."""
    changes = [
        _Poured(change.mix or "", change.at, change.volume.canonical(), change.source)
        for change in log.until(as_of).water_changes
    ]
    first = {change.name: change.at for change in reversed(changes)}
    return tuple(habit for habit in _kept(changes, as_of) if habit.last - first[habit.solution] >= CHANGED_FOR)


@dataclass(frozen=True, slots=True)
class _Poured:
    name: str
    at: datetime
    litres: float
    source: Source


def _kept(poured: Sequence[_Poured], as_of: datetime) -> Iterator[Habit]:
    """The habit of each name that has one and was kept lately."""
    for name in dict.fromkeys(each.name for each in poured):
        habit = _habit(name, [each for each in poured if each.name == name])
        if habit and (as_of - habit.last).total_seconds() / 86400.0 <= EXCEPTION * habit.days:
            yield habit


def _habit(solution: str, poured: Sequence[_Poured]) -> Habit | None:
    pourings = _together(poured)[-LOOKED_AT:]
    if len(pourings) < LEAST_POURINGS:
        return None
    at = [each[0].at for each in pourings]
    gaps = [(later - earlier).total_seconds() / 86400.0 for earlier, later in pairwise(at)]
    amounts = [sum(each.litres for each in pouring) for pouring in pourings]
    usual_gap, usual, last_litres = median(gaps), median(amounts), amounts[-1]
    if usual <= 0.0:
        return None
    gaps = [gap for gap in gaps if gap <= EXCEPTION * usual_gap]
    amounts = [amount for amount in amounts if usual <= EXCEPTION * amount and amount <= EXCEPTION * usual]
    days, litres = fmean(gaps), fmean(amounts)
    if days > RAREST_DAYS or pstdev(gaps) > STEADY * days:
        return None
    return Habit(
        solution=solution,
        litres=litres,
        litres_stray=max(pstdev(amounts), LEAST_STRAY * litres),
        days=days,
        days_stray=max(pstdev(gaps), LEAST_STRAY * days),
        last=at[-1],
        line=pourings[-1][0].source,
        pourings=len(pourings),
        inputs=tuple(each.source for pouring in pourings for each in pouring),
        last_litres=last_litres,
    )


def _together(poured: Sequence[_Poured]) -> list[list[_Poured]]:
    pourings: list[list[_Poured]] = []
    for each in poured:
        if pourings and each.at - pourings[-1][0].at <= TOGETHER:
            pourings[-1].append(each)
        else:
            pourings.append([each])
    return pourings


def _runs_since(log: SystemLog, habit: Habit) -> bool:
    """Whether the solution was set to run by itself after it was last poured."""
    pumps = [pump for pump in log.pumps if pump.solution == habit.solution]
    return bool(pumps and pumps[-1].at >= habit.last and pumps[-1].rate.value)
