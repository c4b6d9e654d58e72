"""The name of one animal in every journal that ever holds it."""

from datetime import date
from uuid import UUID, uuid5

from generator.exchange.canonical import canonical
from generator.records.coral import Coral

# Made once, for names of corals and of nothing else (RFC 9562, 5.5).
_NAMES = UUID("5b0c6c0e-5d4f-5c55-9a53-3f3c1c5e0d5a")


def identity_of(coral: Coral, keeper: str) -> str:
    """A coral's identity: the one it came with, or one made from its first keeper, its id and the day it came.

    The same journal always gives the same identity. Renaming the file or the keeper gives another one.
    """
    if coral.provenance is not None:
        return coral.provenance.identity
    return _named(keeper, coral.id, coral.arrival.at.isoformat())


def identity_of_piece(mother: str, keeper: str, trade: str, day: date, number: int) -> str:
    """The identity of a frag cut from a coral to be given away, numbered from 1 in its trade (or day)."""
    return _named(mother, keeper, trade, day.isoformat(), number)


def _named(*parts: str | int) -> str:
    return uuid5(_NAMES, canonical(parts).decode("utf-8")).urn
