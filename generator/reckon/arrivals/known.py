"""What is known of a system's water at a moment: what was measured, with what is predicted of what came since.

The one way to a system's water for all who ask; `water.survey` alone does not know what corals take.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from generator.reckon.arrivals.informed import Informed, informed
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.survey import gather, survey_water
from generator.reckon.water.uptake import as_estimate, cannot_tell
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate


@dataclass(frozen=True, slots=True)
class KnownWater:
    """A system's water, and the events that may have changed its demand, with what was predicted of each."""

    water: WaterFindings
    events: tuple[Informed, ...]

    @property
    def unread(self) -> tuple[Informed, ...]:
        """The events that no reading of alkalinity has followed yet: so long, what is said of them is predicted."""
        last = self.water.uptake["alkalinity"].last_reading
        return tuple(each for each in self.events if each.step is not None and (last is None or each.event.at >= last))


def known_water(
    system: System, log: SystemLog, corals: Mapping[str, Coral], as_of: datetime, past: bool = True
) -> KnownWater:
    """What is known of one system's water at a moment on the keeper's own clock; `past` as in `survey_water`."""
    events = informed(system, log, corals, as_of)
    water = survey_water(system, log, corals.values(), as_of, [each.event for each in events], past)
    return KnownWater(water, events)


def predicted_readings(
    system: System, log: SystemLog, corals: Mapping[str, Coral], at: datetime
) -> dict[str, Estimate]:
    """What a kit should show at a moment of each quantity that coral takes up, by the lines before it alone.

    In the canonical unit, with a 90 % interval that holds the kit's own error. A quantity of which nothing can be
    predicted is left out. `at` is on the keeper's own clock.
    """
    events = [each.event for each in informed(system, log, corals, at)]
    evidence, found = gather(system, log, events, at)
    predicted = {}
    for kind, track in found.items():
        if track is None or cannot_tell(evidence[kind], track) is not None:
            continue
        level = track.now.of(track.stands)
        shown = replace(level, sd=np.hypot(level.sd, track.kit_error))
        predicted[kind] = as_estimate(shown.interval(), KINDS[kind].canonical)
    return predicted


def known_waters(journal: Journal, as_of: datetime, past: bool = True) -> dict[str, KnownWater]:
    """What is known of the water of every system; `past` as in `survey_water`."""
    return {
        id: known_water(system, journal.log_of(id), journal.corals, as_of, past)
        for id, system in journal.systems.items()
    }
