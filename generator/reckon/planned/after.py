"""The water of each system once a plan is carried out, by the same function that will say it then."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from math import inf

from generator.reckon.arrivals.baseline import baseline_of
from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import ExpectedUptake, expected, factor, followed
from generator.reckon.arrivals.informed import Informed
from generator.reckon.arrivals.known import Waters
from generator.reckon.arrivals.of_place import spot_of
from generator.reckon.dosing.analysis import DosingFindings
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.planned.steps import Steps, steps
from generator.reckon.water.stoichiometry import GRAMS_PER_MEQ
from generator.reckon.water.uptake import uptake as uptake_of
from generator.records.carried_out import Told, movers, told_with
from generator.records.journal import Journal
from generator.records.planned import Appointed, Planned
from generator.records.system import System
from generator.units.quantity import Estimate

# So long after it is carried out every event of a plan has happened.
_JUST_AFTER = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class After:
    """A system just after a plan is carried out.

    `events` are the plan's own in it, with what each is predicted to do; `before` and `after` are the uptake of
    alkalinity (meq/L/day) on either side of it, `steps` what to do about all of them together (None: nothing is
    predicted of any).
    """

    system: str
    events: tuple[Informed, ...]
    before: Answer
    after: Answer
    steps: Steps | None


def changes_together(plan: Planned, journal: Journal, at: datetime) -> bool:
    """Whether a plan takes something out of a water, or brings more than one colony, so that their sum counts."""
    leaves = any(given.whole for given in plan.going) or bool(movers(plan, journal.corals, at.date()))
    return leaves or len(plan.coming) > 1


def afters(
    plan: Planned,
    chosen: Mapping[str, str],
    journal: Journal,
    dosing: Mapping[str, DosingFindings],
    told: Mapping[str, Sequence[Informed]],
    at: datetime,
) -> tuple[After, ...]:
    """Every system that a plan changes, at the moment (on the keeper's own clock) it is carried out.

    `chosen` is the system of each newcomer, as decided or the best; `dosing` and `told` are the plan and
    the events today, by system.
    """
    coming = tuple(replace(new, system=new.system or chosen.get(new.coral)) for new in plan.coming)
    when = Appointed(at.date(), at.astimezone(UTC))
    done = told_with(Told(journal.corals, journal.trades, journal.logs), replace(plan, coming=coming), when)
    names = {new.coral for new in coming} | {given.coral for given in plan.going if given.whole}
    names |= {coral.id for _, coral in movers(plan, journal.corals, at.date())}
    then, found = at + _JUST_AFTER, []
    waters = Waters(journal.systems, done.logs, done.corals, journal.settings.time_zone)
    for id, system in journal.systems.items():
        log = waters.log_of(id)
        if not any(event.at == when.at and event.coral in names for event in log.events):
            continue
        known = waters.known(id, then, past=False)
        its = (each for each in known.events if each.event.coral in names and each.event.at == when.at)
        own = tuple(_unread(each, system, waters) for each in its)
        baseline = baseline_of(system, journal.log_of(id), [each.event for each in told[id]], at)
        before = uptake_of(baseline.alkalinity, baseline.found, system.water, at, past=False).per_day
        changed = _changed(system, own, before)
        found.append(
            After(
                id,
                own,
                before,
                known.water.uptake["alkalinity"].per_day,
                steps(system, log, baseline, changed, dosing[id].plan, known.water, at) if changed else None,
            )
        )
    return tuple(found)


def _unread(told: Informed, system: System, waters: Waters) -> Informed:
    """An arrival with what it is predicted to take, in a water too that was never read."""
    event, unread = told.event, CannotTell("uptake-not-known", "read-alkalinity")
    coral = waters.corals.get(event.coral or "")
    if told.step is not None or event.what != "arrival" or coral is None:
        return told
    colony, taken = colony_of(coral, event.day), waters.taken_before(coral, event)
    there = factor({}, unread)
    spot = spot_of(coral.placement_on(event.day), system)
    predicted = followed(taken, colony, system.water, there, spot) if taken else expected(colony, system.water, there)
    if isinstance(predicted, CannotTell):
        return told
    return replace(told, predicted=predicted, step=predicted.alkalinity.estimate)


def _changed(system: System, events: Sequence[Informed], before: Answer) -> tuple[Finding, Estimate] | None:
    """What events do to the uptake together, g CaCO3/day and meq/L/day; no more can fall away than was taken up."""
    least = -max(before.estimate.value, 0.0) if isinstance(before, Finding) else -inf
    values = [each.step for each in events if each.step is not None]
    if not values:
        return None
    value = sum(step.value for step in values)
    below = sum((step.value - step.low) ** 2 for step in values) ** 0.5
    above = sum((step.high - step.value) ** 2 for step in values) ** 0.5
    low, middle, high = (max(each, least) for each in (value - below, value, value + above))
    step = Estimate(middle, low, high, values[0].unit)
    grams = step.scaled(GRAMS_PER_MEQ * system.water.volume.canonical(), "g/day")
    inputs = [s for e in events if isinstance(e.predicted, ExpectedUptake) for s in e.predicted.grams_per_day.inputs]
    return Finding(grams, "expected-uptake", tuple(dict.fromkeys(inputs))), step
