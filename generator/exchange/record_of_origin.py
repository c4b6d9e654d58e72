"""Make a record of origin: a coral or the frags of a trade, their ancestors, and every handover between.

It holds only what the keeper marks for partners or for the public. Records of others are passed on unchanged.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from msgspec import Struct, field

from generator.exchange.document import (
    Document,
    Refused,
    canonical,
    digest,
    identity_of,
    identity_of_piece,
    plain_letters,
)
from generator.exchange.reading import context, read_document
from generator.exchange.verify import sign
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.source import Source
from generator.records.trade import Partner, Trade

Written = dict[str, Any]


class Piece(Struct, frozen=True):
    """What is handed over: a whole coral (`number` 0), or the n-th frag cut from it (in its trade, if any)."""

    coral: str
    number: int = 0
    trade: str = ""


def pieces_of_trade(trade: Trade) -> tuple[Piece, ...]:
    """Everything given in a trade, one by one."""
    found: list[Piece] = []
    for given in trade.gave:
        if given.whole:
            found.append(Piece(given.coral, trade=trade.id))
            continue
        before = sum(piece.coral == given.coral for piece in found)
        found += [Piece(given.coral, before + number, trade.id) for number in range(1, given.frags + 1)]
    return tuple(found)


def day_of_leaving(coral: Coral, day: date) -> date | None:
    """The day a coral is handed over: `day`, or the day it was given away; None if it was not here."""
    if day < coral.arrival.at:
        return None
    if coral.end is None or day <= coral.end.at:
        return day
    return coral.end.at if coral.end.how in ("given", "sold") else None


def photos_to_hash(journal: Journal, pieces: Iterable[Piece]) -> tuple[str, ...]:
    """The photos (as their records name them) whose digests `make` needs."""
    found: dict[str, None] = {}
    for piece in pieces:
        here: Coral | None = journal.corals.get(piece.coral)
        while here is not None:
            found.update(dict.fromkeys(photo.file for photo in here.photos if photo.audience != "own"))
            above = journal.corals.get(here.parent or "") if here.provenance is None else None
            here = above if above is not None and above.audience != "own" else None
    return tuple(found)


class _Making(Struct):
    """A record being made: what goes in, and what has been gathered so far."""

    journal: Journal
    day: date
    photos: Mapping[str, str]
    received: Mapping[str, bytes]
    records: dict[str, Written] = field(default_factory=dict)
    handovers: dict[str, Written] = field(default_factory=dict)

    @property
    def keeper(self) -> str:
        return self.journal.settings.keeper

    def coral(self, coral: Coral) -> tuple[str, dict[str, Written]]:
        """The digest of a coral's record; and the record and those it rests on by their digests, itself first."""
        written = self._said_of(coral)
        before: dict[str, Written] = {}
        if coral.provenance is not None:
            written["previous"] = coral.provenance.record
            before = self._from_received(coral)
        elif coral.parent is not None:
            parent = self.journal.corals[coral.parent]
            if parent.audience == "own":
                written["parentWithheld"] = True
            else:
                told, before = self.coral(parent)
                written["parent"] = {"id": identity_of(parent, self.keeper), "record": told}
        own = digest(written)
        return own, {own: written, **before}

    def piece(self, piece: Piece) -> str:
        """Gather the records of a frag; return the digest of its own record."""
        coral = _marked(self.journal, piece.coral)
        told, records = self.coral(coral)
        if piece.number:
            mother = identity_of(coral, self.keeper)
            identity = identity_of_piece(mother, self.keeper, piece.trade, self.day, piece.number)
            written = _said(coral, self.keeper, identity)
            written |= _came("cutting", self.day) | {"parent": {"id": mother, "record": told}}
            told = digest(written)
            records = {told: written, **records}
        self.records |= records
        return told

    def _said_of(self, coral: Coral) -> Written:
        written = _said(coral, self.keeper, identity_of(coral, self.keeper))
        written |= _came(coral.arrival.how, coral.arrival.at)
        origin = coral.origin
        if origin is not None:
            papers = {
                "locality": origin.region and plain_letters(origin.region),
                "year": origin.year,
                "citesSourceCode": origin.source_code,
                "citesAppendix": origin.appendix,
                "permit": origin.permit and plain_letters(origin.permit),
            }
            written |= {name: value for name, value in papers.items() if value is not None}
        photos = []
        for photo in coral.photos:
            if photo.audience != "own":
                taken = {"date": photo.at.isoformat()} if photo.at else {}
                seen = photo.alt or f"a photo of {written['organismName']} without a description"
                if photo.file not in self.photos:
                    raise Refused("unreadable", f"the photo {photo.file} cannot be read", "check the file")
                photos.append({"digest": self.photos[photo.file], "description": plain_letters(seen), **taken})
        return written | ({"photos": photos} if photos else {})

    def _from_received(self, coral: Coral) -> dict[str, Written]:
        assert coral.provenance is not None
        file = coral.provenance.file
        if file not in self.received:
            raise Refused("received", f"{file} is missing; '{coral.id}' came with it", "put the file back")
        try:
            document = read_document(self.received[file])
        except Refused as refusal:
            raise Refused(
                "received", f"{file} was changed since it came: {refusal.wrong}", "put the file back"
            ) from refusal
        if coral.provenance.record not in document.records:
            raise Refused("received", f"{file} does not hold the record of '{coral.id}'", "correct 'provenance:'")
        self.handovers |= {handover.digest: handover.written for handover in document.handovers}
        return {record.digest: record.written for record in document.chain(coral.provenance.record)}


