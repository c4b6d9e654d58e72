"""The records of origin that a site shows: made as for a handover, or received and verified."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import Door, later, parts_of
from generator.read.discover import read_bytes
from generator.records.coral import Coral, Verdict
from generator.records.journal import Journal
from generator.records.trade import Trade
from generator.render.audience import Hand, Paper, Papers, View

if TYPE_CHECKING:
    from generator.exchange.document import Document
    from generator.exchange.record_of_origin import Piece

with later():
    from generator.exchange import document as _document
    from generator.exchange import reading as _reading
    from generator.exchange import record_of_origin as _record_of_origin
    from generator.exchange import verify as _verify

# A larger one is refused as a picture.
_MOST_OF_A_PHOTO = 60_000_000


class Desk(Struct, frozen=True):
    """What records of origin are made from: a journal, the files in its folder, and the key to sign with, if any.

    `digest` is that of a photo by its name in the records; None if it cannot be read. `ours` has our corals by
    their identity.
    """

    journal: Journal
    content: Path
    key: Path | None
    digest: Callable[[str], str | None]
    received: Mapping[str, bytes]
    ours: Callable[[], Mapping[str, str]]

    def photos(self, pieces: "Iterable[Piece]") -> dict[str, str]:
        """The digests of the photos that some records of origin need."""
        names = _record_of_origin.photos_to_hash(self.journal, pieces)
        return {name: digest for name in names if (digest := self.digest(name)) is not None}


def papers(
    journal: Journal,
    seen: View,
    content: Path,
    today: Callable[[], date],
    key: Path | None = None,
    door: Door | None = None,
    marked: Callable[[str], object] = str,
) -> Papers:
    """The records that an audience gets: the keeper all, a partner those of their trades, others those of corals.

    For a coral that is gone it is the record of its last day here. A partner gets the record itself, signed if
    there is a key. What cannot be handed over is a paper that says why. Raises `Refused` if the key cannot sign.
    `marked` is asked for each file of the journal before it is read.
    """
    door = door or Door()
    desk = _desk(_as_seen(journal, seen, door), content, key, door, marked)
    partner = seen.partner is not None
    trades = seen.shows_accounts

    def of_corals() -> Iterator[str]:
        return (id for id in seen.lives if seen.lives[id].audience != "own")

    def of_coral(id: str) -> Paper:
        coral = journal.corals[id]
        return _of_coral(desk, coral, min(today(), coral.end.at) if coral.end else today())

    signed = door.given("key", {"": key.read_bytes() if key and key.is_file() else b""})
    of_trade: Callable[[str], Any] = door.step(
        "paper of trade", lambda id: (signed(""), _of_trade(desk, journal.trades[id], seen, partner))[1]
    )
    return Papers(
        door.each("paper of coral", lambda: () if partner else of_corals(), of_coral),
        door.each(
            "papers of trade",
            lambda: (id for id in seen.trades if of_trade(id)) if trades else (),
            of_trade,
            shared=True,
        ),
    )


def _as_seen(journal: Journal, seen: View, door: Door) -> Journal:
    """The journal of which records tell: photos and papers only as the site shows them, hidden corals as our own.

    A record handed to a partner is about where the coral came from, so that it always names the region and permit.
    """
    if seen.writes:
        return journal
    corals = door.each("coral of records", lambda: journal.corals, lambda id: _coral_as_seen(journal.corals[id], seen))
    return door.view(Journal, **{**parts_of(journal), "corals": lambda: corals})


def _coral_as_seen(coral: Coral, seen: View) -> Coral:
    shown = seen.corals.get(coral.id)
    if shown is None:
        return replace(coral, audience="own")
    origin = coral.origin
    if origin and shown.origin and seen.partner is None:
        origin = replace(origin, region=shown.origin.region, permit=None)
    of_record = replace(coral, photos=shown.photos, origin=origin)
    # One record for both, so that it is kept once.
    return coral if of_record == coral else of_record


def _desk(journal: Journal, content: Path, key: Path | None, door: Door, marked: Callable[[str], object]) -> Desk:
    def digest(name: str) -> str | None:
        marked(f"photos/{name.removeprefix('photos/')}")
        return photo_digests(content, [name]).get(name)

    def received(name: str) -> bytes | None:
        marked(name)
        return received_files(content, [name]).get(name)

    def identity(id: str) -> str:
        return _document.identity_of(journal.corals[id], journal.settings.keeper)

    identities = door.each("identity", lambda: journal.corals, identity)
    of_file: Callable[[str], Any] = door.step("received file", received)
    return Desk(
        journal,
        content,
        key,
        door.step("digest of photo", digest),
        door.each(
            "received", lambda: (name for name in journal.received if of_file(name) is not None), of_file, shared=True
        ),
        door.one("identities", lambda: {identity: id for id, identity in identities.items()}),
    )


def photo_digests(content: Path, names: Iterable[str]) -> dict[str, str]:
    """The digest of each photo, by its name in the records, that can be read."""
    found: dict[str, str] = {}
    for name in names:
        with suppress(OSError):
            raw = read_bytes(content / "photos" / name.removeprefix("photos/"), _MOST_OF_A_PHOTO)
            found |= {name: _document.digest_of_bytes(raw)} if len(raw) <= _MOST_OF_A_PHOTO else {}
    return found


def received_files(content: Path, names: Iterable[str]) -> dict[str, bytes]:
    """The bytes of each file in received/ that can be read, by its path."""
    found = {}
    for name in names:
        with suppress(OSError):
            found[name] = read_bytes(content / name, _reading.MAX_BYTES)
    return found


def _of_coral(desk: Desk, coral: Coral, day: date) -> Paper:
    file = coral.provenance.file if coral.provenance else ""
    came = _verified(desk.received.get(file, b"")) if file else None
    giver, pieces = desk.journal.settings.keeper, (_record_of_origin.Piece(coral.id),)
    try:
        _, opened = _record_of_origin.make(desk.journal, pieces, day, desk.photos(pieces), desk.received)
    except _document.Refused as refusal:
        return Paper(coral.id, day, giver, Verdict(refused=str(refusal)), file=file, came_with=came)
    return Paper(coral.id, day, giver, _verify.verify(opened), _chains(desk, opened), file=file, came_with=came)


def _of_trade(desk: Desk, trade: Trade, seen: View, whole: bool) -> Paper | None:
    """The record of origin of a trade; None if nothing was given, or nothing that may be handed over."""
    if trade.audience == "own":
        return None
    pieces = [piece for piece in _record_of_origin.pieces_of_trade(trade) if _leaves(desk, piece, seen)]
    if not pieces:
        return None
    to, giver = desk.journal.partners[trade.partner], desk.journal.settings.keeper
    try:
        document, opened = _record_of_origin.make(
            desk.journal, pieces, trade.at, desk.photos(pieces), desk.received, to
        )
    except _document.Refused as refusal:
        return Paper(trade.id, trade.at, giver, Verdict(refused=str(refusal)))
    if desk.key is not None:
        document = _record_of_origin.signed(document, desk.key, desk.content)
        opened = _reading.read_document(_document.canonical(document))
    text = _document.canonical(document) + b"\n" if whole else None
    chains = _chains(desk, opened)
    return Paper(trade.id, trade.at, giver, _verify.verify(opened), chains, signed=desk.key is not None, document=text)


def _leaves(desk: Desk, piece: "Piece", seen: View) -> bool:
    return piece.coral in seen.corals and desk.journal.corals[piece.coral].audience != "own"


def _verified(raw: bytes) -> Verdict:
    try:
        return _verify.verify(_reading.read_document(raw))
    except _document.Refused as refusal:
        return Verdict(refused=str(refusal))


def _chains(desk: Desk, document: "Document") -> tuple[tuple[Hand, ...], ...]:
    return tuple(tuple(_hands(desk, document, about)) for about in document.last.about)


def _hands(desk: Desk, document: "Document", about: str) -> Iterator[Hand]:
    ours = desk.ours()
    for record in document.chain(about):
        yield Hand(record.name, ours.get(record.identity), record.keeper, record.how, record.at)
