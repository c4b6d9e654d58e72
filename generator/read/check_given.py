"""Checks of what was given: a piece can be given once, and not out of quarantine."""

from collections.abc import Iterator
from datetime import date

from generator.read.draft import Draft
from generator.records.coral import Coral, Health
from generator.records.problem import Problem
from generator.records.source import Source
from generator.records.trade import Given, Trade


def _given(draft: Draft) -> Iterator[tuple[Trade, Given, Source, Coral]]:
    """Every gift of a coral that has a sound file, oldest first, and where its name stands."""
    for trade in sorted(draft.trades.values(), key=lambda trade: (trade.at, trade.id)):
        for index, given in enumerate(trade.gave):
            coral = draft.corals.get(given.coral)
            if coral is not None:
                yield trade, given, draft.at(trade.source, "gave", index, "coral"), coral


def given_already(draft: Draft) -> Iterator[Problem]:
    """A coral given whole is gone: neither it nor a piece of it can be given again."""
    gone: dict[str, tuple[Trade, Source]] = {}
    for trade, given, source, coral in _given(draft):
        if coral.id in gone:
            before, also = gone[coral.id]
            wrong = f"'{coral.id}' was already given whole on {before.at}"
            yield Problem(source, "given-already", wrong, "mend one of the two", also)
        elif given.whole:
            gone[coral.id] = trade, source


def given_and_kept(draft: Draft) -> Iterator[Problem]:
    """A coral whose end names one trade was not given whole in another."""
    for trade, given, source, coral in _given(draft):
        end = coral.end
        if given.whole and end and end.trade and end.trade != trade.id:
            wrong = f"'{coral.id}' was given whole here, and its end names '{end.trade}'"
            yield Problem(source, "given-already", wrong, "mend one of the two", draft.at(coral.source, "end", "trade"))


def more_given_than_cut(draft: Draft) -> Iterator[Problem]:
    """No more pieces are given than were cut, where every cutting is written down."""
    given_of: dict[str, int] = {}
    for trade, given, source, coral in _given(draft):
        if given.whole or trade.at < coral.arrival.at:
            continue
        given_of[coral.id] = given_of.get(coral.id, 0) + given.pieces
        cut = [cutting for cutting in coral.cuttings if cutting.at <= trade.at]
        pieces = sum(cutting.pieces for cutting in cut)
        if coral.cuttings and given_of[coral.id] > pieces:
            wrong = f"{given_of[coral.id]} pieces of '{coral.id}' were given by {trade.at}, and {pieces} cut"
            also = draft.at(coral.source, "cuttings")
            yield Problem(source, "given-pieces", wrong, "write down the cutting, or mend the number", also)


def given_in_quarantine(draft: Draft) -> Iterator[Problem]:
    """A coral in quarantine is not given, nor is a piece of it."""
    for trade, _, source, coral in _given(draft):
        held = next((health for health in coral.health if _holds(health, coral, trade.at)), None)
        if held is not None:
            until = f"until {held.until}" if held.until else f"from {held.at} on"
            wrong = f"'{coral.id}' was given on {trade.at}, in quarantine {until}"
            remedy = "write 'until:' there if it was over, or mend the date"
            yield Problem(source, "given-quarantine", wrong, remedy, draft.at(held.source, "what"))


def _holds(health: Health, coral: Coral, day: date) -> bool:
    """Whether a quarantine holds on a day: until its written end, or until the coral was noted as well."""
    if health.what != "quarantine" or health.at > day:
        return False
    if health.until is not None:
        return day <= health.until
    return not any(later.what in ("well", "recovery") and health.at < later.at <= day for later in coral.health)
