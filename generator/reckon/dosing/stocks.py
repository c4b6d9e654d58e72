"""How long each stock lasts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from generator.reckon.finding import CannotTell
from generator.records.log import PumpRate, SystemLog, TopOff
from generator.records.system import System


@dataclass(frozen=True, slots=True)
class Stock:
    """A container of a solution: `size` and `left` in litres, `per_day` what is to be taken out of it.

    `filled` is when it was last filled; None where nobody wrote it, then `left` and `empty` are None and
    `full_lasts` tells how many days a full one lasts.
    """

    solution: str
    size: float
    per_day: float
    full_lasts: float
    filled: datetime | None
    left: float | None
    empty: datetime | None


def stock(
    system: System,
    log: SystemLog,
    solution: str,
    filled: datetime | None,
    as_of: datetime,
    planned: float | None = None,
    held: float | None = None,
) -> Stock | CannotTell:
    """How long a solution's stock lasts with its pump as it runs, or at `planned` litres a day.

    `held` is how many litres it held once filled; a full container where it is not given. What was dosed by
    hand since counts too. Answers `CannotTell` where the container's size is not written, or nothing
    draws on it.
    """
    size = system.solutions[solution].stock
    litres = size.canonical() if size is not None else held
    if litres is None:
        return CannotTell("no-stock-size", "write-the-stock")
    log = log.until(as_of)
    per_day = _rate_at(log, solution, as_of) if planned is None else planned
    if per_day <= 0.0:
        return CannotTell("nothing-runs", "write-the-pump")
    if filled is None:
        return Stock(solution, litres, per_day, litres / per_day, None, None, None)
    left = max((litres if held is None else held) - drawn(log, solution, filled, as_of), 0.0)
    empty = as_of + timedelta(days=left / per_day)
    return Stock(solution, litres, per_day, litres / per_day, filled, left, empty)


def drawn(log: SystemLog, solution: str, start: datetime, end: datetime) -> float:
    """Litres of a solution that went into the water over (start, end]: by pump, with the top-off and by hand."""
    by_hand = sum(d.amount.canonical() for d in log.doses if d.solution == solution and start < d.at <= end)
    return by_hand + sum(
        rate * max((min(until, end) - max(at, start)).total_seconds(), 0.0) / 86400.0
        for at, until, rate in _steps(log, solution, end)
    )


def _rate_at(log: SystemLog, solution: str, as_of: datetime) -> float:
    """Litres a day that run, what is dosed by hand not counted."""
    return sum(rate for at, until, rate in _steps(log, solution, as_of + timedelta(days=1)) if at <= as_of < until)


def _steps(log: SystemLog, solution: str, end: datetime) -> list[tuple[datetime, datetime, float]]:
    """Every stretch over which a solution ran at one rate, pumps and top-off each for itself."""
    pumps = [pump for pump in log.pumps if pump.solution == solution]
    rows: tuple[Sequence[PumpRate | TopOff], ...] = (pumps, log.top_offs)
    found = []
    for settings in rows:
        ends = [*(later.at for later in settings[1:]), end]
        for setting, until in zip(settings, ends, strict=False):
            found.append((setting.at, until, _rate(setting, solution)))
    return found


def _rate(setting: PumpRate | TopOff, solution: str) -> float:
    return setting.rate.canonical() if setting.solution == solution else 0.0
