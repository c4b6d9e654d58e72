"""What a door remembers of its steps between builds."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple, Protocol

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
