"""The one form of a JSON value, so that equal meaning gives equal bytes; their digest, and the identity of a coral."""

import hashlib
from datetime import date
from typing import Any
from uuid import UUID, uuid5

import rfc8785

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
    return rfc8785.dumps(value)


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
