"""The events of one water, told one after the other by what was known just before each; and what the large ones did."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta, tzinfo
from functools import cache
from itertools import groupby
from typing import Literal, cast

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import grouped
from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.arrivals.informed import (
    Elsewhere,
    Informed,
    Listed,
    as_read,
    events_listed,
    informed_of,
    own_if_cut,
    part_cut,
    predicted_step,
    recent,
)
from generator.reckon.arrivals.observed import (
    STORY,
    TOGETHER,
    Baseline,
    Foreseen,
    Observed,
    baseline_of,
    if_unchanged,
    observe,
    readings_that_tell,
)
from generator.reckon.dosing.phases import Phase, added_doses
from generator.reckon.finding import CannotTell, Finding, Held
from generator.reckon.water.analysis import OF_SKELETON, gather
from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.estimate import lately
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate

# What is told at a moment, by its place among all that is told: of its own events, and what is revised of those before.
Told = dict[int, Informed]


class SystemStory:
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
        """All events in order of time, as known at a moment."""
        found = self._so_far()
        return tuple(as_read(found, self._later(found, as_of, whole=True)))

    def tell(self, at: datetime) -> Told:
        """What is predicted of the events of one moment."""
        before, now = self._so_far(at), self.before(at)
        found = as_read(before, now if recent(before, now.at) else self._later(before, now.at))
        for each in self._events:
            if each.event.at == at:
                found.append(self._one(each, found, now if each.predicted else None))
        return {place: each for place, each in enumerate(found) if place >= len(before) or each is not before[place]}

    def baseline(self, at: datetime) -> Baseline:
        """What was known just before the events of one moment."""
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
        return baseline_of(self.system, lately(log, at), [each.event for each in found], at)


def story_of(
    system: System, log: SystemLog, corals: Mapping[str, Coral], as_of: datetime, elsewhere: Elsewhere | None = None
) -> SystemStory:
    """The story of a system's events up to a moment, by its whole log."""
    return SystemStory(
        system, corals, events_listed(system, log, corals, as_of), as_of.tzinfo, lambda _: log, elsewhere
    )


# A neighbour in time that moves the demand by less than this share of what an event does is left to the drift. Ours.
COUNTS_BESIDE = 0.25

What = Literal["arrival", "cutting", "loss"]


class Change(Struct, frozen=True):
    """A coral that came, was cut or went; `day` is the keeper's own day of it."""

    system: str
    coral: str
    what: What
    at: datetime
    day: date


class CoralChange(Change, frozen=True):
    """A change that is large for its system, and what is known of it.

    `foreseen` is what the whole coral takes by what was known the day before, `step` what the change
    was then expected to do to the demand for alkalinity (meq/L/day; negative: less; None: not known), and
    `unchanged` where alkalinity would then have gone had the doses stayed as they were.
    `added` are the doses foreseen for an arrival beside those that ran. `plan` is that of the
    readings as it stood at the moment of the change. `observed` is told up to `until`: so long it is the
    change's own story, later other things have happened. `part_assumed` marks a cut of which nobody wrote the mass.
    """

    foreseen: ExpectedUptake | CannotTell
    step: Estimate | None
    unchanged: Forecast | CannotTell | None
    added: Phase | None
    plan: ReadingPlan | None
    observed: Observed | CannotTell
    until: datetime
    part_assumed: bool = False


def by_coral(changes: Iterable[CoralChange]) -> dict[str, tuple[Change, ...]]:
    """The changes of each coral, by its id."""
    return grouped((each.coral, Change(each.system, each.coral, each.what, each.at, each.day)) for each in changes)


def large(every: Iterable[Informed]) -> Iterator[Informed]:
    """Those of the events that are large for their system."""
    return (each for each in every if each.large and each.measured is not None)


def until_of(event: DemandEvent, as_of: datetime) -> datetime:
    """The moment up to which readings are counted as showing an event."""
    return min(as_of, (event.at + STORY).astimezone(as_of.tzinfo))


class Foretold(Struct, frozen=True):
    """What was known of a change at its moment, as `CoralChange` has it; `unknown`: the uptake before it was not."""

    unchanged: Forecast | CannotTell | None
    added: Phase | None
    plan: ReadingPlan | None
    unknown: bool


