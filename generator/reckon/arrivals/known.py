"""What is known of a system's water at a moment: what was measured, with what is predicted of what came since.

The one way to a system's water for all who ask; `water.analysis` alone does not know what corals take.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, timedelta, tzinfo

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from generator.reckon.arrivals.colony import LightAndFlow, colony_of, spot_of
from generator.reckon.arrivals.expected import SystemFactor, Taken, expected, factor_of_system, followed
from generator.reckon.arrivals.informed import Informed, own_factors, told_within
from generator.reckon.arrivals.observed import baseline_of
from generator.reckon.arrivals.shares import Shares, present_factor, shares
from generator.reckon.arrivals.story import SystemStory, story_of
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.analysis import analyse_water, gather, stretch_told
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.estimate import (
    counting,
    counting_for_stretch,
    lately,
    stretches_told,
    told_until,
    with_past,
)
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.uptake import as_estimate, cannot_tell
from generator.records.coral import Coral, standing_in
from generator.records.journal import Journal
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# Where more than so much of what is taken up now was taken up before any recorded coral came, no coral's share is told.
UNRECORDED = 0.25

Parts = tuple[Shares | CannotTell, SystemFactor, Mapping[str, LightAndFlow]]


class KnownWater(Struct, frozen=True):
    """A system's water, and the events that may have changed its demand, with what was predicted of each.

    `shares` are what each coral of it takes, `factor` how they all do against published rates, `spots` where in it they
    stand.
    """

    water: WaterFindings
    events: tuple[Informed, ...]
    shares: Shares | CannotTell
    factor: SystemFactor
    spots: Mapping[str, LightAndFlow] = field(default_factory=dict)

    @property
    def unread(self) -> tuple[Informed, ...]:
        """The events that no reading of alkalinity has followed yet: so long, what is said of them is predicted."""
        return unread(self.water.uptake["alkalinity"].last_reading, self.events)


def unread(last: datetime | None, events: Sequence[Informed]) -> tuple[Informed, ...]:
    """Those of a water's events that alkalinity's last reading does not follow."""
    return tuple(each for each in events if each.step is not None and (last is None or each.event.at >= last))


def water_with(
    system: System, log: SystemLog, events: Sequence[Informed], as_of: datetime, past: bool = True
) -> WaterFindings:
    """A system's water by its readings and by what was predicted of its events; `past` as in `analyse_water`."""
    of_day = log, as_of.date(), as_of.tzinfo
    found = water_lately(system, counting(*of_day), events, as_of, past)
    begin = told_until(*of_day)
    if begin is None or not past:
        return found
    known, zone = [each.event for each in events], as_of.tzinfo
    logs = {stretch: counting_for_stretch(log, stretch, zone) for stretch in stretches_told(*of_day)}
    return with_past(found, [stretch_told(system, of, known, each, zone) for each, of in logs.items()], begin)


def water_lately(
    system: System, log: SystemLog, events: Sequence[Informed], as_of: datetime, past: bool = True
) -> WaterFindings:
    """The same by all lines of a log that begins when what is told for good ends."""
    last = max((each.at for each in log.until(as_of).readings if each.kind == "alkalinity"), default=None)
    steps = [(each.event.at, each.step) for each in unread(last, events) if each.step is not None]
    found = analyse_water(system, log, (), as_of, [each.event for each in events], past, steps)
    came = [(each.event.at, each.step) for each in events if each.step and each.event.what == "arrival"]
    return replace(found, came=tuple(came))


