"""Checks of what was received: a coral comes once, and its own file names the same trade and day."""

from collections.abc import Iterator

from generator.read.draft import Draft
from generator.read.near import did_you_mean
from generator.records.problem import Problem
from generator.records.source import Source
from generator.records.trade import Received, Trade


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
            yield Problem(source, "received", wrong, remedy, severity="warning")


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
            yield Problem(source, "received", wrong, "correct one of the two", also, "warning")


def arrivals_no_trade_brought(draft: Draft) -> Iterator[Problem]:
    """A coral whose arrival names a trade that did not bring it."""
    brought = {(trade.id, got.coral) for trade, got, _ in _received(draft)}
    for coral in draft.corals.values():
        trade = draft.trades.get(coral.arrival.trade or "")
        if trade is not None and (trade.id, coral.id) not in brought:
            wrong = f"the arrival names '{trade.id}', but '{coral.id}' was not received in it"
            remedy = f"add 'coral: {coral.id}' under 'received' there"
            source = draft.at(coral.source, "arrival", "trade")
            yield Problem(source, "received", wrong, remedy, trade.source, "warning")
