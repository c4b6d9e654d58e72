"""Checks of new corals that are due and not recorded: after one day, two weeks, two months."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from generator.reckon.trade.outcomes import AFTER_DAYS
from generator.records.coral import Coral
from generator.records.source import Source
from generator.records.trade import Trade

# Days after which a missed check says little about the trip.
FORGOTTEN_AFTER = timedelta(days=60)
_LOOKS = tuple(days for days in AFTER_DAYS if days > 0)


@dataclass(frozen=True, slots=True)
class StateCheck:
    """A coral that came by a trade, and the check that is due, since when."""

    trade: str
    coral: str
    days: int
    due: date
    source: Source


def state_checks(trades: Iterable[Trade], corals: Mapping[str, Coral], today: date) -> tuple[StateCheck, ...]:
    """The check due for each received coral that still lives here, unless it or a later one is recorded."""
    found = []
    for trade in trades:
        for got in trade.received:
            coral = corals.get(got.coral)
            if coral is None or not coral.lives_on(today):
                continue
            written = max((s.days for s in trade.checks if s.coral in (None, coral.id)), default=-1)
            past = [days for days in _LOOKS if trade.at + timedelta(days=days) <= today]
            if past and written < past[-1]:
                due = trade.at + timedelta(days=past[-1])
                if today - due <= FORGOTTEN_AFTER:
                    found.append(StateCheck(trade.id, coral.id, past[-1], due, got.source))
    return tuple(sorted(found, key=lambda check: (check.due, check.trade, check.coral)))
