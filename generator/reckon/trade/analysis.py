"""Trips and what came of them, checks that are due, and all that is found about trades on a day."""

from collections.abc import Callable, Iterable, Mapping
from datetime import date, timedelta
from statistics import median
from typing import Literal

from msgspec import Struct, field

from generator.reckon.finding import Finding
from generator.reckon.trade.carrying import legs, time_constant, usual_time_constant
from generator.reckon.trade.journey import sides_of_container
from generator.reckon.trade.offers import PartnerAccount, accounts
from generator.records.coral import Coral
from generator.records.settings import Container
from generator.records.source import Source
from generator.records.trade import State, Trade, Travel

METHOD = "trip-outcomes"

Went = Literal["well", "badly", "not-recorded"]
StateName = Literal["good", "fair", "poor", "lost"]
_WORST_LAST: tuple[StateName, ...] = ("good", "fair", "poor", "lost")
AFTER_DAYS = (0, 1, 14, 60)


class Outcome(Struct, frozen=True):
    """One trip: its circumstances, and the worst condition of any coral after 0, 1, 14 and 60 days (None: no check).

    `slime` and `broken_off` are None as well if there is no check at all.

    `changed` is the water's temperature at the end minus that at the start, °C. A trip went badly if a coral
    was poor or lost by day 60. It went well if there is a check after a day or more and none was.
    """

    trade: str
    hours: float
    km: float | None
    litres: float | None
    changed: float | None
    container: str | None
    states: tuple[StateName | None, ...]
    slime: bool | None
    broken_off: int | None
    went: Went
    source: Source


class OverTrips(Struct, frozen=True):
    """A circumstance over several trips: how many recorded it, its median and its ends."""

    n: int
    median: float
    low: float
    high: float


class Condition(Struct, frozen=True):
    """One circumstance, for the trips that went well and for those that went badly; None if none recorded it."""

    id: Literal["hours", "km", "litres", "changed"]
    unit: str
    well: OverTrips | None
    badly: OverTrips | None


def outcomes(trades: Iterable[Trade]) -> tuple[Outcome, ...]:
    """Every recorded trip, oldest first."""
    travelled = [(trade, trade.travel) for trade in trades if trade.travel is not None]
    return tuple(
        _outcome(trade, travel) for trade, travel in sorted(travelled, key=lambda pair: (pair[0].at, pair[0].id))
    )


def side_by_side(found: Iterable[Outcome]) -> tuple[Condition, ...]:
    """The circumstances of trips that went well and of those that went badly. They show no cause."""
    trips = tuple(found)
    told: tuple[tuple[Literal["hours", "km", "litres", "changed"], str, Callable[[Outcome], float | None]], ...] = (
        ("hours", "h", lambda trip: trip.hours),
        ("km", "km", lambda trip: trip.km),
        ("litres", "L", lambda trip: trip.litres),
        ("changed", "°C", lambda trip: trip.changed),
    )
    return tuple(
        Condition(id, unit, _spread(trips, "well", value), _spread(trips, "badly", value)) for id, unit, value in told
    )


def _outcome(trade: Trade, travel: Travel) -> Outcome:
    readings = sorted(travel.temperatures, key=lambda reading: reading.after.canonical())
    water = [reading.water.canonical() for reading in readings]
    return Outcome(
        trade=trade.id,
        hours=travel.duration.canonical(),
        km=travel.distance.canonical() if travel.distance else None,
        litres=travel.water.canonical() if travel.water else None,
        changed=water[-1] - water[0] if len(water) > 1 else None,
        container=travel.container,
        states=tuple(_worst(state for state in trade.checks if state.days == days) for days in AFTER_DAYS),
        slime=any(state.slime for state in trade.checks) if trade.checks else None,
        broken_off=sum(state.broken_off for state in trade.checks) if trade.checks else None,
        went=_went(trade.checks),
        source=travel.source,
    )


def _worst(states: Iterable[State]) -> StateName | None:
    return max((state.condition for state in states), key=_WORST_LAST.index, default=None)


def _went(states: tuple[State, ...]) -> Went:
    counted = [state for state in states if state.days <= AFTER_DAYS[-1]]
    if _worst(counted) in ("poor", "lost"):
        return "badly"
    return "well" if any(state.days >= 1 for state in counted) else "not-recorded"


def _spread(trips: tuple[Outcome, ...], went: Went, value: Callable[[Outcome], float | None]) -> OverTrips | None:
    values = [found for trip in trips if trip.went == went and (found := value(trip)) is not None]
    return OverTrips(len(values), median(values), min(values), max(values)) if values else None


# Days after which a missed check says little about the trip.
FORGOTTEN_AFTER = timedelta(days=60)
_LOOKS = tuple(days for days in AFTER_DAYS if days > 0)


class StateCheck(Struct, frozen=True):
    """A coral that came by a trade, and the check that is due, since when."""

    trade: str
    coral: str
    days: int
    due: date
    source: Source


def state_checks(trades: Iterable[Trade], corals: Mapping[str, Coral], today: date) -> tuple[StateCheck, ...]:
    """The check due for each received coral that still lives here, unless it or a later one is recorded."""
    found = []
    for trade in trades:
        for got in trade.received:
            coral = corals.get(got.coral)
            if coral is None or not coral.lives_on(today):
                continue
            written = max((s.days for s in trade.checks if s.coral in (None, coral.id)), default=-1)
            past = [days for days in _LOOKS if trade.at + timedelta(days=days) <= today]
            if past and written < past[-1]:
                due = trade.at + timedelta(days=past[-1])
                if today - due <= FORGOTTEN_AFTER:
                    found.append(StateCheck(trade.id, coral.id, past[-1], due, got.source))
    return tuple(sorted(found, key=lambda check: (check.due, check.trade, check.coral)))


class ContainerFindings(Struct, frozen=True):
    """What a container's logged trips show: its time constant (h), for how many litres, from how many legs."""

    container: str
    litres: float
    time_constant: Finding
    legs: int


class TradeFindings(Struct, frozen=True):
    """Findings about trades: accounts by partner, trips, what they show, checks that are due."""

    accounts: Mapping[str, PartnerAccount] = field(default_factory=dict)
    trips: tuple[Outcome, ...] = ()
    conditions: tuple[Condition, ...] = ()
    containers: tuple[ContainerFindings, ...] = ()
    checks: tuple[StateCheck, ...] = ()


def analyse_trades(
    trades: Mapping[str, Trade], corals: Mapping[str, Coral], containers: Mapping[str, Container], today: date
) -> TradeFindings:
    """Findings about these trades only."""
    trips = outcomes(trades.values())
    return TradeFindings(
        accounts(trades.values(), corals.values(), today),
        trips,
        side_by_side(trips),
        tuple(_container(id, container, trades) for id, container in containers.items()),
        state_checks(trades.values(), corals, today),
    )


def _container(id: str, container: Container, trades: Mapping[str, Trade]) -> ContainerFindings:
    """A container with the mean water of its trips; half full if no trip has it recorded."""
    logged = legs(trades.values(), id)
    sides = sides_of_container(container)
    told = [leg.litres for leg in logged if leg.litres]
    litres = sum(told) / len(told) if told else sides.length * sides.width * sides.height / 2e3
    return ContainerFindings(id, litres, time_constant(logged, usual_time_constant(sides, litres), litres), len(logged))
