"""Checks of the plans, and of what was given and received: it exists, goes or comes once, and files agree about it."""

from collections.abc import Iterator
from datetime import date
from itertools import islice

from generator.read.draft import Draft
from generator.read.messages import did_you_mean
from generator.read.plausible import warn
from generator.records.carried_out import movers, promise_kept
from generator.records.coral import Coral, Health
from generator.records.source import Problem, Source
from generator.records.trade import Given, Newcomer, Planned, Received, Trade


def _open(draft: Draft) -> Iterator[Planned]:
    """The plans that have not arrived and are not dropped."""
    yield from (plan for plan in draft.plans.values() if plan.arrived is None and plan.dropped is None)


def _newcomers(draft: Draft) -> Iterator[tuple[Planned, Newcomer]]:
    for plan in draft.plans.values():
        yield from ((plan, new) for new in plan.coming)


def empty_plans(draft: Draft) -> Iterator[Problem]:
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
        moved = movers(plan, draft.corals, day)
        for move in plan.moving:
            if move.all_of in draft.systems and not any(each is move for each, _ in moved):
                wrong = f"no coral is in '{move.all_of}' on {day} that could move to '{move.to}'"
                remedy = "name another system, or delete the move"
                yield warn(draft.at(move.source, "all_of"), "plan", wrong, remedy)
        for move, coral in moved:
            standing = coral.placement_on(day)
            if standing is None or (standing.system == move.to and move.place in (None, standing.place)):
                wrong = (
                    f"'{coral.id}' is moving, but is not here"
                    if standing is None
                    else (f"'{coral.id}' is moving to its own place")
                )
                yield Problem(draft.at(move.source, "to"), "plan", wrong, "correct the move")


def moves_without_one_subject(draft: Draft) -> Iterator[Problem]:
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


def _given(draft: Draft) -> Iterator[tuple[Trade, Given, Source, Coral]]:
    """Every gift of a coral with a valid file, oldest first, with the position of its name."""
    for trade in sorted(draft.trades.values(), key=lambda trade: (trade.at, trade.id)):
        for index, given in enumerate(trade.gave):
            coral = draft.corals.get(given.coral)
            if coral is not None:
                yield trade, given, draft.at(trade.source, "gave", index, "coral"), coral


def given_already(draft: Draft) -> Iterator[Problem]:
    """A coral given whole is gone: neither it nor a frag of it can be given again."""
    gone: dict[str, tuple[Trade, Source]] = {}
    for trade, given, source, coral in _given(draft):
        if coral.id in gone:
            before, also = gone[coral.id]
            wrong = f"'{coral.id}' was already given away whole on {before.at}"
            yield Problem(source, "given-already", wrong, "correct one of the two", also)
        elif given.whole:
            gone[coral.id] = trade, source


def given_and_kept(draft: Draft) -> Iterator[Problem]:
    """A coral given whole must end as given, and its end must not name another trade."""
    for trade, given, source, coral in _given(draft):
        end = coral.end
        if not given.whole or end is None:
            continue
        if end.trade and end.trade != trade.id:
            wrong = f"'{coral.id}' was given away whole here, but its end names '{end.trade}'"
            yield Problem(
                source, "given-already", wrong, "correct one of the two", draft.at(coral.source, "end", "trade")
            )
        elif end.at >= trade.at and end.how not in ("given", "sold"):
            wrong = f"'{coral.id}' was given away whole on {trade.at}, but its end is '{end.how}' on {end.at}"
            yield Problem(
                source, "given-already", wrong, "correct one of the two", draft.at(coral.source, "end", "how")
            )
        elif end.at > trade.at:
            wrong = f"'{coral.id}' was given away whole on {trade.at}, but its end is on {end.at}"
            also = draft.at(coral.source, "end", "at")
            yield warn(source, "trade-day", wrong, "correct one of the two", also)


def ends_without_a_gift(draft: Draft) -> Iterator[Problem]:
    """A coral whose end names a trade must be given whole in it."""
    whole = {(trade.id, given.coral) for trade, given, _, _ in _given(draft) if given.whole}
    for coral in draft.corals.values():
        trade = draft.trades.get(coral.end.trade or "") if coral.end else None
        if trade is not None and (trade.id, coral.id) not in whole:
            wrong = f"the end names '{trade.id}', but '{coral.id}' was not given away whole in it"
            remedy = f"add 'coral: {coral.id}, whole: true' under 'gave' there, or correct the end"
            yield Problem(draft.at(coral.source, "end", "trade"), "given", wrong, remedy, trade.source)


def no_pieces_given(draft: Draft) -> Iterator[Problem]:
    """A gift is one frag or more, or one whole coral."""
    for _, given, source, coral in _given(draft):
        if given.frags == 0:
            yield Problem(source, "given-frags", f"0 frags of '{coral.id}' were given", "write how many")
        elif given.whole and given.frags > 1:
            wrong = f"'{coral.id}' cannot be given whole and as {given.frags} frags"
            yield Problem(source, "given-frags", wrong, "write 'whole' or 'frags'", draft.at(given.source, "frags"))