def foretold(story: SystemStory, told: Informed) -> Foretold:
    """What was known of a change at its moment."""
    event, step, known = told.event, told.step, story.before(told.event.at)
    log = lately(story.log(event.at), event.at)
    return Foretold(
        unchanged=if_unchanged(known, log, step) if step else None,
        added=added_doses(story.system, log, told.predicted.grams_per_day, known.at)
        if event.what == "arrival" and isinstance(told.predicted, ExpectedUptake)
        else None,
        plan=_plan(known, event, step),
        unknown=known.cannot_tell is not None,
    )


def told_change(
    story: SystemStory, told: Informed, then: Foretold, until: datetime, found: Observed | CannotTell | None
) -> CoralChange:
    """A change with all that is known of it."""
    event, coral = told.event, story.corals[str(told.event.coral)]
    return CoralChange(
        system=story.system.id,
        coral=coral.id,
        what=cast(What, event.what),
        at=event.at,
        day=event.day,
        foreseen=told.predicted or CannotTell("uptake-not-known", "read-alkalinity"),
        step=told.step,
        unchanged=then.unchanged,
        added=then.added,
        plan=then.plan,
        observed=found or _unknown_before(event),
        until=until,
        part_assumed=event.what == "cutting" and part_cut(coral, event) is None,
    )


def _unknown_before(event: DemandEvent) -> CannotTell:
    """Why the uptake before an event is not known, and so neither is its change."""
    return CannotTell("not-read-before", "read-before-a-change", inputs=(event.source,))


def _plan(known: Baseline, event: DemandEvent, step: Estimate | None) -> ReadingPlan | None:
    """The readings that tell a change of the size foreseen, as planned at its moment."""
    demand = known.found.demand if known.found else 0.0
    plan = readings_that_tell(known, event.at, step.value if step else event.share * demand)
    return (
        replace(plan, what=event.what, coral=event.coral, timed=event.timed, inputs=(event.source,)) if plan else None
    )


def observed(
    story: SystemStory,
    told: Informed,
    every: Sequence[tuple[DemandEvent, Estimate | None]],
    until: datetime,
    past: bool,
) -> Observed | CannotTell:
    """The effect of an event by the readings, together with the events near it that are not small beside it.

    `every` are the events of the system with the step predicted of each; `past`: `until` is, now is not.
    """
    system, corals, event = story.system, story.corals, told.event
    measured = told.measured or CannotTell("uptake-not-known", "read-alkalinity")
    so_far = [(other, step) for other, step in every if other.at <= until]
    log = lately(story.log(until if past else None), event.at)
    evidence, found = gather(system, log, [other for other, _ in so_far], until, OF_SKELETON)
    known = found["alkalinity"]
    if known is None:
        return CannotTell("no-readings", "read-twice")
    beside = [each for each in so_far if each[0] == event or each[0].share >= COUNTS_BESIDE * event.share]
    steps = {}
    for other, predicted in beside:
        near_by = other.coral in corals and abs(other.at - event.at) <= TOGETHER
        step = (predicted or predicted_step(system, corals, other, measured)) if near_by else None
        if step is not None:
            steps[other] = Foreseen(step.value, step.standard)
    declared = system.smallest_change.alkalinity if system.smallest_change else None
    matters = canonical_value(declared) if declared else None
    seen = observe(evidence["alkalinity"], known, event, [other for other, _ in beside], steps, until, matters)
    before = seen.before.estimate
    if (before.high - before.low) / 2.0 > known.demand:
        return _unknown_before(event)
    return seen


class ArrivalHeld(Held, frozen=True):
    """A large change among the corals: what it was predicted to do to the uptake (meq/L/day) and what it did."""

    system: str
    coral: str
    what: str
    day: date


def arrivals_held(changes: Mapping[str, Iterable[CoralChange]]) -> tuple[ArrivalHeld, ...]:
    """Every large change with both a prediction and a measured result, by day."""
    found = [
        ArrivalHeld(each.step, each.observed.rise.estimate, each.system, each.coral, each.what, each.day)
        for of_system in changes.values()
        for each in of_system
        if each.step is not None and isinstance(each.observed, Observed) and isinstance(each.observed.rise, Finding)
    ]
    return tuple(sorted(found, key=lambda each: (each.day, each.system, each.coral)))