class Waters(Struct, frozen=True):
    """The waters of a keeper at any moment on the keeper's own clock, and what each coral took in which.

    `ever` has the corals that ever stood in each system or that its log names, `until` a system's log up to a moment,
    with all its events, where those are known already.
    """

    systems: Mapping[str, System]
    logs: Mapping[str, SystemLog]
    corals: Mapping[str, Coral]
    zone: tzinfo
    ever: Mapping[str, Mapping[str, Coral]] | None = None
    until: Callable[[str, datetime], SystemLog] | None = None
    _shared: dict[tuple[str, datetime], Parts] = field(default_factory=dict)

    def known(self, id: str, as_of: datetime, past: bool = True) -> KnownWater:
        """What is known of one system's water; `past` as in `analyse_water`."""
        system, log = self.systems[id], self.log_of(id)
        events = self.events(id, as_of)
        water = water_with(system, log, events, as_of, past)
        grams = water.calcification.grams_per_day
        return KnownWater(water, events, *self.parts(id, events, grams, as_of.date()))

    def corals_of(self, id: str) -> Mapping[str, Coral]:
        """The corals that ever stood in a system, or that its log names."""
        return ever_in(id, self.log_of(id), self.corals) if self.ever is None else self.ever[id]

    def events(self, id: str, as_of: datetime) -> tuple[Informed, ...]:
        """Every event of a system with what was predicted of it."""
        return self.story(id, as_of).whole(as_of)

    def story(self, id: str, as_of: datetime) -> SystemStory:
        """The story of a system's events up to a moment."""
        return story_of(self.systems[id], self._log(id, as_of), self.corals_of(id), as_of, self.taken_before)

    def _log(self, id: str, as_of: datetime) -> SystemLog:
        return self.until(id, as_of) if self.until else self.log_of(id)

    def taken_before(self, coral: Coral, event: DemandEvent) -> Taken | None:
        """What a coral took just before it came from another of these waters; None where nobody knows."""
        before = coral.placement_on(event.day - timedelta(days=1))
        if before is None or before.system not in self.systems:
            return None
        found, factor, _ = self._just_before(before.system, event)
        share = found.corals.get(coral.id) if isinstance(found, Shares) else None
        if share is None:
            return None
        return Taken(share.grams_per_day, factor, share.inputs, spot_of(before, self.systems[before.system]))

    def log_of(self, id: str) -> SystemLog:
        """A system's log; an empty one if it has none."""
        return self.logs.get(id) or SystemLog(system=id)

    def _just_before(self, id: str, event: DemandEvent) -> Parts:
        day = event.day - timedelta(days=1)
        at = (event.at - timedelta(seconds=1)).astimezone(self.zone)
        if (id, at) not in self._shared:
            system, events = self.systems[id], self.events(id, at)
            baseline = baseline_of(system, lately(self._log(id, at), at), [each.event for each in events], at)
            self._shared[id, at] = self.parts(id, events, baseline.measured, day)
        return self._shared[id, at]

    def parts(self, id: str, events: tuple[Informed, ...], grams: Answer, day: date) -> Parts:
        """What each coral of a system takes of the whole on a day, how all do as published, and where they stand."""
        corals = self.corals_of(id)
        own, every, system = own_factors(corals, events, day), corals.values(), self.systems[id]
        spots = {coral.id: spot_of(coral.placement_on(day), system) for coral in standing_in(every, id, day)}
        unrecorded = _took_before_any(events, grams)
        return (
            unrecorded or shares(id, system.water, every, grams, day, own, told_within(corals, events, day)),
            present_factor(every, id, day, grams, own),
            spots,
        )


def _took_before_any(events: Sequence[Informed], grams: Answer) -> CannotTell | None:
    """That corals in no file take much of a whole (g CaCO3/day): so much was taken up before the first coral came."""
    for each in events:
        before, alone = each.measured, each.event.what == "arrival" and each.step is not None and each.own is None
        if not (alone and isinstance(before, Finding) and isinstance(grams, Finding)):
            continue
        if before.estimate.low > UNRECORDED * max(grams.estimate.value, 0.0):
            return CannotTell("unrecorded-corals", "record-the-corals", inputs=(each.event.source,))
    return None


def ever_in(system: str, log: SystemLog, corals: Mapping[str, Coral]) -> dict[str, Coral]:
    """The corals that ever stood in a system, or that its log names."""
    named = {event.coral for event in log.events}
    return {
        id: coral
        for id, coral in corals.items()
        if id in named or any(placement.system == system for placement in coral.placements)
    }


def waters_of(journal: Journal) -> Waters:
    """The waters of a journal."""
    return Waters(journal.systems, journal.logs, journal.corals, journal.settings.time_zone)


def predicted_readings(
    system: System, log: SystemLog, corals: Mapping[str, Coral], at: datetime
) -> dict[str, Estimate]:
    """What a kit should show at a moment of each quantity that coral takes up, by the lines before it alone.

    In the canonical unit, with a 90 % interval that holds the kit's own error. A quantity of which nothing can be
    predicted is left out. `at` is on the keeper's own clock.
    """
    events = [each.event for each in story_of(system, log, corals, at).whole(at)]
    evidence, found = gather(system, counting(log, at.date(), at.tzinfo), events, at)
    predicted = {}
    for kind, track in found.items():
        if track is None or cannot_tell(evidence[kind], track) is not None:
            continue
        level = track.now.of(track.stands)
        shown = replace(level, sd=np.hypot(level.sd, track.kit_error))
        predicted[kind] = as_estimate(shown.interval(), KINDS[kind].canonical)
    return predicted


def known_waters(journal: Journal, as_of: datetime, past: bool = True) -> dict[str, KnownWater]:
    """What is known of every system's water at a moment on the keeper's own clock; `past` as in `analyse_water`."""
    waters = waters_of(journal)
    return {id: waters.known(id, as_of, past) for id in journal.systems}


def even_if_unread(told: Informed, system: System, waters: Waters) -> Informed:
    """An arrival with what it is predicted to take, also in a water that was never read."""
    event, unread = told.event, CannotTell("uptake-not-known", "read-alkalinity")
    coral = waters.corals.get(event.coral or "")
    if told.step is not None or event.what != "arrival" or coral is None:
        return told
    colony, taken = colony_of(coral, event.day), waters.taken_before(coral, event)
    there = factor_of_system({}, unread)
    spot = spot_of(coral.placement_on(event.day), system)
    predicted = followed(taken, colony, system.water, there, spot) if taken else expected(colony, system.water, there)
    if isinstance(predicted, CannotTell):
        return told
    return replace(told, predicted=predicted, step=predicted.alkalinity.estimate)
