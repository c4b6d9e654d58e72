"""How a colony is brought into its new water: acclimation, dip and quarantine, by what is known of who had it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta

from generator.reckon.water.canonical import canonical_value
from generator.records.coral import Coral
from generator.records.source import Source
from generator.records.trade import Partner, Trade

# Water that differs by so much is evened out over half an hour: practical salinity, °C. Common practice, no source.
HALF_AN_HOUR_PSU, HALF_AN_HOUR_CELSIUS = 1.0, 2.0
# Never less than so many minutes, and never so long that the water it came in goes bad. Common practice, no source.
LEAST_MINUTES, MOST_MINUTES = 30, 120
# After so many hours in closed water ammonia has gathered: as its pH rises in the open, it turns to poison.
# Common practice, no source; the shift of ammonium to ammonia with pH: Bower & Bidwell 1978 (from memory).
LONG_IN_CLOSED_WATER = 6.0
# What showed within so many days of an arrival is counted to whoever it came from. A choice of ours.
SHOWS_WITHIN = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class Acclimation:
    """How far apart the two waters are (theirs less ours; None: not known) and so many minutes to even them out."""

    salinity: float | None
    temperature: float | None
    minutes: int
    ammonia: bool


@dataclass(frozen=True, slots=True)
class Care:
    """Acclimation, the days they keep coral apart (None: not written), what earlier arrivals of theirs brought."""

    acclimation: Acclimation
    quarantined: float | None
    brought: tuple[tuple[str, Source], ...]


def care(
    partner: Partner | None,
    trades: Iterable[Trade],
    corals: Mapping[str, Coral],
    ours: Mapping[str, float],
    arrives: float | None,
    hours: float | None,
) -> Care:
    """The care of an arrival.

    `ours` are the last readings of the system (canonical units), `arrives` the water's temperature (°C) on arrival and
    `hours` how long it was closed, where the way is planned.
    """
    theirs = partner.water if partner else None
    salinity = canonical_value(theirs.salinity) if theirs and theirs.salinity else None
    warm = arrives
    if warm is None and theirs and theirs.temperature:
        warm = canonical_value(theirs.temperature)
    of_salinity = None if salinity is None or "salinity" not in ours else salinity - ours["salinity"]
    of_warmth = None if warm is None or "temperature" not in ours else warm - ours["temperature"]
    halves = max(abs(of_salinity or 0.0) / HALF_AN_HOUR_PSU, abs(of_warmth or 0.0) / HALF_AN_HOUR_CELSIUS)
    minutes = round(min(max(30.0 * halves, LEAST_MINUTES), MOST_MINUTES) / 5.0) * 5
    quarantine = partner.quarantine.canonical() / 24.0 if partner and partner.quarantine else None
    return Care(
        Acclimation(of_salinity, of_warmth, minutes, hours is not None and hours >= LONG_IN_CLOSED_WATER),
        quarantine,
        _brought(partner, trades, corals) if partner else (),
    )


def _brought(partner: Partner, trades: Iterable[Trade], corals: Mapping[str, Coral]) -> tuple[tuple[str, Source], ...]:
    """What was seen on what came from a partner: the inspections, and what fell ill soon after."""
    found = [(trade.inspection, trade.source) for trade in trades if trade.partner == partner.id and trade.inspection]
    for coral in corals.values():
        if coral.arrival.partner != partner.id:
            continue
        for health in coral.health:
            ill = health.what in ("treatment", "tissue-loss", "bleaching")
            if ill and coral.arrival.at <= health.at <= coral.arrival.at + SHOWS_WITHIN:
                said = health.note or health.what.replace("-", " ")
                found.append((f"{coral.name}: {said}", health.source))
    return tuple(found)
