"""How long each stock lasts, what the supplies at hand leave uncovered, and what would cover it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import hypot, inf
from typing import Literal

from generator.reckon.dosing.new_water import Correction, WaterChanges, upkeep
from generator.reckon.dosing.outlook import Outlook, levels_to_hold
from generator.reckon.dosing.phases import Phase, Unmet
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.supplies import LIMEWATER, supplies
from generator.reckon.finding import CannotTell
from generator.reckon.water.deliveries import per_litre, rate_error
from generator.records.log import PumpRate, SystemLog, TopOff
from generator.records.system import System
from generator.units.compounds import COMPOUNDS
from generator.units.quantity import Estimate, coverage_factor

# What keepers most often make up for each kind. Common practice, no source.
USUAL_COMPOUND = {"alkalinity": "NaHCO3", "calcium": "CaCl2.2H2O", "magnesium": "MgCl2.6H2O"}


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing that would cover a shortfall by itself.

    ``compound``: `amount` grams a day of `what`; ``evaporation``: `amount` litres a day more limewater of solution
    `what`; ``effluent``: the reactor's effluent at `amount` meq/L, at the flow planned.
    """

    how: Literal["compound", "evaporation", "effluent"]
    what: str
    amount: float


@dataclass(frozen=True, slots=True)
class OutOfReach:
    """A rise to target that nothing at hand can give: `grams` of a compound would, over `days`."""

    correction: Correction
    compound: str
    grams: float
    days: int


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What is left of a need, and each thing that would cover it; `by_water` are all water changes that would."""

    unmet: Unmet
    remedies: tuple[Remedy, ...]
    by_water: WaterChanges | None


def shortfalls(system: System, log: SystemLog, plan: Plan, found: Outlook, as_of: datetime) -> tuple[Shortfall, ...]:
    """What the doses that hold leave of each need, where they leave any."""
    hold, counted = plan.phases[-1], sum(each.per_day.value for each in plan.changing if each.per_day)
    volume, targets = system.water.volume.canonical(), levels_to_hold(system)
    short = []
    for unmet in hold.unmet:
        if unmet.per_day.value:
            changes = None
            if unmet.kind == "alkalinity":
                need = unmet.per_day.value / volume + max(counted, 0.0)
                changes = upkeep(system, found, targets.get(unmet.kind, found.level.value), need)
            by_water = changes if changes and changes.meets else None
            short.append(Shortfall(unmet, tuple(_remedies(system, log, hold, unmet, as_of)), by_water))
    return tuple(short)


def out_of_reach(system: System, plan: Plan) -> tuple[OutOfReach, ...]:
    """What would bring the levels to target that the plan cannot, within the daily cap."""
    found = []
    for each in plan.out_of_reach:
        compound, missing = USUAL_COMPOUND[each.kind], each.change.value * system.water.volume.canonical()
        found.append(OutOfReach(each, compound, missing / COMPOUNDS[compound].per_gram(each.kind), each.days))
    return tuple(found)


def _remedies(system: System, log: SystemLog, hold: Phase, unmet: Unmet, as_of: datetime) -> Iterator[Remedy]:
    missing, compound = unmet.per_day.value, USUAL_COMPOUND[unmet.kind]
    yield Remedy("compound", compound, missing / COMPOUNDS[compound].per_gram(unmet.kind))
    litres = {dose.supply: dose.rate.estimate.value for dose in hold.doses}
    for supply in supplies(system, log, levels_to_hold(system), as_of):
        if (
            supply.how == "reactor"
            and unmet.kind in supply.gives
            and litres.get(supply.id)
            and unmet.kind == "alkalinity"
        ):
            strength = log.until(as_of).effluents[-1].alkalinity.canonical()
            yield Remedy("effluent", supply.id, strength + missing / litres[supply.id])
    for id, solution in system.solutions.items():
        if solution.compound == LIMEWATER and (gives := per_litre(solution, unmet.kind)):
            yield Remedy("evaporation", id, missing / gives)


# Days. Nobody keeps a solution longer than this, so a slower pump counts as off. An assumption of ours.
LONGEST_KEPT = 3650.0


@dataclass(frozen=True, slots=True)
class Stock:
    """A container of a solution: `size` in litres, `per_day` what is to be taken out of it.

    `full_lasts` is how many days a full one lasts. `filled` is when it was last filled; None where nobody
    wrote it, then what is `left` (litres), how many days that `lasts` and when it is `empty` are None too.
    """

    solution: str
    size: float
    per_day: float
    full_lasts: Estimate
    filled: datetime | None = None
    left: Estimate | None = None
    lasts: Estimate | None = None
    empty: datetime | None = None


def stock(
    system: System,
    log: SystemLog,
    solution: str,
    filled: datetime | None,
    as_of: datetime,
    planned: Estimate | None = None,
    held: float | None = None,
) -> Stock | CannotTell:
    """How long a solution's stock lasts with its pump as it runs, or at `planned` litres a day.

    It is as unsure as the plan's rate and as what the pump really delivers.

    `held` is how many litres it held once filled; a full container where it is not given. What was dosed by
    hand since counts too. Answers `CannotTell` where the container's size is not written, or nothing
    draws on it in earnest.
    """
    size = system.solutions[solution].stock
    litres = size.canonical() if size is not None else held
    if litres is None:
        return CannotTell("no-stock-size", "write-the-stock")
    log = log.until(as_of)
    running = _rate_at(log, solution, as_of)
    rate = Estimate(running, running, running, "L/day") if planned is None else planned
    if rate.value * LONGEST_KEPT <= litres:
        return CannotTell("nothing-runs", "write-the-pump")
    pump = rate_error(system, log, solution)
    full = _days(litres, 0.0, rate, pump)
    if filled is None:
        return Stock(solution, litres, rate.value, full)
    gone = drawn(log, solution, filled, as_of)
    left, error = max((litres if held is None else held) - gone, 0.0), pump * gone
    remaining = Estimate.normal(left, error, "L", least=0.0)
    lasts = _days(left, error, rate, pump)
    return Stock(solution, litres, rate.value, full, filled, remaining, lasts, as_of + timedelta(days=lasts.value))


def _days(litres: float, error: float, rate: Estimate, pump: float) -> Estimate:
    """Days that so many litres last at a rate; without end where the rate may be nothing.

    The ends of the rate's interval give those of the days, and the errors of the litres and of the pump (a share)
    join them in squares. Source: JCGM 100:2008 (GUM), 5.1.
    """
    value = litres / rate.value
    half = coverage_factor() * hypot(error / rate.value, pump * value)
    shorter, longer = value - litres / rate.high, litres / rate.low - value if rate.low else inf
    return Estimate(value, max(value - hypot(shorter, half), 0.0), value + hypot(longer, half), "days")


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
