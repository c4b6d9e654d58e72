"""Moments at which a system's demand may have changed: corals that came, went or were cut, and logged events."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from math import pi

from generator.reckon.water.account import Opening
from generator.reckon.water.ledger import in_days
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.source import Source

# By how much demand may change (share of all, one standard deviation) when the log names an event
# but nothing tells the coral's size; assumptions of ours, wide enough to let the readings speak.
UNSIZED = {"arrival": 0.3, "cutting": 0.3, "loss": 0.3, "light": 0.3, "equipment": 0.1, "feeding": 0.1, "other": 0.0}
# Below this share an event is lost in the ordinary drift, and opening for it would only blur.
LEAST_SHARE = 0.04


@dataclass(frozen=True, slots=True)
class DemandEvent:
    """Something that may have changed demand by about `share` of what it was."""

    at: datetime
    share: float
    what: str
    coral: str | None
    source: Source


def demand_events(system: str, log: SystemLog, corals: Iterable[Coral], as_of: datetime) -> tuple[DemandEvent, ...]:
    """Every event up to `as_of` large enough to matter, in order of time.

    A coral's share is its footprint (ellipse seen from above) among all that stand in the system that
    day. A logged event about a coral gives the hour of what the coral's own file dates.
    """
    here = [coral for coral in corals if any(placement.system == system for placement in coral.placements)]
    timed = {(event.coral, event.at.date()): event.at for event in log.events if event.coral}
    found = []
    for coral in here:
        for day, what, source in _changes(coral, system):
            at = timed.get((coral.id, day)) or datetime.combine(day, time(0), UTC)
            share = _share(coral, here, system, day) * (0.5 if what == "cutting" else 1.0)
            found.append(DemandEvent(at, share, what, coral.id, source))
    told = {(event.coral, event.at.date()) for event in found}
    for event in log.events:
        if (event.coral, event.at.date()) not in told:
            found.append(DemandEvent(event.at, UNSIZED[event.what], event.what, event.coral, event.source))
    return tuple(sorted((e for e in found if e.share >= LEAST_SHARE and e.at <= as_of), key=lambda e: e.at))


def openings(events: Iterable[DemandEvent]) -> list[Opening]:
    """The events as openings of the uptake's variance."""
    return [Opening(in_days(event.at), event.share) for event in events]


def footprint(coral: Coral, day: date) -> float | None:
    """Area seen from above, cm², by the last size written up to a day (the first one, before any)."""
    if not coral.sizes:
        return None
    sizes = sorted(coral.sizes, key=lambda size: size.at)
    size = ([s for s in sizes if s.at <= day] or sizes[:1])[-1]
    length = size.length.canonical()
    width = size.width.canonical() if size.width else length
    return pi / 4.0 * length * width


def _changes(coral: Coral, system: str) -> Iterable[tuple[date, str, Source]]:
    stood = None
    for placement in sorted(coral.placements, key=lambda p: p.since):
        if placement.system == system and stood != system:
            yield placement.since, "arrival", placement.source
        elif placement.system != system and stood == system:
            yield placement.since, "loss", placement.source
        stood = placement.system
    for cutting in coral.cuttings:
        standing = coral.placement_on(cutting.at)
        if standing and standing.system == system:
            yield cutting.at, "cutting", cutting.source
    if coral.end and stood == system:
        yield coral.end.at, "loss", coral.end.source


def _share(coral: Coral, here: list[Coral], system: str, day: date) -> float:
    """The coral's part of all footprints but its own, at most the whole; unmeasured ones count as the median."""
    others = [c for c in here if c is not coral and (p := c.placement_on(day)) and p.system == system]
    areas: Mapping[str, float] = {c.id: a for c in [coral, *others] if (a := footprint(c, day)) is not None}
    usual = sorted(areas.values())[len(areas) // 2] if areas else 1.0
    total = sum(areas.get(c.id, usual) for c in others)
    return min(areas.get(coral.id, usual) / total, 1.0) if total else 1.0
