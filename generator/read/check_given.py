"""Checks of what was given and received: it exists, it goes or comes once, and files agree about it."""

from collections.abc import Iterator
from datetime import date

from generator.read.draft import Draft
from generator.read.messages import did_you_mean
from generator.read.plausible import warn
from generator.records.coral import Coral, Health
from generator.records.source import Problem, Source
from generator.records.trade import Given, Received, Trade


def _given(draft: Draft) -> Iterator[tuple[Trade, Given, Source, Coral]]:
    """Every gift of a coral with a valid file, oldest first, with the position of its name."""
    for trade in sorted(draft.trades.values(), key=lambda trade: (trade.at, trade.id)):
        for index, given in enumerate(trade.gave):
            coral = draft.corals.get(given.coral)
            if coral is not None:
                yield trade, given, draft.at(trade.source, "gave", index, "coral"), coral


def _here(coral: Coral, day: date) -> bool:
    return coral.arrival.at <= day and (coral.end is None or day <= coral.end.at)


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
        if coral.id in gone or not _here(coral, trade.at):
            continue
        given_so_far = given_of[coral.id] = given_of.get(coral.id, 0) + given.frags
        cut = [cutting for cutting in coral.cuttings if cutting.at <= trade.at]
        frags, kept = sum(cutting.frags for cutting in cut), sum(len(cutting.into) for cutting in cut)
        if given_so_far > frags - kept:
            given_away = f"{given_so_far} frag{'' if given_so_far == 1 else 's'} of '{coral.id}' given"
            of_those = f" and {kept} of them kept" if kept else ""
            wrong = f"{given_away} by {trade.at}, but {frags} cut{of_those}"
            also = draft.at(coral.source, "cuttings") if coral.cuttings else coral.source
            yield Problem(source, "given-frags", wrong, "record the cutting, or correct the number", also)


def given_in_quarantine(draft: Draft) -> Iterator[Problem]:
    """A coral in quarantine, or a frag of it, that was given away."""
    for trade, _, source, coral in _given(draft):
        held = next((health for health in coral.health if _holds(health, coral, trade.at)), None)
        if held is not None:
            until = f"until {held.until}" if held.until else f"from {held.at} on"
            wrong = f"'{coral.id}' was given away on {trade.at}, in quarantine {until}"
            remedy = "write 'until:' there if quarantine was over, or correct the date"
            yield Problem(source, "given-quarantine", wrong, remedy, draft.at(held.source, "what"))


def _holds(health: Health, coral: Coral, day: date) -> bool:
    """Whether a quarantine holds on a day: until its recorded end, or until the coral was recorded as well."""
    if health.what != "quarantine" or health.at > day:
        return False
    if health.until is not None:
        return day <= health.until
    return not any(later.what in ("well", "recovery") and health.at < later.at <= day for later in coral.health)


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
