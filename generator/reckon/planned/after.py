"""The water of each system once a plan is carried out, by the same function that will say it then."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

from generator.reckon.arrivals.informed import Informed
from generator.reckon.arrivals.known import Waters
from generator.reckon.dosing.phases import DoseRate
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.finding import Answer, CannotTell
from generator.reckon.water.findings import Forecast
from generator.records.carried_out import Told, movers, told_with
from generator.records.journal import Journal
from generator.records.planned import Appointed, Planned

# So long after it is carried out every event of a plan has happened.
_JUST_AFTER = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class After:
    """A system just after a plan is carried out.

    `events` are the plan's own in it, with what each is predicted to do; `before` and `after` are the uptake of
    alkalinity (meq/L/day), `forecast` is where it goes with the doses as they run, `doses` are those that hold it,
    `test` is when to read alkalinity next (None: it was never read).
    """

    system: str
    events: tuple[Informed, ...]
    before: Answer
    after: Answer
    forecast: Forecast | CannotTell
    doses: tuple[DoseRate, ...]
    test: datetime | None


def changes_together(plan: Planned, journal: Journal, at: datetime) -> bool:
    """Whether a plan takes something out of a water, or brings more than one colony, so that their sum counts."""
    leaves = any(given.whole for given in plan.going) or bool(movers(plan, journal.corals, at.date()))
    return leaves or len(plan.coming) > 1


def afters(
    plan: Planned, chosen: Mapping[str, str], journal: Journal, before: Mapping[str, Answer], at: datetime
) -> tuple[After, ...]:
    """Every system that a plan changes, at the moment (on the keeper's own clock) it is carried out.

    `chosen` is the system of each newcomer, as decided or the best; `before` the uptake today by system.
    """
    coming = tuple(replace(new, system=new.system or chosen.get(new.coral)) for new in plan.coming)
    when = Appointed(at.date(), at.astimezone(UTC))
    told = told_with(Told(journal.corals, journal.trades, journal.logs), replace(plan, coming=coming), when)
    names = {new.coral for new in coming} | {given.coral for given in plan.going if given.whole}
    names |= {coral.id for _, coral in movers(plan, journal.corals, at.date())}
    then, found = at + _JUST_AFTER, []
    waters = Waters(journal.systems, told.logs, told.corals, journal.settings.time_zone)
    for id, system in journal.systems.items():
        log = waters.log_of(id)
        if not any(event.at == when.at and event.coral in names for event in log.events):
            continue
        known = waters.known(id, then, past=False)
        plan_after = dosing_plan(system, log.until(then), known.water, then)
        found.append(
            After(
                id,
                tuple(each for each in known.events if each.event.coral in names and each.event.at == when.at),
                before[id],
                known.water.uptake["alkalinity"].per_day,
                known.water.forecasts["alkalinity"],
                plan_after.phases[-1].doses if isinstance(plan_after, Plan) else (),
                plan_after.next_test.at - _JUST_AFTER if isinstance(plan_after, Plan) else None,
            )
        )
    return tuple(found)
