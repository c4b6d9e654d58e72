"""A gap that living coral closes: how wide it is today, and the days by which it may be gone."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import hypot
from statistics import NormalDist

from generator.reckon.finding import UncertaintyPart, parts_of
from generator.reckon.growth.forecast import Spread, grown_error

# Farther ahead than five years nothing that is said of living coral is worth saying.
HORIZON_DAYS = 1826
_ODDS = (0.05, 0.50, 0.95)


@dataclass(frozen=True, slots=True)
class Dates:
    """The days by which it has happened in 5, 50 and 95 of 100 cases; None: not within five years.

    `parts` are those of the likely day's uncertainty, in days; none where that day is today or not told.
    """

    earliest: date | None
    likely: date | None
    latest: date | None
    parts: tuple[UncertaintyPart, ...] = ()


@dataclass(frozen=True, slots=True)
class Closing:
    """A gap (cm) today, the uncertainty from each cause, and how fast it closes (cm a day).

    `speed` ± `speed_error` in the long run, from which it strays by `strays` for weeks.

    `ruler`, `extension` and `side` are one standard uncertainty each: how the corals were measured, what they
    grew since, and which side they turn to what they near.
    """

    gap: float
    ruler: float
    extension: float
    side: float
    speed: float
    speed_error: float
    strays: float

    def ahead(self, days: float) -> float:
        """Standard uncertainty (cm) of what the gap closes by in so many days."""
        return grown_error(self.speed_error, self.strays, days)

    @property
    def error(self) -> float:
        """The gap's standard uncertainty today, cm."""
        return hypot(self.ruler, self.extension, self.side)

    @property
    def parts(self) -> tuple[UncertaintyPart, ...]:
        """What the gap's uncertainty today is made of, cm."""
        return _parts(self.ruler, self.extension, self.side)


def closing(apart: float, spreads: Sequence[Spread], as_of: date) -> Closing:
    """The gap that spreading colonies leave of a distance (cm) on a day, and how it closes."""
    return Closing(
        gap=apart - sum(spread.reach(as_of)[0] for spread in spreads),
        ruler=hypot(*(spread.radius_error for spread in spreads)),
        extension=hypot(*(spread.grown_error((as_of - spread.at).days) for spread in spreads)),
        side=hypot(*(spread.turned for spread in spreads)),
        speed=sum(spread.rate for spread in spreads),
        speed_error=hypot(*(spread.rate_error for spread in spreads)),
        strays=hypot(*(spread.strays for spread in spreads)),
    )


def gone_by(found: Closing, as_of: date, short_of: float = 0.0) -> Dates:
    """The days by which a gap has closed to `short_of` cm, and the parts of their uncertainty.

    To first order a day's uncertainty is the gap's on that day over the speed at which it closes.
    """
    dates = passing(found.gap - short_of, found.error, found.speed, found.ahead, as_of)
    ahead = (dates.likely - as_of).days if dates.likely else 0
    if not ahead:
        return dates
    grown = hypot(found.extension, found.ahead(ahead))
    return replace(dates, parts=_parts(*(each / found.speed for each in (found.ruler, grown, found.side))))


def long_enough(spread: Spread, length: float, as_of: date) -> Dates:
    """When a coral will reach a length (cm). It grows at both ends."""
    days = (as_of - spread.at).days
    short_of = length - spread.body.length - 2.0 * spread.rate * days
    error = 2.0 * hypot(spread.radius_error, spread.grown_error(days))
    return passing(short_of, error, 2.0 * spread.rate, lambda ahead: 2.0 * spread.grown_error(ahead), as_of)


def passing(gap: float, error: float, speed: float, ahead: Callable[[float], float], as_of: date) -> Dates:
    """When a gap (cm) that closes at a speed (cm a day) is gone.

    `error` is the standard uncertainty of the gap (cm), `ahead` that of what it closes by in so many days. The gap
    after t days is normal about gap - speed t; the days are those by which the odds of its being gone pass 5, 50
    and 95 %.
    """

    def gone(days: int) -> float:
        spread = hypot(error, ahead(days))
        left = gap - speed * days
        return NormalDist().cdf(-left / spread) if spread > 0.0 else float(left <= 0.0)

    earliest, likely, latest = (_first(gone, odds, as_of) for odds in _ODDS)
    return Dates(earliest, likely, latest)


def _parts(ruler: float, extension: float, side: float) -> tuple[UncertaintyPart, ...]:
    return parts_of([("ruler", ruler), ("extension", extension), ("side", side)])


def _first(gone: Callable[[int], float], odds: float, as_of: date) -> date | None:
    if gone(0) >= odds:
        return as_of
    if gone(HORIZON_DAYS) < odds:
        return None
    before, after = 0, HORIZON_DAYS
    while after - before > 1:
        middle = (before + after) // 2
        before, after = (before, middle) if gone(middle) >= odds else (middle, after)
    return as_of + timedelta(days=after)