def make(
    journal: Journal,
    pieces: Iterable[Piece],
    day: date,
    photos: Mapping[str, str],
    received: Mapping[str, bytes],
    to: Partner | None = None,
) -> tuple[Written, Document]:
    """The unsigned record of origin of corals and frags handed over on a day, and what its reader makes of it.

    `photos` has the digest of each file of `photos_to_hash`, `received` the bytes of the files in received/
    by name. It names the partner only if they agreed. Raises `Refused`, with a message for the keeper, if
    something is not marked for partners, or if our own text would be refused by its reader.
    """
    making = _Making(journal, day, photos, received)
    about = [making.piece(piece) for piece in pieces]
    if not about:
        raise Refused("nothing", "nothing is handed over", "name a coral, or a trade in which you gave one")
    named = to.public_name or to.name if to is not None and "name" in to.shows else None
    handover: Written = {
        "type": "Activity",
        "date": day.isoformat(),
        "from": _agent(making.keeper),
        **({"to": _agent(named)} if named else {}),
        "about": list(dict.fromkeys(about)),
        "listed": list(making.records),
        "earlier": list(making.handovers),
    }
    document = _sealed([*making.records.values()], [*making.handovers.values(), handover])
    try:
        return document, read_document(canonical(document))
    except Refused as refusal:
        remedy = "correct it in your files; your partner's check would refuse this record"
        raise Refused("own-text", refusal.wrong, remedy, refusal.where) from refusal


# The place of a record, the path of one of its fields, and the text in it.
OwnText = tuple[Source, tuple[str, ...], str]


def own_texts_of(coral: Coral) -> Iterator[OwnText]:
    """Every text of the keeper's own on a coral that a record can hold."""
    if coral.audience == "own":
        return
    yield coral.source, ("name",), coral.name
    if coral.origin is not None:
        for name, text in (("region", coral.origin.region), ("permit", coral.origin.permit)):
            if text:
                yield coral.origin.source, (name,), text
    for photo in coral.photos:
        if photo.alt and photo.audience != "own":
            yield photo.source, ("alt",), photo.alt


def own_names(journal: Journal) -> Iterator[OwnText]:
    """The names of the keeper and of partners that a record can hold."""
    yield journal.settings.source, ("keeper",), journal.settings.keeper
    for partner in journal.partners.values():
        if "name" in partner.shows:
            yield (
                partner.source,
                ("public_name" if partner.public_name else "name",),
                partner.public_name or partner.name,
            )


def signed(document: Written, key: Path, journal: Path) -> Written:
    """The document with its last handover, which lists every record and handover by digest, signed.

    Raises `Refused` as `sign` does.
    """
    *before, last = document["handovers"]
    unsigned = canonical({name: value for name, value in last.items() if name != "signature"})
    return _sealed(document["records"], [*before, {**last, "signature": sign(unsigned, key, journal)}])


def _sealed(records: list[Written], handovers: list[Written]) -> Written:
    document = {
        "@context": context(),
        "type": "RecordOfOrigin",
        "version": 1,
        "records": records,
        "handovers": handovers,
    }
    return {**document, "digest": digest(document)}


def _marked(journal: Journal, id: str) -> Coral:
    coral = journal.corals[id]
    if coral.audience == "own":
        remedy = f"write 'audience: partners' in corals/{id}.yaml if they may see it"
        raise Refused("not-marked", f"'{id}' is private ('audience: own')", remedy)
    return coral


def _said(coral: Coral, keeper: str, identity: str) -> Written:
    return {
        "id": identity,
        "type": ["Entity", "Organism"],
        "organismName": plain_letters(coral.name),
        "organismScope": "colony",
        "scientificName": coral.species,
        "basisOfRecord": "LivingSpecimen",
        "degreeOfEstablishment": "captive",
        "line": coral.line,
        "form": coral.form,
        "keeper": _agent(keeper),
    }


def _came(how: str, day: date) -> Written:
    cutting = {"cutting": {"type": "Activity", "date": day.isoformat()}} if how == "cutting" else {}
    return {"date": day.isoformat(), "how": how, **cutting}


def _agent(name: str) -> Written:
    return {"type": "Agent", "name": plain_letters(name)}
