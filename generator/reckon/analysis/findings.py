"""All that is found in a journal at a moment, part by part."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from generator.reckon.analysis.track_record import ArrivalHeld, SizeHeld, StockHeld, TouchHeld
    from generator.reckon.arrivals.analysis import WhatIf
    from generator.reckon.arrivals.changes import Change, CoralChange
    from generator.reckon.arrivals.informed import Informed
    from generator.reckon.arrivals.shares import PartOfWhole, Shares
    from generator.reckon.dosing.analysis import DosingFindings, VolumeByDose
    from generator.reckon.finding import CannotTell
    from generator.reckon.growth.corals import CoralFindings
    from generator.reckon.growth.places import Suggestion
    from generator.reckon.growth.room import RoomFindings
    from generator.reckon.lineage.family import AtRisk, Family, Holder
    from generator.reckon.lineage.survival import GroupSurvival
    from generator.reckon.planned.analysis import PlanFindings
    from generator.reckon.trade.analysis import TradeFindings
    from generator.reckon.trade.offers import Offer
    from generator.reckon.water.findings import WaterFindings
    from generator.reckon.water.replay import YearOfWater


def _no_trades() -> "TradeFindings":
    from generator.reckon.trade.analysis import TradeFindings

    return TradeFindings()


@dataclass(frozen=True, slots=True)
class Findings:
    """All findings of a journal at a moment, each mapping by system, coral or line as its name says.

    `years` are by system and year, as `lagoon/2026`. `part_of` is, by coral, what part of its system's uptake it takes,
    `room_of` what is found about its room, and `changes_of` its large changes. `predicted` are, by system, the events
    since the last reading: of those the water knows what was predicted only.
    """

    as_of: datetime
    water: "Mapping[str, WaterFindings]" = field(default_factory=dict)
    years: "Mapping[str, YearOfWater]" = field(default_factory=dict)
    predicted: "Mapping[str, tuple[Informed, ...]]" = field(default_factory=dict)
    shares: "Mapping[str, Shares | CannotTell]" = field(default_factory=dict)
    part_of: "Mapping[str, PartOfWhole | None]" = field(default_factory=dict)
    what_if: "Mapping[str, tuple[WhatIf, ...]]" = field(default_factory=dict)
    changes: "Mapping[str, tuple[CoralChange, ...]]" = field(default_factory=dict)
    changes_of: "Mapping[str, tuple[Change, ...]]" = field(default_factory=dict)
    dosing: "Mapping[str, DosingFindings]" = field(default_factory=dict)
    volumes: "Mapping[str, VolumeByDose | CannotTell]" = field(default_factory=dict)
    corals: "Mapping[str, CoralFindings]" = field(default_factory=dict)
    rooms: "Mapping[str, RoomFindings]" = field(default_factory=dict)
    room_of: "Mapping[str, RoomFindings | None]" = field(default_factory=dict)
    families: "Mapping[str, Family]" = field(default_factory=dict)
    holders: "Mapping[str, tuple[Holder, ...]]" = field(default_factory=dict)
    at_risk: "tuple[AtRisk, ...]" = ()
    could_go: "Mapping[str, tuple[Suggestion, ...]]" = field(default_factory=dict)
    plans: "tuple[PlanFindings, ...]" = ()
    survival: "tuple[GroupSurvival, ...]" = ()
    trade: "TradeFindings" = field(default_factory=_no_trades)
    offers: "tuple[Offer, ...]" = ()
    arrivals_held: "tuple[ArrivalHeld, ...]" = ()
    stocks_held: "tuple[StockHeld, ...]" = ()
    sizes_held: "tuple[SizeHeld, ...]" = ()
    touches_held: "tuple[TouchHeld, ...]" = ()
