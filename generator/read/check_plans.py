"""Checks of the plans: who and what, on which day, and what is planned twice or has happened already."""

from collections.abc import Iterator

from generator.read.draft import Draft
from generator.read.messages import did_you_mean
from generator.read.plausible import warn
from generator.records.carried_out import movers, promise_kept
from generator.records.planned import Newcomer, Planned
from generator.records.source import Problem, Source


def _open(draft: Draft) -> Iterator[Planned]:
    """The plans that have not arrived and are not dropped."""
    yield from (plan for plan in draft.plans.values() if plan.arrived is None and plan.dropped is None)


def _newcomers(draft: Draft) -> Iterator[tuple[Planned, Newcomer]]:
    for plan in draft.plans.values():
        yield from ((plan, new) for new in plan.coming)


def plans_of_nothing(draft: Draft) -> Iterator[Problem]:
    """A plan in which nothing comes, goes or moves."""
    for plan in draft.plans.values():
        if not (plan.coming or plan.going or plan.moving):
            yield Problem(plan.source, "plan", "nothing comes, goes or moves", "add 'coming', 'going' or 'moving'")


def plans_on_impossible_days(draft: Draft) -> Iterator[Problem]:
    """A future day for something past, an arrival before the plan, or an agreed day that is over."""
    for plan in draft.plans.values():
        for key, day in (("since", plan.since), ("dropped", plan.dropped)):
            if day is not None and day > draft.today:
                wrong = f"the day {day} is in the future; today is {draft.today}"
                yield Problem(draft.at(plan.source, key), "future", wrong, "correct the date")
        if plan.arrived and not plan.arrived.come_by(draft.now, draft.zone):
            wrong = "an arrival in the future has not happened yet"
            yield Problem(draft.at(plan.source, "arrived"), "future", wrong, "write 'date:' instead of 'arrived:'")
        appointed = {"date": plan.date, "arrived": plan.arrived}
        for key, day in (("dropped", plan.dropped), *((key, on.day) for key, on in appointed.items() if on)):
            if day is not None and plan.since is not None and day < plan.since:
                wrong = f"{key} on {day}, before it was planned on {plan.since}"
                source, also = draft.at(plan.source, key), draft.at(plan.source, "since")
                yield Problem(source, "plan", wrong, "correct one of the two", also)
        if plan.date and plan.stage == "agreed" and not plan.dropped and plan.date.day < draft.today:
            wrong = f"the agreed day, {plan.date.day}, is over"
            remedy = "add 'arrived:' with day and time, or change the date"
            yield warn(draft.at(plan.source, "date"), "plan", wrong, remedy)


def newcomers_twice(draft: Draft) -> Iterator[Problem]:
    """A colony that two plans bring, or that is here already."""
    known: dict[str, Source] = {}
    for plan, new in _newcomers(draft):
        source = draft.at(new.source, "coral")
        first = known.setdefault(new.coral, source)
        if first != source and not plan.dropped:
            wrong = f"'{new.coral}' is already coming with another plan"
            yield Problem(source, "plan", wrong, "change the id of one of the two", first)
        coral = draft.corals.get(new.coral)
        if coral is None or plan.arrived or plan.dropped:
            continue
        wrong = f"'{new.coral}' is already here since {coral.arrival.at}"
        remedy = "add 'arrived:' with day and time, or change the id"
        yield Problem(source, "plan", wrong, remedy, coral.source)


def newcomers_without_mass(draft: Draft) -> Iterator[Problem]:
    """A mass of 0."""
    for _, new in _newcomers(draft):
        if new.mass is not None and new.mass.canonical() <= 0.0:
            source = draft.at(new.source, "mass")
            yield Problem(source, "plan", f"a mass cannot be {new.mass}", "delete the line until it is weighed")


