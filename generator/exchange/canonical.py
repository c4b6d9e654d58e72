"""The one form of a JSON value, so that equal meaning gives equal bytes, and their digest."""

import hashlib
from typing import Any

import rfc8785

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
