"""What a door remembers of its steps between builds, in one process and beyond; answers as bytes that can be compared."""

import io
import pickle
from array import array
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, is_dataclass
from functools import cache
from hashlib import blake2b
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from generator.door.memory import Remembered

# A step's name and the id of what it is about; the id is empty where there is only one.
Key = tuple[str, str]


class Done(NamedTuple):
    """A step that was done: what it asked for, in order, the fingerprint of its answer, and how high it is.

    `kept` is its answer pickled, if that is worth keeping.
    """

    asked: tuple[Key, ...]
    fingerprint: bytes
    height: int
    kept: bytes | None


class Known(NamedTuple):
    """What is known of a step that was done before: how high it is, and the fingerprint of its answer."""

    height: int
    fingerprint: bytes


@dataclass(slots=True)
class News:
    """What a build adds to a memory.

    `given` is all that came from outside, by fingerprint, `done` the steps that were done, `gone` the steps that
    cannot be done any more.
    """

    given: dict[Key, bytes] = field(default_factory=dict)
    done: dict[Key, Done] = field(default_factory=dict)
    gone: set[Key] = field(default_factory=set)


class BrokenMemory(Exception):
    """What is known of the build before cannot be read, and is gone."""


class Memory(Protocol):
    """What is known of the build before."""

    def given(self) -> Mapping[Key, bytes]:
        """All that came from outside, by fingerprint."""

    def known(self, key: Key) -> Known | None:
        """What is known of a step; None if it was not done."""

    def asked(self, key: Key) -> Iterable[Key]:
        """What a step asked for, in order."""

    def askers(self, key: Key) -> Iterable[tuple[int, Key]]:
        """The steps that asked for something, each with its height."""

    def answer(self, key: Key) -> tuple[Any] | None:
        """The answer of a step; None if it was not kept."""

    def ids(self, name: str) -> Collection[str]:
        """The ids of all steps of a name."""

    def recall(self, name: str) -> None:
        """Be ready for the answers of all steps of a name."""

    def broken(self) -> BrokenMemory:
        """Forget everything, since an answer cannot be read."""


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


class Lasting(Remembered):
    """A memory that may be opened again after it was closed.

    What it has at hand is right as long as nobody else writes the file: each time something is learnt, the file gets
    another mark. If the mark is not ours, all is read anew.
    """

    def __init__(self, file: Path, program: str) -> None:
        """Open what `program` left in a file, as `Remembered` does."""
        self._at_hand = -1
        self._knowns: dict[Key, Known] = {}
        self._keys: dict[int, Key] = {}
        self._asked: dict[Key, array[int]] = {}
        self._answers: dict[Key, tuple[Any]] = {}
        self._lifted: dict[int, int] = {}
        self._left: dict[str, bytes] | None = None
        super().__init__(file, program)

    def open(self) -> None:
        """Open the file again. Raises what a new memory raises."""
        self._open()

    def _open(self) -> None:
        last = getattr(self, "_last", 0)
        super()._open()
        if self._mark == self._at_hand:
            self._last = last  # a step that is gone keeps its number
            return
        self._at_hand, self._left = self._mark, None
        self.__dict__.pop("_given", None)
        for kept in (self._numbers, self._knowns, self._keys, self._asked, self._answers):
            kept.clear()
        with self._sound():
            for n, name, id, height, print, asked in self._file.execute(
                "SELECT n, name, id, height, fingerprint, asked FROM step"
            ):
                self._noted(n, (name, id), Known(height, print), array("I", asked or b""))

    def _noted(self, n: int, key: Key, known: Known, asked: "array[int]") -> None:
        self._numbers[key], self._keys[n], self._knowns[key], self._asked[key] = n, key, known, asked

    def known(self, key: Key) -> Known | None:
        """What is known of a step; None if it was not done."""
        return self._knowns.get(key)

    def asked(self, key: Key) -> Iterator[Key]:
        """What a step asked for, in order."""
        return (self._keys[n] for n in self._asked.get(key, ()))

    def answer(self, key: Key) -> tuple[Any] | None:
        """The answer of a step; None if it was not kept."""
        if key not in self._answers and (found := super().answer(key)):
            self._answers[key] = found
        return self._answers.get(key)

    def recall(self, name: str) -> None:
        """Nothing to get ready: most of it is at hand."""

    def written(self) -> dict[str, bytes]:
        """What the disk noted of each file that the build before wrote, by its address."""
        if self._left is None:
            self._left = super().written()
        return self._left

    def learn(self, news: News, written: Mapping[str, bytes] | None = None, last: bytes | None = None) -> None:
        """Keep what a build did, as `Remembered` does, and have it at hand."""
        self._at_hand = -1
        self._lifted.clear()
        super().learn(news, written, last)
        for key in news.gone:
            for kept in (self._knowns, self._asked, self._answers):
                kept.pop(key, None)
        for key, done in news.done.items():
            self._answers.pop(key, None)
            asked = array("I", map(self._number, done.asked))
            self._noted(self._number(key), key, Known(done.height, done.fingerprint), asked)
        for key in news.given:
            self._keys[self._number(key)] = key
        for n, height in self._lifted.items():
            self._knowns[self._keys[n]] = self._knowns[self._keys[n]]._replace(height=height)
        self.__dict__["_given"] = dict(news.given)
        self._left, self._at_hand = dict(written or {}), self._mark

    def _lift(self, n: int, height: int) -> None:
        super()._lift(n, height)
        self._lifted[n] = height
