"""Answers as bytes: to keep them, and to see whether they are others.

Records are frozen and have slots. As dataclasses pickle those, every one is read back by Python that looks up its
fields anew; here each kind of record has its slots looked up once.
"""

import io
import pickle
from collections.abc import Callable
from dataclasses import is_dataclass
from functools import cache
from hashlib import blake2b
from typing import Any


def pickled(answer: object) -> bytes:
    """An answer as bytes that `pickle.loads` reads."""
    return _written(answer, fast=False)


def fingerprint_of(answer: object) -> bytes:
    """A digest of all that an answer holds, whatever parts of it are one and the same object in memory."""
    # Every object in full, none by reference to the same one before.
    return blake2b(answer if isinstance(answer, bytes) else _written(answer, fast=True), digest_size=16).digest()


def _written(answer: object, fast: bool) -> bytes:
    written = io.BytesIO()
    pickler = _Pickler(written, pickle.HIGHEST_PROTOCOL)
    pickler.fast = fast
    pickler.dump(answer)
    return written.getvalue()


class _Pickler(pickle.Pickler):
    def reducer_override(self, obj: object) -> Any:
        kind: Any = type(obj)
        names = _slots(kind)
        return NotImplemented if names is None else (_record, (kind, *[getattr(obj, name) for name in names]))


@cache
def _slots(kind: type) -> tuple[str, ...] | None:
    """The slots of a kind of record; None for all other objects."""
    whole = is_dataclass(kind) and all("__slots__" in each.__dict__ for each in kind.__mro__[:-1])
    return tuple(name for each in kind.__mro__ for name in each.__dict__.get("__slots__", ())) if whole else None


@cache
def _setters(kind: type) -> tuple[Callable[[object, object], None], ...]:
    return tuple(getattr(kind, name).__set__ for name in _slots(kind) or ())


def _record(kind: type, *values: object) -> object:
    """A record with these values in its slots."""
    made: object = object.__new__(kind)
    for put, value in zip(_setters(kind), values, strict=True):
        put(made, value)
    return made
