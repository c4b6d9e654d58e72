"""The one form of a JSON value, so that equal meaning gives equal bytes, and their digest."""

import hashlib
import json
import math
from decimal import Decimal
from typing import Any

# Above this a JSON number no longer names one integer (RFC 8785, 3.2.2.3; IEEE 754 double).
GREATEST_INTEGER = 2**53 - 1


def canonical(value: Any) -> bytes:
    """The canonical bytes of a JSON value.

    Keys are in the order of their UTF-16 code units, numbers as ECMAScript writes them, strings as they
    are, without normalisation. Raises `ValueError` for NaN, infinities, integers that no double can hold,
    lone surrogates, keys that are not text, and anything that is not JSON.
    Source: RFC 8785, JSON Canonicalization Scheme.
    """
    return _text(value).encode("utf-8")


def digest(value: Any) -> str:
    """SHA-256 of the canonical bytes, as ``sha256:`` and 64 hexadecimal digits."""
    return digest_of_bytes(canonical(value))


def digest_of_bytes(raw: bytes) -> str:
    """SHA-256 of bytes as they are, in the same form as `digest`."""
    return f"sha256:{hashlib.sha256(raw).hexdigest()}"


def _text(value: Any) -> str:
    match value:
        case None | bool():
            return json.dumps(value)
        case str():
            return json.dumps(value, ensure_ascii=False)
        case int():
            if abs(value) > GREATEST_INTEGER:
                raise ValueError(f"{value} is an integer that no double can hold")
            return str(value)
        case float():
            return _number(value)
        case list() | tuple():
            return f"[{','.join(map(_text, value))}]"
        case dict():
            if not all(isinstance(key, str) for key in value):
                raise ValueError("a key of an object is not text")
            names = sorted(value, key=lambda key: key.encode("utf-16-be"))
            return f"{{{','.join(f'{_text(name)}:{_text(value[name])}' for name in names)}}}"
    raise ValueError(f"{type(value).__name__} is not a value of JSON")


def _number(value: float) -> str:
    """A double as ECMAScript's Number::toString writes it (ECMA-262, 6.1.6.1.20)."""
    if not math.isfinite(value):
        raise ValueError(f"{value} is not a number of JSON")
    if value == 0.0:
        return "0"
    sign = "-" if value < 0 else ""
    # repr gives the shortest digits that name the double, which is what ECMAScript asks for.
    parts = Decimal(repr(abs(value))).as_tuple()
    digits = "".join(map(str, parts.digits)).rstrip("0")
    point = len(parts.digits) + int(parts.exponent)
    if len(digits) <= point <= 21:
        text = digits.ljust(point, "0")
    elif 0 < point <= 21:
        text = f"{digits[:point]}.{digits[point:]}"
    elif -6 < point <= 0:
        text = f"0.{'0' * -point}{digits}"
    else:
        fraction = f".{digits[1:]}" if len(digits) > 1 else ""
        text = f"{digits[0]}{fraction}e{point - 1:+d}"
    return sign + text