def more_given_than_cut(draft: Draft) -> Iterator[Problem]:
    """More frags given away than were cut and did not become corals of their own."""
    given_of: dict[str, int] = {}
    gone: set[str] = set()
    for trade, given, source, coral in _given(draft):
        gone |= {coral.id} if given.whole else set()
        if coral.id in gone or not (coral.arrival.at <= trade.at and (coral.end is None or trade.at <= coral.end.at)):
            continue
        given_so_far = given_of[coral.id] = given_of.get(coral.id, 0) + given.frags
        cut = [cutting for cutting in coral.cuttings if cutting.at <= trade.at]
        frags, kept = sum(cutting.frags for cutting in cut), sum(len(cutting.into) for cutting in cut)
        if given_so_far > frags - kept:
            given_away = f"{given_so_far} frag{'' if given_so_far == 1 else 's'} of '{coral.id}' given"
            of_those = f" and {kept} of them kept" if kept else ""
            wrong = f"{given_away} by {trade.at}, but {frags} cut{of_those}"
            also = draft.at(coral.source, "cuttings") if coral.cuttings else coral.source
            remedy = "record the cutting, or correct the number"
            if kept:
                into = next(id for cutting in cut for id in cutting.into)
                remedy = f"name the frag, as in {{coral: {into}, whole: true}}, or correct the number"
            yield Problem(source, "given-frags", wrong, remedy, also)


def given_in_quarantine(draft: Draft) -> Iterator[Problem]:
    """A coral in quarantine, or a frag of it, that was given away."""
    for trade, _, source, coral in _given(draft):
        holding = ((n, health) for n, health in enumerate(coral.health) if _holds(health, coral, trade.at))
        for n, held in islice(holding, 1):
            until = f"until {held.until}" if held.until else f"from {held.at} on"
            wrong = f"'{coral.id}' was given away on {trade.at}, in quarantine {until}"
            remedy = "write 'until:' there if quarantine was over, or correct the date"
            yield Problem(source, "given-quarantine", wrong, remedy, draft.at(coral.source, "health", n, "what"))


def _holds(health: Health, coral: Coral, day: date) -> bool:
    """Whether a quarantine holds on a day: until its recorded end, or until the coral was well or had recovered."""
    if health.what != "quarantine" or health.at > day:
        return False
    if health.until is not None:
        return day <= health.until
    ends = (later.until or later.at for later in coral.health if later.what in ("well", "recovery"))
    return not any(health.at < end <= day for end in ends)


def _received(draft: Draft) -> Iterator[tuple[Trade, Received, Source]]:
    """Everything that came, oldest first, with the position of its name."""
    for trade in sorted(draft.trades.values(), key=lambda trade: (trade.at, trade.id)):
        for index, got in enumerate(trade.received):
            yield trade, got, draft.at(trade.source, "received", index, "coral")


def received_without_a_file(draft: Draft) -> Iterator[Problem]:
    """Each received coral needs a file; the trade may be recorded first."""
    known = draft.names.get("corals", set())
    for _, got, source in _received(draft):
        if got.coral not in known:
            remedy = did_you_mean(got.coral, known, f"take in its record of origin, or make corals/{got.coral}.yaml")
            wrong = f"there is no coral '{got.coral}' yet"
            yield warn(source, "received", wrong, remedy)


def received_twice(draft: Draft) -> Iterator[Problem]:
    """A coral is received once; one that left and came back has a second file."""
    came: dict[str, tuple[Trade, Source]] = {}
    for trade, got, source in _received(draft):
        if got.coral in came:
            before, also = came[got.coral]
            wrong = f"'{got.coral}' was already received on {before.at}"
            yield Problem(source, "received", wrong, "correct one of the two", also)
        came.setdefault(got.coral, (trade, source))


def received_otherwise(draft: Draft) -> Iterator[Problem]:
    """A received coral whose own file names another trade or day."""
    for trade, got, source in _received(draft):
        coral = draft.corals.get(got.coral)
        if coral is None:
            continue
        arrival = coral.arrival
        if arrival.trade and arrival.trade != trade.id:
            wrong = f"'{coral.id}' was received here, but its arrival names '{arrival.trade}'"
            also = draft.at(coral.source, "arrival", "trade")
            yield Problem(source, "received", wrong, "correct one of the two", also)
        elif not arrival.trade and arrival.at != trade.at:
            wrong = f"'{coral.id}' was received on {trade.at}, but its file says {arrival.at}"
            also = draft.at(coral.source, "arrival", "at")
            yield warn(source, "received", wrong, "correct one of the two", also)


def arrivals_no_trade_brought(draft: Draft) -> Iterator[Problem]:
    """A coral whose arrival names a trade that did not bring it."""
    brought = {(trade.id, got.coral) for trade, got, _ in _received(draft)}
    for coral in draft.corals.values():
        trade = draft.trades.get(coral.arrival.trade or "")
        if trade is not None and (trade.id, coral.id) not in brought:
            wrong = f"the arrival names '{trade.id}', but '{coral.id}' was not received in it"
            remedy = f"add 'coral: {coral.id}' under 'received' there"
            source = draft.at(coral.source, "arrival", "trade")
            yield warn(source, "received", wrong, remedy, trade.source)
