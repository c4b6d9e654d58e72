"""All that is found in a journal at a moment: the one way into the reckoning for those who make pages."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from generator.reckon.arrivals.shares import Shares, shares
from generator.reckon.finding import CannotTell
from generator.reckon.growth.corals import CoralFindings, survey_corals
from generator.reckon.growth.room import RoomFindings
from generator.reckon.lineage.at_risk import AtRisk, lines_at_risk
from generator.reckon.lineage.family import Family, families
from generator.reckon.lineage.survival import GroupSurvival, survival
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.survey import survey_water
from generator.records.journal import Journal


@dataclass(frozen=True, slots=True)
class Findings:
    """All findings of a journal at a moment, each mapping by system, coral or line as its name says."""

    as_of: datetime
    water: Mapping[str, WaterFindings] = field(default_factory=dict)
    shares: Mapping[str, Shares | CannotTell] = field(default_factory=dict)
    corals: Mapping[str, CoralFindings] = field(default_factory=dict)
    rooms: Mapping[str, RoomFindings] = field(default_factory=dict)
    families: Mapping[str, Family] = field(default_factory=dict)
    at_risk: tuple[AtRisk, ...] = ()
    survival: tuple[GroupSurvival, ...] = ()


def survey(journal: Journal, as_of: datetime) -> Findings:
    """What is found in a journal at a moment; days are those of the journal's own zone."""
    today = as_of.astimezone(journal.settings.time_zone).date()
    every = tuple(journal.corals.values())
    water = {id: survey_water(system, journal.log_of(id), every, as_of) for id, system in journal.systems.items()}
    of_corals, rooms = survey_corals(every, journal.systems, journal.logs, journal.settings.safe_distances, today)
    trees = families(every, journal.trades.values(), today)
    return Findings(
        as_of=as_of,
        water=water,
        shares={
            id: shares(id, system.water, every, water[id].calcification.grams_per_day, today)
            for id, system in journal.systems.items()
        },
        corals=of_corals,
        rooms=rooms,
        families=trees,
        at_risk=lines_at_risk(trees, journal.corals, journal.trades.values(), today),
        survival=survival(every, journal.trades, today),
    )
