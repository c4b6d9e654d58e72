"""The lines that the loss of one coral, or of one system, would end here."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from generator.reckon.lineage.family import Family
from generator.records.coral import Coral
from generator.records.source import Source
from generator.records.trade import Trade


@dataclass(frozen=True, slots=True)
class Holder:
    """A partner who has, or had, a coral of a line and could give one back: they got it from us, or gave us ours."""

    partner: str
    since: date
    how: Literal["got-from-us", "gave-us"]
    inputs: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class AtRisk:
    """A line that the loss of one `piece` or one `system` would end, and who could give one back.

    `pieces` are its living corals, `system` is where they are (None: not recorded), `since` the day the line
    came, `wild` whether it was collected from the sea (CITES source code W).
    """

    line: str
    by: Literal["piece", "system"]
    pieces: tuple[str, ...]
    system: str | None
    holders: tuple[Holder, ...]
    since: date
    wild: bool
    inputs: tuple[Source, ...]


def lines_at_risk(
    families: Mapping[str, Family], corals: Mapping[str, Coral], trades: Iterable[Trade], as_of: date
) -> tuple[AtRisk, ...]:
    """Lines that one loss would end, the hardest to replace first.

    The order: fewer partners who hold one, then one coral before one system, then wild origin, then the
    longest kept.
    """
    received = received_from(trades, as_of)
    found = []
    for line, family in families.items():
        living = family.living
        systems = {piece.system for piece in living}
        if not living or (len(living) > 1 and len(systems) > 1):
            continue
        found.append(
            AtRisk(
                line,
                "piece" if len(living) == 1 else "system",
                tuple(piece.coral for piece in living),
                next(iter(systems)),
                holders(family, corals, received),
                min(piece.since for piece in family.pieces.values()),
                any(_wild(corals[id]) for id in family.pieces if id in corals),
                tuple(piece.source for piece in living),
            )
        )
    return tuple(sorted(found, key=lambda r: (len(r.holders), r.by != "piece", not r.wild, r.since, r.line)))


def holders(
    family: Family, corals: Mapping[str, Coral], received: Mapping[str, tuple[str, Source]]
) -> tuple[Holder, ...]:
    """Partners who hold a coral of a line, each once, with the last one given or received; by name.

    `received` gives the partner and the line of the trade for a coral that came in one.
    """
    passed: list[Holder] = []
    for piece in family.pieces.values():
        for gift in piece.given:
            passed.append(Holder(gift.partner, gift.at, "got-from-us", (gift.source,)))
        coral = corals.get(piece.coral)
        if coral is None:
            continue
        if piece.fate == "given" and piece.partner and piece.until:
            passed.append(Holder(piece.partner, piece.until, "got-from-us", (coral.source,)))
        giver, source = received.get(piece.coral, (coral.arrival.partner, coral.arrival.source))
        if giver:
            passed.append(Holder(giver, piece.since, "gave-us", (source,)))
    last: dict[str, Holder] = {}
    for holder in sorted(passed, key=lambda holder: (holder.since, holder.partner)):
        last[holder.partner] = holder
    return tuple(last[partner] for partner in sorted(last))


def received_from(trades: Iterable[Trade], as_of: date) -> dict[str, tuple[str, Source]]:
    """The partner, and the line of the trade, for each coral that came in one up to a day."""
    return {
        arrival.coral: (trade.partner, arrival.source)
        for trade in trades
        if trade.at <= as_of
        for arrival in trade.received
    }


def _wild(coral: Coral) -> bool:
    return coral.origin is not None and coral.origin.source_code == "W"