def newcomers_without_a_system(draft: Draft) -> Iterator[Problem]:
    """A colony that has arrived is in a system."""
    for plan, new in _newcomers(draft):
        if plan.arrived and new.system is None and new.source == _own_source(draft, new):
            wrong = f"'{new.coral}' has arrived, but is in no system"
            yield Problem(new.source, "plan", wrong, f"add 'system: {_a_system(draft)}'")
        elif new.place and new.system is None:
            wrong = f"the place '{new.place}' has no system"
            yield Problem(draft.at(new.source, "place"), "plan", wrong, f"add 'system: {_a_system(draft)}'")


def _own_source(draft: Draft, new: Newcomer) -> Source | None:
    """The source of a coral that has arrived; one with its own file records its place there."""
    coral = draft.corals.get(new.coral)
    return coral.source if coral else None


def _a_system(draft: Draft) -> str:
    return next(iter(sorted(draft.systems)), "…")


def goings_that_cannot_be(draft: Draft) -> Iterator[Problem]:
    """A coral that is going is here and goes to a partner; a coral that is moving is here and moves elsewhere."""
    for plan in _open(draft):
        day = plan.date.day if plan.date else draft.today
        if plan.going and plan.partner is None and plan.date:
            wrong = "something is going, but to no partner"
            yield Problem(draft.at(plan.source, "going", of_key=True), "plan", wrong, "add 'partner: …'")
        for index, given in enumerate(plan.going):
            coral = draft.corals.get(given.coral)
            if coral is not None and coral.end is not None and coral.end.at <= day:
                wrong = f"'{given.coral}' is going, but its end is on {coral.end.at}"
                source, also = draft.at(plan.source, "going", index, "coral"), draft.at(coral.source, "end", "at")
                yield Problem(source, "plan", wrong, "correct one of the two", also)
        for move, coral in movers(plan, draft.corals, day):
            standing = coral.placement_on(day)
            if standing is None or (standing.system == move.to and move.place in (None, standing.place)):
                wrong = (
                    f"'{coral.id}' is moving, but is not here"
                    if standing is None
                    else (f"'{coral.id}' is moving to its own place")
                )
                yield Problem(draft.at(move.source, "to"), "plan", wrong, "correct the move")


def moves_of_what(draft: Draft) -> Iterator[Problem]:
    """A move names one coral, or a system with all its corals."""
    for plan in draft.plans.values():
        for move in plan.moving:
            if (move.coral is None) == (move.all_of is None):
                wrong = "a move needs either 'coral' or 'all_of'"
                yield Problem(move.source, "plan", wrong, "write 'coral:' with its id, or 'all_of:' with a system")


def promises_not_kept_by_plans(draft: Draft) -> Iterator[Problem]:
    """The promise that a plan keeps is in the trade it names, and made by the right side."""
    for plan in draft.plans.values():
        if plan.promise is None:
            continue
        source, trade = draft.at(plan.source, "keeps"), draft.trades.get(plan.promise[0])
        if trade is None:
            if plan.promise[0] not in draft.names.get("trades", ()):
                wrong = f"there is no trade '{plan.promise[0]}'"
                remedy = did_you_mean(plan.promise[0], draft.trades, "write the id of the trade with the promise")
                yield Problem(source, "unknown-reference", wrong, remedy)
            continue
        number = promise_kept(trade, plan)
        if number is None:
            by = "us" if plan.going else "them"
            open_ones = [n for n, owed in enumerate(trade.owed, 1) if owed.by == by and owed.settled is None]
            wrong = f"it is not clear which promise of '{trade.id}' it keeps"
            ways = " or ".join(f"{trade.id}/{n}" for n in open_ones)
            remedy = f"write {ways}" if open_ones else f"delete the line: that trade has no open promise by {by}"
            yield Problem(source, "plan", wrong, remedy, trade.source)
        elif plan.arrived is None and not plan.dropped and trade.owed[number - 1].settled is not None:
            wrong = f"this promise was kept on {trade.owed[number - 1].settled}"
            yield Problem(
                source, "plan", wrong, "add 'arrived:' here, or correct the id", trade.owed[number - 1].source
            )
