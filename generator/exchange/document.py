"""A record of origin as a value, which names others by digest; and the one form of a JSON value, for equal bytes."""

import hashlib
import json
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID, uuid5

import rfc8785

from generator.exchange.schema import Refused
from generator.records.coral import Coral

# Above this a JSON number no longer names one integer (RFC 8785, 3.2.2.3; IEEE 754 double).
GREATEST_INTEGER = 2**53 - 1


def canonical(value: Any) -> bytes:
    """The canonical bytes of a JSON value.

    Keys are in the order of their UTF-16 code units, numbers as ECMAScript writes them, strings as they
    are, without normalisation. Raises `ValueError` for NaN, infinities, integers that no double can hold,
    lone surrogates, keys that are not text, and anything that is not JSON.
    Source: RFC 8785, JSON Canonicalization Scheme.
    """
    if _plain(value):
        return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()
    return rfc8785.dumps(value)


def _plain(value: Any) -> bool:
    """Whether it is of texts and small numbers alone, with keys in ASCII: `json` writes the same bytes, far faster."""
    if isinstance(value, dict):
        return all(type(key) is str and key.isascii() and _plain(inner) for key, inner in value.items())
    if isinstance(value, list | tuple):
        return all(map(_plain, value))
    return type(value) is str or (type(value) is int and abs(value) <= GREATEST_INTEGER)


def digest(value: Any) -> str:
    """SHA-256 of the canonical bytes, as ``sha256:`` and 64 hexadecimal digits."""
    return digest_of_bytes(canonical(value))


def digest_of_bytes(raw: bytes) -> str:
    """SHA-256 of bytes as they are, in the same form as `digest`."""
    return f"sha256:{hashlib.sha256(raw).hexdigest()}"


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


@dataclass(frozen=True, slots=True)
class PhotoDigest:
    """A picture that is not in the record: the SHA-256 of its file, and what it shows."""

    digest: str
    description: str
    at: date | None


@dataclass(frozen=True, slots=True)
class CoralRecord:
    """What one keeper says of one coral.

    `identity` names the animal in every journal. `digest` is that of this record. `parent` is the digest of
    its parent's record, `previous` that of the same animal's record by the keeper before.
    """

    digest: str
    identity: str
    name: str
    species: str
    line: str
    form: str
    keeper: str
    at: date
    how: str
    parent: str | None
    parent_identity: str | None
    parent_withheld: bool
    previous: str | None
    region: str | None
    year: int | None
    source_code: str | None
    appendix: str | None
    permit: str | None
    photos: tuple[PhotoDigest, ...]
    written: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Handover:
    """One keeper's handover: the records it is about, all records that go with them, and earlier handovers.

    `digest` covers all of it, including the signature.
    """

    digest: str
    at: date
    giver: str
    to: str | None
    about: tuple[str, ...]
    listed: tuple[str, ...]
    earlier: tuple[str, ...]
    signature: str | None
    written: dict[str, Any]

    @property
    def signed_part(self) -> dict[str, Any]:
        """The part that a signature covers."""
        return {name: value for name, value in self.written.items() if name != "signature"}


@dataclass(frozen=True, slots=True)
class Document:
    """A record of origin: corals by digest, and the handovers in order. The last one is this document's."""

    digest: str
    records: dict[str, CoralRecord]
    handovers: tuple[Handover, ...]

    @property
    def last(self) -> Handover:
        """The handover this document was made for."""
        return self.handovers[-1]

    def chain(self, of: str) -> tuple[CoralRecord, ...]:
        """A record, then its earlier record or its parent's, and so on to the oldest."""
        found, here = [], self.records.get(of)
        while here is not None:
            found.append(here)
            here = self.records.get(here.previous or here.parent or "")
        return tuple(found)


def document_of(value: dict[str, Any]) -> Document:
    """The document from a value that follows the schema. Raises `Refused` for a wrong date or digest, or a copy."""
    records = [_coral(written, f"records[{index}]") for index, written in enumerate(value["records"])]
    handovers = [_handover(written, f"handovers[{index}]") for index, written in enumerate(value["handovers"])]
    whole = digest({name: part for name, part in value.items() if name != "digest"})
    if whole != value["digest"]:
        raise Refused("digest", "the record was changed after it was made", "ask for it again", "digest")
    document = Document(whole, {record.digest: record for record in records}, tuple(handovers))
    if len(document.records) < len(records):
        raise Refused("twice", "the same record is given twice", "ask for it again", "records")
    return document


def _coral(written: dict[str, Any], where: str) -> CoralRecord:
    parent = written.get("parent", {})
    ties = [name for name in ("parent", "parentWithheld", "previous") if name in written]
    if len(ties) > 1:
        raise Refused("shape", f"a record has one of {' and '.join(ties)}, not both", "ask for it again", where)
    _cutting_agrees(written, where)
    return CoralRecord(
        digest=digest(written),
        identity=written["id"],
        name=written["organismName"],
        species=written["scientificName"],
        line=written["line"],
        form=written["form"],
        keeper=written["keeper"]["name"],
        at=_date(written["date"], f"{where}.date"),
        how=written["how"],
        parent=parent.get("record"),
        parent_identity=parent.get("id"),
        parent_withheld="parentWithheld" in written,
        previous=written.get("previous"),
        region=written.get("locality"),
        year=written.get("year"),
        source_code=written.get("citesSourceCode"),
        appendix=written.get("citesAppendix"),
        permit=written.get("permit"),
        photos=tuple(_photo(each, f"{where}.photos[{index}]") for index, each in enumerate(written.get("photos", ()))),
        written=written,
    )


def _cutting_agrees(written: dict[str, Any], where: str) -> None:
    cutting = written.get("cutting")
    if (cutting is not None) != (written["how"] == "cutting") or (cutting and cutting["date"] != written["date"]):
        raise Refused("shape", "its cutting date does not match how and when it came", "ask for it again", where)


def _photo(written: dict[str, Any], where: str) -> PhotoDigest:
    at = _date(written["date"], f"{where}.date") if "date" in written else None
    return PhotoDigest(written["digest"], written["description"], at)


def _handover(written: dict[str, Any], where: str) -> Handover:
    return Handover(
        digest=digest(written),
        at=_date(written["date"], f"{where}.date"),
        giver=written["from"]["name"],
        to=written["to"]["name"] if "to" in written else None,
        about=tuple(written["about"]),
        listed=tuple(written["listed"]),
        earlier=tuple(written["earlier"]),
        signature=written.get("signature"),
        written=written,
    )


def _date(text: str, where: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise Refused("date", f"there is no day '{text}'", "ask for it again", where) from None
