"""All findings about trades and their journeys on a day."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from generator.reckon.finding import Finding
from generator.reckon.trade.accounts import Account, accounts
from generator.reckon.trade.cooling import legs, time_constant, usual_time_constant
from generator.reckon.trade.journey import sides_of_container
from generator.reckon.trade.outcomes import Condition, Outcome, StateCheck, outcomes, side_by_side, state_checks
from generator.records.coral import Coral
from generator.records.settings import Container
from generator.records.trade import Trade


@dataclass(frozen=True, slots=True)
class ContainerFindings:
    """What a container's logged trips show: its time constant (h), for how many litres, from how many legs."""

    container: str
    litres: float
    time_constant: Finding
    legs: int


@dataclass(frozen=True, slots=True)
class TradeFindings:
    """Findings about trades: accounts by partner, trips, what they show, checks that are due."""

    accounts: Mapping[str, Account] = field(default_factory=dict)
    trips: tuple[Outcome, ...] = ()
    conditions: tuple[Condition, ...] = ()
    containers: tuple[ContainerFindings, ...] = ()
    checks: tuple[StateCheck, ...] = ()


def survey_trades(
    trades: Mapping[str, Trade],
    corals: Mapping[str, Coral],
    containers: Mapping[str, Container],
    today: date,
) -> TradeFindings:
    """The findings of the given trades; what they leave out is in no finding."""
    trips = outcomes(trades.values())
    return TradeFindings(
        accounts(trades.values(), today),
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
