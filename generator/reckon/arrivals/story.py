"""The events of one water, told one after the other, each by what was known just before it.

What is told of an event rests on the lines before it alone. A story asks for each of its parts, so that those of old
events stay as they are with a new reading.
"""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta, tzinfo
from functools import cache
from itertools import groupby

from generator.reckon.arrivals.informed import (
    Elsewhere,
    Informed,
    Listed,
    as_read,
    events_listed,
    informed_of,
    near,
    own_if_cut,
    recent,
)
from generator.reckon.arrivals.observed import STORY, Baseline, baseline_of
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.system import System

# What is told at a moment, by its place among all that is told: of its own events, and what is revised of those before.
Told = dict[int, Informed]


class Story:
    """The events of a system, with its corals. Days are those of the keeper's zone."""

    def __init__(
        self,
        system: System,
        corals: Mapping[str, Coral],
        events: Sequence[Listed],
        zone: tzinfo | None,
        log: Callable[[datetime | None], SystemLog],
        elsewhere: Elsewhere | None = None,
        told: Callable[[datetime], Told] | None = None,
        before: Callable[[datetime], Baseline] | None = None,
    ) -> None:
        """`log` gives the system's log up to a moment, with all its events, or all of it (None).

        `elsewhere` tells what a coral took that came from another of the keeper's waters. `told` and `before` answer as
        `tell` and `baseline`, where somebody remembers those.
        """
        self.system, self.corals, self.log = system, corals, log
        self._events, self._zone, self._elsewhere = events, zone, elsewhere
        self.told, self.before = told or cache(self.tell), before or cache(self.baseline)

    def whole(self, as_of: datetime) -> tuple[Informed, ...]:
        """Every event, in order of time, as it is told at a moment."""
        found = self._so_far()
        return tuple(as_read(found, self._later(found, as_of, whole=True)))

    def tell(self, at: datetime) -> Told:
        """What is told of the events of a moment."""
        before, now = self._so_far(at), self.before(at)
        found = as_read(before, now if recent(before, now.at) else self._later(before, now.at))
        for each in self._events:
            if each.event.at == at:
                found.append(self._one(each, found, now if each.predicted else None))
        return {place: each for place, each in enumerate(found) if place >= len(before) or each is not before[place]}

    def baseline(self, at: datetime) -> Baseline:
        """What was known just before the events of a moment."""
        moment = (at - timedelta(seconds=1)).astimezone(self._zone)
        return self._known(self._so_far(at), self.log(moment), moment)

    def _so_far(self, until: datetime | None = None) -> list[Informed]:
        """All that was told before a moment."""
        found: list[Informed] = []
        for at, group in groupby(self._events, key=lambda each: each.event.at):
            if until is not None and at >= until:
                break
            here = list(group)
            if any(each.predicted for each in here):
                for place, each in self.told(at).items():
                    found[place : place + 1] = [each]
            else:
                for listed in here:
                    found.append(self._one(listed, found))
        return found

    def _one(self, each: Listed, found: Sequence[Informed], baseline: Baseline | None = None) -> Informed:
        if baseline is None:
            return Informed(each.event, own=own_if_cut(self.corals, each.event, found))
        return informed_of(self.system, self.corals, each, found, baseline, self._elsewhere)

    def _later(self, found: Sequence[Informed], until: datetime, whole: bool = False) -> Baseline | None:
        """What was known at the last reading within `STORY` of the last predicted arrival; None without any."""
        told = [each.event for each in found if each.measured]
        at = next((event.at for event in reversed(told) if event.what == "arrival"), None)
        # What happened long after it has asked this already.
        if at is None or told[-1].at - at > STORY:
            return None
        end = min(until, at + STORY)
        log = self.log(None if whole and end == until else end)
        read = [each.at for each in log.readings if each.kind == "alkalinity" and at < each.at <= end]
        return self._known(found, log, read[-1].astimezone(self._zone)) if read else None

    def _known(self, found: Sequence[Informed], log: SystemLog, at: datetime) -> Baseline:
        return baseline_of(self.system, near(log, at), [each.event for each in found], at)


def story_of(
    system: System, log: SystemLog, corals: Mapping[str, Coral], as_of: datetime, elsewhere: Elsewhere | None = None
) -> Story:
    """The story of a system's events up to a moment, by its whole log."""
    return Story(system, corals, events_listed(system, log, corals, as_of), as_of.tzinfo, lambda _: log, elsewhere)
