"""Planned trips: how a promised coral will travel, judged before anyone leaves."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from generator.reckon.finding import CannotTell
from generator.reckon.trade.journey import (
    Journey,
    Plan,
    genus_of,
    judge,
    sides_of_container,
    sides_of_coral,
    surface_factor_of,
)
from generator.records.coral import Coral
from generator.records.settings import Container
from generator.records.trade import Owed, Trade, Travel

# The temperature of water and air if neither is recorded (°C, and the air's standard uncertainty);
# common practice, no source.
_WATER, _AIR, _AIR_SPREAD = 25.0, 20.0, 3.0
# An air temperature recorded beforehand is a forecast; its standard uncertainty in °C is our choice.
_FORECAST_SPREAD = 2.0


@dataclass(frozen=True, slots=True)
class Coming:
    """A planned trip: its promise (the `number`-th of its trade, from 1), its coral, and the judged journey.

    A frag still to be cut is judged like the whole coral: what fits the coral fits the frag.
    """

    trade: str
    number: int
    owed: Owed
    coral: str
    travel: Travel
    judged: Journey | CannotTell


def coming(
    trades: Mapping[str, Trade],
    corals: Mapping[str, Coral],
    containers: Mapping[str, Container],
    water: Mapping[str, float],
    today: date,
) -> tuple[Coming, ...]:
    """Every open promise of a coral with a travel plan, the soonest first.

    `water` gives the temperature (°C) last read in each system.
    """
    found = []
    for trade in trades.values():
        for number, owed in enumerate(trade.owed, 1):
            coral = corals.get(owed.coral or "")
            if owed.settled is None and owed.travel is not None and coral is not None:
                judged = _judged(coral, owed.travel, containers, water, today, trades.values())
                found.append(Coming(trade.id, number, owed, coral.id, owed.travel, judged))
    return tuple(sorted(found, key=lambda trip: (trip.owed.due or date.max, trip.trade, trip.number)))


def _judged(
    coral: Coral,
    travel: Travel,
    containers: Mapping[str, Container],
    water: Mapping[str, float],
    today: date,
    trades: Iterable[Trade],
) -> Journey | CannotTell:
    container = containers.get(travel.container or "")
    if container is None:
        return CannotTell("no-container", "write-a-container", inputs=(travel.source,))
    measured = sides_of_coral(coral)
    if measured is None:
        return CannotTell("never-measured", "measure-it", inputs=(coral.source,))
    sides, mass = measured
    standing = coral.placement_on(today)
    start, air = _expected(travel, water.get(standing.system) if standing else None)
    plan = Plan(
        colony=sides,
        surface_factor=surface_factor_of(genus_of(coral), coral.form),
        mass=mass,
        container=sides_of_container(container),
        hours=travel.duration.canonical(),
        start=start,
        air=air,
        container_id=travel.container,
        container_mass=container.mass.canonical() / 1e3 if container.mass else None,
        inputs=(container.source, travel.source, max(coral.sizes, key=lambda size: size.at).source),
    )
    return judge(plan, trades)


def _expected(travel: Travel, read: float | None) -> tuple[float, tuple[float, float]]:
    """The water's temperature on leaving, and the air's mean with its standard uncertainty; °C."""
    told = sorted(travel.temperatures, key=lambda each: each.after.canonical())
    start = told[0].water.canonical() if told else read
    airs = [each.air.canonical() for each in told if each.air is not None]
    air = (sum(airs) / len(airs), _FORECAST_SPREAD) if airs else (_AIR, _AIR_SPREAD)
    return (_WATER if start is None else start), air
