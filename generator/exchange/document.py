"""A record of origin as a value: the text it may hold, the one form of its bytes, and the digests that name others."""

import hashlib
import json
import unicodedata
from datetime import date
from typing import Any
from uuid import UUID, uuid5

import rfc8785
from msgspec import Struct

from generator.records.coral import Coral


class Refused(Exception):
    """A refused record. `kind` is a short stable name; `wrong` and `remedy` are the message for the keeper.

    `where` is a path inside the document ("" for the whole).
    """

    def __init__(self, kind: str, wrong: str, remedy: str, where: str = "") -> None:
        super().__init__(f"{where}: {wrong} ({remedy})" if where else f"{wrong} ({remedy})")
        self.kind = kind
        self.wrong = wrong
        self.remedy = remedy
        self.where = where


def safe_and_short(text: str, at_most: int = 60) -> str:
    """A stranger's text, made safe and short enough to print in a message."""
    cut = text if len(text) <= at_most else f"{text[:at_most]}…"
    return "".join(c if c.isprintable() else c.encode("unicode_escape", "backslashreplace").decode() for c in cut)


# Control, format (bidirectional and zero-width marks), lone surrogates, private use, unassigned, and
# line and paragraph ends: no name or caption needs any of them.
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
# Scripts whose letters are drawn alike; one word is written in one of them.
_ALIKE = frozenset({"LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "CHEROKEE", "COPTIC", "LISU"})
# Marks, fillers and a pattern of Braille that are letters or signs by name, and draw nothing.
# Source: Unicode 15, Default_Ignorable_Code_Point, without what is in the classes above; U+2800 by its picture.
_BLANKS = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0") | {
    chr(code)
    for first, last in ((0x180B, 0x180F), (0xFE00, 0xFE0F), (0xE0100, 0xE01EF))
    for code in range(first, last + 1)
}
# Wide forms of ASCII: a spreadsheet may take a wide equals sign for a formula.
_WIDE = frozenset(map(chr, range(0xFF01, 0xFF5F)))
_ORDINALS = frozenset("ªº")
_MOST_MARKS = 3
_REMEDY = "ask your partner to type it again in plain letters"


def plain_letters(text: str) -> str:
    """Our own text as a record can hold it: without invisible characters, each letter in its plain form."""
    seen = (
        letter
        if unicodedata.category(letter)[0] != "L" and letter not in _WIDE
        else unicodedata.normalize("NFKC", letter)
        for letter in text
        if unicodedata.category(letter) != "Cf" and letter not in _BLANKS
    )
    return unicodedata.normalize("NFC", " ".join("".join(seen).split()))


def check_text(text: str, where: str) -> None:
    """Raise `Refused` for invisible characters, look-alike letters, odd accents and text that is not NFC."""
    if text.isascii() and text.isprintable():
        return
    marks = _MOST_MARKS
    for letter in text:
        category = unicodedata.category(letter)
        if category in _UNSEEN or letter in _BLANKS or (category == "Zs" and letter != " "):
            wrong = f"the text has an invisible character, U+{ord(letter):04X}"
            raise Refused("unseen-character", wrong, _REMEDY, where)
        plain = letter in _ORDINALS or (category[0] != "L" and letter not in _WIDE)
        if not plain and unicodedata.normalize("NFKC", letter) != letter:
            raise Refused("look-alike", f"U+{ord(letter):04X} looks like a plain letter but is not one", _REMEDY, where)
        marks = marks + 1 if category[0] == "M" else _MOST_MARKS * (letter == " ")
        if marks > _MOST_MARKS:
            wrong = f"an accent without its letter, or more than {_MOST_MARKS} accents on one letter"
            raise Refused("look-alike", wrong, _REMEDY, where)
    if unicodedata.normalize("NFC", text) != text:
        raise Refused("look-alike", "the text is not normalized (Unicode NFC)", _REMEDY, where)
    for word in text.split(" "):
        scripts = {name.split(" ")[0] for c in word if c.isalpha() and (name := unicodedata.name(c, ""))} & _ALIKE
        if len(scripts) > 1:
            wrong = f"one word mixes letters of {' and '.join(sorted(scripts)).title()}"
            raise Refused("look-alike", wrong, _REMEDY, where)


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


class PhotoDigest(Struct, frozen=True):
    """A picture that is not in the record: the SHA-256 of its file, and what it shows."""

    digest: str
    description: str
    at: date | None


class CoralRecord(Struct, frozen=True):
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


class Handover(Struct, frozen=True):
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


class Document(Struct, frozen=True):
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
