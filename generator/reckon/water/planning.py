"""The readings worth making of one system: after what changed lately, and next of every quantity."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import groupby

import numpy as np

from generator.reckon.finding import CannotTell
from generator.reckon.water.canonical import kit_error
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.evidence import Evidence
from generator.reckon.water.findings import Forecast, Latest, NextTest, ReadingPlan, WaterFindings
from generator.reckon.water.ledger import in_days
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.uptake import cannot_tell
from generator.reckon.water.when_to_test import next_test, reading_plan
from generator.records.system import System
from generator.units.kinds import WATER_KINDS

# What a plan of readings is made for: changes of at least this share of the demand, since so long. A smaller
# one drowns in the ordinary drift, and what happened longer ago has been told or never will. Choices of ours.
LEAST_SHARE = 0.15
EVENTS_FOR = timedelta(days=14)
DOSES_FOR = timedelta(days=7)
# More plans at once nobody follows: those of the largest changes are kept.
MOST_PLANS = 3

# Which way an event moves demand, where it is known.
LESS = ("cutting", "loss")
STEADY_INFLOWS = ("pump", "top-off", "reactor")


def reading_plans(
    system: System,
    evidence: Mapping[str, Evidence],
    found: Mapping[str, StateEstimate | None],
    events: Sequence[DemandEvent],
    as_of: datetime,
) -> tuple[ReadingPlan, ...]:
    """Plans of readings for each quantity coral takes up, after events and changes of a standing dose.

    What changed on one day counts as one change, named by its largest part.
    """
    plans = []
    for kind, known in found.items():
        if known is None or cannot_tell(evidence[kind], known) is not None:
            continue
        changes = [*_events(evidence[kind], known, events, as_of), *_doses(evidence[kind], known, as_of)]
        changes.sort(key=lambda change: -abs(change.size))
        for change in changes[:MOST_PLANS]:
            error = kit_error(system, evidence[kind].readings[-1], known.kit_error)
            plan = reading_plan(evidence[kind], known, change.since, change.size, error, as_of)
            if plan is not None:
                plans.append(
                    replace(plan, what=change.what, coral=change.coral, inputs=change.inputs, timed=change.timed)
                )
    return tuple(sorted(plans, key=lambda plan: (plan.kind, plan.since)))


def next_tests(
    system: System,
    latest: Mapping[str, Latest],
    forecasts: Mapping[str, Forecast | CannotTell],
    plans: Sequence[ReadingPlan],
    as_of: datetime,
    parted_by: Mapping[str, datetime | None] | None = None,
) -> dict[str, NextTest]:
    """The next reading worth making of every quantity that was read or has a band."""
    found = {}
    for kind in WATER_KINDS:
        if kind in latest or system.low.of(kind) or system.high.of(kind):
            ahead = forecasts.get(kind)
            of_kind = [plan for plan in plans if plan.kind == kind]
            found[kind] = next_test(
                kind,
                latest.get(kind),
                ahead if isinstance(ahead, Forecast) else None,
                of_kind,
                as_of,
                (parted_by or {}).get(kind),
            )
    return found


def _change(evidence: Evidence, since: datetime, size: float, what: str) -> ReadingPlan:
    """A change before there is a plan for it."""
    return ReadingPlan(evidence.kind, since, size, (), (), what)


def _events(
    evidence: Evidence, found: StateEstimate, events: Sequence[DemandEvent], as_of: datetime
) -> Iterator[ReadingPlan]:
    recent = [event for event in events if as_of - EVENTS_FOR <= event.at <= as_of and event.share >= LEAST_SHARE]
    for _, same_day in groupby(recent, key=lambda event: event.day):
        together = list(same_day)
        share = sum(-event.share if event.what in LESS else event.share for event in together)
        before = _demand_before(found, together[0].at)
        if abs(share) >= LEAST_SHARE and before > 0.0:
            largest = max(together, key=lambda event: event.share)
            yield replace(
                _change(evidence, together[-1].at, share * before, largest.what),
                coral=largest.coral,
                timed=all(event.timed for event in together),
                inputs=tuple(event.source for event in together),
            )


def _demand_before(found: StateEstimate, at: datetime) -> float:
    """The demand at the last reading before a moment; 0 if there is none, or if nothing was taken up."""
    index = int(np.searchsorted(found.moments, in_days(at))) - 1
    return max(float(found.middle(found.takes)[index]), 0.0) if index >= 0 else 0.0


def _doses(evidence: Evidence, found: StateEstimate, as_of: datetime) -> Iterator[ReadingPlan]:
    """Each day on which what runs by itself was set to more or less."""
    by_day = defaultdict(list)
    for line in evidence.lines:
        if line.cause in STEADY_INFLOWS:
            rate = line.change / (in_days(line.until) - in_days(line.at))
            by_day[line.at.astimezone(as_of.tzinfo).date()].append((line.at, rate, line.source))
            if line.until < as_of:
                by_day[line.until.astimezone(as_of.tzinfo).date()].append((line.until, -rate, line.source))
    for _, changes in sorted(by_day.items()):
        since, size = max(at for at, _, _ in changes), sum(rate for _, rate, _ in changes)
        if since < as_of - DOSES_FOR:
            continue
        before = _demand_before(found, since)
        if before > 0.0 and abs(size) >= LEAST_SHARE * before:
            inputs = tuple(dict.fromkeys(source for _, _, source in changes))
            yield replace(_change(evidence, since, size, "dose"), inputs=inputs)


def set_last(water: WaterFindings, kind: str) -> datetime | None:
    """When the pumps or reactor that still supply a kind were last set; None if nothing runs."""
    standing = [line for line in water.ledger if line.kind == kind and line.cause in STEADY_INFLOWS]
    running = {line.source for line in standing if line.until == water.as_of}
    # A reactor's line is cut at every reading, so a setting begins with the first of its lines.
    begun = {source: min(line.at for line in standing if line.source == source) for source in running}
    return max(begun.values(), default=None)
